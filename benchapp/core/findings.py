"""What the seating check tells the hands: findings to be answered, connectors to cut, places to watch, drops. Pure.

A report is the plain data of the seating check (its JSON, see "The seating check" in DEVELOPERS.md). Nothing is told
of a number that is null.
"""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal
from typing import Any, Final, Literal

from benchapp.core.numbers import Numbers, number
from benchapp.core.protocol_seating import Bounds, SeatingLimits
from benchapp.core.stops import listed, of_kind, teeth_of
from benchapp.core.teeth import connector_name
from benchapp.core.words import N_, NN_, Plural, _, n_

Report = Mapping[str, Any]
Kind = Literal["no-way", "overlap", "other-teeth", "pieces", "deep", "shallow", "thick", "slight", "close", "far"]
Depth = Literal["none", "light", "half", "deep"]
Why = Literal["thin", "wide", "deep", "shallow"]

WHYS: Final[dict[Why, str]] = {"thin": N_("thin"), "wide": N_("wide"), "deep": N_("deep"), "shallow": N_("shallow")}
MOST_OVERLAP: Final = 0.01  # mm3: more, and resin and undercut mean nothing
PICK: Final = "seating-"  # an answer is a pick of this name and the finding's kind
AGAIN: Final = "print-again"  # the answer that is no reason: the part is made again
CUTS: Final[dict[Depth, str]] = {
    "none": N_("leave"), "light": N_("light"), "half": N_("half"), "deep": N_("deep"),
}
"""How deep a connector is cut: up to a third of its height, up to two, more (common practice, no source)."""


@dataclass(frozen=True)
class Finding:
    """One thing that lies outside what the lab wants: one per kind and jaw, answered once.

    `places` are stored names (teeth, connectors), none where it is the jaw's; `source` names a source of the
    protocol, "" where the finding needs no limit.
    """

    kind: Kind
    words: str
    places: tuple[str, ...] = ()
    source: str = ""

    @property
    def pick(self) -> str:
        """The name of the pick that answers it."""
        return PICK + self.kind


@dataclass(frozen=True)
class CutHere:
    """How far one connector is cut back: in a word, the figure behind it (mm), and what it has now (mm2)."""

    place: str
    how: Depth
    depth_mm: float
    area_mm2: float
    at_limit: bool


def findings(
    report: Report, limits: SeatingLimits | None, teeth: tuple[int, ...], numbers: Numbers = "fdi"
) -> tuple[Finding, ...]:
    """Return the findings of a report; `teeth` are those of the case's sheet, in row order."""
    found = [*_ways(report, numbers), *_count(report, teeth), *_pieces(report, numbers)]
    if limits is None:
        return tuple(found)
    of_teeth = [(str(t["tooth"]), t["depth_median_mm"]) for t in report["teeth"] if t["tooth"] is not None]
    found += _outside(limits.depth, of_teeth, "deep", "shallow", numbers)
    sections = [(cut.place, cut.area_mm2) for cut in cuts(report) if cut.area_mm2 != 0]
    found += _outside(limits.connector, sections, "thick", "slight", numbers)
    return (*found, *_clearance(report, limits.clearance, numbers))


def lie_in(overlap_mm3: float | None) -> bool:
    """Tell whether base and arch lie in each other by more than rounding, by the volume of both."""
    return overlap_mm3 is not None and overlap_mm3 > MOST_OVERLAP


def _ways(report: Report, numbers: Numbers) -> Iterator[Finding]:
    overlap, undercut = report["overlap_mm3"], report["undercut_width_mm"]
    if lie_in(overlap):
        there = of_kind(report, "overlap")
        told, volume = listed(there, numbers), written(overlap)
        words = _("Base and arch lie in each other: {volume} mm³", volume=volume) if not told else _(
            "Base and arch lie in each other: {volume} mm³, at {places}", volume=volume, places=told)
        yield Finding("overlap", words, teeth_of(there))
    elif report["goes_in"] is False:
        there = of_kind(report, "undercut")
        told, width = listed(there, numbers), written(undercut)
        words = _("The arch does not go in: base stands above it, up to {width} mm wide", width=width)
        if told:
            words = _("The arch does not go in: base stands above it, up to {width} mm wide, at {places}",
                      width=width, places=told)
        yield Finding("no-way", words, teeth_of(there))


def _count(report: Report, teeth: tuple[int, ...]) -> Iterator[Finding]:
    if len(report["teeth"]) != len(teeth):
        yield Finding("other-teeth", _(
            "The arch has {count} teeth, the sheet lists {listed}", count=len(report["teeth"]), listed=len(teeth),
        ))


def _pieces(report: Report, numbers: Numbers) -> Iterator[Finding]:
    """Yield a finding where nothing joins two teeth: the section between them is 0."""
    ends = [one["between"] for one in report["connectors"] if one["area_mm2"] == 0]
    names = tuple(connector_name(*between) for between in ends if None not in between)
    if names:
        told = " ".join(shown(one, numbers) for one in names)
        yield Finding("pieces", _("The arch is in pieces: nothing joins it at {places}", places=told), names)
    elif ends:
        yield Finding("pieces", _("The arch is in pieces that nothing joins"))


