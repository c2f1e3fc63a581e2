"""Plane sections of a mesh: areas, loops, and the part of a section above a level."""

from dataclasses import dataclass
from functools import reduce
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq
from scipy.sparse import coo_array, csr_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from benchapp.seating.mesh import Floats, Ints, Mesh, bounds, crossed

CRACK: Final = 0.05  # mm: so far apart two loose ends of a section are one: surfaces that were not sewn have cracks


@dataclass(frozen=True)
class Areas:
    """Per plane: area of the largest loop less its holes (mm2); of every loop: its area, holes negative, its plane."""

    main: Floats
    loops: Floats
    plane: Ints

    def islands(self, plane: int) -> Floats:
        """Return the areas of the islands beside the largest loop of a plane, the largest first."""
        return np.sort(self.loops[(self.plane == plane) & (self.loops > 0)])[-2::-1]


class Slab:
    """A piece of a mesh that many planes are laid through."""

    def __init__(self, mesh: Mesh) -> None:
        self.mesh = mesh

    def beside(self, normal: Floats, offset: float, reach: float | Floats) -> "Slab":
        """Return what lies within `reach` mm (of each vertex) of a plane n·x = offset."""
        height = self.mesh.vertices @ normal - offset
        reaches = (height < reach) | (height > -reach).view(np.uint8) << 1  # not far above, not far below
        a, b, c = (reaches[self.mesh.triangles[:, k]] for k in range(3))
        return Slab(self.mesh.part((a | b | c) == 3))

    def cut(self, normals: Floats, offsets: Floats) -> "Cut":
        """Return the segments in which planes n·x = offset (p of them) cut the triangles."""
        heights = self.mesh.vertices @ normals.T - offsets
        above = heights > 0
        triangle, plane = _crossings(above, self.mesh.triangles)
        corner = self.mesh.triangles[triangle]
        up = above[corner, plane[:, None]]
        lonely = lonely_corner(up)
        rows = np.arange(len(triangle))
        ends, edges = [], []
        count = len(self.mesh.vertices)
        for edge in (lonely, (lonely + 2) % 3):
            a, b = corner[rows, edge], corner[rows, (edge + 1) % 3]
            ha, hb = heights[a, plane], heights[b, plane]
            part = (ha / (ha - hb))[:, None]
            ends.append(self.mesh.vertices[a] * (1 - part) + self.mesh.vertices[b] * part)
            edges.append((plane * count + np.minimum(a, b)) * count + np.maximum(a, b))
        swap = up[rows, lonely][:, None]
        first, second = np.where(swap, ends[0], ends[1]), np.where(swap, ends[1], ends[0])
        one, two = np.where(swap[:, 0], edges[0], edges[1]), np.where(swap[:, 0], edges[1], edges[0])
        return Cut(plane, first, second, one, two, triangle, len(offsets), normals)


