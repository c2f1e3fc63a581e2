"""The bench page of one jaw: rendered once with every card and word; its state is folded in the browser."""

import json
from typing import Any

from flask import Blueprint, Response, make_response, render_template, request

from benchapp.actions.bench import Bench, Unknown
from benchapp.actions.jaws import JawLine, entries_of, line, protocol_of, texts_of
from benchapp.actions.lab import lab_of
from benchapp.actions.settings import setting
from benchapp.actions.what import what_is
from benchapp.core import archmap, events
from benchapp.core.caseline import WAITS, waits
from benchapp.core.codes import read_code, spaced
from benchapp.core.course import exceptions, with_its_outcomes
from benchapp.core.numbers import numbers_of, renamed
from benchapp.core.protocol import Protocol, Step
from benchapp.core.teeth import SEXTANT_WORDS, SEXTANTS, Place, places
from benchapp.core.words import N_, _, for_scripts
from benchapp.web.app import the_bench
from benchapp.web.gate import leads_nowhere
from benchapp.web.outbox import same_chain
from benchapp.web.people import people_plain
from benchapp.web.picks import shelf_now, shelf_of
from benchapp.web.seated import check_now, seated
from benchapp.web.tablets import known_tablet, welcome
from benchapp.web.words import BENCH_WORDS

views = Blueprint("bench", __name__)

MOST_ENTRIES = 2**53  # beyond any number of an entry, and still one that the database takes
ALLERGY = {
    "yes": N_("Allergy: yes. Goes on only when a licensed professional has decided."),
    "none stated": N_("Allergy: nobody has asked yet, or nothing was stated."),
}


@views.get("/bench/<code>")
def jaw_page(code: str) -> Response:
    """Show the bench page of a jaw; the worker keeps it whole for the time without the PC."""
    bench = the_bench()
    found = line(bench, read_code(code).code)
    protocol = protocol_of(bench, found)
    page = render_template("bench/page.html", **_context(bench, found, protocol))
    return welcome(make_response(page))


@views.get("/bench/<code>/base")
def base(code: str) -> dict[str, Any]:
    """Send what the journal holds of a jaw after entry `after`, ready to fold, and the PC's time.

    A jaw that the journal does not know (an older backup was restored) holds nothing yet: its page sends all it kept.
    """
    known_tablet()
    bench = the_bench()
    after = min(max(request.args.get("after", 0, type=int), 0), MOST_ENTRIES)
    wanted = read_code(code).code
    known = _known(bench, wanted)
    case = known.case if known else {}
    tip = bench.store.tip()  # before the entries: one that comes in between is sent twice rather than never
    found = [
        events.fold_event(body) | {"seq": entry.seq, "marks": body["server"]["marks"]}
        for entry, body in entries_of(bench, wanted, after)
        if body["event"]["kind"] in events.FOLDED
    ]
    return {
        "events": found, "tip": {"seq": tip.seq, "hash": tip.hash}, "now": bench.clock(),
        "chain": same_chain(request.args.get("tip", "")), "shelf": shelf_now(bench, case.get("code", "")),
        "waits": _(WAITS.get(waits(case), "")) if case else "",
        "check": check_now(known) if known else "",
    }


def _known(bench: Bench, code: str) -> JawLine | None:
    """Return a jaw as it stands now, None for one that is not known."""
    try:
        return line(bench, code)
    except Unknown:
        return None


@views.get("/what/<code>")
def what(code: str) -> dict[str, Any]:
    """Say what a scanned code is, for a known tablet that works on `?jaw=`: {what, title, next, fine, to}."""
    known_tablet()
    jaw = request.args.get("jaw", "")
    meaning = what_is(the_bench(), read_code(code).code, read_code(jaw).code if jaw else "")
    leads_nowhere(meaning.unknown)
    return meaning.plain()


