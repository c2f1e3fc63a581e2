"""Cases: a sheet becomes a case with jaws, parts and tables; jaws and parts are found again by their codes."""

import json
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from benchapp.actions.bench import Bench, Refused
from benchapp.core import events, seal
from benchapp.core.course import compile_table, table_bytes
from benchapp.core.protocol import Protocol
from benchapp.core.protocol_rules import read_protocol
from benchapp.core.sheet import CaseSheet, JawSheet, Sheet
from benchapp.store.journal import Writer

LETTERS = {"upper": "1", "lower": "2", "base": "B", "arch": "A"}
TEXTS = ("patient", "prescriber", "order")


@dataclass(frozen=True)
class Opened:
    """A case that was just accepted: its code, and its jaws as stored (code, jaw, teeth, parts)."""

    code: str
    jaws: list[dict[str, Any]]


def add_case(bench: Bench, sheet: Sheet, protocol_text: str, person: str = "", speed: int = 1) -> Opened:
    """Accept a case sheet with the protocol it is worked by; Refused when the order's number is known already.

    `speed` above 1 divides the durations of the tables and marks the case as training.
    """
    protocol = _checked(protocol_text)
    missing = [o for o in sheet.case.options if o not in protocol.options]
    if missing:
        raise Refused(f"The protocol {protocol.id} has no option {', '.join(missing)}. Take it out of `options`.")
    strange = [j.jaw for j in sheet.jaws if j.jaw not in protocol.jaws]
    if strange:
        raise Refused(f"The protocol {protocol.id} is not for the {strange[0]} jaw. Use another protocol.")
    with bench.store.writing() as writer:
        _not_known(bench, writer, sheet.case)
        protocol_hash = seal.digest(protocol_text.encode())
        writer.add_course(protocol_hash, protocol_text.encode())
        jaws = [_jaw(bench, writer, sheet, jaw, protocol, protocol_hash, speed) for jaw in sheet.jaws]
        code = bench.code("0")
        data: dict[str, Any] = {
            "code": code, "kind": sheet.case.kind, "due": sheet.case.due.isoformat(), "shade": sheet.case.shade,
            "tint": sheet.case.tint, "allergy": sheet.case.allergy, "options": list(sheet.case.options),
            "training": int(sheet.case.training or speed > 1), "speed": speed,
            "jaws": jaws, "texts": {name: bench.text(writer, getattr(sheet.case, name)) for name in TEXTS},
        }
        bench.request(writer, "case", person, case=code, data=data)
        if sheet.case.allergy == "yes":
            # Care: nobody works on it until a licensed professional has decided, and somebody lets it go on.
            for jaw in jaws:
                bench.request(writer, "hold", person, case=code, jaw=jaw["code"])
    return Opened(code, jaws)


@lru_cache(maxsize=8)
def _checked(text: str) -> Protocol:
    """Read a protocol; walking it through all its exceptions costs half a second, once for the same text."""
    return read_protocol("protocol", text)


def _not_known(bench: Bench, writer: Writer, case: CaseSheet) -> None:
    """The same order twice is a slip far more often than a second case."""
    for entry in writer.tagged("kind", "case"):
        texts = events.read_body(entry.body)["event"]["data"]["texts"]
        if bench.store.text(texts["order"]) == case.order and bench.store.text(texts["patient"]) == case.patient:
            raise Refused(f"Order {case.order} of {case.patient} was added before. A remake gets a number of its own.")


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
