"""What nobody expected: errors of the server and of scripts go into the log; a person is shown the id of theirs."""

import logging
from typing import Any

from flask import Blueprint, current_app, request

from benchapp.actions.bench import Refused
from benchapp.core.codes import ALPHABET
from benchapp.core.words import _
from benchapp.store.errors import StoreError
from benchapp.store.logs import is_open, note, note_error
from benchapp.web.app import the_bench
from benchapp.web.tablets import json_of_request, known_tablet

views = Blueprint("oops", __name__)

MOST_BYTES = 2000
MOST_A_MINUTE = 10
MINUTE = 60_000


class TooMuch(Refused):
    """More than is taken of one tablet."""

    status = 429


def noted(error: Exception) -> str:
    """Write an error that nobody expected into the log; return the id under which it stands there."""
    name = "".join(the_bench().chance.choose(ALPHABET) for _n in range(6))
    if is_open():
        note_error("error", error, id=name)
    else:
        current_app.logger.error("error %s", name, exc_info=error)
    return name


def not_stored(error: StoreError) -> None:
    """Write into the log that the store could not take something."""
    note_error("not-stored", error)


@views.post("/oops")
def script_error() -> tuple[str, int]:
    """Take an error of a script of a known tablet: {message, file, line, page}; it stands in the log alone."""
    request.max_content_length = MOST_BYTES
    tablet = known_tablet()
    said = json_of_request()
    said = said if isinstance(said, dict) else {}
    if not _may_note(tablet):
        raise TooMuch(_("Enough errors of this tablet were noted for now."))
    note("script-error", logging.ERROR, tablet=tablet, file=_text(said, "file"), line=_text(said, "line"),
         page=_text(said, "page"), says=_text(said, "message"))
    return "", 204


def _text(said: dict[str, Any], name: str) -> str:
    value = said.get(name)
    return str(value) if isinstance(value, str | int) else ""


def _may_note(tablet: str) -> bool:
    """Count the errors of a tablet within a minute; a page that fails all the time must not fill the log."""
    counts: dict[str, tuple[int, int]] = current_app.extensions.setdefault("oops", {})
    now = the_bench().clock()
    since, count = counts.get(tablet, (now, 0))
    if not 0 <= now - since < MINUTE:
        since, count = now, 0
    counts[tablet] = since, count + 1
    return count < MOST_A_MINUTE
