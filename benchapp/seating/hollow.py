"""Teeth that are hollow from below: what of a hollow lies above the margin, where no resin is counted."""

from typing import Final

import numpy as np

from benchapp.seating.mesh import Floats, Mesh, bounds, middles_of, seen_of
from benchapp.seating.rim import Rim
from benchapp.seating.sections import Slab

WITHIN: Final = -0.3  # mm beyond the margin: farther within it, what looks down may be the roof of a hollow
HIGHER: Final = 0.1  # mm above the margin
ROOF: Final = 0.2  # mm2 that look down: less is noise, or a pore
STEP: Final = 0.1  # mm between the sections that are looked through
LEAST: Final = 0.3  # mm3: a hundredth of a drop


class Roofs:
    """What of an arch looks down, in the frame of the axis: asked tooth by tooth for the hollow under it."""

    def __init__(self, base: Mesh, arch: Mesh) -> None:
        self._base, self._arch = base, arch
        corners = arch.some()
        seen = seen_of(corners)
        self._middles, self._areas = middles_of(corners[seen < 0]), -seen[seen < 0] / 2

    def hollow(self, rim: Rim) -> float:
        """Return how much of a tooth's hollows lies above its margin, less the pegs in them, in mm3; 0 where it has
        none."""
        reach = float(rim.radius.max())
        off = np.abs(self._middles[:, :2] - rim.centre)
        near = (off[:, 0] < reach) & (off[:, 1] < reach) & (self._middles[:, 2] > float(rim.lid.min()))
        over, outside = rim.over(self._middles[near])
        roof = (over > HIGHER) & (outside < WITHIN)
        if float(self._areas[near][roof].sum()) < ROOF:
            return 0.0
        heights = np.arange(float(rim.lid.mean()) + STEP / 2, float(self._middles[near][roof, 2].max()), STEP)
        holes = -_loops(self._arch, rim, heights, holes=True)
        whole = np.flatnonzero(holes == 0)  # what is open again farther up is a fissure of the crown
        up = heights[: whole[0]] if len(whole) else heights
        found = float(holes[: len(up)].sum() - _loops(self._base, rim, up).sum()) * STEP
        return found if found > LEAST else 0.0


def _loops(mesh: Mesh, rim: Rim, heights: Floats, holes: bool = False) -> Floats:
    """Return for each level section the areas in mm2 of its loops that lie within a margin, those of holes negative, or
    of its holes alone: the waist of a tooth makes none, nor does another shell that reaches into it."""
    found = np.zeros(len(heights))
    if not len(heights):
        return found
    least, most = bounds(mesh.some()[:, :, :2])
    reach = float(rim.radius.max())
    inside = (least < rim.centre + reach) & (most > rim.centre - reach)
    cut = Slab(mesh.part(inside[:, 0] & inside[:, 1])).cut(np.tile([0.0, 0.0, 1.0], (len(heights), 1)), heights)
    if not len(cut.plane):
        return found
    loop = cut.loops()
    beyond = np.full(loop.max() + 1, -np.inf)
    np.maximum.at(beyond, loop, rim.over(cut.first)[1])
    areas = np.bincount(loop, weights=cut.signed())
    plane = np.zeros(len(areas), dtype=np.int64)
    plane[loop] = cut.plane
    chosen = (beyond < 0) & ((areas < 0) | (not holes))
    np.add.at(found, plane[chosen], areas[chosen])
    return found
