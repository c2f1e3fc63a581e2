"""Makes the report of what was measured: numbers by name, intervals, and what must be said beside them."""

from dataclasses import dataclass

import numpy as np

from benchapp.core.findings import MOST_OVERLAP
from benchapp.core.teeth import Jaw
from benchapp.core.words import _
from benchapp.seating import trust
from benchapp.seating.connectors import Connector
from benchapp.seating.measure import Measured
from benchapp.seating.numbers import Numbered
from benchapp.seating.pair import Axis, Pair, Unit
from benchapp.seating.report import KERF, LEAVE, SIDES, ConnectorReport, Interval, MeshReport, Report, ToothReport
from benchapp.seating.sockets import Socket

MOST_UNDERCUT = 0.05  # mm: more, and the arch does not go in along the axis
BRIDGED = 0.06  # of a section that facets may bridge before it is said
MOVES = 0.05  # mm that an unsure axis may move a depth before it is said


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


@dataclass(frozen=True)
class Seat:
    """How the parts lie to each other: mm3 in both, least distance in mm, undercut in mm (None with an overlap)."""

    overlap: float
    clearance: float
    undercut: float | None


def told(
    asked: Asked, pair: Pair, axis: Axis, measured: Measured, row: Numbered, seat: Seat, warnings: list[str]
) -> Report:
    """Return the report; `warnings` are those so far, and get more."""
    free = seat.overlap <= MOST_OVERLAP
    if not free:
        warnings.append(
            _(
                "Base and arch lie in each other ({overlap} mm³): resin and undercut are not told. Mend the design.",
                overlap=f"{seat.overlap:.3f}",
            )
        )
    teeth = _teeth(measured, row, axis, free, warnings)
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
        seat.overlap,
        seat.undercut,
        goes_in,
        resin,
        _whole(measured, axis, seat, resin),
        {
            part: MeshReport(one.sha256, one.count, one.closed)
            for part, one in (("base", pair.base), ("arch", pair.arch))
        },
        tuple(warnings),
    )


def _teeth(measured: Measured, row: Numbered, axis: Axis, free: bool, warnings: list[str]) -> tuple[ToothReport, ...]:
    found = []
    every = trust.of_sockets(measured.sockets, measured.noise, axis.spread)
    for at, (number, socket) in enumerate(zip(row.teeth, measured.sockets, strict=True)):
        if socket is None:
            warnings.append(
                _("No socket wall is seen about tooth {tooth}: nothing is told of it.", tooth=number or at + 1)
            )
            found.append(ToothReport(number, None, None, dict.fromkeys(SIDES), None, None, None, None, {}))
            continue
        sides = _sides(socket, number, measured.curve.bowed)
        found.append(_tooth(number, socket, sides, every[at], free))
        if missing := [side for side in SIDES if number and sides[side] is None]:
            warnings.append(
                _(
                    "Tooth {tooth} shows too little wall for its depth on these sides: {sides}.",
                    tooth=number,
                    sides=", ".join(missing),
                )
            )
    warnings += _of_axis([socket for socket in measured.sockets if socket], axis)
    return tuple(found)


def _of_axis(sockets: list[Socket], axis: Axis) -> list[str]:
    """Return what an axis that was not given may cost each kind of depth, where it is more than 0.05 mm."""
    if axis.source == "given":
        return []
    names = {
        _("median"): ("depth",),
        _("greatest"): ("deepest",),
        _("to the crest"): ("crest",),
        _("mesial or distal"): ("on", "back"),
        _("buccal or lingual"): ("buccal", "lingual"),
    }
    costs = {
        words: max((one.leaning.get(key, 0.0) for one in sockets for key in keys), default=0.0) * axis.spread
        for words, keys in names.items()
    }
    said = ", ".join(
        _("{number} {mm} mm", number=words, mm=f"{cost:.2f}") for words, cost in costs.items() if cost > MOVES
    )
    if not said:
        return []
    return [
        _(
            "The axis was found from the sockets themselves and may be {degrees} degrees off, which moves depths by up "
            "to: {said}. Give the axis of the design; its z axis is the usual one.",
            degrees=f"{axis.spread:.1f}",
            said=said,
        )
    ]


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
        way = _ways(number).get(side, side)
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
    return {side: socket.sides[_ways(number).get(side, side)] for side in SIDES}


