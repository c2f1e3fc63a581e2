"""The day's list: every jaw in work, what it waits for, who has it in hand, and what needs somebody now."""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any
from zoneinfo import ZoneInfo

from benchapp.actions.bench import Bench
from benchapp.actions.cases import all_cases
from benchapp.actions.jaws import JawLine, line, protocol_of
from benchapp.actions.lab import lab_of, people
from benchapp.actions.overview import LOOKED_AT, CaseGlance, JawGlance, case_glances
from benchapp.actions.seating import seating_of
from benchapp.actions.settings import setting
from benchapp.actions.stock import things
from benchapp.actions.tablets import names_of_tablets
from benchapp.core import events
from benchapp.core.caseline import unsettled
from benchapp.core.clocks import clocks
from benchapp.core.numbers import Numbers, numbers_of
from benchapp.core.record_words import Names, length, moment, quoted
from benchapp.core.release_words import BACK
from benchapp.core.words import N_, _, n_

MINUTE = 60_000
SILENT_MS = 15 * MINUTE  # longer than anybody works at a card without a tap (common practice, no source)
GROUPS = (  # name, heading, what stands there when it is empty
    ("now", N_("Needs somebody now"), N_("No clock is over, nothing is late or held.")),
    ("alone", N_("Running by itself"), N_("Nothing is in the chamber or cooling.")),
    ("back", N_("Came back"), N_("Nothing that came back waits.")),
    ("bench", N_("On the bench"), N_("No jaw is in work. Take a case in under Cases.")),
    ("packed", N_("Packed, waiting for release"), N_("Nothing waits for release.")),
    ("released", N_("Released, not sent"), N_("Nothing waits to be sent.")),
)


@dataclass(frozen=True)
class ClockSays:
    """One running clock in words: `what` it is about, `left` or over by how much, `ends` on the wall clock."""

    kind: str
    what: str
    left: str
    ends: str
    over: bool
    ends_ms: int


@dataclass(frozen=True)
class Row:
    """One jaw of the list, in words; `wants` says why it needs somebody now."""

    case: CaseGlance
    jaw: JawGlance
    group: str
    stage: str
    clocks: tuple[ClockSays, ...]
    person: str
    tapped: str
    tablet: str
    due: tuple[tuple[str, str], ...]
    wants: tuple[str, ...]


@dataclass(frozen=True)
class Day:
    """The list at one moment: rows by group, the moment and its zone in words, and whether older cases are left out."""

    groups: dict[str, list[Row]]
    at: str
    zone: str
    cut: bool


@dataclass
class _Asked:
    """What one look at the list shares between all its jaws."""

    bench: Bench
    now: int
    zone: ZoneInfo
    people: dict[str, str]
    tablets: dict[str, str]
    heard: dict[str, int] = field(default_factory=dict)

    def last_heard(self, tablet: str) -> int:
        """Return when the PC last got an entry from a tablet, UTC ms."""
        if tablet not in self.heard:
            entry = self.bench.store.last_tagged("tablet", tablet)
            self.heard[tablet] = events.read_body(entry.body)["server"]["received"] if entry else 0
        return self.heard[tablet]


def day(bench: Bench) -> Day:
    """Return the list as it stands at the bench's clock, without jaws that are scrapped, sent or cancelled.

    One that came back is there again until it is sent out anew or a supervisor settled it.
    """
    zone = lab_of(bench).zone
    names = {p.id: p.name for p in people(bench)}
    asked = _Asked(bench, bench.clock(), ZoneInfo(zone), names, names_of_tablets(bench))
    groups: dict[str, list[Row]] = {name: [] for name, *_words in GROUPS}
    found = case_glances(bench)
    for case in found:
        for jaw in case.jaws:
            if not case.cancelled and jaw.ended != "scrap" and _here(bench, jaw):
                row = _row(asked, case, jaw)
                groups[row.group].append(row)
    for rows in groups.values():
        rows.sort(key=_urgency)
    return Day(groups, moment(asked.now, asked.zone), zone, len(found) == LOOKED_AT)


