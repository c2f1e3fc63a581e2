"""People who leave: who was gone at a moment, and which sign-ins at tablets are over, with the reason."""

from collections.abc import Iterator
from typing import Any, Literal

from benchapp.actions.bench import Bench
from benchapp.actions.lab import gone_by, zone_of
from benchapp.core import events
from benchapp.core.stock import day_of
from benchapp.store.journal import Writer
from benchapp.store.reads import Entry

GONE = ["gone", "deviation"]  # the mark of a fact of somebody who worked here no longer at its moment

Over = Literal["", "left", "day", "new-pin", "badge-off"]


def gone_at(bench: Bench, writer: Writer, person: str, when: int) -> bool:
    """Tell whether somebody had left, or their last day was over, at a moment (UTC ms), as the lab knew it then."""
    entries = _newest_first(writer, person)
    bodies = (events.read_body(entry.body) for entry in entries)
    known = next((b for b in bodies if b["event"]["kind"] == "person" and b["server"]["when"] <= when), None)
    return known is not None and _gone(bench, known["event"]["data"], when) != ""


def _newest_first(writer: Writer, person: str) -> Iterator[Entry]:
    last = writer.last_tagged("thing", person)  # nearly always enough, and one row
    if last is not None:
        yield last
        yield from reversed(writer.tagged("thing", person))


def _gone(bench: Bench, data: dict[str, Any], when: int) -> Over:
    return gone_by(bool(data.get("left")), data.get("until", ""), lambda: day_of(when, zone_of(bench)))


def over(bench: Bench, person: str, signin: str) -> Over:
    """Say why a sign-in at a tablet counts no more, "" while it does; one that was only claimed has no id.

    They left; their last day is over; their PIN was drawn anew since; it was by a badge that was struck off since.
    """
    found = [(entry.seq, events.read_body(entry.body)["event"]) for entry in bench.store.tagged("thing", person)]
    known = next((event["data"] for _, event in reversed(found) if event["kind"] == "person"), None)
    if known is None:
        return ""
    if gone := _gone(bench, known, bench.clock()):
        return gone
    begun = bench.store.find(signin) if signin else None
    by = events.read_body(begun.body)["event"] if begun else None
    if begun is None or by is None or by["kind"] != "signin" or by["by"]["person"] != person:
        return ""
    later = [event for seq, event in found if seq > begun.seq]
    if any(event["kind"] == "person" and event["data"].get("pin") == "new" for event in later):
        return "new-pin"
    if by["by"]["how"] == "badge" and any(event["kind"] == "badge" for event in later):
        return "badge-off"
    return ""
