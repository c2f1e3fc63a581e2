"""The first page: who works here, which jaw next."""

from flask import Blueprint, Response, make_response, redirect, render_template, request
from werkzeug.wrappers import Response as AnyResponse

from benchapp.actions.cases import jaw_of_part
from benchapp.actions.overview import jaws_in_work
from benchapp.core.codes import read_code
from benchapp.web.app import the_bench
from benchapp.web.people import people_plain
from benchapp.web.tablets import welcome
from benchapp.web.words import HOME_WORDS

views = Blueprint("home", __name__)


@views.get("/")
def home() -> Response:
    """Show sign-in tiles, the field for a code, and the jaws in work."""
    page = render_template(
        "home/home.html", people=people_plain(), jaws=jaws_in_work(the_bench()), words=HOME_WORDS
    )
    return welcome(make_response(page))


@views.get("/find")
def find() -> AnyResponse:
    """Lead a typed or scanned code to the page it means: a jaw, or the jaw of a part."""
    code = read_code(request.args.get("code", ""), layouts=False)
    if code.code[0] in "AB":
        jaw = jaw_of_part(the_bench(), code.code)
        return redirect(f"/bench/{jaw or code.code}")
    return redirect(f"/bench/{code.code}")
