"""Labels of a jaw and its parts, as pictures and as one PDF."""

from flask import Blueprint, Response

from benchapp.core.codes import read_code
from benchapp.paper import label as paper
from benchapp.paper.jaw_labels import labels_of
from benchapp.web.app import the_bench

views = Blueprint("labels", __name__)


@views.get("/labels/<code>.pdf")
def sheet(code: str) -> Response:
    """Send the labels of a jaw and its parts, one 50 x 25 mm page each."""
    labels = labels_of(the_bench(), read_code(code).code)
    return Response(paper.pdf(labels), mimetype="application/pdf")


@views.get("/labels/<code>.png")
def picture(code: str) -> Response:
    """Send the label of a jaw as a picture for a 300 dpi printer."""
    return Response(paper.png(labels_of(the_bench(), read_code(code).code)[0], 300), mimetype="image/png")
