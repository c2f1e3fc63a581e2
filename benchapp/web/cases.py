"""All cases: the list that is searched, and what one looks like right after it was accepted."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from flask import Blueprint, Response, abort, g, make_response, render_template, request

from benchapp.actions.finding import search
from benchapp.actions.overview import LOOKED_AT, CaseGlance, case_glances
from benchapp.core.words import N_, _
from benchapp.web import case_lists, case_new, case_order
from benchapp.web.app import the_bench
from benchapp.web.desk import EVERYBODY, page, seated

views = Blueprint("cases", __name__)
for _room in (case_new, case_lists, case_order):
    views.register_blueprint(_room.views)

PAGE = 50
STATES = (
    ("", N_("any state")), ("work", N_("in work")), ("late", N_("late")), ("held", N_("on hold")),
    ("allergy", N_("allergy not decided")), ("packed", N_("all packed or scrapped")),
    ("cancelled", N_("cancelled")), ("training", N_("training")),
)


@dataclass(frozen=True)
class Asked:
    """What the list is asked for: words, a state or `held:REASON`, whether training is hidden, which page."""

    q: str
    state: str
    hide: bool
    page: int

    def address(self, page: int = 1) -> str:
        """Return the address of this list, at another page of it."""
        keys = {"q": self.q, "state": self.state, "hide": "1" if self.hide else "", "page": page if page > 1 else ""}
        query = urlencode({key: value for key, value in keys.items() if value})
        return f"/desk/cases?{query}" if query else "/desk/cases"


@views.get("/desk/cases")
@seated(*EVERYBODY)
def every() -> str:
    """Show the list of all cases, with the search above it."""
    asked = _asked()
    return page("cases/list.html", **_list(asked))


@views.get("/desk/cases/list")
@seated(*EVERYBODY)
def rows() -> Response:
    """Send the rows alone, for the page that asks while somebody types; its address follows."""
    asked = _asked()
    answer = make_response(render_template("cases/_list.html", seat=g.seat, **_list(asked)))
    answer.headers["HX-Replace-Url"] = asked.address(asked.page)
    return answer


def _asked() -> Asked:
    number = request.args.get("page", "1")
    return Asked(
        " ".join(request.args.get("q", "")[:80].split()), request.args.get("state", "")[:80],
        request.args.get("hide") == "1", min(int(number), 10_000) if number.isascii() and number.isdigit() else 1,
    )


def _list(asked: Asked) -> dict[str, Any]:
    bench = the_bench()
    codes = search(bench, asked.q) if asked.q else None
    found = case_glances(bench, codes)
    more = len(codes) > len(found) if codes is not None else len(found) == LOOKED_AT
    reasons = sorted({(jaw.hold_reason, jaw.hold_words) for case in found for jaw in case.jaws if jaw.hold_reason})
    fitting = sorted(
        (case for case in found if _fits(case, asked)), key=lambda case: (not case.open, case.due, case.order)
    )
    pages = max(1, -(-len(fitting) // PAGE))
    at = max(1, min(asked.page, pages))
    return {
        "asked": asked, "cases": fitting[(at - 1) * PAGE: at * PAGE], "count": len(fitting), "at_page": at,
        "pages": pages, "states": _states(asked, reasons), "more": more, "looked_at": LOOKED_AT,
        "words_of": state_words, "nothing": codes is None and not found,
    }


def _states(asked: Asked, reasons: Iterable[tuple[str, str]]) -> list[tuple[str, str]]:
    held = [(f"held:{reason}", _("on hold: {why}", why=words or reason)) for reason, words in reasons]
    every = [*((value, _(words)) for value, words in STATES), *held]
    if asked.state not in dict(every):
        every.append((asked.state, _("nothing is held like that any more")))
    return every


def _fits(case: CaseGlance, asked: Asked) -> bool:
    if case.training and asked.hide:
        return False
    state, _colon, reason = asked.state.partition(":")
    return {
        "": True, "work": case.open, "late": case.late, "allergy": case.undecided, "cancelled": case.cancelled,
        "packed": all(jaw.ended for jaw in case.jaws), "training": case.training,
        "held": any(jaw.held and (not reason or jaw.hold_reason == reason) for jaw in case.jaws),
    }.get(state, False)


def state_words(case: CaseGlance) -> list[tuple[str, str]]:
    """Return what is out of the ordinary of a case, as (kind for its look, words)."""
    found = [("late", _("late"))] if case.late else []
    found += [("stop", _("cancelled"))] if case.cancelled else []
    reasons = dict.fromkeys(jaw.hold_words for jaw in case.jaws if jaw.held)
    found += [("held", _("on hold: {why}", why=words) if words else _("on hold")) for words in reasons]
    told = any(jaw.held and jaw.hold_reason == "allergy" for jaw in case.jaws)
    found += [("stop", _("allergy not decided"))] if case.undecided and not case.cancelled and not told else []
    found += [("training", _("training"))] if case.training else []
    return found


@views.get("/desk/cases/<code>/codes")
@seated(*EVERYBODY)
def codes(code: str) -> str:
    """Show the codes of a case, its labels to print, and the way to the bench."""
    found = next(iter(case_glances(the_bench(), [code])), None)
    if found is None:
        abort(404, _("No case has that code here. Look for it in the list of cases."))
    return page("cases/codes.html", case=found, order=case_order.order_of(the_bench(), code))
