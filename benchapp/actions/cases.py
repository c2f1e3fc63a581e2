"""Cases: a sheet becomes a case with jaws, parts and tables; jaws and parts are found again by their codes."""

import json
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

from benchapp import paths
from benchapp.actions.bench import Bench, Refused
from benchapp.actions.desk import Seat, store
from benchapp.core import events, seal
from benchapp.core.course import compile_table, table_bytes
from benchapp.core.protocol import Protocol
from benchapp.core.protocol_rules import read_protocol
from benchapp.core.sheet import JawSheet, Sheet
from benchapp.core.teeth import JAW_WORDS
from benchapp.core.words import _
from benchapp.store.journal import Store, Writer

DEFAULT_PROTOCOL = paths.PROTOCOLS / "green-splinted.toml"
LETTERS = {"upper": "1", "lower": "2", "base": "B", "arch": "A"}
TEXTS = ("patient", "prescriber", "order")
MORE_TEXTS = ("pan", "marking_words")  # only where there are words
MORE = ("opposing", "bite", "mounting", "tryin", "marking")


@dataclass(frozen=True)
class Opened:
    """A case that was just accepted: its code, and its jaws as stored (code, jaw, teeth, parts)."""

    code: str
    jaws: list[dict[str, Any]]


@dataclass(frozen=True)
class Added:
    """What became of a list of sheets, each by its place in the list: codes of cases, and those known before."""

    cases: dict[int, str] = field(default_factory=dict)
    known: list[int] = field(default_factory=list)


def add_case(bench: Bench, sheet: Sheet, protocol_text: str, seat: Seat | None = None, speed: int = 1) -> Opened:
    """Accept a case sheet with the protocol it is worked by; Refused when the order's number is known already.

    `seat` is who did it at the desk; `speed` above 1 divides the durations of the tables and marks the case as
    training.
    """
    protocol = _fitting(protocol_text, [sheet])
    with bench.store.writing() as writer:
        case = sheet.case
        if orders_known(writer).get((case.order, case.patient)):
            raise Refused(_("Order {order} of {patient} was added before. A remake gets a number of its own.",
                            order=case.order, patient=case.patient))
        return _accept(bench, writer, sheet, protocol, protocol_text, seat, speed)


def add_cases(bench: Bench, sheets: Iterable[tuple[int, Sheet]], protocol_text: str, seat: Seat) -> Added:
    """Accept several sheets at once, each with its place in a list; all or none. Orders known already are left."""
    chosen, added = list(sheets), Added()
    protocol = _fitting(protocol_text, [sheet for _place, sheet in chosen])
    with bench.store.writing() as writer:
        known = orders_known(writer)
        for place, sheet in chosen:
            order = sheet.case.order, sheet.case.patient
            if order in known:
                added.known.append(place)
                continue
            known[order] = added.cases[place] = _accept(bench, writer, sheet, protocol, protocol_text, seat, 1).code
    return added


def _fitting(text: str, sheets: list[Sheet]) -> Protocol:
    """Return the protocol; Refused where one of the sheets asks for what it has not."""
    protocol = checked(text)
    for sheet in sheets:
        missing = [o for o in sheet.case.options if o not in protocol.options]
        if missing:
            raise Refused(_("The protocol {protocol} has no option {options}. Take it out of `options`.",
                            protocol=protocol.id, options=", ".join(missing)))
        strange = [j.jaw for j in sheet.jaws if j.jaw not in protocol.jaws]
        if strange:
            raise Refused(_("The protocol {protocol} is not for the {jaw}. Use another protocol.",
                            protocol=protocol.id, jaw=_(JAW_WORDS[strange[0]])))
    return protocol


