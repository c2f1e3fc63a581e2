"""The assembly record of a jaw: as a page, as PDF, as JSON."""

import base64
from typing import Any, Literal

from flask import Blueprint, Response, render_template, request
from jinja2 import Environment, FileSystemLoader
from markupsafe import Markup

from benchapp import paths
from benchapp.actions.records import record_of, still_picture
from benchapp.core.record import Record
from benchapp.core.record_arch import marked
from benchapp.core.words import for_scripts
from benchapp.paper import record as paper
from benchapp.web.app import static_url, the_bench
from benchapp.web.tongue import dress
from benchapp.web.words import HOME_WORDS

views = Blueprint("records", __name__)


@views.get("/record/<code>")
def page(code: str) -> str:
    """Show the record of a jaw, with print styles."""
    record = record_of(the_bench(), code)
    parts = _parts(record, still_picture(the_bench(), record))
    return render_template("records/record.html", **parts, standalone="", words=for_scripts(HOME_WORDS))


def _parts(record: Record, still: bytes | None) -> dict[str, Any]:
    return {
        "record": record, "checkpoint_png": _inside(paper.checkpoint_png(record)), "arch": marked(record),
        "seating_png": _inside(still) if still else "",
    }


def _inside(png: bytes) -> str:
    return "data:image/png;base64," + base64.b64encode(png).decode()


def standalone_page(record: Record, still: bytes | None = None) -> str:
    """Return the record as one HTML file with its styles inside."""
    environment = Environment(loader=FileSystemLoader(paths.TEMPLATES), autoescape=True)
    environment.globals["static"] = static_url
    dress(environment)
    styles = (paths.STATIC / "css" / "record.css").read_text("utf-8")
    return environment.get_template("records/record.html").render(**_parts(record, still), standalone=Markup(styles))


@views.get("/record/<code>.pdf")
def pdf(code: str) -> Response:
    """Send the record as PDF; `?paper=Letter` for US paper."""
    size: Literal["A4", "Letter"] = "Letter" if request.args.get("paper") == "Letter" else "A4"
    record = record_of(the_bench(), code)
    whole = paper.pdf(record, size, picture=still_picture(the_bench(), record))
    return Response(whole, mimetype="application/pdf")


@views.get("/record/<code>.json")
def plain(code: str) -> Response:
    """Send the record as JSON, teeth in ISO 3950; its schema is in DEVELOPERS.md."""
    return Response(record_of(the_bench(), code, "fdi").model_dump_json(indent=1), mimetype="application/json")