def _ways(number: int | None) -> dict[str, str]:
    """Return which of the row's two ways is mesial and which distal of a tooth."""
    left = number is not None and number // 10 in (2, 3)
    return {"mesial": "back", "distal": "on"} if left else {"mesial": "on", "distal": "back"}


def _connectors(measured: Measured, row: Numbered, warnings: list[str]) -> tuple[ConnectorReport, ...]:
    found = []
    bridged = []
    for at, one in enumerate(measured.connectors):
        length = float(np.linalg.norm(one.outline[:, 1] - one.outline[:, 0], axis=1).sum())
        off = trust.of_connector(one.area, one.more, one.less, measured.noise, length)
        between = (row.teeth[at], row.teeth[at + 1])
        words = f"{between[0]}-{between[1]}" if between[0] and between[1] else str(at + 1)
        warnings += _of_connector(one, words)
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
    if bridged:
        warnings.append(
            _(
                "Connectors {names} have narrow necks or clefts beside them that the triangles are too coarse for: "
                "their sections may be less than told, down to the lower end of the interval. Export finer triangles.",
                names=", ".join(bridged),
            )
        )
    return tuple(found)


def _of_connector(one: Connector, words: str) -> list[str]:
    if not one.at_limit:
        return []
    return [
        _(
            "Connector {name}: the least section lies at the limit of what was looked through (0.8 mm, 28 degrees); "
            "there may be a lesser one beyond.",
            name=words,
        )
    ]


def _resin(measured: Measured, free: bool, warnings: list[str]) -> float | None:
    if not free:
        return None
    if any(socket is None for socket in measured.sockets):
        warnings.append(_("The resin of the whole jaw is not told, since some teeth show no socket."))
        return None
    return sum(socket.volume for socket in measured.sockets if socket) / 1000


def _undercut(seat: Seat, measured: Measured, axis: Axis) -> Interval | None:
    """Return the two ends between which the undercut's width lies: noise and a wrong axis make walls overhang."""
    if seat.undercut is None:
        return None
    deepest = max((one.depth_max for one in measured.sockets if one), default=0.0)
    leant = 0.0 if axis.source == "given" else deepest * float(np.tan(np.radians(axis.spread)))
    return max(0.0, seat.undercut - 0.012 - trust.OVERHANG * measured.noise - leant), seat.undercut + 0.012 + leant


def _goes_in(seat: Seat, measured: Measured, axis: Axis, warnings: list[str]) -> bool | None:
    """Tell whether the arch goes in; None, and said, where noise or the axis alone may make the undercut."""
    ends = _undercut(seat, measured, axis)
    if seat.undercut is None or ends is None:
        return None
    if seat.undercut > MOST_UNDERCUT >= ends[0]:
        warnings.append(
            _(
                "Whether the arch goes in is not told: the undercut of {width} mm may come from the meshes' noise "
                "({noise} mm) or from an axis that is {degrees} degrees off. Give the axis, or export with less noise.",
                width=f"{seat.undercut:.2f}",
                noise=f"{measured.noise:.3f}",
                degrees=f"{axis.spread:.1f}",
            )
        )
        return None
    return seat.undercut <= MOST_UNDERCUT


def _whole(measured: Measured, axis: Axis, seat: Seat, resin: float | None) -> dict[str, Interval]:
    """Return the intervals of the numbers of the whole jaw."""
    sockets = [socket for socket in measured.sockets if socket]
    every = trust.of_sockets(sockets, measured.noise, axis.spread)
    volume = trust.of_all([off["volume"] for off in every])
    surface = max((off["gap"].half for off in every), default=0.0)
    return _known(
        {
            "least_clearance_mm": trust.Off(0.0, surface).about(seat.clearance, 0.0),
            "undercut_width_mm": _undercut(seat, measured, axis),
            "resin_ml": trust.Off(volume.shift / 1000, volume.half / 1000).about(resin, 0.0),
        }
    )


def _known(intervals: dict[str, Interval | None]) -> dict[str, Interval]:
    return {name: (float(ends[0]), float(ends[1])) for name, ends in intervals.items() if ends}
