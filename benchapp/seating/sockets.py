"""One tooth in its socket: margin by direction, depths, gap, the resin that fits below the margin, the bond."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from benchapp.seating.mesh import Floats, Ints, Mesh, facets, median_by, normals_and_areas
from benchapp.seating.near import Surface
from benchapp.seating.pieces import Cutter, clip, split
from benchapp.seating.sections import Slab

WITHIN: Final = 0.35  # mm: no farther from the tooth is wall
TURNED: Final = 0.8  # wall faces the tooth: n·n at most minus this
DIRECTIONS: Final = 72
SIDE: Final = 30.0  # degrees to either side of mesial, distal, buccal, lingual
CREST: Final = 0.3  # mm outwards of the margin in which the crest is looked for
SMALL: Final = 0.6  # mm: triangles are made smaller than this before they are summed up
SEEN: Final = 0.5  # of the directions must show wall


@dataclass(frozen=True)
class Rim:
    """Margin of one socket by direction: angles from the row's way on, heights of wall and crest, radius (mm).

    Directions without wall are NaN in `wall`; `lid` has them filled from their neighbours.
    """

    centre: Floats
    way: Floats
    out: Floats
    wall: Floats
    crest: Floats
    radius: Floats
    lid: Floats

    def polar(self, points: Floats) -> tuple[Floats, Floats]:
        """Return angle (in steps of the directions) and radius of points (..., 3)."""
        off = points[..., :2] - self.centre
        x, y = off @ self.way, off @ self.out
        return np.arctan2(y, x) / (2 * np.pi) * DIRECTIONS, np.hypot(x, y)

    def over(self, points: Floats) -> tuple[Floats, Floats]:
        """Return how far points (..., 3) lie above the lid, and how far outside the margin.

        The lid is the margin's height by direction; towards the centre it becomes the mean, so that it is smooth there.
        """
        step, r = self.polar(points)
        low = np.floor(step).astype(np.int64)
        part = step - low
        one, two = low % DIRECTIONS, (low + 1) % DIRECTIONS
        radius = self.radius[one] * (1 - part) + self.radius[two] * part
        height = self.lid[one] * (1 - part) + self.lid[two] * part
        mean = float(self.lid.mean())
        inner = np.clip(r / np.maximum(0.8 * radius, 1e-6), 0, 1) ** 2
        return points[..., 2] - (mean + (height - mean) * inner), r - radius


@dataclass(frozen=True)
class Socket:
    """What one tooth has below its margin: depths in mm, bond in mm2, gap volume in mm3.

    `sag` and `rough` tell how facets and noise may have moved the surfaces (mm), `around` is the margin's length.
    """

    rim: Rim
    lowest: float
    depths: Floats
    depth_median: float
    depth_max: float
    sides: dict[str, float | None]
    crest_median: float
    bond: float
    volume: float
    gap: float
    sag: float
    rough: float
    around: float


@dataclass(frozen=True)
class Near:
    """What lies about one tooth: base and arch, and which triangles of the base face the arch."""

    base: Mesh
    facing: NDArray[np.bool_]
    arch: Mesh
    way: Floats
    out: Floats


def socket_of(near: Near, only: Cutter) -> Socket | None:
    """Return what one tooth has below its margin; None when hardly any wall is seen about it.

    `only` cuts triangles to those between the upright planes of this tooth. Heights and directions as defined in
    DEVELOPERS.md, `definitions_version` 1.
    """
    surface = Surface(near.arch.corners)
    rim = _rim(near, surface, only)
    if rim is None:
        return None
    below = only(near.arch.corners)
    _over, outside = rim.over(below)
    inside = (outside < CREST).any(axis=1)
    lowest = float(below[inside][:, :, 2].min()) if inside.any() else float(below[:, :, 2].min())
    depths = rim.wall - lowest
    bond, tooth_volume = _tooth(below, rim)
    facing = near.base.part(near.facing)
    sag, rough = (max(pair) for pair in zip(facets(facing), facets(_by_wall(near, rim)), strict=True))
    return Socket(
        rim,
        lowest,
        depths,
        float(np.nanmedian(depths)),
        float(np.nanmax(depths)),
        sides_of(depths),
        float(np.nanmedian(rim.crest) - lowest),
        bond,
        _socket_volume(near, rim, only) - tooth_volume,
        _gap(near, surface),
        sag,
        rough,
        float(2 * np.pi * rim.radius.mean()),
    )


def _by_wall(near: Near, rim: Rim) -> Mesh:
    """Return the arch's surface about the margin and below it."""
    over, outside = rim.over(near.arch.corners.mean(axis=1))
    return near.arch.part((over < CREST) & (outside < CREST))