def _context(bench: Bench, found: JawLine, protocol: Protocol) -> dict[str, Any]:
    jaw, teeth = found.jaw["jaw"], found.jaw["teeth"]
    wanted = {card["step"] for card in found.table["cards"]}
    steps = [with_its_outcomes(step, found.table) for step in protocol.steps if step.id in wanted]
    numbers = numbers_of(setting(bench, "numbers"))
    known = tuple(renamed(p, numbers) for p in places(jaw, teeth, ("tooth", "margin", "connector", "base")))
    filled = [s for s in SEXTANTS if any(p.sextant == s and p.kind == "tooth" for p in known)]
    texts = texts_of(bench, found.case["texts"].values())
    shelf = shelf_of(bench, found, steps)
    whole = archmap.whole(jaw, teeth, numbers)
    seat = seated(bench, found, protocol, steps, whole, numbers)
    steps = seat.filled(steps)
    data = {
        "code": found.code, "case": found.case["code"], "jaw": jaw, "tableHash": found.table_hash,
        "table": found.table, "zone": lab_of(bench).zone, "people": people_plain(),
        "wetMs": sum(s.minutes.is_ for s in steps if s.wet) * 60_000 // found.table["speed"],
        "waits": _(WAITS.get(waits(found.case), "")),
        "idleMs": int(setting(bench, "idle_lock")) * 60_000,
        "steps": {step.id: _step_words(step, known) for step in steps},
        **shelf.data(bench, found),
        "words": for_scripts(BENCH_WORDS) | {"groups": _group_words()},
    }
    seat.tell(data)
    return {
        "found": found, "code": found.code, "spaced": spaced(found.code), "jaw": jaw, "protocol": protocol,
        "steps": steps, "stages": {s.id: s.title for s in protocol.stages},
        "cautions": {c.id: c for c in protocol.cautions}, "patient": texts[found.case["texts"]["patient"]],
        "picks": shelf.picks,
        "whole": whole, "filled": filled, "seat": seat,
        "sextants": [archmap.sextant(jaw, teeth, which, numbers) for which in filled],
        "areas": [p for p in known if p.kind == "base"],
        "reasons": protocol.reasons, "limits": _limits(found.table, steps),
        "allergy": _(ALLERGY.get(found.case["allergy"], "")),
        "speed": found.table["speed"], "training": found.case["training"], "data": _script_json(data),
        "people": people_plain(), "words": for_scripts(BENCH_WORDS),
    }


def _script_json(data: dict[str, Any]) -> str:
    """Return JSON that can stand inside a script element: no `<` can end it early."""
    return json.dumps(data, ensure_ascii=False, separators=(",", ":")).replace("<", "\\u003c")


def _step_words(step: Step, known: tuple[Place, ...]) -> dict[str, Any]:
    return {
        "title": step.title,
        "main": {"outcome": step.outcomes[0].id, "title": step.outcomes[0].title},
        "single": [p.name for p in exceptions(step, known)],
        "picks": [[pick.name, pick.title, pick.of] for pick in step.picks],
        "holds": [o.id for o in step.outcomes if o.leads == "hold"],
    }


def _group_words() -> dict[str, str]:
    """Return the words for groups of places; single ones are named on the map."""
    return {"-": _("whole jaw")} | {str(name): _(words) for name, words in SEXTANT_WORDS.items()}


def _limits(table: dict[str, Any], steps: list[Step]) -> list[dict[str, Any]]:
    """Return each clock that the table can start, with the words it shows."""
    titles = {step.id: step.title for step in steps}
    found: dict[str, dict[str, Any]] = {}
    for act in table["acts"]:
        for kind in ("floors", "ceilings"):
            for since, ms, _grace, _grade in act[kind]:
                key = f"{kind[:-1]}:{since}:{act['step']}"
                found[key] = {
                    "key": key, "kind": kind[:-1], "since": titles[since], "step": titles[act["step"]], "ms": ms,
                    "length": _length(ms),
                }
    return list(found.values())


def _length(ms: int) -> str:
    seconds = ms // 1000
    if seconds >= 60:
        minutes, rest = divmod(seconds, 60)
        return f"{minutes} min {rest} s" if rest else f"{minutes} min"
    return f"{seconds} s" if ms % 1000 == 0 else f"{ms / 1000:.1f} s"
