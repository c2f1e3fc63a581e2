"""Release of a jaw or of both jaws of a case, and what comes after it: amendments, sent out, came back."""

from collections.abc import Callable
from typing import Any

from flask import Blueprint, g, request
from werkzeug.wrappers import Response as AnyResponse

from benchapp.actions import release as acts
from benchapp.actions.bench import Refused
from benchapp.actions.jaws import line
from benchapp.actions.lab import today
from benchapp.actions.pairs import pair
from benchapp.actions.records import record_of
from benchapp.actions.release import Asked, NotYet, Reading
from benchapp.actions.settings import setting
from benchapp.core.caseline import unsettled
from benchapp.core.codes import read_code, spaced
from benchapp.core.numbers import numbers_of, renamed
from benchapp.core.readiness import Gap
from benchapp.core.record_words import plain
from benchapp.core.release_words import BACK, MEANING, MEANINGS
from benchapp.core.teeth import places
from benchapp.core.words import N_, _
from benchapp.web.app import the_bench
from benchapp.web.desk import EVERYBODY, NotYours, done, page, seated

views = Blueprint("release", __name__)

WORDS = {
    "bench": N_("To the bench of this jaw"), "case": N_("To the pair check"), "order": N_("To what was ordered"),
    "marks": N_("To the entries that were not taken"), "deviations": N_("To the deviations"),
}  # fmt: skip


@views.get("/desk/jaw/<code>/release")
@seated(*acts.RELEASES)
def release_page(code: str) -> str:
    """Show what of a jaw was not ordinary and what stands in the way of its release."""
    return _page([read_code(code).code])


@views.post("/desk/jaw/<code>/release")
@seated(*acts.RELEASES)
def release_jaw(code: str) -> Any:
    """Release a jaw, in the name of who sits there, whose PIN is asked again."""
    return _release([read_code(code).code])


@views.get("/desk/case/<code>/release")
@seated(*acts.RELEASES)
def both_page(code: str) -> str:
    """Show both jaws of a case before they are released together."""
    return _page(_both(code))


@views.post("/desk/case/<code>/release")
@seated(*acts.RELEASES)
def release_both(code: str) -> Any:
    """Release both jaws of a case together, or neither."""
    return _release(_both(code))


def _both(code: str) -> list[str]:
    codes = list(pair(the_bench(), read_code(code).code).codes)
    if not codes:
        raise Refused(_("This case has no two jaws that are released together. Release the one jaw alone."))
    return codes


def _release(codes: list[str]) -> Any:
    readings = {code: _reading(code) for code in codes}
    try:
        acts.release(the_bench(), g.seat, request.form.get("pin", ""), readings)
    except NotYours:
        raise
    except Refused as error:
        faults = error.faults if isinstance(error, NotYet) else [str(error)]
        return _page(codes, faults), error.status
    case = line(the_bench(), codes[0]).case["code"]
    said = spaced(codes[0])
    if len(codes) > 1:
        said = _("{first} and {second}", first=said, second=spaced(codes[1]))
    return done(_("Released: {jaws}.", jaws=said), f"/desk/case/{case}")


def _reading(code: str) -> Reading:
    form, mine = request.form, f"{code}-"
    read = {name.removeprefix(f"{mine}read-") for name in form if name.startswith(f"{mine}read-")}
    start = f"{mine}reason-"
    reasons = {name.removeprefix(start): words for name, words in form.items() if name.startswith(start)}
    return Reading(form.get(f"{mine}seen", 0, type=int), frozenset(read), reasons)


def _page(codes: list[str], faults: list[str] | None = None) -> str:
    bench = the_bench()
    jaws = [acts.asked(bench, g.seat, code) for code in codes]
    case = jaws[0].line.case["code"]
    return page(
        "release/release.html", jaws=[_shown(jaw) for jaw in jaws], case=case, faults=faults or [],
        meaning=MEANINGS[MEANING], form=request.form, possible=not any(jaw.refusals for jaw in jaws), spaced=spaced,
        address=request.path, own=any(jaw.own for jaw in jaws) and all(jaw.own_allowed for jaw in jaws),
    )


