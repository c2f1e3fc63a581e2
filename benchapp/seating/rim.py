"""The margin of one socket by direction: how high its wall goes, its crest, and the lid that is laid over it."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from benchapp.seating.around import DIRECTIONS, among, filled, over_facets
from benchapp.seating.mesh import Floats, Ints, Mesh, middles_of, normals_and_areas
from benchapp.seating.near import Surface, round_about
from benchapp.seating.noise import NOISY
from benchapp.seating.normals import normal_at
from benchapp.seating.pieces import Cutter
from benchapp.seating.sections import Slab
from benchapp.seating.skin import Skin

WITHIN: Final = 0.35  # mm: no farther from the tooth is wall
TURNED: Final = 0.8  # wall faces the tooth: n·n at most minus this
CREST: Final = 0.3  # mm outwards of the margin in which the crest is looked for
LIP: Final = 0.5  # mm beyond what faces the arch in which a wall may go on
SEEN: Final = 0.5  # of the directions must show wall
FEW: Final = 4  # strewn points that are looked at beside each
PARTS: Final = 5  # into which a segment is divided where its wall ends, three times over
BESIDE: Final = 2  # directions to either side of each, of a noisy margin
OUTWARDS: Final = 0.05  # outward part of a normal: a plane that hardly touches a round peg sees little of it
INWARDS: Final = 0.3  # the same inwards, of the wall about a peg
PEG: Final = 0.3  # mm between a peg and that wall, at least
DOWN: Final = 0.1  # mm, or an edge, below the highest facing triangle the end of the wall is looked for first


@dataclass(frozen=True)
class Rim:
    """Margin of one socket by direction: angles from the row's way on, heights of wall and crest, radius (mm).

    Directions without wall are NaN in `wall`; `lid` is its mean over the angle of a facet, with those filled from their
    neighbours. `opening` is where the wall opens: the sum of its normals by area (3,).
    """

    centre: Floats
    way: Floats
    out: Floats
    wall: Floats
    crest: Floats
    radius: Floats
    lid: Floats
    opening: Floats

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
class Near:
    """What lies about one tooth: base and arch, which triangles of the base face the arch; the files' noise
    and the edge of their facets there (mm), and whether the base is closed. `surface` and `arch_skin` are of the whole
    arch."""

    base: Mesh
    facing: NDArray[np.bool_]
    arch: Floats
    surface: Surface
    way: Floats
    out: Floats
    base_skin: Skin
    arch_skin: Skin
    noise: float = 0.0
    edge: float = 0.0
    closed: bool = True


def rim_of(near: Near, only: Cutter) -> Rim | None:
    """Return the margin by direction: the highest wall in each half plane about the socket's centre."""
    wall = near.base.corners[near.facing]
    facings, areas = normals_and_areas(wall)
    middles = middles_of(wall)
    centre = np.average(middles[:, :2], axis=0, weights=areas + 1e-12)
    limit = float(np.linalg.norm(middles[:, :2] - centre, axis=1).max()) + 2 * CREST + 0.3
    half = DIRECTIONS // 2
    turns = np.arange(DIRECTIONS) * 2 * np.pi / DIRECTIONS
    ways = np.cos(turns)[:, None] * near.way + np.sin(turns)[:, None] * near.out
    normals = np.column_stack([-ways[:half, 1], ways[:half, 0], np.zeros(half)])
    cut = Slab(near.base).cut(normals, normals[:, :2] @ centre)
    first, second = cut.first, cut.second
    r = [np.einsum("ij,ij->i", ends[:, :2] - centre, ways[cut.plane]) for ends in (first, second)]
    direction = cut.plane + half * (r[0] + r[1] < 0)
    keep = (np.abs(r[0]) < limit) & only.holds((first + second) / 2)
    first, second, direction, triangle = first[keep], second[keep], direction[keep], cut.triangle[keep]
    swap = (first[:, 2] > second[:, 2])[:, None]
    low, high = np.where(swap, second, first), np.where(swap, first, second)
    keep = ~_on_pegs(near, high, np.abs(r[0] + r[1])[keep] / 2, ways[direction], direction, triangle)
    low, high, direction, triangle = low[keep], high[keep], direction[keep], triangle[keep]
    ends = _highest_wall(near, low, high, direction, triangle)
    height, radius = _by_direction(ends, direction, centre, low, high)
    if np.isfinite(height).mean() < SEEN:
        return None
    if near.noise >= NOISY:  # a corner that strays upwards is no margin
        height, radius = among(height, BESIDE), among(radius, BESIDE)
    radius = filled(radius)
    lid = filled(over_facets(height, near.edge / max(float(radius.mean()), 0.5)))
    crest = np.fmax(_crest(low, high, direction, centre, radius), height)
    return Rim(centre, near.way, near.out, height, crest, radius, lid, areas @ facings)


