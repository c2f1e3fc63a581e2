"""A part or a jaw is scrapped and made again."""

from typing import Any

from flask import Blueprint, g, request

from benchapp.actions.bench import Refused
from benchapp.actions.jaws import line, protocol_of, texts_of
from benchapp.actions.remake import PARTS, NewPart, remake_jaw, remake_part, why_not
from benchapp.core.codes import read_code, spaced
from benchapp.core.orders_words import PART_WORDS
from benchapp.core.record_used import BEARERS
from benchapp.core.words import _
from benchapp.web.app import the_bench
from benchapp.web.desk import done, page, seated

views = Blueprint("remake", __name__)


@views.get("/desk/jaw/<code>/remake")
@seated("technician", "supervisor")
def ask(code: str) -> str:
    """Show what can be made again of a jaw, and ask for what the new part is printed from."""
    return _page(read_code(code).code, {}, [])


def _page(code: str, typed: dict[str, str], faults: list[str]) -> str:
    bench = the_bench()
    found = line(bench, code)
    part, whole = why_not(found)
    reasons = {r.id: r.title for r in protocol_of(bench, found).reasons if "scrap" in r.asked}
    patient = texts_of(bench, [found.case["texts"]["patient"]])
    return page(
        "remake/remake.html", found=found, spaced=spaced(found.code), part=part, whole=whole, reasons=reasons,
        bearers=BEARERS, typed=typed, faults=faults, patient=next(iter(patient.values())),
        supervisor="supervisor" in g.seat.person.roles,
    )


def _new(part: str) -> NewPart:
    return NewPart(request.form.get(f"{part}-revision", ""), request.form.get(f"{part}-print_job", ""))


@views.post("/desk/jaw/<code>/remake")
@seated("technician", "supervisor")
def make(code: str) -> Any:
    """Scrap a part, or the jaw, and name what takes its place."""
    bench, form = the_bench(), request.form
    jaw = read_code(code).code
    why = (form.get("reason", ""), form.get("bearer", ""))
    try:
        if form.get("what") == "jaw":
            new = remake_jaw(bench, g.seat, form.get("pin", ""), jaw, {p: _new(p) for p in PARTS}, *why)
            said = _("The jaw is made again as {code}. Print its labels.", code=spaced(new))
            return done(said, f"/desk/case/{_case(jaw)}")
        part = form.get("part", "")
        new = remake_part(bench, g.seat, jaw, part, _new(part), *why)
        said = _("The new {part} has the tag {code}. Print it, and read it in at the bench.",
                 part=_(PART_WORDS[part]), code=spaced(new))
        return done(said, f"/desk/case/{_case(jaw)}")
    except Refused as error:
        return _page(jaw, {key: value for key, value in form.items() if key != "pin"}, [str(error)]), 422


def _case(jaw: str) -> str:
    return str(line(the_bench(), jaw).case["code"])