def _shown(jaw: Asked) -> dict[str, Any]:
    ready, record = jaw.readiness, record_of(the_bench(), jaw.code)
    gaps = ready.gaps if not jaw.released else ()
    return {
        "code": jaw.code, "spaced": spaced(jaw.code), "record": record, "seen": jaw.seen, "asked": jaw,
        "mend": [_mend(jaw, gap) for gap in gaps if gap.asks == "mend"],
        "others": [words for words in jaw.refusals if words not in [gap.words for gap in gaps]],
        "reason": [gap for gap in gaps if gap.asks == "reason"], "read": [gap for gap in gaps if gap.asks == "read"],
        "ticks": ready.ticks,
    }


def _mend(jaw: Asked, gap: Gap) -> dict[str, Any]:
    case = jaw.line.case["code"]
    to = {
        "bench": f"/bench/{jaw.code}", "case": f"/desk/case/{case}#pair", "order": f"/desk/cases/{case}/order",
        "marks": "/desk/marks", "deviations": "/desk/deviations",
    }.get(gap.where, "")
    return {"gap": gap, "to": to, "link": _(WORDS.get(gap.where, ""))}


@views.get("/desk/jaw/<code>/after")
@seated(*EVERYBODY)
def after_page(code: str) -> str:
    """Show what came after the release of a jaw, and the forms that add to it."""
    return _after(read_code(code).code)


@views.post("/desk/jaw/<code>/after/amend")
@seated(*EVERYBODY)
def amend(code: str) -> Any:
    """Add words to the record of a released jaw."""
    read, words = read_code(code).code, request.form.get("words", "")
    return _tried(read, "amend", _("Added to the record."), lambda: acts.amend(the_bench(), g.seat, read, words))


@views.post("/desk/jaw/<code>/after/sent")
@seated(*EVERYBODY)
def sent(code: str) -> Any:
    """Store that a released jaw was sent out."""
    read, form = read_code(code).code, request.form
    on, means = form.get("on", ""), form.get("means", "")
    return _tried(read, "sent", _("Stored: sent out."), lambda: acts.sent(the_bench(), g.seat, read, on, means))


@views.post("/desk/jaw/<code>/after/back")
@seated(*EVERYBODY)
def back(code: str) -> Any:
    """Store that a jaw came back, and why."""
    read, form = read_code(code).code, request.form
    said = [form.get(name, "") for name in ("on", "place", "reason", "words")]
    return _tried(read, "back", _("Stored: came back."), lambda: acts.came_back(the_bench(), g.seat, read, *said))


@views.post("/desk/jaw/<code>/after/settled")
@seated(*acts.RELEASES)
def settled(code: str) -> Any:
    """Settle what came back of a jaw; with the field `today` the day's list is shown again, not the jaw."""
    read = read_code(code).code
    to = "/desk/today" if "today" in request.form else ""
    said = _("Jaw {code}: settled.", code=spaced(read))
    return _tried(read, "settled", said, lambda: acts.settle(the_bench(), g.seat, read), to)


def _tried(code: str, which: str, words: str, act: Callable[[], None], to: str = "") -> tuple[str, int] | AnyResponse:
    try:
        act()
    except NotYet as error:
        return _after(code, error.faults, which), error.status
    return done(words, to or f"/desk/jaw/{code}/after")


def _after(code: str, faults: list[str] | None = None, which: str = "") -> str:
    bench = the_bench()
    record, found = record_of(bench, code), line(bench, code)
    jaw = found.jaw
    kinds: Any = acts.KINDS_OF_PLACES
    numbers = numbers_of(setting(bench, "numbers"))
    moves = [body["event"]["kind"] for body in found.after if body["event"]["kind"] in ("sent", "back")]
    return page(
        "release/after.html", code=code, spaced=spaced(code), record=record, case=found.case["code"],
        faults=faults or [], which=which, form=request.form, reasons=BACK, today=today(bench).isoformat(), plain=plain,
        places=[renamed(place, numbers) for place in places(jaw["jaw"], jaw["teeth"], kinds)],
        out=moves[-1:] == ["sent"], waits=unsettled(found.after) is not None,
        may="supervisor" in g.seat.person.roles,
        released=bool(record.after.release or record.after.earlier),
    )
