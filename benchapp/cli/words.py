"""Commands for whoever puts the lab's own language in."""

from pathlib import Path

import click

from benchapp.actions.bench import Refused
from benchapp.store import catalogue

po_file = click.Path(path_type=Path, dir_okay=False)


@click.group(invoke_without_command=True)
@click.option("--out", type=po_file, help="The .po file to write: every text of this version, to be translated.")
@click.option("--from", "old", type=po_file, help="An older translation, of which everything that still fits is kept.")
@click.option("--language", default="", help="Code of the language, as in pl or pt-BR; left out: that of --from.")
@click.pass_context
def words(ctx: click.Context, out: Path | None, old: Path | None, language: str) -> None:
    """Write the texts of this version for translators; the translation is put into the data folder as words.po."""
    if ctx.invoked_subcommand:
        return
    if out is None:
        raise click.UsageError("Say where to write: --out FILE.po")
    if out.exists() and (old is None or not out.samefile(old)):
        raise Refused(f"{out} is there already. Name another file, or go on with it: --from {out}.")
    before = catalogue.parsed(str(old), old.read_bytes()) if old else None
    found = catalogue.for_translators(language, before)
    unfinished = out.with_name(f"{out.name}.new")
    unfinished.write_bytes(catalogue.text_of(found))
    unfinished.replace(out)
    click.echo(f"Wrote {out}: {len(found)} texts. Look it over by `benchapp words check {out}` once it is translated.")


@words.command()
@click.argument("file", type=po_file)
def check(file: Path) -> None:
    """List every fault of a translation at once, with place and remedy; exit 1 if there is one."""
    found = catalogue.read(file.name, file.read_bytes())
    click.echo(f"{file.name}: no faults; {found}.")
