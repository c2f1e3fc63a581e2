"""The nearest point of a surface: a k-d tree of points strewn over it finds the triangles, geometry does the rest."""

from copy import copy
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from benchapp.seating.abreast import abreast
from benchapp.seating.mesh import (
    Floats,
    Ints,
    Mesh,
    any_of,
    bounds,
    box_of,
    crossed,
    lengths,
    longest,
    middles_of,
    normals_and_areas,
)

SPACING = 0.3  # mm between strewn points, at most
MOST = 600_000  # strewn points of one surface, where its triangles are fewer
MANY = 8  # strewn points that are looked at
FEW = 2  # of them, where a rough answer will do


@dataclass(frozen=True)
class Nearest:
    """What was found for each point: signed distance (negative inside), triangle, foot, and the triangle's normal."""

    distance: Floats
    triangle: Ints
    foot: Floats
    normal: Floats


class Surface:
    """Triangles (n, 3, 3) that are asked for their nearest point."""

    def __init__(self, corners: Floats) -> None:
        self.corners = corners
        self.normals = normals_and_areas(corners)[0]
        points, owner = strew(corners, SPACING)
        self._owner = np.append(owner, -1)  # of what is not found
        self._tree = cKDTree(points, balanced_tree=False, compact_nodes=False)
        self._frame: Floats | None = None

    def turned(self, frame: Floats, corners: Floats) -> "Surface":
        """Return the surface in a frame given by its three unit directions as rows, where its triangles have `corners`;
        what finds their nearest points stays as it is."""
        found = copy(self)
        found.corners, found.normals = corners, self.normals @ frame.T
        found._frame = frame if self._frame is None else frame @ self._frame
        return found

    def rough(self, points: Floats, within: float) -> tuple[Floats, Ints]:
        """Return the distance to the nearest strewn point and its triangle; infinite and -1 beyond `within`."""
        distance, owner = self.candidates(points, 1, within)
        return distance[:, 0], owner[:, 0]

    def candidates(self, points: Floats, many: int = MANY, within: float = np.inf) -> tuple[Floats, Ints]:
        """Return distances (n, k) to the strewn points nearest to each point, and the triangles that own them; infinite
        and -1 beyond `within`."""
        many = min(many, len(self._owner) - 1)
        distance, found = self._tree.query(self._at(points), k=range(1, many + 1), distance_upper_bound=within)
        return np.asarray(distance), self._owner[np.asarray(found)]

    def _at(self, points: Floats) -> Floats:
        return points if self._frame is None else points @ self._frame

    def nearest(self, points: Floats, facing: Floats | None = None, many: int = MANY) -> Nearest:
        """Return the exact nearest point for each of `points` (n, 3), among the triangles of the `many` strewn points
        nearest to it.

        Where several triangles are as near, the one that faces `facing` (unit normals of the points) most is taken.
        """
        if not len(points):
            return Nearest(np.zeros(0), np.zeros(0, np.int64), np.zeros((0, 3)), np.zeros((0, 3)))
        return self.nearest_of(points, self.candidates(points, many)[1], facing)

    def nearest_of(self, points: Floats, owner: Ints, facing: Floats | None = None) -> Nearest:
        """Return the exact nearest point for each of `points` (n, 3) among its own triangles (n, k), as `nearest`."""
        many = owner.shape[1]
        feet = feet_on(np.repeat(points, many, axis=0), self.corners[owner.ravel()]).reshape(len(points), many, 3)
        away = lengths(points[:, None] - feet)
        rank = away.copy()
        if facing is not None:
            rank += 2e-4 * np.einsum("ij,ikj->ik", facing, self.normals[owner])
        rows = np.arange(len(points))
        best = rank.argmin(axis=1)
        triangle, foot = owner[rows, best], feet[rows, best]
        normal = self.normals[triangle]
        inside = np.einsum("ij,ij->i", points - foot, normal) < 0
        return Nearest(np.where(inside, -1, 1) * away[rows, best], triangle, foot, normal)


def strew(corners: Floats, spacing: float) -> tuple[Floats, Ints]:
    """Return points on the triangles, no farther than about `spacing` from each other, and each one's triangle."""
    sides = longest(corners)
    parts = np.clip(np.ceil(sides / spacing), 1, 64).astype(np.int64)
    if (many := float((parts**2).sum())) > max(MOST, 2 * len(parts)):  # a torn mesh: coarser rather than endless
        parts = np.maximum(1, (parts * np.sqrt(MOST / many)).astype(np.int64))
    points, owner = [], []
    for count in np.flatnonzero(np.bincount(parts)):
        chosen = np.flatnonzero(parts == count)
        if count == 1:
            points.append(middles_of(corners[chosen]))
            owner.append(chosen)
            continue
        weights = _weights(int(count))
        points.append(np.einsum("wk,nkj->nwj", weights, corners[chosen]).reshape(-1, 3))
        owner.append(np.repeat(chosen, len(weights)))
    return np.concatenate(points), np.concatenate(owner)


def _weights(parts: int) -> Floats:
    """Return barycentric weights of the centres of a triangle cut into parts x parts small ones."""
    found = []
    for i in range(parts):
        for j in range(parts - i):
            found.append((i + 1 / 3, j + 1 / 3))
            if i + j + 1 < parts:
                found.append((i + 2 / 3, j + 2 / 3))
    ij = np.array(found) / parts
    return np.column_stack([1 - ij.sum(axis=1), ij])


