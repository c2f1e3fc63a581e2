"""Commands that start the server."""

from pathlib import Path

import click

from benchapp.cli.shared import data_option
from benchapp.core.codes import spaced
from benchapp.demo import fill
from benchapp.network.names import NameFault, read_name
from benchapp.serve import HOST, PORT, serve

ABOUT_NAME = """\
Tablets know this PC by one name for ever: what they have not sent yet belongs to it.
 - Best is a name that the lab's router gives, such as bench.lan or bench.home.arpa: give this PC a fixed address in
   the router (DHCP reservation), and that address the name.
 - If the router gives no names, take one under .local: this PC then says it in the network by itself. Android
   tablets need Android 12 or later for that."""

port_option = click.option("--port", type=click.IntRange(1, 65535), default=PORT, show_default=True, help="Port.")


@click.command("serve")
@data_option
@port_option
@click.option("--lan", is_flag=True, help="Serve the lab's tablets too, by HTTPS; asks for the PC's name once.")
@click.option("--name", help="With --lan: the PC's host name for ever, as bench.lan or bench.local.")
@click.option("--setup-port", type=click.IntRange(1, 65535), help="With --lan: port to set tablets up by (8322).")
@click.option("--bind", help="With --lan: the one address to listen on, instead of every address of the PC.")
@click.pass_context
def serve_command(
    context: click.Context, data: Path, port: int, lan: bool, name: str | None, setup_port: int | None, bind: str | None
) -> None:
    """Serve a data folder to the browsers on this PC; an absent or empty one is set up there first."""
    if not lan:
        if name or setup_port or bind:
            raise click.UsageError("--name, --setup-port and --bind go with --lan.")
        click.echo(f"Seat & Cure serves {data} on http://{HOST}:{port}  (Ctrl+C ends it)")
        serve(data, port, click.echo)
        return
    from benchapp.serve_lan import Wished, prepare, serve_lan

    said = context.get_parameter_source("port") is not click.core.ParameterSource.DEFAULT
    wished = Wished(_read(name) if name else None, port if said else None, setup_port, bind)
    network = prepare(data, wished, _ask_name, click.echo)
    click.echo(f"Seat & Cure serves {data} on {network.origin}  (Ctrl+C ends it)")
    serve_lan(data, network, click.echo)


def _read(name: str) -> str:
    try:
        return read_name(name)
    except NameFault as fault:
        raise click.BadParameter(str(fault), param_hint="--name") from None


def _ask_name() -> str:
    """Ask for the name before anything is made by it."""
    click.echo(ABOUT_NAME)
    return str(click.prompt("Name of this PC", default="bench.local", value_proc=_read))


@click.command()
@click.option("--data", "data", type=click.Path(path_type=Path, file_okay=False), default=Path("demo-data"),
              show_default=True, help="Data folder of the demo.")
@port_option
@click.option("--speed", type=click.IntRange(1, 600), default=1, show_default=True,
              help="For training: divides the durations of the protocol, never the clock.")
@click.option("--no-serve", is_flag=True, help="Only fill the data folder.")
@click.option("--one-jaw", is_flag=True, help="The first jaw alone, without design files.")
def demo(data: Path, port: int, speed: int, no_serve: bool, one_jaw: bool) -> None:
    """Fill a data folder with an invented lab and three jaws with their design files, and serve it."""
    shown = fill(data, speed, one_jaw)
    click.echo(f"Demo data folder: {data}" + (f", durations divided by {shown.speed}" if shown.speed > 1 else ""))
    for name, roles, pin in shown.people:
        click.echo(f"  {name} ({', '.join(roles)}): PIN {pin}")
    for code, words in shown.jaws:
        click.echo(f"  {words}: {spaced(code)}")
    for file in shown.labels:
        click.echo(f"  label {file}")
    if no_serve:
        return
    click.echo(f"Open http://{HOST}:{port}  (Ctrl+C ends it)")
    serve(data, port)
