"""The arch as a curve seen along the axis, and the straightened coordinates about it."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy import ndimage
from scipy.interpolate import make_lsq_spline
from scipy.sparse import coo_array
from scipy.sparse.csgraph import dijkstra
from scipy.spatial import cKDTree

from benchapp.core.teeth import Jaw
from benchapp.seating.faults import torn
from benchapp.seating.mesh import Floats, lengths
from benchapp.seating.near import strew

CELL: Final = 0.5  # mm
STEP: Final = 0.1  # mm between points of the curve
KNOTS: Final = 10.0  # mm between knots: stiffer than teeth are wide
WIDE: Final = 22.0  # mm between the knots of the spline that tells which way a tooth faces: single teeth bend it little
TOOTH: Final = 3.0  # mm to either side, over which it does
BEYOND: Final = 10.0  # mm that the curve runs on straight at its ends
ENDS: Final = 3.0  # mm of the row's ends that do not shape the spline
REACH: Final = 15.0  # mm that it is run on straight to reach all of the row
WILD: Final = 10.0  # times the way through the cells: a spline so long has too few of them between its knots
WAVE: Final = 0.25  # of the apex: a row that bows so much the other way too shows no front
BOW: Final = 0.12  # apex over chord: a row that bows less has no front that could be seen


@dataclass(frozen=True)
class Curve:
    """A curve in the plane across the axis: points (n, 2) at equal steps, their s, unit ways along and buccal.

    It runs from the patient's right to the left when `bowed`; else neither side nor buccal can be told. `ways` (n, 2)
    are those along of a stiffer spline, over the width of a tooth: how a tooth there is turned.
    """

    points: Floats
    s: Floats
    along: Floats
    buccal: Floats
    ways: Floats
    bowed: bool

    def straighten(self, points: Floats) -> Floats:
        """Return (s, v, w) for points (n, 3) in the frame of the axis: along the curve, buccal, along the axis."""
        tree = cKDTree(self.points)
        unique = points[:, :2]
        at = tree.query(unique)[1]
        off = unique - self.points[at]
        s = self.s[at] + np.einsum("ij,ij->i", off, self.along[at])
        v = np.einsum("ij,ij->i", off, self.buccal[at])
        return np.column_stack([s, v, points[:, 2]])

    def turn(self, point: Floats) -> tuple[Floats, Floats]:
        """Return how a tooth in the middle (2,) of its socket is turned: the unit ways along and buccal."""
        at = int(np.argmin(lengths(self.points - point)))
        way = self.ways[at]
        across = np.array([way[1], -way[0]])
        return way, across if across @ self.buccal[at] > 0 else -across

    def place(self, s: float) -> tuple[Floats, Floats, Floats]:
        """Return the point (2,) at s, the unit way along and the unit way buccal there."""
        at = int(np.clip(np.searchsorted(self.s, s), 0, len(self.s) - 1))
        return self.points[at] + (s - self.s[at]) * self.along[at], self.along[at], self.buccal[at]


def frame_of(axis: Floats) -> Floats:
    """Return three unit directions as rows, right-handed, the third along the axis."""
    axis = axis / np.linalg.norm(axis)
    helper = np.eye(3)[int(np.argmin(np.abs(axis)))]
    first = np.cross(helper, axis)
    first /= np.linalg.norm(first)
    return np.stack([first, np.cross(axis, first), axis])


def curve_of(corners: Floats, jaw: Jaw) -> Curve:
    """Return the curve along the middle of an arch's outline, seen along the axis.

    `corners` (n, 3, 3) are the arch's triangles in the frame of the axis. A path through the outline from one far end
    to the other orders its cells; a stiff least-squares spline is laid through them, and laid again by its own s.
    """
    cells = _outline(strew(corners, CELL)[0][:, :2])
    order = _order(cells)
    for _turn in range(4):
        line = _run_on(_spline(order, cells), REACH)
        at = cKDTree(line).query(cells)[1]
        order = at * STEP
    low, high = int(at.min()), int(at.max()) + 1
    return _finished(line[low:high], _run_on(_spline(order, cells, WIDE), REACH), jaw)


def _outline(xy: Floats) -> Floats:
    """Return the middles of the cells that the arch covers: the largest piece, small gaps closed."""
    low = xy.min(axis=0) - 3 * CELL
    index = ((xy - low) / CELL).astype(np.int64)
    mask = np.zeros(index.max(axis=0) + 4, dtype=bool)
    mask[index[:, 0], index[:, 1]] = True
    mask = ndimage.binary_fill_holes(ndimage.binary_closing(mask, iterations=2))
    label, count = ndimage.label(mask, structure=np.ones((3, 3)))
    if count > 1:
        mask = label == 1 + np.argmax(np.bincount(label[label > 0])[1:])
    return np.asarray(np.argwhere(mask) * CELL + low + CELL / 2)


def _order(cells: Floats) -> Floats:
    """Return a coordinate along the outline for each cell: half the difference of the ways to its two far ends."""
    pairs = cKDTree(cells).query_pairs(1.5 * CELL, output_type="ndarray")
    length = np.linalg.norm(cells[pairs[:, 0]] - cells[pairs[:, 1]], axis=1)
    graph = coo_array((length, (pairs[:, 0], pairs[:, 1])), shape=(len(cells), len(cells))).tocsr()
    first = int(np.argmax(dijkstra(graph, directed=False, indices=0)))
    one = dijkstra(graph, directed=False, indices=first)
    other = dijkstra(graph, directed=False, indices=int(np.argmax(one)))
    return np.asarray((one - other) / 2)


def _spline(order: Floats, points: Floats, apart: float = KNOTS) -> Floats:
    """Return points at equal steps of the spline whose knots stand `apart` (mm); cells of the row's rounded ends would
    curl it and are left out."""
    low, high = float(order.min()), float(order.max())
    cut = min(ENDS, 0.2 * (high - low))
    inner = (order > low + cut) & (order < high - cut)
    by = np.argsort(order[inner], kind="stable")
    t, xy = order[inner][by] + np.arange(inner.sum()) * 1e-9, points[inner][by]
    parts = max(1, int((t[-1] - t[0]) / apart))
    degree = min(3, len(t) - 1)
    knots = np.linspace(t[0], t[-1], parts + 1)
    full = np.concatenate([[t[0]] * degree, knots, [t[-1]] * degree])
    fine = np.linspace(t[0], t[-1], 2000)
    line = np.asarray(make_lsq_spline(t, xy, full, k=degree)(fine))
    if not np.isfinite(line).all():
        raise torn()
    gone = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))])
    if gone[-1] > WILD * (t[-1] - t[0]):
        raise torn()
    even = np.arange(0, gone[-1], STEP)
    return np.column_stack([np.interp(even, gone, line[:, 0]), np.interp(even, gone, line[:, 1])])


def _run_on(line: Floats, reach: float) -> Floats:
    """Return a line that runs on straight at both ends."""
    steps = np.arange(STEP, reach, STEP)[:, None]
    look = min(30, len(line) - 1)
    first, last = line[0] - line[look], line[-1] - line[-1 - look]
    return np.concatenate(
        [
            line[0] + (first / np.linalg.norm(first)) * steps[::-1],
            line,
            line[-1] + (last / np.linalg.norm(last)) * steps,
        ]
    )


def _finished(line: Floats, stiff: Floats, jaw: Jaw) -> Curve:
    """Return the curve with its ends run on, turned from the patient's right to the left, buccal outwards."""
    chord = line[-1] - line[0]
    off = (line - line[0]) @ np.array([-chord[1], chord[0]]) / max(float(np.linalg.norm(chord)), 1e-9)
    off = off * (1 if off.sum() >= 0 else -1)
    apex = int(np.argmax(off))
    bowed = bool(off[apex] > BOW * np.linalg.norm(chord) and -off.min() < WAVE * off[apex])
    front = line[apex] - (line[0] + line[-1]) / 2
    # Patient's right: front x axis for a lower jaw, axis x front for an upper one (seating definitions).
    right = np.array([front[1], -front[0]]) * (1 if jaw == "lower" else -1)
    if bowed and (line[0] - line[-1]) @ right < 0:
        line = line[::-1]
    line = _run_on(line, BEYOND)
    along = np.gradient(line, axis=0)
    along /= np.linalg.norm(along, axis=1, keepdims=True)
    buccal = np.column_stack([along[:, 1], -along[:, 0]])
    if np.einsum("ij,ij->", buccal, line - line.mean(axis=0)) < 0:
        buccal = -buccal
    s = np.asarray(np.arange(len(line)) * STEP, dtype=np.float64)
    return Curve(line, s, along, buccal, _ways(line, along, stiff), bowed)


def _ways(line: Floats, along: Floats, stiff: Floats) -> Floats:
    """Return the unit ways (n, 2) of a stiffer line where it is nearest to a line, over the width of a tooth."""
    half = int(TOOTH / STEP)
    at = np.clip(cKDTree(stiff).query(line)[1], half, len(stiff) - 1 - half)
    ways = stiff[at + half] - stiff[at - half]
    ways *= np.where(np.einsum("ij,ij->i", ways, along) < 0, -1, 1)[:, None]
    return np.asarray(ways / lengths(ways)[:, None])
