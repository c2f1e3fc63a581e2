"""Makes the report of what was measured: numbers by name, intervals, and what must be said beside them."""

from dataclasses import dataclass

import numpy as np

from benchapp.core.findings import lie_in
from benchapp.core.teeth import Jaw
from benchapp.core.words import _
from benchapp.seating import trust
from benchapp.seating.measure import Measured
from benchapp.seating.mind import (
    BRIDGED,
    COARSE,
    of_axis,
    of_floors,
    of_gaps,
    of_hollows,
    of_limit,
    of_meshes,
    of_necks,
    of_undercut,
)
from benchapp.seating.numbers import Numbered
from benchapp.seating.pair import Axis, Pair, Unit
from benchapp.seating.places import Places, ways_of
from benchapp.seating.report import KERF, LEAVE, SIDES, ConnectorReport, Interval, MeshReport, Report, ToothReport
from benchapp.seating.seat import MOST_UNDERCUT, Seat
from benchapp.seating.sockets import Socket


@dataclass(frozen=True)
class Asked:
    """What is asked: the jaw, its teeth where known (ISO 3950), its axis, kerf (mm), section to leave (mm2).

    With `axis_is_line` the axis is an axis of the files, and its sense follows from the parts.
    """

    jaw: Jaw
    teeth: tuple[int, ...] | None = None
    axis: tuple[float, float, float] | None = None
    kerf: float = KERF
    leave: float = LEAVE
    unit: Unit | None = None
    axis_is_line: bool = False


def told(
    asked: Asked, pair: Pair, axis: Axis, measured: Measured, row: Numbered, seat: Seat, places: Places,
    warnings: list[str],
) -> Report:
    """Return the report; `warnings` are those so far, and get more."""
    warnings += of_meshes(measured)
    free = not lie_in(seat.overlap.volume)
    if not free:
        warnings.append(
            _(
                "Base and arch lie in each other ({overlap} mm³): resin and undercut are not told. Mend the design.",
                overlap=f"{seat.overlap.volume:.3f}",
            )
        )
    every = trust.of_sockets(measured.sockets, measured.noise, axis.spread)
    teeth = _teeth(measured, row, every, free, warnings)
    warnings += of_axis([socket for socket in measured.sockets if socket], axis)
    connectors = _connectors(measured, row, warnings)
    goes_in = _goes_in(seat, measured, axis, warnings)
    resin = _resin(measured, free, warnings)
    return Report(
        asked.jaw,
        pair.unit,
        (float(axis.way[0]), float(axis.way[1]), float(axis.way[2])),
        axis.source,
        axis.spread,
        asked.kerf,
        asked.leave,
        teeth,
        connectors,
        seat.clearance,
        places.nearest,
        seat.overlap.volume,
        places.overlaps,
        seat.undercut,
        places.undercuts,
        goes_in,
        resin,
        _whole(measured, axis, seat, resin, every),
        {
            part: MeshReport(one.sha256, one.count, one.closed)
            for part, one in (("base", pair.base), ("arch", pair.arch))
        },
        tuple(warnings),
    )


def _teeth(
    measured: Measured, row: Numbered, every: list[dict[str, trust.Off]], free: bool, warnings: list[str]
) -> tuple[ToothReport, ...]:
    found = []
    holes: dict[str, float] = {}
    hollows: dict[str, float] = {}
    for at, (number, socket) in enumerate(zip(row.teeth, measured.sockets, strict=True)):
        if socket is None:
            warnings.append(
                _("No socket wall is seen about tooth {tooth}: nothing is told of it.", tooth=number or at + 1)
            )
            found.append(ToothReport(number, None, None, dict.fromkeys(SIDES), None, None, None, None, {}))
            continue
        sides = _sides(socket, number, measured.curve.bowed)
        found.append(_tooth(number, socket, sides, every[at], free))
        name = str(number or at + 1)
        if socket.open:
            holes[name] = socket.open
        if measured.hollows[at]:
            hollows[name] = measured.hollows[at]
        if missing := [side for side in SIDES if number and sides[side] is None]:
            warnings.append(
                _(
                    "Tooth {tooth} shows too little wall for its depth on these sides: {sides}.",
                    tooth=number,
                    sides=", ".join(missing),
                )
            )
    warnings += [*of_floors(holes), *of_hollows(hollows)]
    return tuple(found)