_SAID: Final[dict[str, Plural]] = {
    "deep": NN_("{n} tooth deeper than {limit} mm: {places}", "{n} teeth deeper than {limit} mm: {places}"),
    "shallow": NN_("{n} tooth less deep than {limit} mm: {places}", "{n} teeth less deep than {limit} mm: {places}"),
    "thick": NN_(
        "{n} connector thicker than {limit} mm²: {places}", "{n} connectors thicker than {limit} mm²: {places}"),
    "slight": NN_(
        "{n} connector thinner than {limit} mm²: {places}", "{n} connectors thinner than {limit} mm²: {places}"),
}


def _outside(
    bounds: Bounds | None, known: Sequence[tuple[str, float | None]], over: Kind, under: Kind, numbers: Numbers
) -> Iterator[Finding]:
    """Yield at most one finding over and one under the limits."""
    if bounds is None:
        return
    told = [(place, value) for place, value in known if value is not None]
    for kind, limit, sign in ((over, bounds.most, 1), (under, bounds.least, -1)):
        out = [(place, value) for place, value in told if limit is not None and sign * (value - float(limit)) > 0]
        if out and limit is not None:
            yield Finding(kind, _words(kind, limit, out, numbers), tuple(place for place, _v in out), bounds.source)


def _words(kind: Kind, limit: Decimal, out: list[tuple[str, float]], numbers: Numbers) -> str:
    listed = " ".join(shown(place, numbers) for place, _value in out)
    return n_(*_SAID[kind], len(out), limit=f"{limit:f}", places=listed)


def _clearance(report: Report, bounds: Bounds | None, numbers: Numbers) -> Iterator[Finding]:
    """Yield a finding where the parts come nearer than the lab wants, or nowhere near enough."""
    least = report["least_clearance_mm"]
    if bounds is None or least is None:
        return
    value, there = written(least), of_kind(report, "nearest")
    if bounds.least is not None and least < float(bounds.least):
        limit, told = f"{bounds.least:f}", listed(there, numbers)
        words = _("Base and arch come within {value} mm; {limit} mm is the least", value=value, limit=limit)
        if told:
            words = _("Base and arch come within {value} mm at {places}; {limit} mm is the least",
                      value=value, places=told, limit=limit)
        yield Finding("close", words, teeth_of(there), bounds.source)
    if bounds.most is not None and least > float(bounds.most):
        yield Finding("far", _(
            "Base and arch come no closer than {value} mm; {limit} mm is the most", value=value,
            limit=f"{bounds.most:f}",
        ), (), bounds.source)


def shown(place: str, numbers: Numbers) -> str:
    """Return a tooth or a connector with the lab's numbers of teeth."""
    return "-".join(str(number(int(tooth), numbers)) for tooth in place.split("-"))


def cuts(report: Report) -> tuple[CutHere, ...]:
    """Return how each connector is cut back whose teeth are known, in row order."""
    return tuple(
        CutHere(
            connector_name(*one["between"]), how_deep(one["cut_depth_mm"], one["height_mm"]), one["cut_depth_mm"],
            one["area_mm2"], one["at_limit"],
        )
        for one in report["connectors"] if None not in one["between"]
    )


def how_deep(cut: float, height: float) -> Depth:
    """Return the word for a cut of so many mm into a connector of that height."""
    if cut <= 0 or height <= 0:
        return "none"
    return "light" if cut <= height / 3 else "half" if cut <= 2 * height / 3 else "deep"


def whys(report: Report, limits: SeatingLimits | None) -> dict[str, Why]:
    """Return for each margin that is watched why: its gap is thin or wide, or its tooth sits deep or shallow.

    Both margins of such a tooth ask for a tap of their own; where several hold, the gap comes first.
    """
    found: dict[str, Why] = {}
    for tooth in report["teeth"]:
        why = _why(tooth, limits) if limits and tooth["tooth"] is not None else None
        if why:
            found |= {f"m{tooth['tooth']}b": why, f"m{tooth['tooth']}l": why}
    return found


def _why(tooth: Mapping[str, Any], limits: SeatingLimits) -> Why | None:
    told: tuple[tuple[Any, float | None, Why, Why], ...] = (
        (limits.gap, tooth["gap_median_mm"], "thin", "wide"),
        (limits.depth, tooth["depth_median_mm"], "shallow", "deep"),
    )
    for bounds, value, under, over in told:
        if bounds is None or value is None:
            continue
        if bounds.least is not None and value < float(bounds.least):
            return under
        if bounds.most is not None and value > float(bounds.most):
            return over
    return None


def watched(report: Report, limits: SeatingLimits | None) -> tuple[str, ...]:
    """Return the margins that are watched, see `whys`."""
    return tuple(whys(report, limits))


def drops(resin_ml: float | None, per_ml: int) -> int | None:
    """Return whole drops that hold so much resin, never fewer; None where the volume or the dispenser is not known."""
    return None if resin_ml is None or per_ml <= 0 else math.ceil(resin_ml * per_ml - 1e-9)


def written(value: float, decimals: str = "0.01") -> str:
    """Return a number as it is read: two decimals, without zeros that say nothing; half to even, as ISO 80000-1."""
    return f"{Decimal(str(value)).quantize(Decimal(decimals), ROUND_HALF_EVEN).normalize():f}"
