"""Commands for the technique lead."""

from pathlib import Path

import click

from benchapp import paths
from benchapp.cli.shared import read_file
from benchapp.core.protocol_rules import read_protocol


@click.group()
def protocol() -> None:
    """Work with protocol files."""


@protocol.command()
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
def check(file: Path) -> None:
    """List every fault of a protocol file at once, with place and remedy; exit 1 if there is one."""
    pictures = frozenset(picture.stem for picture in (paths.STATIC / "pictures").glob("*.svg"))
    found = read_protocol(file.name, read_file(file), pictures)
    steps = len(found.steps)
    click.echo(f"{file.name}: no faults. {found.title}, edition {found.edition}, {steps} steps.")
