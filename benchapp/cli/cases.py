"""Commands that take sheets in and give labels and records out."""

from pathlib import Path

import click

from benchapp import chance
from benchapp.actions.cases import add_case
from benchapp.actions.lab import add_lab
from benchapp.actions.meshes import attach_copy
from benchapp.actions.records import record_of, still_picture
from benchapp.cli.meshes import mesh_files, of_jaws
from benchapp.cli.shared import ask_server, data_option, protocol_option, read_file
from benchapp.core.codes import read_code, spaced
from benchapp.core.sheet import read_lab, read_sheet
from benchapp.serve import open_bench, read_bench
from benchapp.store.errors import FolderLocked
from benchapp.store.folder import DataFolder, create

sheet_argument = click.argument("sheet", type=click.Path(path_type=Path, dir_okay=False))


@click.command()
@sheet_argument
@data_option
def lab(sheet: Path, data: Path) -> None:
    """Take the lab's own sheet in: name, zone, people, devices, lots. Makes the data folder where there is none."""
    read = read_lab(sheet.name, read_file(sheet))
    if not DataFolder(data).database.exists():
        create(data, chance.new_id())
        click.echo(f"Made the data folder {data}")
    try:
        bench = open_bench(data)
    except FolderLocked:
        answer = ask_server(data, "lab", {"name": sheet.name, "text": read_file(sheet)})
        if answer is None:
            raise
        pins = answer["pins"]
    else:
        with bench.store:
            pins = add_lab(bench, read)
    for name, pin in pins.items():
        click.echo(f"{name}: PIN {pin}")
    click.echo("Tell each person the PIN once; it is stored only as a hash." if pins else "Nobody new in the sheet.")


@click.command()
@sheet_argument
@data_option
@protocol_option
def add(sheet: Path, data: Path, protocol_file: Path) -> None:
    """Take a case sheet in; prints the codes of its jaws and parts."""
    text, protocol_text = read_file(sheet), read_file(protocol_file)
    read = read_sheet(sheet.name, text)
    files = mesh_files(read, sheet)
    try:
        bench = open_bench(data)
    except FolderLocked:
        answer = ask_server(data, "add", {"name": sheet.name, "text": text, "protocol": protocol_text})
        if answer is None:
            raise
        code, jaws = answer["code"], answer["jaws"]
        for jaw, part, file in of_jaws(files, jaws):
            ask_server(data, "mesh", {"jaw": jaw, "part": part, "file": str(file.resolve())})
    else:
        with bench.store:
            opened = add_case(bench, read, protocol_text)
            for jaw, part, file in of_jaws(files, opened.jaws):
                attach_copy(bench, jaw, part, file)
        code, jaws = opened.code, opened.jaws
    click.echo(f"Case {spaced(code)}")
    for jaw in jaws:
        click.echo(f"  {jaw['jaw']} jaw {spaced(jaw['code'])}")
        for part in jaw["parts"]:
            click.echo(f"    {part['part']} {part['make']} rev {part['revision']}: {spaced(part['code'])}")
    if files:
        click.echo(f"Design files attached: {len(files)}. The seating check begins while the server runs.")


@click.command()
@click.argument("code")
@data_option
@click.option("--out", required=True, type=click.Path(path_type=Path), help="A .pdf file, or a folder for pictures.")
def labels(code: str, data: Path, out: Path) -> None:
    """Write the labels of a jaw and its parts: one PDF, or pictures for printers of 203 and 300 dpi."""
    from benchapp.paper import label as paper  # here, so that no other command waits for what draws
    from benchapp.paper.jaw_labels import labels_of, write_labels

    with (bench := read_bench(data)).store:
        found = labels_of(bench, read_code(code, layouts=False).code)
    if out.suffix.lower() == ".pdf":
        out.write_bytes(paper.pdf(found))
        click.echo(f"Wrote {out}")
        return
    for file in write_labels(found, out):
        click.echo(f"Wrote {file}")


@click.command()
@click.argument("code")
@data_option
@click.option("--out", required=True, type=click.Path(path_type=Path), help="A file: .pdf, .json or .html.")
@click.option("--paper", "size", type=click.Choice(["A4", "Letter"]), default="A4", help="Paper of the PDF.")
def record(code: str, data: Path, out: Path, size: str) -> None:
    """Write the assembly record of a jaw."""
    with (bench := read_bench(data)).store:
        kind = out.suffix.lower()
        found = record_of(bench, code, "fdi" if kind == ".json" else None)
        still = still_picture(bench, found)
    if kind == ".pdf":
        from benchapp.paper.record import pdf

        out.write_bytes(pdf(found, "Letter" if size == "Letter" else "A4", picture=still))
    elif kind == ".json":
        out.write_text(found.model_dump_json(indent=1) + "\n", encoding="utf-8")
    elif kind == ".html":
        from benchapp.web.records import standalone_page

        out.write_text(standalone_page(found, still), encoding="utf-8")
    else:
        raise click.UsageError(f"{out.name} ends in none of .pdf, .json and .html. Name the file accordingly.")
    click.echo(f"Wrote {out}")


