"""One tooth in its socket: margin by direction, depths, gap, the resin that fits below the margin, the bond."""

from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np

from benchapp.seating.around import DIRECTIONS, among, median
from benchapp.seating.evenness import HIGHEST, Evenness, directions_of, evenness
from benchapp.seating.floor import SKIRT, floor_of
from benchapp.seating.mesh import Floats, median_by, middles_of, normals_and_areas, seen_of
from benchapp.seating.noise import lowest_of
from benchapp.seating.pieces import Cutter, clip, split
from benchapp.seating.rim import CREST, SEEN, TURNED, WITHIN, Near, Rim, rim_of
from benchapp.seating.tilt import per_degree

SIDE: Final = 30.0  # degrees to either side of mesial, distal, buccal, lingual
REACH: Final = int(SIDE / 360 * DIRECTIONS)
TURNED_BY: Final = 1  # directions, 5 degrees: how a tooth is turned is known about as well
CALM: Final = 3  # directions to either side, 15 degrees, of which the upper quartile counts for the least of a side
SMALL: Final = 0.6  # mm: triangles are made smaller than this before they are summed up
MOST_SLIM: Final = 600.0  # of `slim`: of slivers more is not believed
FEW: Final = 3  # strewn points beside each: a fourth would move its gap by less than 0.00003 mm
MANY: Final = 3000  # triangles of a wall, evenly chosen, that tell its gap


@dataclass(frozen=True)
class Socket:
    """What one tooth has below its margin: depths in mm, bond in mm2, gap volume in mm3, what is open below in mm2.

    `around` is the margin's length, `edge` that of the file's facets, `foot` are the tooth's lowest corners (n, 3) with
    coordinates along the row and buccal about the margin's centre, `aside` by how much each side would be told less and
    more if the tooth were turned by `TURNED_BY` directions in the row, `uneven` what `evenness` tells of each depth,
    `facets` what the smooth surface likely has more than its facets (gap, bond, volume) and, as `rise`, how far it lies
    from them on the whole (mm), with the parts that they come from (`more`, `slim`: see `_gap`).
    """

    rim: Rim
    lowest: float
    depths: Floats
    depth_median: float
    depth_max: float
    sides: dict[str, float | None]
    aside: dict[str, tuple[float, float]]
    crest_median: float
    bond: float
    volume: float
    open: float
    gap: float
    around: float
    edge: float
    foot: Floats
    uneven: dict[str, Evenness]
    facets: dict[str, float]

    @cached_property
    def leaning(self) -> dict[str, float]:
        """What one degree of axis costs each depth, in mm; reckoned when it is asked, since most axes are given."""
        turn = np.arange(DIRECTIONS) * 2 * np.pi / DIRECTIONS
        rim = self.rim
        margin = np.column_stack([rim.radius * np.cos(turn), rim.radius * np.sin(turn), rim.wall])
        return per_degree(margin, rim.crest, self.foot, REACH)


def socket_of(near: Near, only: Cutter) -> Socket | None:
    """Return what one tooth has below its margin; None when hardly any wall is seen about it.

    `only` cuts triangles to those between the upright planes of this tooth. Heights and directions as defined in
    DEVELOPERS.md, `definitions_version` 6.
    """
    rim = rim_of(near, only)
    if rim is None:
        return None
    below = only(near.arch)
    if not len(below):
        return None
    _over, outside = rim.over(below)
    inside = outside.min(axis=1) < CREST
    under = below[inside] if inside.any() else below
    lowest = lowest_of(under[:, :, 2], near.noise)
    depths = rim.wall - lowest
    sides = sides_of(depths)
    bond, tooth_volume = _tooth(below, rim)
    gap, facets = _gap(near)
    socket_volume, open_ = _socket_volume(near, rim, only)
    return Socket(
        rim,
        lowest,
        depths,
        median(depths),
        float(np.nanmax(depths)),
        sides,
        aside_of(depths, sides),
        median(rim.crest) - lowest,
        bond,
        socket_volume - tooth_volume,
        open_,
        gap,
        float(2 * np.pi * rim.radius.mean()),
        near.edge,
        _foot(rim, under),
        evenness(depths, rim.crest - lowest, near.edge / (2 * np.pi / DIRECTIONS * float(rim.radius.mean())), REACH),
        facets | {"bond": facets["more"] * bond, "volume": (facets["gap"] + facets["more"] * gap) * bond},
    )


def _foot(rim: Rim, tooth: Floats) -> Floats:
    """Return what of a tooth's corners lies within 0.3 mm of the lowest, about the margin's centre."""
    points = tooth.reshape(-1, 3)
    points = points[points[:, 2] < points[:, 2].min() + 0.3]
    off = points[:, :2] - rim.centre
    return np.column_stack([off @ rim.way, off @ rim.out, points[:, 2]])


def aside_of(depths: Floats, sides: dict[str, float | None]) -> dict[str, tuple[float, float]]:
    """Return by how much each side would be told less and more with the tooth turned a little either way in its row,
    mm: a papilla that climbs at the end of a side belongs to it or not."""
    turned = [sides_of(np.roll(depths, by)) for by in (-TURNED_BY, TURNED_BY)]
    found = {}
    for name, depth in sides.items():
        if depth is not None:
            others = [other - depth for side in turned if (other := side[name]) is not None]
            found[name] = (-min([0.0, *others]), max([0.0, *others]))
    return found


