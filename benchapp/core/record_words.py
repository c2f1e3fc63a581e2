"""Words for a record: names of steps, places, people, things, lengths of time, moments in the lab's zone."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import cached_property
from typing import Any
from zoneinfo import ZoneInfo

from benchapp.core.codes import spaced
from benchapp.core.numbers import Numbers, renamed
from benchapp.core.protocol import Protocol, Step
from benchapp.core.record_entries import NO_SUCH_TIME, SourceOf
from benchapp.core.record_trail import Deed
from benchapp.core.teeth import SEXTANT_WORDS, SEXTANTS, PlaceKind, places

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
MOST = 12  # names in one sentence; the rest is counted, and stands in the JSON

WHY: dict[str, str] = {
    "unknown": "said something that this jaw's protocol does not have",
    "ended": "came after the jaw was through or scrapped",
    "round": "belongs to the work before the jaw was sent back",
    "who": "asks for a role that the person does not have",
    "held": "came while the jaw was held",
    "stated": "time stated by a person",
    "step": "is about a step that was not on",
    "place": "names a place that was not asked about",
    "early": "tapped before the clock had run",
    "late": "tapped after the clock had run out",
    "light": "would lead back behind first light",
    "undo": "could no longer be taken back",
    "limit": "a value lies outside its limits",
    "claimed": "person claimed without a PIN",
    "tablet": "sent by another tablet than the one it names",
    "jaw": "names a jaw that is not known here",
    "unfit": "picked a lot or a device that was not fit for use then, or two that do not go together",
    "dark": "came while the light of the load was off",
}
WHY_HELD = {"allergy": "an allergy is stated and waits for a decision", "cancel": "the case was cancelled"}
HOW = {"pin": "by PIN", "badge": "by badge", "pc": "at the PC", "claimed": "claimed without a PIN"}
ORDER = {
    "new": "new denture",
    "copy": "copy of a denture",
    "immediate": "immediate denture",
    "remake": "remake",
}
SOURCE = {
    "ifu": "instructions for use",
    "standard": "published standard",
    "common-practice": "common practice, no source",
    "lab": "this laboratory's own rule",
}
NOTES = [
    "This record documents work: what was tapped at the bench, by whom and when. It is no examination of the "
    "jaw, and it shows no property of the material. A release on it means what stands beside it, and no more.",
    "The instructions for use of the resin, the lamp and the chamber, local codes, and the judgement of "
    "licensed persons decide; nothing printed here stands above them.",
    "Which rules on records bind a given laboratory is for that laboratory to find out.",
    "A clock measures the time between two taps. What light reached the resin meanwhile it cannot know.",
    "A confirmation of a group covers every place of it; exceptions are named place by place. “Viewed” "
    "is how long the card was on the screen beforehand, not how long anybody looked at the jaw.",
    "Recorded times are those of the tablet, set right by the clock of the laboratory's PC. A stated "
    "time was named by a person afterwards and stands beside the recorded one.",
    "The checkpoint names the last entry of the laboratory's journal when this was made. Whoever holds "
    "the journal can look whether that entry still has this hash; a different one means another journal "
    "or a changed one.",
]


def moment(ms: int, zone: ZoneInfo) -> str:
    """Return UTC milliseconds as ISO 8601 in a zone, to the second: 2026-11-24T14:05:12+01:00."""
    try:
        return (EPOCH + timedelta(milliseconds=ms)).astimezone(zone).replace(microsecond=0).isoformat()
    except OverflowError:
        return NO_SUCH_TIME


def plain(at: str) -> str:
    """Return an ISO 8601 moment as people read it, without its offset: 2026-11-24 14:05:12."""
    return at if at == NO_SUCH_TIME else f"{at[:10]} {at[11:19]}"


def length(ms: int) -> str:
    """Return a length of time in words, whole seconds rounded down: 14 s, 2 min 10 s, 1 h 05 min."""
    seconds = max(0, ms) // 1000
    if 0 < ms < 1000:
        return "less than 1 s"
    if seconds < 60:
        return f"{seconds} s"
    if seconds < 3600:
        return f"{seconds // 60} min" + (f" {seconds % 60:02} s" if seconds % 60 else "")
    return f"{seconds // 3600} h" + (f" {seconds % 3600 // 60:02} min" if seconds % 3600 >= 60 else "")


def span(first: str, last: str) -> str:
    """Return two ISO 8601 moments as people read them, the day once where it is the same."""
    return f"{plain(first)} to {plain(last)[11:] if first[:10] == last[:10] else plain(last)}"


def listed(words: list[str]) -> str:
    """Return words with commas between them, the many shortened to a few and a count."""
    if len(words) <= MOST:
        return ", ".join(words)
    return ", ".join(words[:MOST]) + f" and {len(words) - MOST} more"


def quoted(title: str) -> str:
    """Return a title in quotation marks."""
    return f"“{title}”"


@dataclass(frozen=True)
class Names:
    """What the names in events stand for, for one jaw."""

    protocol: Protocol
    jaw: Mapping[str, Any]
    table: Mapping[str, Any]
    people: Mapping[str, str]
    things: Mapping[str, str]
    zone: ZoneInfo
    numbers: Numbers = "fdi"

    def at(self, ms: int) -> str:
        """Return a moment in the lab's zone."""
        return moment(ms, self.zone)

    def of_step(self, step: str) -> Step | None:
        """Return the protocol's step of that id, if it has one."""
        return next((s for s in self.protocol.steps if s.id == step), None)

    def step(self, step: str) -> str:
        """Return a step's title; an unknown id stands for itself."""
        found = self.of_step(step)
        return found.title if found else step

    def stage(self, step: str) -> str:
        """Return the title of a step's stage."""
        found = self.of_step(step)
        return next((s.title for s in self.protocol.stages if found and s.id == found.stage), "")

    def said(self, step: str, outcome: str) -> str:
        """Return an outcome's words for the record; an unknown id stands for itself."""
        found = self.of_step(step)
        return next((o.said for o in found.outcomes if o.id == outcome), outcome) if found else outcome

    def place(self, name: str) -> str:
        """Return a place in words; an unknown name stands for itself."""
        if name == "-":
            return "whole jaw"
        if name in SEXTANTS:
            return SEXTANT_WORDS[name]
        return self.place_words.get(name, name)

    @cached_property
    def place_words(self) -> dict[str, str]:
        """Return the words of every single place of the jaw, in anatomical order."""
        kinds: tuple[PlaceKind, ...] = ("tooth", "margin", "connector", "base")
        known = places(self.jaw["jaw"], self.jaw["teeth"], kinds)
        return {place.name: renamed(place, self.numbers).words for place in known}

    def singles(self, step: str) -> dict[str, str]:
        """Return the single places of a step's card with their sextants, in the card's order."""
        card = next((c for c in self.table["cards"] if c["step"] == step), None)
        sextants = dict(map(tuple, self.table["groups"]))
        return {p: sextants[p] for p in card["places"] if p in sextants} if card else {}

    def reason(self, reason: str) -> str:
        """Return the words of a reason tile."""
        return next((r.title for r in self.protocol.reasons if r.id == reason), reason)

    def why(self, event: Mapping[str, Any]) -> str:
        """Return the reason that an entry gives: words of its tile, or why the desk did it."""
        why = event.get("data", {}).get("why", "")
        return self.reason(event["picks"].get("reason", "")) or WHY_HELD.get(why, why)

    def person(self, person: str) -> str:
        """Return a person's name; nobody is “(not named)”."""
        return self.people.get(person, person) or "(not named)"

    def who(self, deed: Deed) -> str:
        """Return whose deed it was; a claim says so."""
        return self.person(deed.event["by"]["person"]) + (" (claimed)" if deed.claimed else "")

    def how(self, deed: Deed) -> str:
        """Return how the person was known to the tablet."""
        return HOW["claimed" if deed.claimed else deed.event["by"]["how"]]

    def own_picks(self, deed: Deed) -> dict[str, str]:
        """Return what was picked with an entry; a reason tile is no pick, unless its step asks for one."""
        step = self.of_step(deed.event["step"])
        asked = {pick.name for pick in step.picks} if step else set()
        return {n: code for n, code in deed.event["picks"].items() if n != "reason" or n in asked}

    def server_marks(self, deed: Deed) -> list[tuple[str, str]]:
        """Return what only the laboratory's PC found out of the ordinary in an entry, each in words with its grade."""
        own = {(mark["why"], mark["grade"]) for mark in deed.marks} | {("claimed", "note"), ("tablet", "note")}
        return [(WHY.get(why, why), grade) for why, grade in deed.server["marks"] if (why, grade) not in own]

    def source(self, id: str) -> SourceOf | None:
        """Return a source of the protocol."""
        found = next((s for s in self.protocol.sources if s.id == id), None)
        return SourceOf(kind=SOURCE[found.kind], title=found.title) if found else None

    def picked(self, code: str, name: str = "") -> tuple[str, bool]:
        """Return what was picked in words, and whether it is a thing, person or part that belongs here.

        `name` is that of the pick: a load is known by its own number only.
        """
        part = next((p for p in self.jaw["parts"] + self.jaw.get("old_parts", []) if p["code"] == code), None)
        if part is not None:
            return f"{part['part']} {part['make']}, revision {part['revision']}, {spaced(code)}", True
        if code in self.things or code in self.people:
            return self.things.get(code) or self.people[code], True
        if name == "load":
            return f"load {code}", True
        return f"{spaced(code)} (not known for this jaw)", False
