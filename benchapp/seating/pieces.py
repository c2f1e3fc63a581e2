"""Cuts triangles by heights at their corners, makes large ones small, and parts the row tooth by tooth."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from benchapp.seating.connectors import Connector
from benchapp.seating.curve import Curve
from benchapp.seating.mesh import Floats, Ints, bounds, longest
from benchapp.seating.sections import lonely_corner

WINDOW: Final = 4.0  # mm along the row within which a connector's own plane parts its two teeth
LOOK: Final = 2.0  # mm about the plane's trace in which the embrasure is looked for
LEAST: Final = 0.05  # mm: narrower is no embrasure


def clip(corners: Floats, heights: Floats) -> tuple[Floats, Floats, Ints]:
    """Return what lies below height 0 of triangles (n, 3, 3) with heights (n, 3) at their corners.

    Returns corners, heights and for each triangle the number of the one that it was cut from.
    """
    below = heights < 0
    a, b, c = below.view(np.int8).T
    count = a + b + c
    whole = np.flatnonzero(count == 3)
    found = [(corners[whole], heights[whole], whole)]
    for wanted in (1, 2):
        chosen = np.flatnonzero(count == wanted)
        if not len(chosen):
            continue
        lonely = lonely_corner(below[chosen])
        turn = (lonely[:, None] + np.arange(3)) % 3
        c, h = np.take_along_axis(corners[chosen], turn[..., None], 1), np.take_along_axis(heights[chosen], turn, 1)
        part = (h[:, :1] / (h[:, :1] - h[:, 1:]))[..., None]  # from the lonely corner to the two others
        edge = c[:, :1] + part * (c[:, 1:] - c[:, :1])
        none = np.zeros(len(chosen))
        if wanted == 1:
            found.append((np.stack([c[:, 0], edge[:, 0], edge[:, 1]], 1), np.stack([h[:, 0], none, none], 1), chosen))
        else:
            found.append((np.stack([edge[:, 0], c[:, 1], c[:, 2]], 1), np.stack([none, h[:, 1], h[:, 2]], 1), chosen))
            found.append((np.stack([edge[:, 0], c[:, 2], edge[:, 1]], 1), np.stack([none, h[:, 2], none], 1), chosen))
    return (
        np.concatenate([f[0] for f in found]),
        np.concatenate([f[1] for f in found]),
        np.concatenate([f[2] for f in found]),
    )


def split(corners: Floats, most: float) -> tuple[Floats, Ints]:
    """Return triangles (n, 3, 3) cut evenly until no edge is longer than about `most`, and each one's origin."""
    if not len(corners):
        return corners, np.zeros(0, dtype=np.int64)
    parts = np.clip(np.ceil(longest(corners) / most), 1, 40).astype(np.int64)
    found, origin = [], []
    for count in np.flatnonzero(np.bincount(parts)):
        chosen = np.flatnonzero(parts == count)
        weights = _small(int(count))
        found.append(np.einsum("wck,nkj->nwcj", weights, corners[chosen]).reshape(-1, 3, 3))
        origin.append(np.repeat(chosen, len(weights)))
    return np.concatenate(found), np.concatenate(origin)


def _small(parts: int) -> Floats:
    """Return the barycentric corners of parts x parts small triangles of one, in its own sense."""

    def at(i: int, j: int) -> tuple[float, float, float]:
        return ((parts - i - j) / parts, i / parts, j / parts)

    found = []
    for i in range(parts):
        for j in range(parts - i):
            found.append((at(i, j), at(i + 1, j), at(i, j + 1)))
            if i + j + 1 < parts:
                found.append((at(i + 1, j), at(i + 1, j + 1), at(i, j + 1)))
    return np.array(found)


@dataclass(frozen=True)
class Trace:
    """Where two teeth part below their margins: an upright plane, by a point (2,) and a unit normal (2,)."""

    s: float
    point: Floats
    normal: Floats

    def beyond(self, xy: Floats) -> Floats:
        """Return how far points (n, 2) lie beyond the plane."""
        return (xy - self.point) @ self.normal


@dataclass(frozen=True)
class Row:
    """The teeth of the row, parted by upright planes."""

    curve: Curve
    traces: tuple[Trace, ...]

    def cutter(self, piece: int) -> "Cutter":
        """Return what cuts triangles to those of one tooth, by its number from 0."""
        return Cutter(
            self.traces[piece - 1] if piece else None, self.traces[piece] if piece < len(self.traces) else None
        )

    def piece_of(self, points: Floats) -> Ints:
        """Return the number of the tooth, from 0, that points (n, 3) in the frame of the axis belong to."""
        s = self.curve.straighten(points)[:, 0]
        piece = np.zeros(len(points), dtype=np.int64)
        for trace in self.traces:
            near = np.abs(s - trace.s) < WINDOW
            piece += np.where(near, trace.beyond(points[:, :2]) > 0, s > trace.s)
        return piece


@dataclass(frozen=True)
class Cutter:
    """Cuts triangles to those of one tooth, between its upright planes."""

    before: Trace | None
    after: Trace | None

    def __call__(self, corners: Floats) -> Floats:
        """Return the part of triangles (n, 3, 3) near the tooth that lies between its planes."""
        for side, trace in ((-1.0, self.before), (1.0, self.after)):
            if trace:
                heights = side * trace.beyond(corners.reshape(-1, 3)[:, :2]).reshape(-1, 3)
                corners = clip(corners, heights)[0]
        return corners

    def holds(self, points: Floats) -> NDArray[np.bool_]:
        """Tell which points (n, 3) near the tooth lie between its planes."""
        inside = np.ones(len(points), dtype=bool)
        for side, trace in ((-1.0, self.before), (1.0, self.after)):
            if trace:
                inside &= side * trace.beyond(points[:, :2]) < 0
        return inside


def trace_of(connector: Connector, arch: Floats, s: Floats, level: float) -> Trace:
    """Return where the two teeth of a connector part at the height of their margins.

    `arch` are triangles (n, 3, 3), `s` their middles along the row, `level` the height of the margins. The plane's own
    trace there, or the middle of the widest embrasure near it: teeth lean, and so do planes.
    """
    across = float(np.hypot(*connector.normal[:2]))
    normal = connector.normal[:2] / across
    lean = -connector.normal[2] / across * (level - connector.point[2])
    guess = float(np.clip(lean, -LOOK, LOOK))
    near = arch[np.abs(s - connector.s) < WINDOW + LOOK]
    near = near[bounds(near)[0][:, 2] < level]
    at = _widest(*bounds((near[:, :, :2] - connector.point[:2]) @ normal), guess)
    return Trace(connector.s, connector.point[:2] + at * normal, normal)


def _widest(low: Floats, high: Floats, guess: float) -> float:
    """Return the middle of the widest gap between intervals that lies within reach of a guess, else the guess."""
    order = np.argsort(low)
    reach = np.maximum.accumulate(high[order])
    starts, ends = reach[:-1], low[order][1:]
    middle = (starts + ends) / 2
    fine = (ends - starts > LEAST) & (np.abs(middle - guess) < LOOK)
    if not fine.any():
        return guess
    return float(middle[int(np.argmax(np.where(fine, ends - starts, 0)))])