def _on_pegs(
    near: Near, high: Floats, away: Floats, ways: Floats, direction: Ints, triangle: Ints
) -> NDArray[np.bool_]:
    """Tell which segments, by their higher ends (n, 3), how far they lie from the centre (mm) and which way (n, 2), are
    of a peg that stands in the socket, or nearer: in their direction something above the floor looks outwards, and wall
    looks inwards beyond it."""
    facings = normals_and_areas(near.base.corners[triangle])[0]
    outwards = np.einsum("ij,ij->i", facings[:, :2], ways)
    wall = near.facing[triangle]
    floor, outer, peg = np.full(DIRECTIONS, np.inf), np.full(DIRECTIONS, -np.inf), np.full(DIRECTIONS, -np.inf)
    np.minimum.at(floor, direction[wall], high[wall, 2])
    inner = wall & (outwards < -INWARDS)
    np.maximum.at(outer, direction[inner], away[inner])
    of_peg = (outwards > OUTWARDS) & (away < outer[direction] - PEG) & (high[:, 2] > floor[direction] + PEG)
    np.maximum.at(peg, direction[of_peg], away[of_peg])
    return np.asarray(away <= peg[direction])


def _crest(low: Floats, high: Floats, direction: Ints, centre: Floats, radius: Floats) -> Floats:
    """Return the highest point of segments by direction from the margin to CREST outwards of it, NaN where none is."""
    near, far = radius[direction] - 0.02, radius[direction] + CREST
    foot, top = (np.linalg.norm(ends[:, :2] - centre, axis=1) for ends in (low, high))
    limit = np.where(top > foot, far, near)  # beyond which its upper part counts no more
    part = np.ones(len(foot))
    np.divide(limit - foot, top - foot, out=part, where=np.abs(top - foot) > 1e-9)
    part = np.clip(part, 0.0, 1.0)
    some = (np.maximum(foot, top) > near) & (np.minimum(foot, top) < far)
    found = np.full(DIRECTIONS, -np.inf)
    np.maximum.at(found, direction[some], (low[:, 2] + part * (high - low)[:, 2])[some])
    return np.where(np.isfinite(found), found, np.nan)


def _highest_wall(near: Near, low: Floats, high: Floats, direction: Ints, triangle: Ints) -> Floats:
    """Return for each segment how far up it is wall: 0 to 1 from its low end, NaN where it is none or not looked at.

    In each direction the segments from a little below the highest one that faces the arch are looked at; and all of
    them where none of those is wall.
    """
    maybe = np.flatnonzero(round_about(near.base, near.facing, LIP)[triangle])
    sure = np.full(DIRECTIONS, -np.inf)
    faces = near.facing[triangle]
    np.maximum.at(sure, direction[faces], high[faces, 2])
    upper = high[maybe, 2] > sure[direction[maybe]] - max(DOWN, near.edge)
    found = _wall_of(near, low, high, direction, triangle, maybe[upper])
    seen = np.zeros(DIRECTIONS, dtype=bool)
    seen[direction[np.isfinite(found)]] = True
    rest = maybe[~upper & ~seen[direction[maybe]]]
    if len(rest):
        found = np.fmax(found, _wall_of(near, low, high, direction, triangle, rest))
    return found


def _wall_of(near: Near, low: Floats, high: Floats, direction: Ints, triangle: Ints, maybe: Ints) -> Floats:
    """Return for the segments numbered in `maybe` how far up each is wall, NaN for others and where a whole one of the
    same direction reaches as high."""
    owner = triangle[maybe]
    corners, smooth = near.base.corners[owner], near.base_skin.normals_of(owner)
    flat = normals_and_areas(corners)[0]

    def is_wall(which: Ints, part: Floats) -> NDArray[np.bool_]:
        points = low[maybe[which]] + part[:, None] * (high - low)[maybe[which]]
        faces = normal_at(corners[which], smooth[which], points)
        found = near.surface.nearest(points, faces, FEW)
        against = normal_at(near.surface.corners[found.triangle], near.arch_skin.normals_of(found.triangle), found.foot)
        turned = np.einsum("ij,ij->i", against, faces) <= -TURNED
        if near.noise < NOISY:  # a coarse edge tilts the smooth normals of all that ends at it: facets count too
            turned |= np.einsum("ij,ij->i", against, flat[which]) <= -TURNED
        return np.asarray(turned & (np.abs(found.distance) <= WITHIN))

    every = np.arange(len(maybe))
    part = np.full(len(maybe), np.nan)
    top = is_wall(every, np.full(len(every), 0.98))
    part[top] = 1.0
    best = np.full(DIRECTIONS, -np.inf)
    np.maximum.at(best, direction[maybe[top]], high[maybe[top], 2])
    rest = every[~top & (high[maybe, 2] > best[direction[maybe]])]  # of no other could the wall end higher
    foot = rest[is_wall(rest, np.full(len(rest), 0.02))]
    np.maximum.at(best, direction[maybe[foot]], low[maybe[foot], 2])
    foot = foot[high[maybe[foot], 2] >= best[direction[maybe[foot]]]]
    a, b = np.full(len(foot), 0.02), np.full(len(foot), 0.98)
    for _turn in range(3):  # each time the part between its highest point that is wall and the next is looked at
        steps = a + (b - a) * np.arange(1, PARTS)[:, None] / PARTS
        walls = is_wall(np.tile(foot, PARTS - 1), steps.ravel()).reshape(steps.shape)
        highest = np.max(walls * np.arange(1, PARTS)[:, None], axis=0, initial=0)
        a, b = a + (b - a) * highest / PARTS, a + (b - a) * (highest + 1) / PARTS
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
