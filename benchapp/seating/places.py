"""Where the arch is stopped, and where the parts come nearest: each place by tooth and side."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from benchapp.core.findings import lie_in
from benchapp.seating.measure import Measured
from benchapp.seating.mesh import Floats, Ints
from benchapp.seating.report import PlaceReport
from benchapp.seating.seat import MOST_UNDERCUT, Seat

SIDES: Final = ("on", "buccal", "back", "lingual", None)  # in the order in which they go round a tooth; beneath it
BENEATH: Final = len(SIDES) - 1
WITHIN: Final = 0.6  # of the margin's radius: what lies nearer to the middle is beneath the tooth
OF_A_SIDE: Final = 6  # places that are measured
DEEP: Final = 0.005  # mm: what lies less deep in the other part is no place of its own


@dataclass(frozen=True)
class Spot:
    """A place by its tooth (its number in the row, from 0) and side (of `SIDES`; None: beneath it), its point (3,) in
    the frame of the axis, and its size in mm."""

    piece: int
    way: str | None
    point: Floats
    size: float


@dataclass(frozen=True)
class Places:
    """The places of a pair, for its report."""

    nearest: PlaceReport | None
    overlaps: tuple[PlaceReport, ...]
    undercuts: tuple[PlaceReport, ...]


def places_of(seat: Seat, measured: Measured, teeth: Sequence[int | None], frame: Floats) -> Places:
    """Return where the parts lie in each other, where base stands above arch, where they come nearest.

    `teeth` are the numbers of the row, `frame` (3, 3) turns the files' coordinates to those of the axis. Of each side
    of a tooth the deepest or widest place is told; undercuts that let the arch in are none.
    """

    def told(spots: Sequence[Spot]) -> tuple[PlaceReport, ...]:
        return tuple(_report(one, teeth[one.piece], measured.curve.bowed, frame) for one in spots)

    near, overlap = seat.nearest, seat.overlap
    deep = overlap.deep >= min(DEEP, overlap.deep.max(initial=0.0))
    return Places(
        told(spots_of(measured, near.point[None], np.array([near.distance])))[0] if near else None,
        told(spots_of(measured, overlap.points[deep], overlap.deep[deep])) if lie_in(overlap.volume) else (),
        told(_wide(measured, seat)),
    )


def _wide(measured: Measured, seat: Seat) -> tuple[Spot, ...]:
    """Return the widest overhang of each side of a tooth that keeps the arch from going in."""
    found, widest = seat.overhangs, seat.widest
    if found is None or widest is None or widest.width <= MOST_UNDERCUT:
        return ()
    piece, way = _sides(measured, np.column_stack([found.middles, np.zeros(len(found.middles))]), 0.0)
    spots = list(spots_of(measured, widest.point[None], np.array([widest.width]), 0.0))  # the very number that is told
    for number, side in sorted(set(zip(piece.tolist(), way.tolist(), strict=True))):
        if (number, SIDES[side]) == (spots[0].piece, spots[0].way):
            continue
        place = found.widest(np.flatnonzero((piece == number) & (way == side)), OF_A_SIDE)
        if place and place.width > MOST_UNDERCUT:
            spots.append(Spot(number, SIDES[side], place.point, place.width))
    return tuple(sorted(spots, key=lambda one: (one.piece, SIDES.index(one.way))))


def spots_of(measured: Measured, points: Floats, sizes: Floats, beneath: float = WITHIN) -> tuple[Spot, ...]:
    """Return of points (n, 3) with sizes (n,) the one with the greatest size of each tooth's side, along the row; what
    lies nearer to the middle than so much of the margin's radius is beneath the tooth."""
    piece, way = _sides(measured, points, beneath)
    found: dict[tuple[int, int], Spot] = {}
    for at in np.lexsort((-sizes, way, piece)).tolist():
        spot = Spot(int(piece[at]), SIDES[way[at]], points[at], float(sizes[at]))
        found.setdefault((int(piece[at]), int(way[at])), spot)
    return tuple(found.values())


def _sides(measured: Measured, points: Floats, beneath: float) -> tuple[Ints, Ints]:
    """Return for points (n, 3) the tooth's number in the row and that of its side among `SIDES`."""
    piece = measured.row.piece_of(points)
    way = np.zeros(len(points), dtype=np.int64)
    for number in np.unique(piece):
        here = piece == number
        way[here] = _ways(measured, int(number), points[here], beneath)
    return piece, way


def _ways(measured: Measured, piece: int, points: Floats, beneath: float) -> Ints:
    """Return which of `SIDES` of a tooth points (n, 3) lie on; of a tooth without a socket buccal or lingual of the
    row."""
    socket = measured.sockets[piece]
    if socket is None:
        buccal = measured.curve.straighten(points)[:, 1] > 0
        return np.where(buccal, SIDES.index("buccal"), SIDES.index("lingual"))
    step, radius = socket.rim.polar(points)
    directions = len(socket.rim.radius)
    margin = socket.rim.radius[np.round(step).astype(np.int64) % directions]
    ways = np.round(step / directions * BENEATH).astype(np.int64) % BENEATH
    return np.where(radius < beneath * margin, BENEATH, ways)


def _report(spot: Spot, tooth: int | None, bowed: bool, frame: Floats) -> PlaceReport:
    x, y, z = (spot.point @ frame).tolist()
    side = spot.way
    if tooth is None or not bowed:
        side = None
    elif side in ("on", "back"):
        side = next(name for name, way in ways_of(tooth).items() if way == side)
    return PlaceReport(tooth, side, (x, y, z), spot.size)


def ways_of(number: int | None) -> dict[str, str]:
    """Return which of the row's two ways is mesial and which distal of a tooth."""
    left = number is not None and number // 10 in (2, 3)
    return {"mesial": "back", "distal": "on"} if left else {"mesial": "on", "distal": "back"}
