"""The first page: who works here, which jaw next; a code, a pan or an order leads to its jaw."""

from typing import Any

from flask import Blueprint, Response, jsonify, make_response, redirect, render_template, request

from benchapp.actions.bench import Unknown
from benchapp.actions.cases import jaw_of_part
from benchapp.actions.finding import by_number
from benchapp.actions.overview import CaseGlance, case_glance, jaws_in_work
from benchapp.actions.tablets import names_of_tablets
from benchapp.actions.what import what_is
from benchapp.core.codes import CodeError, read_code
from benchapp.core.words import N_, _, for_scripts
from benchapp.web.app import the_bench
from benchapp.web.gate import leads_nowhere, standing_of_request
from benchapp.web.people import people_plain
from benchapp.web.tablets import tablet_of_request, welcome
from benchapp.web.words import HOME_WORDS, READY

views = Blueprint("home", __name__)

WORDS = HOME_WORDS | {
    "ready": READY,
    "looking": N_("Not one of our codes, which have ten characters. Looking for a pan or an order of that number …"),
}


@views.get("/")
def home() -> Response:
    """Show sign-in tiles, the field for a code, and the jaws in work."""
    known = standing_of_request()
    page = render_template(
        "home/home.html", people=people_plain(), jaws=jaws_in_work(the_bench()), words=for_scripts(WORDS),
        tablet=names_of_tablets(the_bench()).get(tablet_of_request() or "", ""),
        display=known is not None and known.kind == "display",
    )
    return welcome(make_response(page))


@views.get("/find")
def find() -> Any:
    """Lead a typed or scanned code, pan or order number to its jaw; where there are several, let people choose."""
    typed = " ".join(request.args.get("code", "")[:200].split())
    address, cases = _meant(typed)
    if request.accept_mimetypes.best_match(["text/html", "application/json"]) == "application/json":
        return jsonify(to=address or request.full_path)
    if address:
        return redirect(address)
    return render_template("home/find.html", typed=typed, cases=cases, words=for_scripts(WORDS))


def _meant(typed: str) -> tuple[str, list[CaseGlance]]:
    """Return the address that was meant, or the cases to choose from; Unknown says what is wrong."""
    bench = the_bench()
    try:
        code = read_code(typed, layouts=False).code
    except CodeError as error:
        # A pan or an order may have ten signs too, so they are asked for whatever was wrong with the code.
        cases = by_number(bench, typed)
        if not cases:
            raise Unknown(
                _("No case in work has the pan or the order {number}, and it is not one of our codes, which have ten "
                  "characters: {why}.", number=repr(typed[:40]), why=error)
            ) from None
        return _one(cases), cases
    if code[0] == "E":
        return f"/enrol?code={code}", []
    if code[0] in "AB":
        jaw = jaw_of_part(bench, code)
        leads_nowhere(not jaw)
        return f"/bench/{jaw or code}", []
    if code[0] in "PTDS":
        meaning = what_is(bench, code)
        if not meaning.to:
            raise Unknown(f"{meaning.what} {meaning.next}")
        return meaning.to, []
    case = case_glance(bench, code) if code[0] == "0" else None
    if case is not None:
        return _one([case]), [case]
    leads_nowhere(code[0] == "0")
    return f"/bench/{code}", []


def _one(cases: list[CaseGlance]) -> str:
    """Return the bench page of the only jaw that there is to choose, "" where there are more."""
    jaws = [jaw for case in cases for jaw in case.jaws if jaw.ended != "scrap" or len(case.jaws) == 1]
    return f"/bench/{jaws[0].code}" if len(jaws) == 1 else ""