def read_ahead(bench: Bench, enough: Callable[[], bool]) -> int:
    """Read the jaws of the list, newest case first, until `enough`; return how many, so that the list need not."""
    codes = [jaw["code"] for case in reversed(all_cases(bench)[-LOOKED_AT:]) for jaw in case["jaws"]]
    for count, code in enumerate(codes):
        if enough():
            return count
        protocol_of(bench, line(bench, code))
    return len(codes)


def _here(bench: Bench, jaw: JawGlance) -> bool:
    """Whether a jaw is in the lab and waits for something."""
    if jaw.after == "came back":
        return unsettled(line(bench, jaw.code).after) is not None
    return jaw.after != "sent out"


@dataclass(frozen=True)
class Known:
    """Names of people and tablets by id, things by code, the lab's zone, numbers of teeth: read once for many jaws."""

    people: dict[str, str]
    tablets: dict[str, str]
    things: dict[str, str]
    zone: str
    numbers: Numbers = "fdi"


def known_names(bench: Bench) -> Known:
    """Return the names of people and things as they are now."""
    stock = {t.code: " · ".join(w for w in (t.name, t.about) if w) for t in things(bench)}
    numbers = numbers_of(setting(bench, "numbers"))
    return Known({p.id: p.name for p in people(bench)}, names_of_tablets(bench), stock, lab_of(bench).zone, numbers)


def names_of(bench: Bench, found: JawLine, known: Known) -> Names:
    """Return what the names in a jaw's events stand for."""
    return Names(
        protocol_of(bench, found), found.jaw, found.table, known.people, known.things, ZoneInfo(known.zone),
        known.numbers,
    )


def wall(ms: int, now: int, zone: ZoneInfo) -> str:
    """Return when something is on the wall clock: 14:05, with its day unless it is today's.

    Where the clocks are changed in between, the offset stands beside it: 02:10 comes twice in that night.
    """
    at, here = moment(ms, zone), moment(now, zone)
    words = at[11:16] if at[:10] == here[:10] else f"{at[:10]} {at[11:16]}"
    return words if at[19:] == here[19:] else f"{words} (UTC{at[19:]})"


def clock_words(found: JawLine, titles: dict[str, str], now: int, zone: ZoneInfo) -> list[ClockSays]:
    """Return the running clocks of a jaw in words at `now` (UTC ms), soonest first."""
    said: list[ClockSays] = []
    for clock in clocks(found.table, found.state):
        step, since = (quoted(titles.get(clock[key], clock[key])) for key in ("step", "since"))
        over, floor = now >= clock["ends"], clock["kind"] == "floor"
        asked = length(clock["ms"])
        if floor:
            what = _("{step} may be done now", step=step) if over else _(
                "waits for {time} since {since}, then {step}", time=asked, since=since, step=step)
        else:
            what = _("{step} is late", step=step) if over else _(
                "{step} at the latest {time} after {since}", step=step, time=asked, since=since)
        left = _left(length(abs(now - clock["ends"])), over, floor)
        said.append(ClockSays(clock["kind"], what, left, wall(clock["ends"], now, zone), over, clock["ends"]))
    return said


def _left(time: str, over: bool, floor: bool) -> str:
    if not over:
        return _("{time} left", time=time)
    return _("over since {time}", time=time) if floor else _("late by {time}", time=time)


def _row(asked: _Asked, case: CaseGlance, jaw: JawGlance) -> Row:
    found = line(asked.bench, jaw.code)
    protocol = protocol_of(asked.bench, found)
    said = clock_words(found, {s.id: s.title for s in protocol.steps}, asked.now, asked.zone)
    stage = next((s.stage for s in protocol.steps if s.id == jaw.step), "")
    wants = tuple(_back(found)) if jaw.ended else tuple(_wants(asked, case, jaw, found, said))
    tap = _last_tap(asked.bench, found)
    who = tap["event"]["by"]["person"] if tap else ""
    return Row(
        case, jaw, _group(jaw, found, wants), next((s.title for s in protocol.stages if s.id == stage), ""),
        tuple(said), asked.people.get(who, who), wall(tap["server"]["when"], asked.now, asked.zone) if tap else "",
        _tablet(asked, jaw, tap), tuple(_due(case, late=jaw.after != "came back")), wants,
    )


