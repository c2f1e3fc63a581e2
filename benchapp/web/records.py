"""The assembly record of a jaw: as a page, as PDF, as JSON."""

import base64
from typing import Any, Literal

from flask import Blueprint, Response, render_template, request
from jinja2 import Environment, FileSystemLoader
from markupsafe import Markup

from benchapp import paths
from benchapp.actions.records import record_of
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
    parts = _parts(record_of(the_bench(), code))
    return render_template("records/record.html", **parts, standalone="", words=for_scripts(HOME_WORDS))


def _parts(record: Record) -> dict[str, Any]:
    picture = "data:image/png;base64," + base64.b64encode(paper.checkpoint_png(record)).decode()
    return {"record": record, "checkpoint_png": picture, "arch": marked(record)}


def standalone_page(record: Record) -> str:
    """Return the record as one HTML file with its styles inside."""
    environment = Environment(loader=FileSystemLoader(paths.TEMPLATES), autoescape=True)
    environment.globals["static"] = static_url
    dress(environment)
    styles = (paths.STATIC / "css" / "record.css").read_text("utf-8")
    return environment.get_template("records/record.html").render(**_parts(record), standalone=Markup(styles))


@views.get("/record/<code>.pdf")
def pdf(code: str) -> Response:
    """Send the record as PDF; `?paper=Letter` for US paper."""
    size: Literal["A4", "Letter"] = "Letter" if request.args.get("paper") == "Letter" else "A4"
    return Response(paper.pdf(record_of(the_bench(), code), size), mimetype="application/pdf")


@views.get("/record/<code>.json")
def plain(code: str) -> Response:
    """Send the record as JSON, teeth in ISO 3950; its schema is in DEVELOPERS.md."""
    return Response(record_of(the_bench(), code, "fdi").model_dump_json(indent=1), mimetype="application/json")