def feet_on(points: Floats, corners: Floats) -> Floats:
    """Return the nearest point of triangle i (n, 3, 3) to point i (n, 3), pairwise.

    Regions of a triangle's plane by barycentric signs, as in any text on collision detection; from memory.
    """
    a, b, c = corners[:, 0], corners[:, 1], corners[:, 2]
    ab, ac = b - a, c - a
    normal = crossed(ab, ac)
    size = np.maximum(_dot(normal, normal), 1e-60)
    ap = points - a
    v = _dot(crossed(ap, ac), normal) / size
    w = _dot(crossed(ab, ap), normal) / size
    foot = a + v[:, None] * ab + w[:, None] * ac
    outside = (v < 0) | (w < 0) | (v + w > 1)
    if outside.any():
        p = points[outside]
        ends = corners[outside]
        best = np.full(len(p), np.inf)
        found = np.zeros((len(p), 3))
        for k in range(3):
            start, way = ends[:, k], ends[:, (k + 1) % 3] - ends[:, k]
            part = np.clip(_dot(p - start, way) / np.maximum(_dot(way, way), 1e-60), 0, 1)
            here = start + part[:, None] * way
            away = _dot(p - here, p - here)
            nearer = away < best
            best[nearer], found[nearer] = away[nearer], here[nearer]
        foot[outside] = found
    return foot


def _dot(a: Floats, b: Floats) -> Floats:
    return np.asarray(np.einsum("ij,ij->i", a, b))


@dataclass(frozen=True)
class Facing:
    """The parts of both meshes that lie opposite each other, as masks over their triangles; and how far the corners of
    both close parts lie from the other part (mm), infinite where they are not near."""

    base: NDArray[np.bool_]
    arch: NDArray[np.bool_]
    away: tuple[Floats, Floats]


@dataclass(frozen=True)
class Close:
    """One part of a pair where it comes near the other: which of its triangles, and what finds their nearest points."""

    keep: NDArray[np.bool_]
    mesh: Mesh
    surface: Surface


def close_parts(base: Mesh, arch: Mesh, reach: float) -> tuple[Close, Close] | None:
    """Return both parts within each other's box, `reach` mm larger; None where there is nothing in it."""
    boxes = [bounds(mesh.some()) for mesh in (base, arch)]
    whole = [box_of(mesh.vertices) for mesh in (base, arch)]
    low, high = np.maximum(whole[0][0], whole[1][0]) - reach, np.minimum(whole[0][1], whole[1][1]) + reach
    keep = [in_bounds(*box, low, high) for box in boxes]
    if not keep[0].any() or not keep[1].any():
        return None

    def closer(k: int) -> Close:
        mesh = (base, arch)[k].part(keep[k])
        return Close(keep[k], mesh, Surface(mesh.corners))

    first, second = abreast(closer, (0, 1), len(base.triangles) + len(arch.triangles))
    return first, second


def facing_sets(close: tuple[Close, Close], within: float, turned: float) -> Facing:
    """Return which triangles of each part face the other part within a distance, and how far its corners lie from it.

    A triangle faces what lies nearest to two of its corners at least: n·n at most -`turned`. A rough answer; numbers
    are taken from exact distances later.
    """

    def faces(one: Close, other: Close) -> tuple[NDArray[np.bool_], Floats]:
        away, triangle = away_from(one.mesh.vertices, other.surface, within + SPACING)
        triangle[away > within] = -1
        votes = np.zeros(len(one.mesh.triangles), dtype=np.int8)
        some = np.flatnonzero(any_of(triangle >= 0, one.mesh.triangles))
        for k in range(3):
            at = triangle[one.mesh.triangles[some, k]]
            turn = np.einsum("ij,ij->i", one.surface.normals[some], other.surface.normals[at])
            votes[some] += (at >= 0) & (turn <= -turned)
        mask = np.zeros(len(one.keep), dtype=bool)
        mask[np.flatnonzero(one.keep)] = votes > 1
        return mask, away

    (base, above), (arch, below) = abreast(
        lambda k: faces(close[k], close[1 - k]), (0, 1), len(close[0].keep) + len(close[1].keep)
    )
    return Facing(base, arch, (above, below))


def away_from(points: Floats, other: Surface, within: float = np.inf) -> tuple[Floats, Ints]:
    """Return how far points lie from a surface, infinite beyond about `within`, and from which of its triangles."""
    distance, owner = other.candidates(points, FEW, within)
    hit = np.flatnonzero(owner[:, 0] >= 0)
    found = other.nearest_of(points[hit], np.where(owner[hit] < 0, owner[hit, :1], owner[hit]))
    away, triangle = distance[:, 0], owner[:, 0]
    away[hit], triangle[hit] = np.abs(found.distance), found.triangle
    return away, triangle


def in_bounds(least: Floats, most: Floats, low: Floats, high: Floats) -> NDArray[np.bool_]:
    """Tell which boxes, by their least and greatest coordinates (n, 3), reach into a box."""
    inside = most[:, 0] >= low[0]
    for k in range(3):
        inside &= (most[:, k] >= low[k]) & (least[:, k] <= high[k])
    return np.asarray(inside)


def round_about(mesh: Mesh, chosen: NDArray[np.bool_], reach: float) -> NDArray[np.bool_]:
    """Return the chosen triangles and those within about `reach` mm of them along the surface."""
    if not chosen.any():
        return chosen
    corners = mesh.corners[chosen]
    edge = float(np.median(lengths(corners - np.roll(corners, 1, axis=1))))
    found = chosen.copy()
    for _ring in range(int(np.clip(np.ceil(reach / max(edge, 1e-6)), 1, 12))):
        touched = np.zeros(len(mesh.vertices), dtype=bool)
        touched[mesh.triangles[found].ravel()] = True
        found = any_of(touched, mesh.triangles)
    return found
