"""The day's list, entries that were not taken, deviations to close."""

from dataclasses import dataclass, replace
from typing import Any
from zoneinfo import ZoneInfo

from flask import Blueprint, current_app, g, render_template, request

from benchapp.actions import marks
from benchapp.actions.bench import Bench, Refused
from benchapp.actions.jaws import JawLine, line, texts_of
from benchapp.actions.today import GROUPS, Known, Row, day, known_names, names_of
from benchapp.core.matters import Closing, Matter
from benchapp.core.record_deviations import mark_words
from benchapp.core.record_words import Names, moment, plain, quoted
from benchapp.core.teeth import JAW_WORDS
from benchapp.core.words import N_, _
from benchapp.web.app import the_bench
from benchapp.web.desk import EVERYBODY, done, page, seated

views = Blueprint("today", __name__)

READERS = ("supervisor", "technique-lead")
CLOSED_SHOWN = 100
KINDS = {"hold": N_("put on hold"), "resume": N_("work goes on"), "sendback": N_("sent back"),
         "undo": N_("taken back"), "scrap": N_("scrapped as a whole"), "dark": N_("the light went off"),
         "bright": N_("the light came on again")}
OUTCOMES = {"in": N_("taken in"), "aside": N_("set aside"), "seen": N_("seen")} | marks.OUTCOMES


@dataclass(frozen=True)
class Told:
    """A matter in words, with where its jaw stands now and what taking it in would lead to ("" where to nothing)."""

    matter: Matter
    code: str
    jaw: str
    patient: str
    step: str
    said: str
    places: str
    why: tuple[str, ...]
    when: str
    stated: str
    who: str
    tablet: str
    reason: str
    stands: str
    then: str
    closed: str
    closed_words: str


@views.get("/desk/today")
@seated(*EVERYBODY)
def today() -> str:
    """Show every jaw in work, what it waits for, and what needs somebody now."""
    return page("today/today.html", **_list())


@views.get("/desk/today/list")
@seated(*EVERYBODY, prolongs=False)
def today_list() -> str:
    """Send the list of the day alone, for the page that asks for it every 15 s."""
    return render_template("today/_list.html", **_list(), seat=g.seat)


def _list() -> dict[str, Any]:
    bench = the_bench()
    now = day(bench)
    every = [row for name, rows in now.groups.items() for row in rows if name != "back"]
    return {
        "day": now, "groups": GROUPS, "at_time": now.at[11:16], "offset": now.at[19:], "remarks": _remarks,
        "counts": {
            "late": sum(1 for row in every if row.case.days < 0), "held": sum(1 for row in every if row.jaw.held),
            **{name: len(rows) for name, rows in now.groups.items()},
        },
    }


def _remarks(row: Row) -> list[str]:
    """Return what is to be said of a row beside its clocks: what it wants that no clock says."""
    said = {clock.what for clock in row.clocks}
    return [want for want in row.wants if want not in said]


@views.get("/desk/marks")
@seated(*READERS)
def marks_page() -> str:
    """Show entries that were not taken and facts that nobody could read."""
    return _marks([])


@views.post("/desk/marks/<code>")
@seated("supervisor")
def decide(code: str) -> Any:
    """Take a refused entry of a jaw in, or set it aside, with PIN: form fields event, outcome, pin."""
    bench, form = the_bench(), request.form
    outcome = form.get("outcome", "")
    try:
        changed = marks.decide(bench, g.seat, form.get("pin", ""), code, form.get("event", ""), outcome)
    except Refused as error:
        return _marks([str(error)], form.get("event", "")), error.status
    found = line(bench, code)
    stands = _stands(names_of(bench, found, known_names(bench)), found.state)
    if outcome == "aside":
        said = _("Set aside. Jaw {code} {stands}, as before.", code=code, stands=stands)
    elif changed:
        said = _("Taken in. Jaw {code} now {stands}.", code=code, stands=stands)
    else:
        said = _("Marked as taken in, but nothing changed: jaw {code} {stands}, as before.", code=code, stands=stands)
    return done(said, "/desk/marks")


@views.post("/desk/marks/seen")
@seated("supervisor")
def seen() -> Any:
    """Note that a supervisor has seen an entry that belongs to no jaw: form field key."""
    try:
        marks.see(the_bench(), g.seat, request.form.get("key", ""))
    except Refused as error:
        return _marks([str(error)]), error.status
    return done(_("Noted that you have seen it. Its bytes stay where they are."), "/desk/marks")


def _marks(faults: list[str], at: str = "") -> str:
    bench, known = the_bench(), known_names(the_bench())
    waiting, decided, _count = _told(bench, known, "refused")
    found = [replace(one, tablet=known.tablets.get(one.tablet, one.tablet)) for one in marks.unread(bench, _watch())]
    unread = [(one, _at(known, one.received)) for one in found]
    return page(
        "today/marks.html", faults=faults, wrong=at, waiting=waiting, decided=decided,
        unread=[(one, when) for one, when in unread if one.seen is None],
        seen=[(one, when, _closed(known, one.seen)) for one, when in unread if one.seen][:CLOSED_SHOWN],
        may="supervisor" in g.seat.person.roles, zone=known.zone,
    )