def _accept(
    bench: Bench, writer: Writer, sheet: Sheet, protocol: Protocol, text: str, seat: Seat | None, speed: int
) -> Opened:
    case = sheet.case
    protocol_hash = seal.digest(text.encode())
    writer.add_course(protocol_hash, text.encode())
    jaws = [_jaw(bench, writer, sheet, jaw, protocol, protocol_hash, speed) for jaw in sheet.jaws]
    code = bench.code("0")
    named = (*TEXTS, *(name for name in MORE_TEXTS if getattr(case, name)))
    data: dict[str, Any] = {
        "code": code, "kind": case.kind, "due": case.due.isoformat(), "shade": case.shade,
        "tint": case.tint, "allergy": case.allergy, "options": list(case.options),
        "training": int(case.training or speed > 1), "speed": speed,
        **{name: getattr(case, name) for name in MORE}, "surgery": case.surgery.isoformat() if case.surgery else "",
        "jaws": jaws, "texts": {name: bench.text(writer, getattr(case, name)) for name in named},
    }
    _request(bench, writer, seat, "case", case=code, data=data)
    if case.allergy == "yes":
        # Care: nobody works on it until a licensed professional has decided, and somebody lets it go on.
        for jaw in jaws:
            _request(bench, writer, seat, "hold", case=code, jaw=jaw["code"], data={"why": "allergy"})
    return Opened(code, jaws)


def _request(bench: Bench, writer: Writer, seat: Seat | None, kind: str, **what: Any) -> None:
    if seat is None:
        bench.request(writer, kind, **what)
    else:
        store(bench, writer, seat, kind, **what)


@lru_cache(maxsize=8)
def checked(text: str) -> Protocol:
    """Read a protocol; walking it through all its exceptions costs a fifth of a second, once for the same text."""
    return read_protocol("protocol", text)


def orders_known(source: Store | Writer) -> dict[tuple[str, str], str]:
    """Return the code of the case by (order, patient): the same order twice is a slip far more often than a case."""
    known: dict[tuple[str, str], str] = {}
    for code, texts in texts_of_cases(source).items():
        known[texts.get("order", ""), texts.get("patient", "")] = code
    return known


def texts_of_cases(source: Store | Writer) -> dict[str, dict[str, str]]:
    """Return the texts of every case as corrected (patient, prescriber, order, pan …) by its code, oldest first."""
    ids: dict[str, dict[str, str]] = {}
    for kind in ("case", "correct"):
        for entry in source.tagged("kind", kind):
            event = events.read_body(entry.body)["event"]
            ids.setdefault(event["case"], {}).update(event["data"].get("texts", {}))
    words = source.texts({text for texts in ids.values() for text in texts.values()})
    return {
        code: {name: words[text] for name, text in texts.items() if text in words} for code, texts in ids.items()
    }


def _jaw(
    bench: Bench, writer: Writer, sheet: Sheet, jaw: JawSheet, protocol: Protocol, protocol_hash: str, speed: int
) -> dict[str, Any]:
    table = table_bytes(compile_table(protocol, jaw.jaw, jaw.teeth, sheet.case.options, speed))
    table_hash = seal.digest(table)
    writer.add_course(table_hash, table)
    return {
        "jaw": jaw.jaw, "code": bench.code(LETTERS[jaw.jaw]), "teeth": list(jaw.teeth), "table": table_hash,
        "protocol": protocol_hash,
        "parts": [
            {"part": part.part, "code": bench.code(LETTERS[part.part]), "make": 1, "revision": part.revision,
             "print_job": part.print_job}
            for part in jaw.parts
        ],
    }


def all_cases(bench: Bench) -> list[dict[str, Any]]:
    """Return the data of every case in the order of acceptance."""
    return [events.read_body(e.body)["event"]["data"] for e in bench.store.tagged("kind", "case")]


def jaw_of_part(bench: Bench, code: str) -> str:
    """Return the code of the jaw that a part's code belongs to, "" where no part has it."""
    entry = bench.store.last_tagged("part", code)
    if entry is None:
        return ""
    event: dict[str, Any] = json.loads(entry.body)["event"]
    jaws = event["data"].get("jaws", [])
    return str(next((j["code"] for j in jaws if any(p["code"] == code for p in j["parts"])), event["jaw"]))
