"""The floor of one socket: what of a base lies under it and bounds no socket, and where it is missing."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from benchapp.seating.mesh import Floats, Ints, middles_of, normals_and_areas, seen_of
from benchapp.seating.near import strew
from benchapp.seating.rim import Rim

CELL: Final = 0.2  # mm
UNDER: Final = 0.1  # mm below all wall about, at least: noise is less, a base of resin is thicker
DOWN: Final = -0.3  # upward part of a normal: noise turns steep wall over by less
THIN: Final = 0.02  # mm above the wall of its cell, where the surface looks down: a base ends in an edge about a hole
SKIRT: Final = 0.3  # mm within the margin, where nothing that is missing is looked for
LEAST: Final = 0.2  # mm2: less is a crack, or a triangle that was lost
AROUND: Final = np.ones((3, 3), dtype=bool)
ABOUT: Final = 2  # cells about a hole that it may cover in part
HARDLY: Final = 0.3  # of a cell
NARROW: Final = np.ones((2, 2), dtype=bool)  # cells: what is missing in a thinner strip is no hole


@dataclass(frozen=True)
class Floor:
    """A grid over one socket, seen along the axis: of the wall that faces the tooth and looks up, the lowest point of
    each cell, and which part of each cell all that wall covers.

    `low` (2,) is the corner of the grid; heights in mm, infinite where there is no such wall.
    """

    rim: Rim
    low: Floats
    height: Floats
    covered: Floats

    def hides(self, corners: Floats) -> NDArray[np.bool_]:
        """Tell which triangles (n, 3, 3) lie under the socket: they are of the base's other side.

        What looks down does so under wall of its cell or of one beside it; what looks up may be the ground of a pit,
        and does so only where there is wall all about.
        """
        middles = middles_of(corners)
        i, j = _cells(middles, self.low, self.height.shape).T
        down = normals_and_areas(corners)[0][:, 2] < DOWN
        lowest, every = ndimage.minimum_filter(self.height, 3)[i, j], ndimage.maximum_filter(self.height, 3)[i, j]
        own = np.where(np.isfinite(self.height[i, j]), self.height[i, j], lowest)
        up = (middles[:, 2] < lowest - UNDER) & np.isfinite(every)
        return np.asarray(np.where(down, middles[:, 2] < own + THIN, up))

    def missing(self, others: Floats) -> tuple[float, float]:
        """Return where nothing bounds the socket, neither its wall nor other triangles (n, 3, 3), as an area (mm2), and
        the volume from the lid down to the height of the wall beside it (mm3)."""
        seen = self.covered + _strewn(others, self.low, self.height.shape)[0]
        across = np.moveaxis(np.indices(seen.shape), 0, -1) * CELL + self.low + CELL / 2
        over, outside = self.rim.over(np.concatenate([across, np.zeros((*seen.shape, 1))], axis=-1))
        within = outside < -SKIRT
        holes = ndimage.binary_opening((seen < HARDLY) & within, NARROW)
        if not holes.any() or not np.isfinite(self.height).any():
            return 0.0, 0.0
        about = ndimage.binary_dilation(holes, AROUND, iterations=ABOUT) & (outside < 0)
        part = np.where(about, np.maximum(1 - seen, -1), 0)
        area = float(part.sum()) * CELL**2
        if area < LEAST:
            return 0.0, 0.0
        nearest = ndimage.distance_transform_edt(~np.isfinite(self.height), return_distances=False, return_indices=True)
        floor = self.height[tuple(nearest)]
        return area, float(np.sum(-(over + floor) * part) * CELL**2)


def floor_of(facing: Floats, rim: Rim) -> Floor:
    """Return the floor of a socket from the triangles (n, 3, 3) of its wall that face the tooth."""
    reach = float(rim.radius.max()) + 2 * CELL
    low = rim.centre - reach
    shape = (int(2 * reach / CELL) + 1,) * 2
    covered, points, owner, cells = _strewn(facing, low, shape)
    height = np.full(shape, np.inf)
    up = (normals_and_areas(facing)[0][:, 2] > 0)[owner]
    np.minimum.at(height, tuple(cells[up].T), points[up, 2])
    return Floor(rim, low, height, covered)


def _cells(points: Floats, low: Floats, shape: tuple[int, ...]) -> Ints:
    """Return the cell of points (n, 2 or 3), cut to the grid."""
    return np.asarray(np.clip(((points[:, :2] - low) / CELL).astype(np.int64), 0, np.array(shape) - 1))


def _strewn(corners: Floats, low: Floats, shape: tuple[int, ...]) -> tuple[Floats, Floats, Ints, Ints]:
    """Return which part of each cell triangles (n, 3, 3) cover, seen along the axis, with the points that tell it,
    their triangles and cells."""
    if not len(corners):
        return np.zeros(shape), np.zeros((0, 3)), np.zeros(0, dtype=np.int64), np.zeros((0, 2), dtype=np.int64)
    across = np.abs(seen_of(corners)) / 2 + 1e-9
    points, owner = strew(corners, CELL)
    share = across / np.maximum(np.bincount(owner, minlength=len(across)), 1)
    cells = _cells(points, low, shape)
    covered = np.bincount(cells @ np.array([shape[1], 1]), weights=share[owner], minlength=shape[0] * shape[1])
    return covered.reshape(shape) / CELL**2, points, owner, cells
