"""One case: its jaws, what was not ordinary, the pair check, and its whole line of events, newest first."""

from typing import Any

from flask import Blueprint, g, render_template, request
from werkzeug.wrappers import Response as AnyResponse

from benchapp.actions.bench import Refused
from benchapp.actions.pairs import MAY, check_pair, pair, pair_words
from benchapp.actions.story import CaseFile, case_file
from benchapp.core.codes import read_code, spaced
from benchapp.core.record_models import Item, Record
from benchapp.core.record_words import plain
from benchapp.core.release_words import PAIR
from benchapp.core.words import N_, _
from benchapp.web.app import the_bench
from benchapp.web.desk import EVERYBODY, done, page, seated
from benchapp.web.meshes import check_words

views = Blueprint("case", __name__)

SHOWN = 30  # entries of the line of events at once
BUTTONS = {
    "right": N_("Bite of the pair right"),
    "not-mounted": N_("Not mounted: the pair was not checked on an articulator"),
    "not-right": N_("Not right: both jaws are on hold"),
}


@views.get("/desk/case/<code>")
@seated(*EVERYBODY)
def whole(code: str) -> str:
    """Show one case: its jaws, exceptions first, then its line of events."""
    return _page(read_code(code).code)


@views.get("/desk/case/<code>/line")
@seated(*EVERYBODY)
def line_of_events(code: str) -> str:
    """Send one more stretch of a case's line of events, for the page that asks for older entries."""
    found = case_file(the_bench(), read_code(code).code)
    return render_template("case/_line.html", **_line(found))


@views.post("/desk/case/<code>/pair")
@seated(*MAY)
def pair_check(code: str) -> Any:
    """Store what was found when both jaws of a case were put together."""
    read, outcome = read_code(code).code, request.form.get("outcome", "")
    try:
        check_pair(the_bench(), g.seat, read, outcome)
    except Refused as error:
        return _page(read, [str(error)]), 422
    return _stored(read, outcome)


def _stored(code: str, outcome: str) -> AnyResponse:
    return done(_("Pair check stored: {outcome}.", outcome=_(PAIR[outcome])), f"/desk/case/{code}")


def _page(code: str, faults: list[str] | None = None) -> str:
    bench = the_bench()
    found, now = case_file(bench, code), pair(bench, code)
    jaws = [_jaw(found, jaw) for jaw in found.case["jaws"]]
    return page(
        "case/case.html", spaced=spaced(code), case=found.case, jaws=jaws, pair=now,
        pair_words=pair_words(now), outcomes=BUTTONS, may_pair=set(MAY) & set(g.seat.person.roles), faults=faults or [],
        may_release="supervisor" in g.seat.person.roles, zone=found.zone,
        both=bool(now.codes) and not now.why_not and now.settled, **_line(found),
    )


def _jaw(found: CaseFile, jaw: dict[str, Any]) -> dict[str, Any]:
    record = found.records[jaw["code"]]
    items = record.not_ordinary.items
    return {
        "code": jaw["code"], "spaced": spaced(jaw["code"]), "jaw": jaw["jaw"], "record": record,
        "state": record.standing.state, "where": _where(record),
        "waiting": [_words(item) for item in items if item.open] + _unclosed(record),
        "others": [_words(item) for item in items if not item.open],
        "check": check_words(the_bench(), jaw["code"]),
        "places": [(p.title(), " → ".join(said.said for said in p.story)) for p in record.not_ordinary.places],
    }


def _where(record: Record) -> str:
    after = record.after
    moves = [
        (sent.at, _("Then sent out on {day}: {means}.", day=sent.on, means=sent.means)) for sent in after.sent
    ]
    moves += [
        (back.at, _("Then came back on {day}: {reason}.", day=back.on, reason=back.reason)) for back in after.back
    ]
    moves += [
        (back.settled_at, _("Then settled: what came back on {day}.", day=back.on))
        for back in after.back if back.settled_at
    ]
    return " ".join([record.standing.words, *([max(moves)[1]] if moves else [])])


def _words(item: Item) -> str:
    return " · ".join(w for w in (plain(item.at) if item.at else "", item.text(), item.who) if w)


def _unclosed(record: Record) -> list[str]:
    return [f"{plain(d.at)} · {d.words} · {d.closing()}" for d in record.deviations if not d.closed_by]


def _line(found: CaseFile) -> dict[str, Any]:
    """Return the stretch of the line that was asked for: of one jaw or all, from an entry on."""
    wanted, before = request.args.get("jaw", ""), request.args.get("before", 0, type=int)
    told = [one for one in found.line if wanted in ("", one.jaw) and (not before or one.seq < before)]
    older = told[SHOWN - 1].seq if len(told) > SHOWN else 0
    return {
        "told": told[:SHOWN], "older": older, "wanted": wanted, "before": before, "code": found.case["code"],
        "names": {jaw["code"]: _(jaw["jaw"]) for jaw in found.case["jaws"]}, "plain": plain,
    }