def sides_of(depths: Floats) -> dict[str, float | None]:
    """Return the depth by side: mesial and distal the greatest, buccal and lingual the least within 30 degrees.

    The least is told from the upper quartile of each direction and three to either side: where facets are coarse or
    noisy, some at the margin are not taken for wall, which leaves notches and no peaks. Keys `on` and `back` are the
    row's two ways, `buccal` and `lingual` as named. None where a side shows no wall.
    """
    calm = among(depths, CALM, 0.75)
    found: dict[str, float | None] = {}
    for name, directions in directions_of(DIRECTIONS, REACH).items():
        here = (depths if name in HIGHEST else calm)[directions]
        here = here[np.isfinite(here)]
        seen = len(here) > SEEN * (2 * REACH + 1)
        found[name] = float(here.max() if name in HIGHEST else here.min()) if seen else None
    return found


def _socket_volume(near: Near, rim: Rim, only: Cutter) -> tuple[float, float]:
    """Return the volume between lid and base in mm3: the integral of (lid - w) over the base, seen along the axis; and
    how much of the socket is open below, in mm2, which is counted as if there were a floor.

    The divergence theorem for the field (0, 0, w - lid), which vanishes on the lid: no lid need be built, no mesh
    closed, and wall that overhangs counts with its sign. The other side of a thin base is no wall.
    """
    facing, others = (split(only(near.base.corners[mask]), SMALL)[0] for mask in (near.facing, ~near.facing))
    over, outside = rim.over(others)
    inside = _mean(outside)
    keep = inside < 0
    open_, total = 0.0, 0.0
    if not near.closed or (inside < -SKIRT).any():  # else all of the floor faces the tooth
        floor = floor_of(facing, rim)
        keep &= ~floor.hides(others)
        open_, total = floor.missing(others[keep])
    for corners, heights in ((facing, rim.over(facing)[0]), (others[keep], over[keep])):
        cut, above, _origin = clip(corners, heights)
        total += _flux(cut, -above)
    return total, open_


def _tooth(below: Floats, rim: Rim) -> tuple[float, float]:
    """Return surface (mm2) and volume (mm3) of a tooth below the lid."""
    corners = split(below, SMALL)[0]
    over, outside = rim.over(corners)
    keep = _mean(outside) < CREST
    corners, over, _origin = clip(corners[keep], over[keep])
    return float(normals_and_areas(corners)[1].sum()), _flux(corners, over)


def _flux(corners: Floats, heights: Floats) -> float:
    """Return the sum over triangles of mean height times area seen along the axis, upward faces positive."""
    return float(np.sum(seen_of(corners) / 2 * _mean(heights)))


def _mean(values: Floats) -> Floats:
    return np.asarray((values[:, 0] + values[:, 1] + values[:, 2]) / 3)


def _gap(near: Near) -> tuple[float, dict[str, float]]:
    """Return the median gap between wall and tooth by area, in mm, negative where most of it lies in the tooth; and
    what facets make of it: `gap` (mm more), `rise` (mm, without sign), `more` (part of the tooth's surface), `slim` (by
    how much noise makes that rough, in parts per mm² of noise), `varies` (how far half of the wall lies from the median
    gap, in mm: facets that lie alike keep it to nothing)."""
    wall = np.flatnonzero(near.facing)[:: max(1, int(near.facing.sum()) // MANY)]
    normals, areas = normals_and_areas(near.base.corners[wall])
    found = near.surface.nearest(middles_of(near.base.corners[wall]), normals, FEW)
    keep = (np.abs(found.distance) <= WITHIN) & (np.einsum("ij,ij->i", found.normal, normals) <= -TURNED)
    if not keep.any():
        return float("nan"), dict.fromkeys(("gap", "rise", "more", "slim", "varies"), 0.0)
    base, arch = near.base_skin.bends.rise[wall], near.arch_skin.bends.rise[found.triangle]
    weights = np.where(keep, areas, 0.0) + 1e-12

    def mean(values: Floats) -> float:
        return float(np.average(values, weights=weights))

    gap = median_by(found.distance[keep], areas[keep])
    facets = {
        "gap": -mean(base + arch),
        "rise": mean(np.abs(base) + np.abs(arch)),
        "more": mean(near.arch_skin.bends.more[found.triangle]),
        "slim": mean(slim_of(near.surface.corners[found.triangle])),
        "varies": median_by(np.abs(found.distance[keep] - gap), areas[keep]),
    }
    return gap, facets


def slim_of(corners: Floats) -> Floats:
    """Return by what part the area of triangles grows to the second order, for each mm² by which corners stray: the sum
    of the squares of their sides over 8 A² (the slope of a plane over corners that stray each by itself)."""
    sides = corners - np.roll(corners, 1, axis=1)
    areas = normals_and_areas(corners)[1]
    return np.asarray(np.minimum(np.einsum("mij,mij->m", sides, sides) / np.maximum(8 * areas**2, 1e-12), MOST_SLIM))
