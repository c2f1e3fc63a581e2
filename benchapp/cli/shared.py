"""What several commands need: the data folder option, texts of files, talking to a running server."""

import json
import ssl
import sys
import urllib.error
import urllib.request
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from benchapp.actions.bench import Refused
from benchapp.actions.cases import DEFAULT_PROTOCOL
from benchapp.network.place import place_of
from benchapp.serve import local_door

data_option = click.option(
    "--data", "data", required=True, type=click.Path(path_type=Path, file_okay=False), help="The data folder."
)

protocol_option = click.option(
    "--protocol", "protocol_file", type=click.Path(path_type=Path, dir_okay=False), default=DEFAULT_PROTOCOL,
    help="Protocol file; left out: the one that ships with Seat & Cure.",
)


def read_file(path: Path) -> str:
    """Return a text file's contents; Refused when it is not UTF-8 text."""
    try:
        return path.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise Refused(f"{path}: byte {error.start} is not UTF-8. Save the file as UTF-8 text.") from None


def bar(label: str) -> Callable[[int, int], None]:
    """Return a progress callback that shows (done, in all) on a terminal, and says nothing elsewhere."""
    def show(done: int, of: int) -> None:
        if sys.stderr.isatty():
            click.echo(f"\r{label} {done} of {of}", nl=done >= of, err=True)
    return show


def ask_server(data: Path, what: str, body: dict[str, Any]) -> dict[str, Any] | None:
    """Hand a request to the server that has the data folder open; None when no server answers there."""
    address, key = local_door(data)
    if not address or not key:
        return None
    request = urllib.request.Request(
        f"{address}/local/{what}", json.dumps(body).encode(),
        {"Content-Type": "application/json", "Accept": "application/json", "X-Local-Key": key},
    )
    try:
        with urllib.request.urlopen(request, timeout=60, context=_trust(data)) as response:
            answer: dict[str, Any] = json.load(response)
            return answer
    except urllib.error.HTTPError as error:
        raise Refused(json.load(error).get("error", "The server refused.")) from None
    except OSError:
        return None


def _trust(data: Path) -> ssl.SSLContext | None:
    """Return whom to trust when the server of a data folder is asked: where it has an authority, that one alone."""
    file = place_of(data).authority
    return ssl.create_default_context(cafile=file) if file.exists() else None
