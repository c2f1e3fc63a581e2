"""The assembly record: everything known of one jaw as one document; screen, paper and JSON only show it."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

from benchapp.core.codes import spaced
from benchapp.core.protocol import Protocol, Step
from benchapp.core.record_entries import SourceOf
from benchapp.core.record_models import (
    Check,
    Checkpoint,
    Counts,
    Identity,
    Laboratory,
    Part,
    ProtocolOf,
    Record,
    Standing,
    Way,
    Who,
)
from benchapp.core.record_steps import clocks, steps
from benchapp.core.record_trail import Deed, Entry, Trail, follow
from benchapp.core.record_unusual import not_ordinary
from benchapp.core.record_words import NOTES, ORDER, SOURCE, Names, plain, quoted
from benchapp.core.teeth import in_row

__all__ = ["Given", "Record", "make_record"]

ERASED = "(erased)"
CHECKS = 3  # as many questions in one stage make it a list of checks


@dataclass(frozen=True)
class Given:
    """What a record is made from.

    `case` and `jaw` as stored with the case; `entries` the jaw's journal entries in order, as (seq, hash,
    body); `texts` words by text id; `people` names by person id; `things` words by code; `lab` its name,
    address and IANA zone; `checkpoint` (seq, hash) of the journal's last entry; `made` UTC ms.
    """

    case: Mapping[str, Any]
    jaw: Mapping[str, Any]
    table: dict[str, Any]
    protocol: Protocol
    entries: Sequence[Entry]
    texts: Mapping[str, str]
    people: Mapping[str, str]
    things: Mapping[str, str]
    lab: tuple[str, str, str]
    checkpoint: tuple[int, str]
    version: str
    made: int


def make_record(given: Given) -> Record:
    """Return the record of a jaw as its entries stand; they are folded by the one fold, whatever they say."""
    zone = ZoneInfo(given.lab[2])
    names = Names(given.protocol, given.jaw, given.table, given.people, given.things, zone)
    trail = follow(given.table, given.entries)
    unusual = not_ordinary(names, trail)
    done = steps(names, trail)
    training = bool(given.case["training"]) or given.case["speed"] > 1
    moments = [step.at for step in done] + [names.at(given.made)]
    return Record(
        format=1,
        made=names.at(given.made),
        software=given.version,
        training=training,
        speed=given.case["speed"],
        warning=_warning(given.case["speed"]) if training else "",
        lab=Laboratory(
            name=given.lab[0],
            address=given.lab[1],
            zone=given.lab[2],
            offsets=sorted({at[19:] for at in moments}),
        ),
        identity=_identity(given, names),
        standing=_standing(names, trail, [i.words for i in unusual.items if i.open]),
        not_ordinary=unusual,
        checks=_checks(names, trail),
        who=_who(names, trail),
        confirmations=_counts(trail),
        steps=done,
        clocks=clocks(names, trail),
        protocol=_protocol(given),
        checkpoint=Checkpoint(
            seq=given.checkpoint[0],
            hash=given.checkpoint[1],
            text=f"SC1 {given.jaw['code']} {given.checkpoint[0]} {given.checkpoint[1]}",
        ),
        notes=NOTES,
    )


def _warning(speed: int) -> str:
    shortened = f", every duration divided by {speed}" if speed > 1 else ""
    return f"TRAINING{shortened}: this is an exercise and not the record of a denture."


def _identity(given: Given, names: Names) -> Identity:
    case, jaw = given.case, given.jaw
    text = {name: given.texts.get(id, ERASED) for name, id in case["texts"].items()}
    opened = next((body for _, _, body in given.entries if body["event"]["kind"] == "case"), None)
    return Identity(
        case=spaced(case["code"]),
        code=spaced(jaw["code"]),
        jaw=jaw["jaw"],
        patient=text["patient"],
        prescriber=text["prescriber"],
        order=text["order"],
        kind=ORDER.get(case["kind"], case["kind"]),
        due=case["due"],
        accepted=names.at(opened["server"]["when"]) if opened else None,
        shade=case["shade"],
        tint=case["tint"],
        allergy=case["allergy"],
        options=list(case["options"]),
        teeth=list(in_row(jaw["jaw"], jaw["teeth"])),
        parts=[
            Part(
                part=p["part"],
                make=p["make"],
                revision=p["revision"],
                print_job=p["print_job"],
                code=spaced(p["code"]),
            )
            for p in jaw["parts"]
        ],
        sole_use=f"Made to order, for the sole use of one patient: {text['patient']}.",
    )


def _standing(names: Names, trail: Trail, open_matters: list[str]) -> Standing:
    state = trail.state
    now = names.step(state["now"]) if state["now"] else ""
    left = [names.step(step) for step, cells in state["cells"].items() if {"open", "wait"} & set(cells.values())]
    word, words = _state_words(names, trail, now)
    waiting = len(open_matters)
    if waiting:
        words += f" {waiting} matter{' is' if waiting == 1 else 's are'} still to be looked at."
    return Standing(
        state=word,  # type: ignore[arg-type]
        words=words,
        step=now,
        round=state["round"],
        lit=bool(state["lit"]),
        left=[] if state["ended"] else left,
        open_matters=open_matters,
    )


def _state_words(names: Names, trail: Trail, now: str) -> tuple[str, str]:
    state = trail.state
    if state["ended"] == "scrap":
        last = next((d for d in reversed(trail.deeds) if d.kind == "scrap" and d.effective), None)
        return "scrapped", f"Scrapped as a whole{_because(names, last)}. It is not to be used."
    if state["ended"]:
        return "all steps confirmed", "All steps of the protocol are confirmed."
    if state["held"]:
        last = trail.holds[-1].start if trail.holds else None
        return "on hold", f"Not finished: on hold at step {quoted(now)}{_because(names, last)}."
    return "not finished", f"Not finished: stands at step {quoted(now)}."


def _because(names: Names, deed: Deed | None) -> str:
    if deed is None:
        return ""
    why = names.reason(deed.event["picks"].get("reason", ""))
    said = names.said(deed.event["step"], deed.event["outcome"]) if deed.kind == "confirm" else ""
    since = f" since {plain(names.at(deed.server['when']))}"
    return since + (f" ({why or said})" if why or said else "")


def _checks(names: Names, trail: Trail) -> list[Check]:
    """Return the checks of the jaw as a whole.

    No protocol says which of its steps are checks, and no id is known here. A check is an attended step that
    is asked of the jaw as a whole from the start, neither wet nor lit, without numbers, picks or clocks, in a
    stage with three or more of its like: that is what a list of questions looks like.
    """
    known = {card["step"] for card in names.table["cards"]}
    asked = [step for step in names.protocol.steps if step.id in known and _is_question(step)]
    stages = Counter(step.stage for step in asked)
    return [_check(names, trail, step.id) for step in asked if stages[step.stage] >= CHECKS]


def _is_question(step: Step) -> bool:
    more = step.values or step.picks or step.floors or step.ceilings
    other = step.called or step.wet or step.irreversible or not step.attended
    return step.by == "jaw" and not more and not other


def _check(names: Names, trail: Trail, step: str) -> Check:
    said = [
        d
        for d in trail.deeds
        if d.kind == "confirm" and d.effective and d.event["step"] == step and d.act and d.act["of"] != "place"
    ]
    last = said[-1] if said else None
    cells = trail.state["cells"][step]
    return Check(
        step=names.step(step),
        answered=cells["-"] == "done" and not {"open", "wait"} & set(cells.values()),
        said=names.said(step, last.event["outcome"]) if last else "",
        at=names.at(last.t) if last else None,
        who=names.who(last) if last else "",
    )


def _who(names: Names, trail: Trail) -> list[Who]:
    by: dict[str, list[Deed]] = {}
    for deed in trail.deeds:
        by.setdefault(deed.event["by"]["person"], []).append(deed)
    return [_person(names, person, deeds) for person, deeds in by.items()]


def _person(names: Names, person: str, deeds: list[Deed]) -> Who:
    ways = Counter(names.how(deed) for deed in deeds if deed.kind == "confirm")
    return Who(
        name=names.person(person),
        roles=list(deeds[-1].server["roles"]),
        ways=[Way(how=how, confirmations=count) for how, count in ways.items()],
        confirmations=ways.total(),
        first=names.at(deeds[0].server["when"]),
        last=names.at(deeds[-1].server["when"]),
    )


def _counts(trail: Trail) -> Counts:
    fates = Counter(deed.fate for deed in trail.deeds if deed.kind == "confirm")
    return Counts(
        stored=fates.total(),
        count=fates["counts"] + fates["taken in"],
        taken_back=fates["taken back"],
        not_taken=fates["not taken"],
    )


def _protocol(given: Given) -> ProtocolOf:
    protocol = given.protocol
    return ProtocolOf(
        id=protocol.id,
        title=protocol.title,
        edition=protocol.edition,
        hash=given.jaw["protocol"],
        table=given.jaw["table"],
        sources=[SourceOf(kind=SOURCE[s.kind], title=s.title) for s in protocol.sources],
    )
