"""The door for commands on this PC: they hand sheets to the server that has the data folder open."""

import hmac
from pathlib import Path
from typing import Any

from flask import Blueprint, current_app, request

from benchapp.actions.bench import Refused
from benchapp.actions.cases import add_case
from benchapp.actions.lab import add_lab
from benchapp.actions.meshes import attach_copy
from benchapp.core.sheet import read_lab, read_sheet
from benchapp.core.words import _
from benchapp.web.app import the_bench
from benchapp.web.tablets import json_of_request

views = Blueprint("local", __name__, url_prefix="/local")


class NotLocal(Refused):
    """The request does not carry the key of this data folder."""

    status = 403


@views.before_request
def must_hold_key() -> None:
    """Let in only who can read the data folder."""
    if not holds_key():
        raise NotLocal(_("Only a command on the PC that holds the data folder may do that."))


def holds_key() -> bool:
    """Tell whether a request carries the key of this data folder."""
    key = current_app.config["LOCAL_KEY"]
    return bool(key) and hmac.compare_digest(request.headers.get("X-Local-Key", "").encode(), key.encode())


def _text(name: str) -> str:
    data = json_of_request()
    text = data.get(name) if isinstance(data, dict) else None
    if not isinstance(text, str):
        raise Refused(_("The request does not hold `{name}`.", name=name))
    return text


@views.post("/add")
def add() -> dict[str, Any]:
    """Take a case sheet in: {name, text, protocol} gives {code, jaws}."""
    opened = add_case(the_bench(), read_sheet(_text("name"), _text("text")), _text("protocol"))
    return {"code": opened.code, "jaws": opened.jaws}


@views.post("/mesh")
def mesh() -> dict[str, Any]:
    """Attach a file of this PC to a part: {jaw, part, file} gives {hash}; whoever holds the key may read that file."""
    return {"hash": attach_copy(the_bench(), _text("jaw"), _text("part"), Path(_text("file")))}


@views.post("/lab")
def lab() -> dict[str, Any]:
    """Take a lab sheet in: {name, text} gives {pins}."""
    return {"pins": add_lab(the_bench(), read_lab(_text("name"), _text("text")))}