@views.get("/desk/deviations")
@seated(*READERS)
def deviations() -> str:
    """Show every deviation and stop, open ones first."""
    return _deviations([])


@views.post("/desk/deviations/<code>")
@seated("supervisor")
def close(code: str) -> Any:
    """Close a deviation that was read: form fields event, outcome, words."""
    form = request.form
    try:
        marks.close(
            the_bench(), g.seat, code, form.get("event", ""), form.get("outcome", ""), form.get("words", "")
        )
    except Refused as error:
        return _deviations([str(error)], form.get("event", "")), 422 if error.status == 409 else error.status
    return done(_("Closed: {outcome}.", outcome=_(marks.OUTCOMES[form["outcome"]])), "/desk/deviations")


def _deviations(faults: list[str], at: str = "") -> str:
    known = known_names(the_bench())
    waiting, closed, count = _told(the_bench(), known, "breach")
    return page(
        "today/deviations.html", faults=faults, wrong=at, form=request.form, outcomes=marks.OUTCOMES,
        waiting=waiting, closed=closed, closed_count=count, unexplained=sum(1 for t in waiting if not t.reason),
        may="supervisor" in g.seat.person.roles, zone=known.zone,
    )


def _watch() -> marks.Watch:
    found: marks.Watch = current_app.extensions.setdefault("marks", marks.Watch())
    return found


def _at(known: Known, ms: int) -> str:
    return plain(moment(ms, ZoneInfo(known.zone)))


def _told(bench: Bench, known: Known, kind: str) -> tuple[list[Told], list[Told], int]:
    """Return the matters of one kind in words: open ones, oldest first; the newest that are closed; how many those are.

    Only what is shown is put into words: closed ones of years stay where they are.
    """
    every = [(code, m) for code, found in _watch().matters(bench).items() for m in found if m.kind == kind]
    every.sort(key=lambda pair: (pair[1].when, pair[1].id))
    waiting, closed = [pair for pair in every if pair[1].open], [pair for pair in every if not pair[1].open]
    shown = [*waiting, *closed[-CLOSED_SHOWN:][::-1]]
    lines = {code: line(bench, code) for code in dict.fromkeys(code for code, _matter in shown)}
    names = {code: names_of(bench, jaw, known) for code, jaw in lines.items()}
    patients = texts_of(bench, {jaw.case["texts"]["patient"] for jaw in lines.values()})
    told = [
        _tell(bench, known, names[code], lines[code], patients[lines[code].case["texts"]["patient"]], matter)
        for code, matter in shown
    ]
    return told[:len(waiting)], told[len(waiting):], len(closed)


def _tell(bench: Bench, known: Known, names: Names, jaw: JawLine, patient: str, matter: Matter) -> Told:
    then = marks.what_if(bench, jaw.code, matter.id) if matter.kind == "refused" and matter.open else None
    closing = matter.closed
    return Told(
        matter, jaw.code, _(JAW_WORDS[jaw.jaw["jaw"]]), patient, names.step(matter.step) if matter.step else "",
        _said(names, matter),
        ", ".join(names.place(place) for place in matter.places),
        tuple(mark_words(names, matter.step, mark) for mark in matter.marks), plain(names.at(matter.when)),
        plain(names.at(matter.t)) if matter.t != matter.when else "", names.person(matter.person),
        known.tablets.get(matter.tablet, matter.tablet),
        names.reason(matter.reason) if matter.reason else "", _stands(names, jaw.state),
        _stands(names, then) if then else "", _closed(known, closing) if closing else "",
        next(iter(texts_of(bench, [closing.words]).values()), "") if closing else "",
    )


def _said(names: Names, matter: Matter) -> str:
    if matter.what != "confirm":
        return _(KINDS.get(matter.what, matter.what))
    return names.said(matter.step, matter.outcome)


def _stands(names: Names, state: dict[str, Any]) -> str:
    """Return where a jaw stands, as what follows its name in a sentence."""
    if state["ended"]:
        return _("is scrapped") if state["ended"] == "scrap" else _("has all steps confirmed")
    step = quoted(names.step(state["now"]))
    return _("stands at {step}, on hold", step=step) if state["held"] else _("stands at {step}", step=step)


def _closed(known: Known, closing: Closing) -> str:
    """Return who decided and when, in words."""
    said, who = OUTCOMES.get(closing.outcome, closing.outcome), known.people.get(closing.person, closing.person)
    return _("{outcome} by {name}, {moment}", outcome=_(said), name=who, moment=_at(known, closing.at))