def _crossings(above: NDArray[np.bool_], triangles: Ints) -> tuple[Ints, Ints]:
    """Return which triangles cross which planes, by whether each vertex lies above each plane (n, p).

    Bits of whole words are compared, 64 planes at once: most triangles cross none.
    """
    packed = np.packbits(above, axis=1)
    words = np.zeros((len(above), -(-packed.shape[1] // 8) * 8), dtype=np.uint8)
    words[:, : packed.shape[1]] = packed
    bits = words.view(np.uint64)
    a, b, c = (bits[triangles[:, k]] for k in range(3))
    crosses = (a ^ b) | (a ^ c)
    some = np.flatnonzero(reduce(np.bitwise_or, crosses.T))
    found = np.flatnonzero(np.unpackbits(crosses[some].view(np.uint8), axis=1).view(np.bool_))
    row = found // (64 * crosses.shape[1])
    return some[row], found - row * (64 * crosses.shape[1])


def lonely_corner(up: NDArray[np.bool_]) -> Ints:
    """Return which corner of each triangle (n, 3) lies alone on its side of a plane; 0 where none does."""
    a, b, c = up.T
    return np.where(b == c, 0, np.where(a == c, 1, 2))


@dataclass(frozen=True)
class Cut:
    """Segments of several plane sections: the plane of each, its ends (n, 3), and keys of the edges that they lie on,
    which differ from plane to plane."""

    plane: Ints
    first: Floats
    second: Floats
    edge_one: Ints
    edge_two: Ints
    triangle: Ints
    planes: int
    normals: Floats

    def loops(self) -> NDArray[np.int64]:
        """Return for each segment the number of the loop that it belongs to."""
        around = self._around()
        if around is not None:
            return around
        values, number = np.unique(np.concatenate([self.edge_one, self.edge_two]), return_inverse=True)
        one, two = number[: len(self.plane)], number[len(self.plane) :]
        across = self._cracks(number)
        one_, two_ = np.concatenate([one, across[:, 0]]), np.concatenate([two, across[:, 1]])
        ones = np.ones(len(one_), dtype=np.int32)
        links = csr_array(coo_array((ones, (one_, two_)), shape=(len(values), len(values))))
        return np.asarray(connected_components(links, directed=False)[1][one], dtype=np.int64)

    def _around(self) -> Ints | None:
        """Return the numbers of loops that are closed and never meet, the usual ones, by doubling steps; else None."""
        if not len(self.plane):
            return np.zeros(0, dtype=np.int64)
        order = np.argsort(self.edge_one)
        starts = self.edge_one[order]
        at = np.minimum(np.searchsorted(starts, self.edge_two), len(starts) - 1)
        if not (starts[at] == self.edge_two).all() or not (np.diff(starts) > 0).all():
            return None
        following = order[at]
        least = np.arange(len(order))
        for _turn in range(int(np.bincount(self.plane).max()).bit_length()):
            least = np.minimum(least, least[following])
            following = following[following]
        return np.asarray(np.cumsum(least == np.arange(len(least)))[least] - 1, dtype=np.int64)

    def _cracks(self, number: Ints) -> Ints:
        """Return the pairs (k, 2) of loose ends, by the numbers of their edges, that lie across a crack."""
        loose = np.flatnonzero(np.bincount(number)[number] == 1)
        ends = np.concatenate([self.first, self.second])[loose]
        plane = np.tile(self.plane, 2)[loose]
        apart = np.column_stack([ends, plane * 10 * CRACK])  # ends of two planes are never one
        pairs = cKDTree(apart).query_pairs(CRACK, output_type="ndarray") if len(loose) else np.zeros((0, 2), np.int64)
        return np.asarray(number[loose][pairs], dtype=np.int64).reshape(-1, 2)

    def signed(self) -> Floats:
        """Return each segment's share of its section's area (mm2), outlines positive, holes negative."""
        middle = (self.first.mean(axis=0) + self.second.mean(axis=0)) / 2
        cross = crossed(self.first - middle, self.second - middle)
        return np.asarray(np.einsum("ij,ij->i", cross, self.normals[self.plane]) / 2)

    def areas(self) -> Areas:
        """Return the areas of every section."""
        main = np.zeros(self.planes)
        if not len(self.plane):
            return Areas(main, np.zeros(0), np.zeros(0, dtype=np.int64))
        loop = self.loops()
        area = np.asarray(np.bincount(loop, weights=self.signed()), dtype=np.float64)
        plane = np.zeros(len(area), dtype=np.int64)
        plane[loop] = self.plane
        np.maximum.at(main, plane, area)
        np.add.at(main, plane, np.minimum(area, 0))
        return Areas(main, area, plane)


def area_above(first: Floats, second: Floats, level: float) -> float:
    """Return the area of a loop's part above a level; ends (n, 2) of its segments are (across, height)."""
    low = np.minimum(first[:, 1], second[:, 1])
    high = np.maximum(first[:, 1], second[:, 1])
    keep = high > level
    a, b = first[keep].copy(), second[keep].copy()
    crossing = low[keep] < level
    span = b[:, 1] - a[:, 1]
    part = np.where(crossing, (level - a[:, 1]) / np.where(span == 0, 1, span), 0)
    point = np.column_stack([a[:, 0] + part * (b[:, 0] - a[:, 0]), np.full(len(a), level)])
    a = np.where((crossing & (a[:, 1] < level))[:, None], point, a)
    b = np.where((crossing & (b[:, 1] < level))[:, None], point, b)
    return abs(float(np.sum((a[:, 1] + b[:, 1] - 2 * level) * (b[:, 0] - a[:, 0]))) / 2)


def cut_depth(first: Floats, second: Floats, area: float, leave: float) -> float:
    """Return how deep a level cut from the gum side is that leaves `leave` of a loop; 0 when no more is there."""
    if area <= leave:
        return 0.0
    heights = np.concatenate([first[:, 1], second[:, 1]])  # of a loop that noise tore, ends need not meet
    floor, roof = float(heights.min()), float(heights.max())
    if area_above(first, second, floor) <= leave:  # as much, but for rounding
        return 0.0
    return float(brentq(lambda level: area_above(first, second, level) - leave, floor, roof, xtol=1e-6)) - floor


def areas_along(mesh: Mesh, step: float) -> tuple[Floats, Floats]:
    """Return positions s and the section areas there of a straightened mesh (s, v, w), by Green's theorem."""
    corners = mesh.some()
    low, high = (ends[:, 0] for ends in bounds(corners[..., :1]))
    start = float(low.min())
    count = int((high.max() - start) / step) + 1
    from_, to = np.ceil((low - start) / step).astype(np.int64), np.ceil((high - start) / step).astype(np.int64)
    many = to - from_
    triangle = np.repeat(np.arange(len(corners)), many)
    first = np.cumsum(many) - many
    plane = from_[triangle] + np.arange(len(triangle)) - first[triangle]
    c = corners[triangle]
    height = c[:, :, 0] - (start + plane * step)[:, None]
    up = height > 0
    lonely = lonely_corner(up)
    rows = np.arange(len(triangle))
    ends = []
    for edge in (lonely, (lonely + 2) % 3):
        ha, hb = height[rows, edge], height[rows, (edge + 1) % 3]
        part = (ha / np.where(ha == hb, 1, ha - hb))[:, None]
        ends.append(c[rows, edge, 1:] * (1 - part) + c[rows, (edge + 1) % 3, 1:] * part)
    one, two = ends
    sign = np.where(up[rows, lonely], -1, 1) * (up[rows, lonely] != up[rows, (lonely + 1) % 3])
    area = np.bincount(plane, weights=sign * (one[:, 0] * two[:, 1] - two[:, 0] * one[:, 1]) / 2, minlength=count)
    at = np.asarray(start + step * np.arange(len(area)), dtype=np.float64)
    return at, np.asarray(area if area.sum() >= 0 else -area, dtype=np.float64)
