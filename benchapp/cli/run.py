"""Commands that start the server."""

from pathlib import Path

import click

from benchapp.cli.shared import data_option
from benchapp.core.codes import spaced
from benchapp.demo import fill
from benchapp.serve import HOST, PORT, serve

port_option = click.option("--port", type=click.IntRange(1, 65535), default=PORT, show_default=True, help="Port.")


@click.command("serve")
@data_option
@port_option
def serve_command(data: Path, port: int) -> None:
    """Serve a data folder to the browsers on this PC; an absent or empty one is set up there first."""
    click.echo(f"Seat & Cure serves {data} on http://{HOST}:{port}  (Ctrl+C ends it)")
    serve(data, port, click.echo)


@click.command()
@click.option("--data", "data", type=click.Path(path_type=Path, file_okay=False), default=Path("demo-data"),
              show_default=True, help="Data folder of the demo.")
@port_option
@click.option("--speed", type=click.IntRange(1, 600), default=1, show_default=True,
              help="For training: divides the durations of the protocol, never the clock.")
@click.option("--no-serve", is_flag=True, help="Only fill the data folder.")
def demo(data: Path, port: int, speed: int, no_serve: bool) -> None:
    """Fill a data folder with an invented lab and one upper jaw, and serve it."""
    shown = fill(data, speed)
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