def _tooth(
    number: int | None, socket: Socket, sides: dict[str, float | None], off: dict[str, trust.Off], free: bool
) -> ToothReport:
    gap = socket.gap if np.isfinite(socket.gap) else None
    volume = socket.volume / 1000 if free else None
    thousandth = trust.Off(off["volume"].shift / 1000, off["volume"].half / 1000)
    intervals = {
        "depth_median_mm": off["depth"].about(socket.depth_median),
        "depth_max_mm": off["deepest"].about(socket.depth_max),
        "crest_depth_median_mm": off["crest"].about(socket.crest_median),
        "bond_area_mm2": off["bond"].about(socket.bond, 0.0),
        "gap_volume_ml": thousandth.about(volume, 0.0),
        "gap_median_mm": off["gap"].about(gap),
    }
    for side, depth in sides.items():
        way = ways_of(number).get(side, side)
        intervals[f"{side}_mm"] = off[way].about(depth)
    return ToothReport(
        number,
        socket.depth_median,
        socket.depth_max,
        sides,
        socket.crest_median,
        socket.bond,
        volume,
        gap,
        _known(intervals),
    )


def _sides(socket: Socket, number: int | None, bowed: bool) -> dict[str, float | None]:
    """Return the depth by side: the row runs from the patient's right to the left, so mesial is on, then back."""
    if not bowed or number is None:
        return dict.fromkeys(SIDES)
    return {side: socket.sides[ways_of(number).get(side, side)] for side in SIDES}


def _connectors(measured: Measured, row: Numbered, warnings: list[str]) -> tuple[ConnectorReport, ...]:
    found = []
    bridged: list[str] = []
    apart: list[str] = []
    for at, one in enumerate(measured.connectors):
        length = float(np.linalg.norm(one.outline[:, 1] - one.outline[:, 0], axis=1).sum())
        off = trust.of_connector(one.area, one.more, one.less, measured.noise, length)
        between = (row.teeth[at], row.teeth[at + 1])
        words = f"{between[0]}-{between[1]}" if between[0] and between[1] else str(at + 1)
        if not one.area:
            apart.append(words)
        warnings += of_limit(one, words)
        if one.less > BRIDGED * one.area:
            bridged.append(words)
        found.append(
            ConnectorReport(
                between,
                one.area,
                one.height,
                one.thickness,
                one.cut_depth,
                one.relief / 1000,
                one.islands,
                one.at_limit,
                _known(
                    {
                        "area_mm2": off["area"].about(one.area, 0.0),
                        "height_mm": off["height"].about(one.height, 0.0),
                        "thickness_mm": off["thickness"].about(one.thickness, 0.0),
                    }
                ),
            )
        )
    warnings += [*of_gaps(apart), *of_necks(bridged)]
    return tuple(found)


def _resin(measured: Measured, free: bool, warnings: list[str]) -> float | None:
    if not free:
        return None
    if any(socket is None for socket in measured.sockets):
        warnings.append(_("The resin of the whole jaw is not told, since some teeth show no socket."))
        return None
    return sum(socket.volume for socket in measured.sockets if socket) / 1000


def _undercut(seat: Seat, measured: Measured, axis: Axis) -> Interval | None:
    """Return the two ends of the undercut's width: facets, noise and a wrong axis make walls overhang."""
    if seat.undercut is None:
        return None
    deepest = max((one.depth_max for one in measured.sockets if one), default=0.0)
    leant = 0.0 if axis.source == "given" else deepest * float(np.tan(np.radians(axis.spread)))
    rises = [one.facets["rise"] for one in measured.sockets if one and measured.edge > COARSE]
    facets = trust.OVERHANG * max(rises, default=0.0)
    low = seat.undercut - 0.012 - facets - trust.OVERHANG * measured.noise - leant
    return max(0.0, low), seat.undercut + 0.012 + leant


def _goes_in(seat: Seat, measured: Measured, axis: Axis, warnings: list[str]) -> bool | None:
    """Tell whether the arch goes in; None, and said, where facets, noise or the axis alone may make the undercut."""
    ends = _undercut(seat, measured, axis)
    if seat.undercut is None or ends is None:
        return None
    if seat.undercut > MOST_UNDERCUT >= ends[0]:
        warnings.append(of_undercut(seat.undercut, measured.noise, axis.spread))
        return None
    return seat.undercut <= MOST_UNDERCUT


def _whole(
    measured: Measured, axis: Axis, seat: Seat, resin: float | None, every: list[dict[str, trust.Off]]
) -> dict[str, Interval]:
    """Return the intervals of the numbers of the whole jaw."""
    known = [off for off in every if off]
    volume = trust.of_all([off["volume"] for off in known])
    surface = max((off["gap"].half for off in known), default=0.0)
    return _known(
        {
            "least_clearance_mm": trust.Off(0.0, surface).about(seat.clearance, 0.0),
            "undercut_width_mm": _undercut(seat, measured, axis),
            "resin_ml": trust.Off(volume.shift / 1000, volume.half / 1000).about(resin, 0.0),
        }
    )


def _known(intervals: dict[str, Interval | None]) -> dict[str, Interval]:
    return {name: (float(ends[0]), float(ends[1])) for name, ends in intervals.items() if ends}
