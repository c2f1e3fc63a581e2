"""Whether a jaw may be released: what stands in the way (gaps), and what must be read first (ticks). Pure."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from benchapp.core.codes import spaced
from benchapp.core.matters import Matter
from benchapp.core.orders_words import PART_WORDS
from benchapp.core.record import Given, names_of, seating_of
from benchapp.core.record_changes import decided_against
from benchapp.core.record_checks import last_check
from benchapp.core.record_deviations import matter_words, matters_of
from benchapp.core.record_models import Item, NotOrdinary
from benchapp.core.record_trail import Trail, follow
from benchapp.core.record_unusual import not_ordinary
from benchapp.core.record_words import Names, length, plain, quoted
from benchapp.core.release_words import PAIR, PAIR_SETTLED, TICKS
from benchapp.core.words import N_, _, n_

SILENT_MS = 12 * 3_600_000  # a night; a tablet that is silent for longer may hold taps that nobody has seen
MENDED = 2  # exceptions at one place up to which mending is ordinary

Asks = Literal["mend", "reason", "read"]
Where = Literal["", "bench", "case", "order", "marks", "deviations"]


@dataclass(frozen=True)
class Gap:
    """One thing that a release must not pass over in silence.

    `asks` says what it takes: mend (the release is refused), reason (a supervisor may go on and says why), read
    (it must be ticked). `where` names the place at which it is mended, `lines` are its matters in words.
    """

    kind: str
    words: str
    asks: Asks
    where: Where = ""
    lines: tuple[str, ...] = ()


@dataclass(frozen=True)
class Tick:
    """Matters of one sort that were not ordinary and must be read before the release."""

    kind: str
    title: str
    lines: tuple[str, ...]


@dataclass(frozen=True)
class Opening:
    """A tablet on which this jaw was opened: when last (UTC ms), when the tablet was last heard (0: never),
    and how many entries it said then that it had not sent yet."""

    tablet: str
    opened: int
    heard: int
    unsent: int = 0


@dataclass(frozen=True)
class Sibling:
    """A jaw of the same case: its code, which jaw, how it ended, and when its last entry came (UTC ms)."""

    code: str
    jaw: str
    ended: str
    last: int


@dataclass(frozen=True)
class Readiness:
    """What stands in the way of a release, what must be read first, and who did the last final check."""

    gaps: tuple[Gap, ...]
    ticks: tuple[Tick, ...]
    checker: str

    @property
    def ready(self) -> bool:
        """Whether no gap refuses the release."""
        return not any(gap.asks == "mend" for gap in self.gaps)


@dataclass(frozen=True)
class _Asked:
    given: Given
    names: Names
    trail: Trail
    unusual: NotOrdinary
    matters: Sequence[Matter]


def pair_of(siblings: Sequence[Sibling]) -> tuple[Sibling, Sibling] | None:
    """Return the two jaws that are checked together; None where there are not both, scrapped ones left out."""
    upper = [s for s in siblings if s.jaw == "upper" and s.ended != "scrap"]
    lower = [s for s in siblings if s.jaw == "lower" and s.ended != "scrap"]
    return (upper[-1], lower[-1]) if upper and lower else None


def paired(case: Mapping[str, Any], siblings: Sequence[Sibling]) -> str:
    """Return the outcome of the pair check that counts for these jaws, "" where there is none.

    A check from before one of the jaws was worked on again, or made again, does not count.
    """
    both, last = pair_of(siblings), case["paired"]
    if both is None or last is None or last["t"] < max(jaw.last for jaw in both):
        return ""
    return str(last["outcome"])


def readiness(given: Given, siblings: Sequence[Sibling], openings: Sequence[Opening], day: str) -> Readiness:
    """Return gaps and ticks of a jaw.

    `siblings` are all jaws of the case with this one among them; `given.made` is now (UTC ms), `day` the day it
    is in the lab's zone (YYYY-MM-DD).
    """
    names, trail = names_of(given), follow(given.table, given.entries)
    seating = seating_of(given, names, trail)
    asked = _Asked(
        given, names, trail, not_ordinary(names, trail, seating), matters_of(given.table, trail, given.entries)
    )
    gaps = [*_state(asked), *_case(asked, siblings), *_marks(asked), *_people(asked), *_tablets(asked, openings)]
    last = last_check(names, trail)
    return Readiness(tuple(gaps), tuple(_ticks(asked, siblings, day)), last.event["by"]["person"] if last else "")


def _state(asked: _Asked) -> Iterator[Gap]:
    state, now = asked.trail.state, asked.trail.state["now"]
    if state["ended"] == "scrap":
        yield Gap("scrapped", _("The jaw is scrapped as a whole: it is never released."), "mend")
    elif not state["ended"]:
        words = _("Not all steps are confirmed: it stands at {step}.", step=quoted(asked.names.step(now)))
        yield Gap("not-through", words, "mend", "bench")
    if state["held"] and state["ended"] != "scrap":
        yield Gap("held", _("The jaw is on hold. Let it go on at the bench."), "mend", "bench")


def _case(asked: _Asked, siblings: Sequence[Sibling]) -> Iterator[Gap]:
    case = asked.given.case
    if case["cancelled"]:
        yield Gap("cancelled", _("The case is cancelled."), "mend", "order")
    if case["allergy"] == "yes" and case["decided"] is None:
        yield Gap("allergy", _("An allergy is stated, and no licensed professional's decision is entered."),
                  "mend", "order")
    if case["allergy"] == "yes" and decided_against(case["decided"]):
        words = _("An allergy is stated, and the decision was that the work does not go on.")
        yield Gap("allergy-against", words, "mend", "order")
    both = pair_of(siblings)
    if both is None or asked.given.jaw["code"] not in {jaw.code for jaw in both}:
        return
    outcome = paired(case, siblings)
    if not outcome:
        words = _("The pair check is missing: both jaws together, once both are through.")
        yield Gap("pair", words, "mend", "case")
    elif outcome not in PAIR_SETTLED:
        words = _("The last pair check was not right: both jaws wait for one that is.")
        yield Gap("pair-not-right", words, "mend", "case")


def _marks(asked: _Asked) -> Iterator[Gap]:
    waiting = [m for m in asked.matters if m.open]
    refused = [m for m in waiting if m.kind == "refused"]
    breaches = [m for m in waiting if m.kind == "breach"]
    silent = [
        m for m in asked.matters
        if m.kind == "breach" and not m.reason and not (m.closed and m.closed.words) and _asked_at_bench(asked, m)
    ]
    for kind, words, found, where in (
        ("open-marks", N_("Entries that were not taken, and nobody has decided on them."), refused, "marks"),
        ("no-reason", N_("Deviations without a reason: tap one at the bench, or close them with words."), silent,
         "deviations"),
        ("not-closed", N_("Deviations that no supervisor has closed."), breaches, "deviations"),
    ):
        if found:
            lines = tuple(matter_words(asked.names, matter) for matter in found)
            yield Gap(kind, _(words), "mend", where, lines)  # type: ignore[arg-type]
    findings = [i for i in asked.unusual.items if i.kind == "finding" and i.open]
    if findings:
        words = _("Findings of the seating check that nobody has answered.")
        yield Gap("seating-open", words, "reason", "", _lines(findings))
    strange = [i for i in asked.unusual.items if i.kind == "pick"]
    if strange:
        words = _("Something was picked that is not known for this jaw.")
        yield Gap("strange", words, "reason", "", _lines(strange))


def _asked_at_bench(asked: _Asked, matter: Matter) -> bool:
    """Whether the fold marked it, so that the bench asked for a reason; what only the PC found it never asked."""
    return any(m["id"] == matter.id and m["grade"] in ("deviation", "stop") for m in asked.trail.state["marks"])


def _people(asked: _Asked) -> Iterator[Gap]:
    claimed = [i for i in asked.unusual.items if i.kind == "claimed"]
    if claimed:
        lines = tuple(f"{item.who}: {item.words}" for item in claimed)
        words = _("Confirmed by persons who were only claimed, without a PIN. Ask them, and say what they said.")
        yield Gap("claimed", words, "reason", "", lines)


def _tablets(asked: _Asked, openings: Sequence[Opening]) -> Iterator[Gap]:
    now, lines = asked.given.made, []
    for one in openings:
        opened = plain(asked.names.at(one.opened))
        if one.unsent:
            lines.append(_unsent(one))
        elif one.heard <= one.opened:
            lines.append(_("tablet {tablet} opened this jaw on {moment} and was not heard since", tablet=one.tablet,
                           moment=opened))
        elif now - one.heard > SILENT_MS:
            lines.append(_("tablet {tablet} had this jaw open and is silent for {time}", tablet=one.tablet,
                           time=length(now - one.heard)))
    if lines:
        words = _(
            "A tablet may still hold entries of this jaw. Switch it on near the PC, or say why that is not needed."
        )
        yield Gap("silent", words, "reason", "", tuple(lines))


def _unsent(one: Opening) -> str:
    return n_(
        "tablet {tablet} said last that {n} entry waits on it to be sent",
        "tablet {tablet} said last that {n} entries wait on it to be sent", one.unsent, tablet=one.tablet,
    )


def _ticks(asked: _Asked, siblings: Sequence[Sibling], day: str) -> Iterator[Tick]:
    found: dict[str, list[str]] = {kind: [] for kind in TICKS}
    for item in asked.unusual.items:
        if item.kind not in ("claimed", "pick", "scrap") and not (item.kind == "finding" and item.open):
            found[item.kind if item.kind in TICKS else "other"] += _lines([item])
    for place in asked.unusual.places:
        story = f"{place.title()}: " + " → ".join(said.said for said in place.story)
        if _named(asked.trail, place.place) > MENDED:
            found["mended"].append(story)
        elif place.loop:
            found["repair"].append(story)
    for part in asked.given.jaw.get("old_parts", []):
        name = _(PART_WORDS[part["part"]])
        found["remade"].append(_("{part} make {make} was replaced", part=name, make=part["make"]))
    if asked.given.jaw.get("follows"):
        old = spaced(asked.given.jaw["follows"])
        found["remade"].append(_("made again as a whole, in place of jaw {code}", code=old))
    case = asked.given.case
    if case["allergy"] == "none stated":
        found["allergy"].append(_("Nobody has asked about allergies, or nothing was stated."))
    elif case["allergy"] == "yes":
        found["allergy"].append(_("An allergy is stated; read the decision on the record."))
    outcome = paired(case, siblings)
    if outcome in PAIR_SETTLED and outcome != "right":
        found["pair"].append(_(PAIR.get(outcome, outcome)))
    if case["due"] and case["due"] < day:
        found["due"].append(_("due {day}", day=case["due"]))
    yield from (Tick(kind, _(TICKS[kind]), tuple(lines)) for kind, lines in found.items() if lines)


def _named(trail: Trail, place: str) -> int:
    """Return how often an exception was said of a place."""
    return sum(
        1 for d in trail.deeds
        if d.kind == "confirm" and d.effective and d.act and d.act["of"] == "place" and place in d.event["places"]
    )


def _lines(items: Sequence[Item]) -> tuple[str, ...]:
    return tuple(f"{plain(item.at)} {item.text()}" if item.at else item.text() for item in items)
