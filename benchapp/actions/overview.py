"""Every case and every jaw at a glance: where it stands, what holds it up, when it is due."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any

from benchapp.actions.bench import Bench
from benchapp.actions.cases import all_cases, texts_of_cases
from benchapp.actions.jaws import JawLine, line, protocol_of
from benchapp.actions.lab import today
from benchapp.core import events
from benchapp.core.protocol import Protocol
from benchapp.core.words import N_, _, n_

MOST = 40
LOOKED_AT = 300  # cases; more than a lab has in hand, and still read within a blink
ENDED = {"through": N_("packed"), "scrap": N_("scrapped")}
AFTERWARDS = {"release": N_("released"), "sent": N_("sent out"), "back": N_("came back")}
WHY = {"allergy": N_("Allergy: waits for a decision"), "cancel": N_("The case was cancelled")}
NEAR = {-1: N_("yesterday"), 0: N_("today"), 1: N_("tomorrow")}
ERASED = N_("(erased)")


@dataclass(frozen=True)
class JawGlance:
    """One jaw in a list.

    `step` is the id of the step that is on ("" when ended), `stands` its title or how the jaw ended (packed,
    scrapped, released, sent out, came back), `ended` through, scrap or "". `hold_reason` is the id of the reason
    tile, or allergy or cancel, and `hold_words` its title. `last_person` (id) and `last_when` (UTC ms) are of the
    last entry that moved the jaw, "" and 0 before that. `parts` are the codes of its parts, old ones too.
    """

    code: str
    jaw: str
    step: str
    stands: str
    held: bool
    hold_reason: str
    hold_words: str
    ended: str
    after: str
    lit: bool
    last_person: str
    last_when: int
    parts: tuple[str, ...]


@dataclass(frozen=True)
class CaseGlance:
    """One case in a list: texts as corrected, `due` and `surgery` as ISO days, `days` from today to the due day.

    `allergy` is the answer (none stated, no, yes); `undecided` says that it is yes and nobody has decided yet.
    `open` says that a jaw is still in work and the case not cancelled; only then can it be `late`.
    """

    code: str
    pan: str
    patient: str
    order: str
    prescriber: str
    due: str
    surgery: str
    days: int
    cancelled: bool
    training: bool
    speed: int
    allergy: str
    undecided: bool
    jaws: tuple[JawGlance, ...]

    @property
    def open(self) -> bool:
        """Whether something is still to be done at the bench."""
        return not self.cancelled and any(not jaw.ended for jaw in self.jaws)

    @property
    def late(self) -> bool:
        """Whether the due day has passed and a jaw is still in work."""
        return self.open and self.days < 0

    @property
    def due_words(self) -> str:
        """How far the due day is, in words."""
        if self.days in NEAR:
            return _(NEAR[self.days])
        if self.days > 0:
            return n_("in {n} day", "in {n} days", self.days)
        return n_("{n} day ago", "{n} days ago", -self.days)


def case_glances(bench: Bench, codes: Iterable[str] | None = None, most: int = LOOKED_AT) -> list[CaseGlance]:
    """Return the newest `most` cases, or those of `codes` among all, in the order of acceptance."""
    wanted = None if codes is None else set(codes)
    texts = texts_of_cases(bench.store)
    found = [case for case in all_cases(bench) if wanted is None or case["code"] in wanted]
    day = today(bench)
    return [_case(bench, case["jaws"][0]["code"], texts[case["code"]], day) for case in found[-most:]]


def case_glance(bench: Bench, code: str) -> CaseGlance | None:
    """Return one case at a glance, None where there is no such case."""
    return next(iter(case_glances(bench, [code])), None)


def _case(bench: Bench, first_jaw: str, texts: dict[str, str], day: date) -> CaseGlance:
    case = line(bench, first_jaw).case
    known = {name: texts.get(name, _(ERASED)) for name in case["texts"]}
    return CaseGlance(
        case["code"], known.get("pan", ""), known["patient"], known["order"], known["prescriber"], case["due"],
        case["surgery"], (date.fromisoformat(case["due"]) - day).days, bool(case["cancelled"]),
        bool(case["training"]), case["speed"], case["allergy"],
        case["allergy"] == "yes" and case["decided"] is None,
        tuple(jaw_glance(bench, line(bench, jaw["code"])) for jaw in case["jaws"]),
    )


def lines_in_work(bench: Bench) -> Iterator[JawLine]:
    """Give every jaw that goes on: neither ended nor of a cancelled case."""
    for accepted in all_cases(bench)[-LOOKED_AT:]:
        for jaw in line(bench, accepted["jaws"][0]["code"]).case["jaws"]:
            known = line(bench, jaw["code"])
            if not known.state["ended"] and not known.case["cancelled"]:
                yield known


def jaw_glance(bench: Bench, known: JawLine) -> JawGlance:
    """Return where one jaw stands."""
    state, protocol = known.state, protocol_of(bench, known)
    afterwards = [body["event"]["kind"] for body in known.after if body["event"]["kind"] in AFTERWARDS]
    stands = bool(known.release) or afterwards[-1:] != ["release"]  # else it was taken up again after it
    after = AFTERWARDS[afterwards[-1]] if afterwards and stands else ""
    titles = {step.id: step.title for step in protocol.steps}
    reason, words = held_by(bench, known, protocol) if state["held"] else ("", "")
    last = _event(bench, known.events[-1]["id"]) if known.events else None
    return JawGlance(
        known.code, known.jaw["jaw"], "" if state["ended"] else state["now"],
        _(after or ENDED.get(state["ended"], "")) or titles[state["now"]],
        bool(state["held"]) and not state["ended"], reason, words, state["ended"], after, bool(state["lit"]),
        last["by"]["person"] if last else "", known.events[-1]["when"] if known.events else 0,
        tuple(part["code"] for part in [*known.jaw["parts"], *known.jaw.get("old_parts", [])]),
    )


def held_by(bench: Bench, known: JawLine, protocol: Protocol) -> tuple[str, str]:
    """Return what holds a jaw: the id of the reason tile (or allergy, cancel, or the outcome), and its words."""
    stops = {mark["id"] for mark in known.state["marks"] if mark["grade"] == "stop"}
    for event in reversed(known.state["log"]):
        act = known.acts.get((event["kind"], event["step"], event["outcome"]))
        if event["kind"] == "hold":
            return _reason(_event(bench, event["id"]), known, protocol)
        if event["id"] in stops or (act and act["held"] > 0):
            outcomes = {(step.id, o.id): o.title for step in protocol.steps for o in step.outcomes}
            return event["outcome"], outcomes.get((event["step"], event["outcome"]), "")
    return "", ""


def _reason(event: dict[str, Any] | None, known: JawLine, protocol: Protocol) -> tuple[str, str]:
    if event is None:
        return "", ""
    tile = event["picks"].get("reason", "")
    if tile:
        return tile, next((reason.title for reason in protocol.reasons if reason.id == tile), tile)
    why = event.get("data", {}).get("why", "")
    if not why and not event["from"]["tablet"] and known.case["allergy"] == "yes":
        why = "allergy"  # as cases were held before the journal said why
    return why, _(WHY.get(why, ""))


def _event(bench: Bench, event_id: str) -> dict[str, Any] | None:
    entry = bench.store.find(event_id)
    return dict(events.read_body(entry.body)["event"]) if entry else None


def jaws_in_work(bench: Bench, most: int = MOST) -> list[tuple[CaseGlance, JawGlance]]:
    """Return at most `most` jaws with their cases, newest case first: those in work first, then the packed ones.

    Scrapped jaws and those of cancelled cases are left out.
    """
    found = [
        (case, jaw) for case in reversed(case_glances(bench)) if not case.cancelled
        for jaw in case.jaws if jaw.ended != "scrap"
    ]
    return sorted(found, key=lambda pair: bool(pair[1].ended))[:most]
