"""One tooth in its socket: margin by direction, depths, gap, the resin that fits below the margin, the bond."""

from dataclasses import dataclass, field
from typing import Final

import numpy as np

from benchapp.seating.mesh import Floats, median_by, normals_and_areas
from benchapp.seating.near import Surface
from benchapp.seating.pieces import Cutter, clip, split
from benchapp.seating.rim import CREST, DIRECTIONS, SEEN, TURNED, WITHIN, Near, Rim, rim_of
from benchapp.seating.tilt import per_degree

SIDE: Final = 30.0  # degrees to either side of mesial, distal, buccal, lingual
SMALL: Final = 0.6  # mm: triangles are made smaller than this before they are summed up


@dataclass(frozen=True)
class Socket:
    """What one tooth has below its margin: depths in mm, bond in mm2, gap volume in mm3.

    `around` is the margin's length, `edge` that of the file's facets, `leaning` what one degree of axis costs each
    depth (mm), `moved` by how much each number differs from that of the file's own triangles.
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
    around: float
    edge: float
    leaning: dict[str, float]
    moved: dict[str, float] = field(default_factory=dict)

    def values(self) -> dict[str, float]:
        """Return its numbers by short names; NaN where a side shows no wall."""
        sides = {name: np.nan if depth is None else depth for name, depth in self.sides.items()}
        return sides | {
            "depth": self.depth_median,
            "deepest": self.depth_max,
            "crest": self.crest_median,
            "bond": self.bond,
            "volume": self.volume,
            "gap": self.gap,
        }

    def apart_from(self, other: "Socket | None") -> dict[str, float]:
        """Return by how much each number differs from another look at the same tooth; 0 where it cannot be told."""
        those = other.values() if other else {}
        found = {name: value - those.get(name, np.nan) for name, value in self.values().items()}
        return {name: float(value) if np.isfinite(value) else 0.0 for name, value in found.items()}


def socket_of(near: Near, only: Cutter) -> Socket | None:
    """Return what one tooth has below its margin; None when hardly any wall is seen about it.

    `only` cuts triangles to those between the upright planes of this tooth. Heights and directions as defined in
    DEVELOPERS.md, `definitions_version` 1.
    """
    surface = Surface(near.arch.corners)
    rim = rim_of(near, surface, only)
    if rim is None:
        return None
    below = only(near.arch.corners)
    _over, outside = rim.over(below)
    inside = (outside < CREST).any(axis=1)
    lowest = float(below[inside][:, :, 2].min()) if inside.any() else float(below[:, :, 2].min())
    depths = rim.wall - lowest
    bond, tooth_volume = _tooth(below, rim)
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
        float(2 * np.pi * rim.radius.mean()),
        near.edge,
        _leaning(rim, below[inside] if inside.any() else below),
    )


def _leaning(rim: Rim, tooth: Floats) -> dict[str, float]:
    """Return what one degree of axis costs each depth in mm; coordinates along the row and buccal."""
    turn = np.arange(DIRECTIONS) * 2 * np.pi / DIRECTIONS
    margin = np.column_stack([rim.radius * np.cos(turn), rim.radius * np.sin(turn), rim.wall])
    points = tooth.reshape(-1, 3)
    points = points[points[:, 2] < points[:, 2].min() + 0.3]
    off = points[:, :2] - rim.centre
    local = np.column_stack([off @ rim.way, off @ rim.out, points[:, 2]])
    return per_degree(margin, rim.crest, local, int(SIDE / 360 * DIRECTIONS))


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