def _back(found: JawLine) -> list[str]:
    """Return in words why a jaw came back and when, where that waits."""
    back = unsettled(found.after)
    if back is None:
        return []
    event = back["event"]
    reason = _(BACK.get(event["outcome"], event["outcome"]))
    return [_("came back on {day}: {reason}", day=event["data"]["on"], reason=reason)]


def _group(jaw: JawGlance, found: JawLine, wants: tuple[str, ...]) -> str:
    if jaw.ended:
        return {"released": "released", "came back": "back"}.get(jaw.after, "packed")
    if wants:
        return "now"
    attended = next((card["attended"] for card in found.table["cards"] if card["step"] == jaw.step), 1)
    running = any(clock["kind"] == "floor" for clock in clocks(found.table, found.state))
    return "alone" if not attended and running else "bench"


def _wants(asked: _Asked, case: CaseGlance, jaw: JawGlance, found: JawLine, said: list[ClockSays]) -> list[str]:
    wants = [clock.what for clock in said if clock.over]
    if jaw.held:
        wants.append(_("on hold: {why}", why=jaw.hold_words) if jaw.hold_words else _("on hold"))
    if found.state.get("dark"):
        since = wall(found.state["dark"], asked.now, asked.zone)
        wants.append(_("the light is off since {time}", time=since))
    if case.late:
        wants.append(_("the due day has passed"))
    if found.seating and (open_ := len(seating_of(asked.bench, found).open)):
        wants.append(n_("seating check: {n} finding is open", "seating check: {n} findings are open", open_))
    refused = sum(1 for mark in found.state["marks"] if mark["grade"] == "refused" and not mark["resolved"])
    if refused:
        wants.append(n_("{n} entry was not taken", "{n} entries were not taken", refused))
    silent = [m for m in found.state["marks"] if m["grade"] in ("deviation", "stop") and not m["reason"]]
    if silent:
        wants.append(_("a reason is missing"))
    return wants


def _last_tap(bench: Bench, found: JawLine) -> dict[str, Any] | None:
    """Return the body of the last confirmation that counts; whoever lets a jaw go on does not take it over."""
    last = next((event["id"] for event in reversed(found.state["log"]) if event["kind"] == "confirm"), "")
    entry = bench.store.find(last) if last else None
    return events.read_body(entry.body) if entry else None


def _tablet(asked: _Asked, jaw: JawGlance, tap: dict[str, Any] | None) -> str:
    """Return in words whether a jaw's tablet was heard of lately, "" where it is on none or through."""
    tablet = tap["server"].get("tablet", "") if tap and not jaw.ended else ""
    if not tablet:
        return ""
    ago = max(0, asked.now - asked.last_heard(tablet))
    silent, name = length(ago // MINUTE * MINUTE), asked.tablets.get(tablet, "")
    if ago < SILENT_MS:
        return _("tablet {name} heard", name=name) if name else _("tablet heard")
    return _("tablet {name} silent for {time}", name=name, time=silent) if name else _(
        "tablet silent for {time}", time=silent)


def _due(case: CaseGlance, late: bool) -> list[tuple[str, str]]:
    """Return what is to be known of the day it is due, each with its kind (plain, late or fixed).

    `late` says whether it can still be late: what was sent out was in time or not, and that is over.
    """
    late = late and case.days < 0
    when = case.due_words
    said = [("late", _("late, was due {when}", when=when)) if late else ("plain", _("due {when}", when=when))]
    if case.surgery:
        said.append(("fixed", _("surgery is fixed: {day}", day=case.surgery)))
    return said


def _urgency(row: Row) -> tuple[int, int, str, str]:
    ends = min((clock.ends_ms for clock in row.clocks), default=2**60)
    return 0 if row.group == "now" and row.jaw.held else 1, ends, row.case.due, row.jaw.code
