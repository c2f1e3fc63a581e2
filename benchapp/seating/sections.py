"""Plane sections of a mesh: areas, loops, and the part of a section above a level."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array, csr_array
from scipy.sparse.csgraph import connected_components

from benchapp.seating.mesh import Floats, Ints, Mesh, crossed


@dataclass(frozen=True)
class Areas:
    """Per plane: area of the largest loop less its holes, and the areas of the islands beside it (mm2)."""

    main: Floats
    islands: list[Floats]


class Slab:
    """A piece of a mesh that many planes are laid through."""

    def __init__(self, mesh: Mesh) -> None:
        self.mesh = mesh
        one = mesh.triangles
        two = np.roll(one, -1, axis=1)
        key = np.minimum(one, two) * len(mesh.vertices) + np.maximum(one, two)
        _values, number = np.unique(key.ravel(), return_inverse=True)
        self._edge = number.reshape(-1, 3)  # the edge from corner k to corner k + 1
        self._edges = int(number.max()) + 1 if len(number) else 0

    def cut(self, normals: Floats, offsets: Floats) -> "Cut":
        """Return the segments in which planes n·x = offset (p of them) cut the triangles."""
        heights = self.mesh.vertices @ normals.T - offsets
        above = heights > 0
        count = above[self.mesh.triangles].sum(axis=1, dtype=np.int8)
        triangle, plane = np.nonzero((count == 1) | (count == 2))
        corner = self.mesh.triangles[triangle]
        up = above[corner, plane[:, None]]
        lonely = np.where((up.sum(axis=1) == 1)[:, None], up, ~up).argmax(axis=1)
        rows = np.arange(len(triangle))
        ends, edges = [], []
        for edge in (lonely, (lonely + 2) % 3):
            a, b = corner[rows, edge], corner[rows, (edge + 1) % 3]
            ha, hb = heights[a, plane], heights[b, plane]
            part = (ha / (ha - hb))[:, None]
            ends.append(self.mesh.vertices[a] * (1 - part) + self.mesh.vertices[b] * part)
            edges.append(self._edge[triangle, edge])
        swap = up[rows, lonely][:, None]
        first, second = np.where(swap, ends[0], ends[1]), np.where(swap, ends[1], ends[0])
        return Cut(plane, first, second, edges[0], edges[1], triangle, self._edges, len(offsets), normals)


@dataclass(frozen=True)
class Cut:
    """Segments of several plane sections: the plane of each, its ends (n, 3), and the edges that they lie on."""

    plane: Ints
    first: Floats
    second: Floats
    edge_one: Ints
    edge_two: Ints
    triangle: Ints
    edges: int
    planes: int
    normals: Floats

    def loops(self) -> NDArray[np.int64]:
        """Return for each segment the number of the loop that it belongs to."""
        one = self.plane * self.edges + self.edge_one
        two = self.plane * self.edges + self.edge_two
        used = np.zeros(self.planes * self.edges, dtype=bool)
        used[one] = used[two] = True
        number = np.cumsum(used, dtype=np.int32) - 1
        count = int(number[-1]) + 1
        links = csr_array(coo_array((np.ones(len(one)), (number[one], number[two])), shape=(count, count)))
        return np.asarray(connected_components(links, directed=False)[1][number[one]], dtype=np.int64)

    def signed(self) -> Floats:
        """Return each segment's share of its section's area (mm2), outlines positive, holes negative."""
        middle = (self.first.mean(axis=0) + self.second.mean(axis=0)) / 2
        cross = crossed(self.first - middle, self.second - middle)
        return np.asarray(np.einsum("ij,ij->i", cross, self.normals[self.plane]) / 2)

    def areas(self) -> Areas:
        """Return the areas of every section."""
        main = np.zeros(self.planes)
        islands: list[Floats] = [np.zeros(0)] * self.planes
        if not len(self.plane):
            return Areas(main, islands)
        loop = self.loops()
        area = np.bincount(loop, weights=self.signed())
        plane = np.zeros(len(area), dtype=np.int64)
        plane[loop] = self.plane
        np.maximum.at(main, plane, area)
        for k in np.unique(plane[area > 0]):
            here = np.sort(area[(plane == k) & (area > 0)])[::-1]
            islands[k] = here[1:]
        np.add.at(main, plane, np.minimum(area, 0))
        return Areas(main, islands)


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


def areas_along(mesh: Mesh, step: float) -> tuple[Floats, Floats]:
    """Return positions s and the section areas there of a straightened mesh (s, v, w), by Green's theorem."""
    corners = mesh.corners
    s = corners[:, :, 0]
    low, high = s.min(axis=1), s.max(axis=1)
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
    lonely = np.where((up.sum(axis=1) == 1)[:, None], up, ~up).argmax(axis=1)
    rows = np.arange(len(triangle))
    ends = []
    for edge in (lonely, (lonely + 2) % 3):
        ha, hb = height[rows, edge], height[rows, (edge + 1) % 3]
        part = (ha / np.where(ha == hb, 1, ha - hb))[:, None]
        ends.append(c[rows, edge, 1:] * (1 - part) + c[rows, (edge + 1) % 3, 1:] * part)
    one, two = ends
    sign = np.where(up[rows, lonely], -1, 1) * np.where((up.sum(axis=1) % 3) == 0, 0, 1)
    area = np.bincount(plane, weights=sign * (one[:, 0] * two[:, 1] - two[:, 0] * one[:, 1]) / 2, minlength=count)
    at = np.asarray(start + step * np.arange(len(area)), dtype=np.float64)
    return at, np.asarray(area if area.sum() >= 0 else -area, dtype=np.float64)
