"""The command `benchapp`: every bad input ends in one sentence with the remedy and exit code 1 or 2."""

import sys

import click

from benchapp import __version__
from benchapp.actions.bench import Refused
from benchapp.cli import autostart, cases, doctor, keeping, protocol, run, seating, words
from benchapp.core.codes import CodeError
from benchapp.core.faults import FileFaults
from benchapp.network.place import NetworkFault
from benchapp.serve import PortTaken
from benchapp.store.errors import StoreError


@click.group()
@click.version_option(__version__, message="Seat & Cure %(version)s")
def cli() -> None:
    """Seat & Cure: case, clock, geometry and proof for joining printed denture parts."""


for command in (
    run.demo, run.serve_command, cases.lab, cases.add, cases.labels, cases.record, keeping.verify, keeping.backup,
    keeping.restore, doctor.doctor, autostart.autostart, protocol.protocol, seating.seating, words.words,
):
    cli.add_command(command)


def main() -> None:
    """Run the command line; the errors that people can mend are printed as sentences, never as a trace."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):  # a Windows console may know fewer letters than a patient's code
            stream.reconfigure(errors="replace")
    try:
        cli(standalone_mode=True)
    except FileFaults as faults:
        click.echo(str(faults), err=True)
        sys.exit(1)
    except (StoreError, Refused, PortTaken, NetworkFault) as error:
        click.echo(str(error), err=True)
        sys.exit(1)
    except CodeError as error:
        click.echo(f"That code cannot be read: {error}.", err=True)
        sys.exit(1)
    except OSError as error:
        where = error.filename or "The file system"
        click.echo(f"{where}: {error.strerror or error}. Mend that, then try again.", err=True)
        sys.exit(1)
