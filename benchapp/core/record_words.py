"""Words for a record: names of steps, places, people, things, lengths of time, moments in the lab's zone."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import cached_property
from typing import Any
from zoneinfo import ZoneInfo

from benchapp.core.codes import spaced
from benchapp.core.findings import PICK
from benchapp.core.numbers import Numbers, renamed
from benchapp.core.orders_words import PART_WORDS
from benchapp.core.protocol import Protocol, Step
from benchapp.core.record_entries import NO_SUCH_TIME, SourceOf
from benchapp.core.record_trail import Deed
from benchapp.core.teeth import SEXTANT_WORDS, SEXTANTS, PlaceKind, places
from benchapp.core.words import N_, _, n_

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
MOST = 12  # names in one sentence; the rest is counted, and stands in the JSON

WHY: dict[str, str] = {
    "unknown": N_("said something that this jaw's protocol does not have"),
    "ended": N_("came after the jaw was through or scrapped"),
    "round": N_("belongs to the work before the jaw was sent back"),
    "who": N_("asks for a role that the person does not have"),
    "held": N_("came while the jaw was held"),
    "stated": N_("time stated by a person"),
    "step": N_("is about a step that was not on"),
    "place": N_("names a place that was not asked about"),
    "early": N_("tapped before the clock had run"),
    "late": N_("tapped after the clock had run out"),
    "light": N_("would lead back behind first light"),
    "undo": N_("could no longer be taken back"),
    "limit": N_("a value lies outside its limits"),
    "claimed": N_("person claimed without a PIN"),
    "tablet": N_("sent by another tablet than the one it names"),
    "jaw": N_("names a jaw that is not known here"),
    "gone": N_("confirmed by a person who had left, or whose last day was over"),
    "unfit": N_("picked a lot or a device that was not fit for use then, or two that do not go together"),
    "dark": N_("came while the light of the load was off"),
}
WHY_HELD = {"allergy": N_("an allergy is stated and waits for a decision"), "cancel": N_("the case was cancelled")}
HOW = {"pin": N_("by PIN"), "badge": N_("by badge"), "pc": N_("at the PC"), "claimed": N_("claimed without a PIN")}
ORDER = {
    "new": N_("new denture"),
    "copy": N_("copy of a denture"),
    "immediate": N_("immediate denture"),
    "remake": N_("remake"),
}
SOURCE = {
    "ifu": N_("instructions for use"),
    "standard": N_("published standard"),
    "common-practice": N_("common practice, no source"),
    "lab": N_("this laboratory's own rule"),
}
NOTES = [
    N_("This record documents work: what was tapped at the bench, by whom and when. It is no examination of the "
       "jaw, and it shows no property of the material. A release on it means what stands beside it, and no more."),
    N_("The instructions for use of the resin, the lamp and the chamber, local codes, and the judgement of "
       "licensed persons decide; nothing printed here stands above them."),
    N_("Which rules on records bind a given laboratory is for that laboratory to find out."),
    N_("A clock measures the time between two taps. What light reached the resin meanwhile it cannot know."),
    N_("A confirmation of a group covers every place of it; exceptions are named place by place. “Viewed” "
       "is how long the card was on the screen beforehand, not how long anybody looked at the jaw."),
    N_("Recorded times are those of the tablet, set right by the clock of the laboratory's PC. A stated "
       "time was named by a person afterwards and stands beside the recorded one."),
    N_("The checkpoint names the last entry of the laboratory's journal when this was made. Whoever holds "
       "the journal can look whether that entry still has this hash; a different one means another journal "
       "or a changed one."),
]


def moment(ms: int, zone: ZoneInfo) -> str:
    """Return UTC milliseconds as ISO 8601 in a zone, to the second: 2026-11-24T14:05:12+01:00."""
    try:
        return (EPOCH + timedelta(milliseconds=ms)).astimezone(zone).replace(microsecond=0).isoformat()
    except OverflowError:
        return NO_SUCH_TIME


def plain(at: str) -> str:
    """Return an ISO 8601 moment as people read it, without its offset: 2026-11-24 14:05:12."""
    return _(NO_SUCH_TIME) if at == NO_SUCH_TIME else f"{at[:10]} {at[11:19]}"


def minute(ms: int, zone: ZoneInfo) -> str:
    """Return UTC milliseconds as people read them in a list of a zone, to the minute; "" for 0, which is never."""
    at = moment(ms, zone) if ms else ""
    return plain(at) if at == NO_SUCH_TIME else plain(at)[:16].rstrip()


def length(ms: int) -> str:
    """Return a length of time in words, whole seconds rounded down: 14 s, 2 min 10 s, 1 h 05 min."""
    seconds = max(0, ms) // 1000
    if 0 < ms < 1000:
        return _("less than 1 s")
    if seconds < 60:
        return f"{seconds} s"
    if seconds < 3600:
        return f"{seconds // 60} min" + (f" {seconds % 60:02} s" if seconds % 60 else "")
    return f"{seconds // 3600} h" + (f" {seconds % 3600 // 60:02} min" if seconds % 3600 >= 60 else "")


def span(first: str, last: str) -> str:
    """Return two ISO 8601 moments as people read them, the day once where it is the same."""
    end = plain(last)[11:] if first[:10] == last[:10] else plain(last)
    return _("{first} to {last}", first=plain(first), last=end)


def listed(words: list[str]) -> str:
    """Return words with commas between them, the many shortened to a few and a count."""
    if len(words) <= MOST:
        return ", ".join(words)
    return n_("{names} and {n} more", "{names} and {n} more", len(words) - MOST, names=", ".join(words[:MOST]))


def quoted(title: str) -> str:
    """Return a title in quotation marks."""
    return _("“{title}”", title=title)


def apart(early: bool, took: int, since: str, asked: int) -> str:
    """Return how far two taps lay apart, ms, after the step with the title `since`, and what its clock asked, ms."""
    values = {"took": length(took), "step": quoted(since), "asked": length(asked)}
    if early:
        return _("{took} after {step}, asked at least {asked}", **values)
    return _("{took} after {step}, asked at most {asked}", **values)


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
            return _("whole jaw")
        if name in SEXTANTS:
            return _(SEXTANT_WORDS[name])
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
        return self.reason(event["picks"].get("reason", "")) or _(WHY_HELD.get(why, why))

    def person(self, person: str) -> str:
        """Return a person's name; nobody is “(not named)”."""
        return self.people.get(person, person) or _("(not named)")

    def who(self, deed: Deed) -> str:
        """Return whose deed it was; a claim says so."""
        name = self.person(deed.event["by"]["person"])
        return _("{name} (claimed)", name=name) if deed.claimed else name

    def how(self, deed: Deed) -> str:
        """Return how the person was known to the tablet."""
        return _(HOW["claimed" if deed.claimed else deed.event["by"]["how"]])

    def own_picks(self, deed: Deed) -> dict[str, str]:
        """Return what was picked with an entry; a reason tile is no pick, unless its step asks for one."""
        step = self.of_step(deed.event["step"])
        asked = {pick.name for pick in step.picks} if step else set()
        return {
            n: code for n, code in deed.event["picks"].items()
            if n in asked or not (n == "reason" or n.startswith(PICK))  # answers stand with the seating check
        }

    def server_marks(self, deed: Deed) -> list[tuple[str, str]]:
        """Return what only the laboratory's PC found out of the ordinary in an entry, each in words with its grade."""
        own = {(mark["why"], mark["grade"]) for mark in deed.marks} | {("claimed", "note"), ("tablet", "note")}
        return [(_(WHY.get(why, why)), grade) for why, grade in deed.server["marks"] if (why, grade) not in own]

    def source(self, id: str) -> SourceOf | None:
        """Return a source of the protocol."""
        found = next((s for s in self.protocol.sources if s.id == id), None)
        return SourceOf(kind=_(SOURCE[found.kind]), title=found.title) if found else None

    def picked(self, code: str, name: str = "") -> tuple[str, bool]:
        """Return what was picked in words, and whether it is a thing, person or part that belongs here.

        `name` is that of the pick: a load is known by its own number only.
        """
        part = next((p for p in self.jaw["parts"] + self.jaw.get("old_parts", []) if p["code"] == code), None)
        if part is not None:
            return _(
                "{part} {make}, revision {revision}, {code}", part=_(PART_WORDS[part["part"]]), make=part["make"],
                revision=part["revision"], code=spaced(code),
            ), True
        if code in self.things or code in self.people:
            return self.things.get(code) or self.people[code], True
        if name == "load":
            return _("load {code}", code=code), True
        return _("{code} (not known for this jaw)", code=spaced(code)), False