def sides_of(depths: Floats) -> dict[str, float | None]:
    """Return the depth by side: mesial and distal the greatest, buccal and lingual the least within 30 degrees.

    Keys `on` and `back` are the row's two ways, `buccal` and `lingual` as named. None where a side shows no wall.
    """
    found: dict[str, float | None] = {}
    reach = int(SIDE / 360 * DIRECTIONS)
    for name, at, greatest in (("on", 0, True), ("buccal", 18, False), ("back", 36, True), ("lingual", 54, False)):
        here = depths[(at + np.arange(-reach, reach + 1)) % DIRECTIONS]
        here = here[np.isfinite(here)]
        found[name] = float(here.max() if greatest else here.min()) if len(here) > SEEN * (2 * reach + 1) else None
    return found


def _rim(near: Near, surface: Surface, only: Cutter) -> Rim | None:
    """Return the margin by direction: the highest wall in each half plane about the socket's centre."""
    wall = near.base.corners[near.facing]
    _normals, areas = normals_and_areas(wall)
    middles = wall.mean(axis=1)
    centre = np.average(middles[:, :2], axis=0, weights=areas + 1e-12)
    limit = float(np.linalg.norm(middles[:, :2] - centre, axis=1).max()) + 2 * CREST + 0.3
    half = DIRECTIONS // 2
    turns = np.arange(half) * 2 * np.pi / DIRECTIONS
    ways = np.cos(turns)[:, None] * near.way + np.sin(turns)[:, None] * near.out
    normals = np.column_stack([-ways[:, 1], ways[:, 0], np.zeros(half)])
    cut = Slab(near.base).cut(normals, normals[:, :2] @ centre)
    first, second = cut.first, cut.second
    r = [np.einsum("ij,ij->i", ends[:, :2] - centre, ways[cut.plane]) for ends in (first, second)]
    direction = cut.plane + half * (r[0] + r[1] < 0)
    keep = (np.abs(r[0]) < limit) & only.holds((first + second) / 2)
    first, second, direction, triangle = first[keep], second[keep], direction[keep], cut.triangle[keep]
    swap = (first[:, 2] > second[:, 2])[:, None]
    low, high = np.where(swap, second, first), np.where(swap, first, second)
    ends = _highest_wall(near, surface, low, high, direction, triangle)
    height, radius = _by_direction(ends, direction, centre, low, high)
    if np.isfinite(height).mean() < SEEN:
        return None
    filled = _filled(radius)
    reach = np.maximum(np.linalg.norm(low[:, :2] - centre, axis=1), np.linalg.norm(high[:, :2] - centre, axis=1))
    outward = (reach > filled[direction] - 0.02) & (reach < filled[direction] + CREST)
    crest = np.full(DIRECTIONS, -np.inf)
    np.maximum.at(crest, direction[outward], high[outward, 2])
    crest = np.fmax(np.where(np.isfinite(crest), crest, np.nan), height)
    return Rim(centre, near.way, near.out, height, crest, filled, _filled(height))


