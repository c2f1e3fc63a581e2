"""Commands that let the system start the server when somebody signs in to the PC."""

import os
import platform
import subprocess
import sys
import tempfile
from pathlib import Path

import click

from benchapp.actions.bench import Refused
from benchapp.cli.autostart_texts import Plan, command, plan
from benchapp.cli.shared import data_option
from benchapp.network.place import place_of
from benchapp.store.folder import DataFolder

lan_option = click.option("--lan", is_flag=True, help="Serve the lab's tablets too, as `benchapp serve --lan` does.")
PATIENCE_S = 30


@click.group()
def autostart() -> None:
    """Let the system start the server when somebody signs in to this PC."""


@autostart.command()
@data_option
@lan_option
def on(data: Path, lan: bool) -> None:
    """Start the server of a data folder at every sign-in, and again where it fails."""
    told = _plan(data, lan)
    if not DataFolder(data).database.is_file():
        raise Refused(f"There is no laboratory in {data}: start `benchapp serve --data {data}` once, then do this "
                      "again.")
    if lan and not place_of(data).file.is_file():
        raise Refused(f"{data} has no network yet: start `benchapp serve --data {data} --lan` once, which asks for the "
                      "PC's name, then do this again.")
    if told.file is None:
        with tempfile.TemporaryDirectory() as place:
            file = Path(place) / "task.xml"
            file.write_bytes(told.content)
            _run([[word.replace("{file}", str(file)) for word in line] for line in told.on])
    else:
        _write(Path(told.file), told.content)
        click.echo(f"Wrote {told.file}")
        _run(told.on)
    click.echo(f"The server of {data} starts when {_user()} signs in to this PC. One data folder at a time: what was "
               "on before is not any more.")
    click.echo(f"To start it now, where it does not run yet: {told.now}")
    click.echo("To undo this: benchapp autostart off")
    if platform.system() == "Windows":
        click.echo("A window of the server opens then; closing it stops the server.")


@autostart.command()
def off() -> None:
    """Start nothing at sign-in any more; a server that runs now goes on."""
    told = _plan(Path(), False)
    _run(told.off)
    if told.file is not None:
        Path(told.file).unlink(missing_ok=True)
    click.echo("Nothing is started at sign-in any more. A server that runs now goes on until it is stopped.")


@autostart.command()
@data_option
@lan_option
def show(data: Path, lan: bool) -> None:
    """Show what `on` would tell the system, and change nothing."""
    told = _plan(data, lan)
    if told.file is not None:
        there = "is there" if Path(told.file).exists() else "is not there"
        click.echo(f"{told.file} ({there}):")
    click.echo(told.content.decode("utf-16" if told.file is None else "utf-8"))
    for line in told.on:
        click.echo(subprocess.list2cmdline(line))


def _plan(data: Path, lan: bool) -> Plan:
    """Return how this system is told; Refused, with what to do instead, where that is not known."""
    folder = str(data.resolve())
    arguments = command(sys.executable, folder, lan)
    told = plan(platform.system(), str(Path.home()), _user(), arguments, folder)
    if told is None or (platform.system() == "Linux" and not Path("/run/systemd/system").is_dir()):
        raise Refused(f"This PC is not started by systemd, launchd or Windows, so nothing was changed. Let its own "
                      f"start-up run: {subprocess.list2cmdline(arguments)}")
    return told


def _user() -> str:
    """Return who is signed in, as the system writes it."""
    name, domain = os.environ.get("USERNAME") or os.environ.get("USER") or "this user", os.environ.get("USERDOMAIN")
    return f"{domain}\\{name}" if domain and platform.system() == "Windows" else name


def _write(file: Path, content: bytes) -> None:
    file.parent.mkdir(parents=True, exist_ok=True)
    unfinished = file.with_name(file.name + ".new")
    unfinished.write_bytes(content)
    unfinished.replace(file)


def _run(lines: list[list[str]]) -> None:
    """Run commands one after the other; Refused with what the system said where one fails."""
    for line in lines:
        try:
            done = subprocess.run(
                line, capture_output=True, text=True, errors="replace", check=False, timeout=PATIENCE_S
            )
        except (OSError, subprocess.TimeoutExpired) as error:
            raise Refused(f"{line[0]} did not do it: {error}. Nothing is started at sign-in.") from None
        if done.returncode:
            said = " ".join((done.stderr or done.stdout).split())[:300]
            raise Refused(f"`{subprocess.list2cmdline(line)}` did not work: {said or done.returncode}.")
