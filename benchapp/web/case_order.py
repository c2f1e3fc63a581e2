"""What was ordered: as it stands and as it was, corrections, a decision on an allergy, cancelling and going on."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from flask import Blueprint, g, request

from benchapp.actions.bench import Bench, Refused
from benchapp.actions.jaws import case_as_it_is, line, texts_of
from benchapp.actions.lab import today, zone_of
from benchapp.actions.order_story import Change, order_story
from benchapp.actions.orders import CORRECTS, DECIDES, Correction, cancel, correct, decide, reopen
from benchapp.actions.overview import CaseGlance, case_glance
from benchapp.actions.settings import setting
from benchapp.core.caseline import CORRECTABLE, PART_FIELDS
from benchapp.core.codes import read_code, spaced
from benchapp.core.faults import FileFaults
from benchapp.core.numbers import numbers_of, system_words, teeth_words
from benchapp.core.orders import COLUMNS
from benchapp.core.orders_words import choice_words
from benchapp.core.record_words import moment, plain
from benchapp.core.teeth import in_row
from benchapp.core.words import _
from benchapp.web.app import the_bench
from benchapp.web.desk import EVERYBODY, done, page, seated

views = Blueprint("case_order", __name__)

FIELDS = tuple(column for column in COLUMNS if column.of != "other")


@dataclass(frozen=True)
class Order:
    """An order as it stands: the case's data, its texts in words, its glance, and what became of it."""

    case: Mapping[str, Any]
    texts: Mapping[str, str]
    glance: CaseGlance
    story: tuple[Change, ...]
    released: tuple[str, ...]

    def spaced(self, code: str) -> str:
        """Return a code in groups, as people read it."""
        return spaced(code)


def order_of(bench: Bench, typed: str) -> Order:
    """Return the order of a case by its code as typed; Unknown or CodeError where there is none."""
    code = read_code(typed).code
    case = case_as_it_is(bench.store, code)
    glance = case_glance(bench, code)
    assert glance is not None, "a case that was read a moment ago is in the list of all"
    words = texts_of(bench, case["texts"].values())
    return Order(
        case, {name: words.get(text, "") for name, text in case["texts"].items()}, glance,
        tuple(order_story(bench, code)),
        tuple(jaw["code"] for jaw in case["jaws"] if line(bench, jaw["code"]).release is not None),
    )


@views.get("/desk/cases/<code>/order")
@seated(*EVERYBODY)
def order(code: str) -> str:
    """Show what was ordered, with every earlier value, and the forms that change it."""
    return _page(order_of(the_bench(), code))


def _page(found: Order, faults: list[str] | None = None, typed: Mapping[str, str] | None = None) -> str:
    bench = the_bench()
    zone = zone_of(bench)
    now = {name: str(found.case.get(name, "")) for name in CORRECTABLE}
    now |= {column.name: found.texts.get(column.name, "") for column in FIELDS if column.of == "text"
            and column.name not in CORRECTABLE}
    now |= {f"{key}_{part['code']}": part[key] for jaw in found.case["jaws"] for part in jaw["parts"]
            for key in PART_FIELDS}
    roles, numbers = set(g.seat.person.roles), numbers_of(setting(bench, "numbers"))
    return page(
        "cases/order.html", order=found, case=found.case, glance=found.glance, fields=FIELDS, now=now,
        typed=now | dict(typed or {}), faults=faults or [], story=found.story[::-1], spaced=spaced,
        at_time=lambda ms: plain(moment(ms, zone)), zone=zone.key, day=today(bench).isoformat(),
        choice_words=choice_words,
        teeth={jaw["code"]: teeth_words(in_row(jaw["jaw"], jaw["teeth"]), numbers) for jaw in found.case["jaws"]},
        system=system_words(numbers), may_correct=bool(roles & set(CORRECTS)), may_decide=bool(roles & set(DECIDES)),
    )


def _again(code: str, error: Refused | FileFaults) -> tuple[str, int]:
    """Show the page again with what was wrong and everything that was typed."""
    faults = [str(fault) for fault in error.faults] if isinstance(error, FileFaults) else [str(error)]
    return _page(order_of(the_bench(), code), faults, request.form.to_dict()), 422


def _back(code: str, words: str) -> Any:
    return done(words, f"/desk/cases/{code}/order")


@views.post("/desk/cases/<code>/order/correct")
@seated(*CORRECTS)
def put_right(code: str) -> Any:
    """Correct or complete what was ordered."""
    found = order_of(the_bench(), code)
    form = request.form
    parts = {
        part["code"]: {key: form[f"{key}_{part['code']}"] for key in PART_FIELDS if f"{key}_{part['code']}" in form}
        for jaw in found.case["jaws"] for part in jaw["parts"]
    }
    wanted = Correction(
        {name: form[name] for name in CORRECTABLE if name in form},
        {column.name: form[column.name] for column in FIELDS if column.of == "text" and column.name in form
         and column.name not in CORRECTABLE},
        parts,
    )
    try:
        changed = correct(the_bench(), g.seat, found.glance.code, wanted)
    except (Refused, FileFaults) as error:
        return _again(code, error)
    if not changed:
        return _back(found.glance.code, _("Nothing was different, so nothing was stored."))
    said = _("Corrected: {what}. New labels may be needed.", what=", ".join(changed))
    return _back(found.glance.code, said)


@views.post("/desk/cases/<code>/order/cancel")
@seated(*DECIDES)
def call_off(code: str) -> Any:
    """Cancel a case with the reason; its jaws go on hold."""
    found = read_code(code).code
    try:
        cancel(the_bench(), g.seat, found, request.form.get("why", ""))
    except (Refused, FileFaults) as error:
        return _again(code, error)
    return _back(found, _("The case is cancelled; its jaws in work are on hold."))


@views.post("/desk/cases/<code>/order/reopen")
@seated(*DECIDES)
def go_on(code: str) -> Any:
    """Let a cancelled case go on."""
    found = read_code(code).code
    try:
        reopen(the_bench(), g.seat, found)
    except Refused as error:
        return _again(code, error)
    return _back(found, _("The case goes on. Each jaw stays on hold until somebody goes on with it at the bench."))


@views.post("/desk/cases/<code>/order/allergy")
@seated(*DECIDES)
def allergy(code: str) -> Any:
    """Enter what a licensed professional decided on a stated allergy."""
    found, form = read_code(code).code, request.form
    try:
        if form.get("goes_on") not in ("yes", "no"):
            raise Refused(_("Say what was decided: work goes on, or it does not."))
        gone = decide(the_bench(), g.seat, found, form.get("by", ""), form.get("on", ""), form["goes_on"] == "yes")
    except (Refused, FileFaults) as error:
        return _again(code, error)
    said = [_("The decision is entered.")]
    if gone:
        jaws = spaced(gone[0])
        for jaw in gone[1:]:
            jaws = _("{first} and {second}", first=jaws, second=spaced(jaw))
        said.append(_("Off hold: {jaws}.", jaws=jaws))
    return _back(found, " ".join(said))