def _highest_wall(near: Near, surface: Surface, low: Floats, high: Floats, direction: Ints, triangle: Ints) -> Floats:
    """Return for each segment how far up it is wall: 0 to 1 from its low end, NaN where it is none."""
    normals = normals_and_areas(near.base.corners)[0]
    touched = np.zeros(len(near.base.vertices), dtype=bool)
    touched[near.base.triangles[near.facing].ravel()] = True
    maybe = np.flatnonzero(np.asarray(touched[near.base.triangles].any(axis=1))[triangle])
    faces = normals[triangle[maybe]]

    def is_wall(which: Ints, part: Floats) -> NDArray[np.bool_]:
        points = low[maybe[which]] + part[:, None] * (high - low)[maybe[which]]
        found = surface.nearest(points, faces[which])
        turned = np.einsum("ij,ij->i", found.normal, faces[which]) <= -TURNED
        return np.asarray(turned & (np.abs(found.distance) <= WITHIN))

    every = np.arange(len(maybe))
    part = np.full(len(maybe), np.nan)
    top = is_wall(every, np.full(len(every), 0.98))
    part[top] = 1.0
    rest = every[~top]
    foot = rest[is_wall(rest, np.full(len(rest), 0.02))]
    a, b = np.full(len(foot), 0.02), np.full(len(foot), 0.98)
    for _turn in range(7):
        middle = (a + b) / 2
        here = is_wall(foot, middle)
        a, b = np.where(here, middle, a), np.where(here, b, middle)
    part[foot] = (a + b) / 2
    found = np.full(len(low), np.nan)
    found[maybe] = part
    return found


def _by_direction(part: Floats, direction: Ints, centre: Floats, low: Floats, high: Floats) -> tuple[Floats, Floats]:
    """Return the height of the highest wall in each direction, and its radius."""
    wall = np.flatnonzero(np.isfinite(part))
    points = low[wall] + part[wall, None] * (high - low)[wall]
    order = np.lexsort([points[:, 2], direction[wall]])
    height, radius = np.full(DIRECTIONS, np.nan), np.full(DIRECTIONS, np.nan)
    height[direction[wall][order]] = points[order, 2]
    radius[direction[wall][order]] = np.linalg.norm(points[order, :2] - centre, axis=1)
    return height, radius


def _filled(values: Floats) -> Floats:
    """Return values by direction with the missing ones drawn straight between their neighbours."""
    known = np.flatnonzero(np.isfinite(values))
    return np.asarray(np.interp(np.arange(DIRECTIONS), known, values[known], period=DIRECTIONS))


def _socket_volume(near: Near, rim: Rim, only: Cutter) -> float:
    """Return the volume between lid and base in mm3: the integral of (lid - w) over the base, seen along the axis.

    The divergence theorem for the field (0, 0, w - lid), which vanishes on the lid: no lid need be built, no mesh
    closed, and wall that overhangs counts with its sign.
    """
    total = 0.0
    for mask in (near.facing, ~near.facing):
        corners = split(only(near.base.corners[mask]), SMALL)[0]
        over, outside = rim.over(corners)
        if mask is not near.facing:
            keep = outside.mean(axis=1) < 0
            corners, over = corners[keep], over[keep]
        corners, over, _origin = clip(corners, over)
        total += _flux(corners, -over)
    return total


def _tooth(below: Floats, rim: Rim) -> tuple[float, float]:
    """Return surface (mm2) and volume (mm3) of a tooth below the lid."""
    corners = split(below, SMALL)[0]
    over, outside = rim.over(corners)
    keep = outside.mean(axis=1) < CREST
    corners, over, _origin = clip(corners[keep], over[keep])
    return float(normals_and_areas(corners)[1].sum()), _flux(corners, over)


def _flux(corners: Floats, heights: Floats) -> float:
    """Return the sum over triangles of mean height times area seen along the axis, upward faces positive."""
    a, b = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    return float(np.sum((a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]) / 2 * heights.mean(axis=1)))


def _gap(near: Near, surface: Surface) -> float:
    """Return the median gap between wall and tooth by area, in mm; negative where most of it lies in the tooth."""
    wall = near.base.corners[near.facing]
    normals, areas = normals_and_areas(wall)
    found = surface.nearest(wall.mean(axis=1), normals)
    keep = (np.abs(found.distance) <= WITHIN) & (np.einsum("ij,ij->i", found.normal, normals) <= -TURNED)
    if not keep.any():
        return float("nan")
    return median_by(found.distance[keep], areas[keep])
