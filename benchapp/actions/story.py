"""One case on one page: its records, its whole line of events, and what of it was not ordinary."""

from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

from benchapp.actions.bench import Bench
from benchapp.actions.jaws import case_as_it_is, texts_of
from benchapp.actions.lab import lab_of, people
from benchapp.actions.records import record_of
from benchapp.core import events
from benchapp.core.record_models import Record
from benchapp.core.story import Book, Told, tell


@dataclass(frozen=True)
class CaseFile:
    """A case as it stands now: its data, the record of each jaw by code, and its line of events, newest first."""

    case: dict[str, Any]
    records: dict[str, Record]
    line: list[Told]
    zone: str


def case_file(bench: Bench, code: str) -> CaseFile:
    """Return everything known of a case; Unknown where there is no such case."""
    case = case_as_it_is(bench.store, code)
    records = {jaw["code"]: record_of(bench, jaw["code"]) for jaw in case["jaws"]}
    tags = [("case", code), *(("jaw", jaw) for jaw in records)]
    entries = {entry.seq: entry for tag in tags for entry in bench.store.tagged(*tag)}
    bodies = [events.read_body(entry.body) for entry in entries.values()]
    ids = {
        id for body in bodies for id in body["event"].get("data", {}).get("texts", {}).values() if isinstance(id, str)
    }
    zone = lab_of(bench).zone
    book = Book({p.id: p.name for p in people(bench)}, texts_of(bench, ids), records, ZoneInfo(zone))
    return CaseFile(case, records, tell(bodies, book), zone)
