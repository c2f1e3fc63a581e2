"""The seating check of one jaw: its page at the bench and at the desk, and its two pictures."""

from pathlib import Path
from typing import Any

from flask import Blueprint, Response, make_response, render_template, send_file

from benchapp.actions.bench import Refused
from benchapp.actions.jaws import JawLine, line, texts_of
from benchapp.actions.settings import setting
from benchapp.core.codes import read_code, spaced
from benchapp.core.numbers import numbers_of
from benchapp.core.words import _, for_scripts
from benchapp.web.app import the_bench
from benchapp.web.desk import EVERYBODY, page, seated
from benchapp.web.seating_found import page_of
from benchapp.web.seating_page import shown
from benchapp.web.tablets import welcome
from benchapp.web.words import HOME_WORDS

views = Blueprint("seating", __name__)


class NoPicture(Refused):
    """The jaw has no such picture yet; not 404, which would count as a guessed code."""

    status = 409


@views.get("/bench/<code>/seating")
def at_bench(code: str) -> Response:
    """Show a jaw's seating check at the bench; the worker keeps it with the jaw."""
    found = _jaw(code)
    shown_page = render_template("seating/bench.html", words=for_scripts(HOME_WORDS), **_context(found))
    return welcome(make_response(shown_page))


@views.get("/desk/jaw/<code>/seating")
@seated(*EVERYBODY)
def at_desk(code: str) -> str:
    """Show a jaw's seating check at the desk."""
    return page("seating/desk.html", **_context(_jaw(code)))


@views.get("/seating/<code>.glb")
def solid(code: str) -> Response:
    """Send the jaw in three dimensions, as binary glTF."""
    seating = page_of(the_bench(), _jaw(code))
    return _file(seating.solid, "model/gltf-binary")


@views.get("/seating/<code>.png")
def picture(code: str) -> Response:
    """Send the still picture of the jaw."""
    seating = page_of(the_bench(), _jaw(code))
    return _file(seating.picture, "image/png")


def _jaw(code: str) -> JawLine:
    return line(the_bench(), read_code(code).code)


def _file(path: Path | None, mimetype: str) -> Response:
    if path is None or not path.is_file():
        raise NoPicture(_("There is no such picture of this jaw. It is made with its seating check."))
    return send_file(path.resolve(), mimetype=mimetype, etag=True)


def _context(found: JawLine) -> dict[str, Any]:
    bench = the_bench()
    seating = page_of(bench, found)
    texts = texts_of(bench, found.case["texts"].values())
    about = {
        "code": found.code, "spaced": spaced(found.code), "case": found.case["code"], "jaw": found.jaw["jaw"],
        "patient": texts[found.case["texts"]["patient"]], "seating": seating,
    }  # fmt: skip
    if seating.report is None:
        return about | {"report": None}
    return about | shown(found, seating, numbers_of(setting(bench, "numbers")))
