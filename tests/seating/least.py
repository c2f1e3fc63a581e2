"""The least section of a blended connector, searched over the field's own sections and never over a mesh."""

from dataclasses import dataclass

import numpy as np
from scipy.optimize import minimize
from skimage.measure import find_contours

from tests.seating.blended import BlendedPair
from tests.seating.fields import Blend, Floats


@dataclass(frozen=True)
class Plane:
    """A connector's least section: the plane (point, unit normal along the row) and the area in mm2."""

    point: Floats
    normal: Floats
    area: float


def least_section(pair: BlendedPair, number: int) -> Plane:
    """Return the plane of least area by the report's definition, by a simplex search over the field's own sections.

    Within 0.8 mm and 28 degrees of the narrowest section across the row.
    """
    bar = pair.bars[number]
    blend = pair.arch.near(bar.at, 0.5)
    along = np.append(pair.curve.along(np.array(sum(pair.s[tooth] for tooth in bar.between) / 2)), 0.0)
    across = np.cross([0, 0, 1.0], along)
    upright = np.arange(-1.2, 1.21, 0.1)
    narrow = bar.at + along * upright[np.argmin([_section(blend, bar.at + d * along, along, 0.08) for d in upright])]

    def placed(x: Floats) -> tuple[Floats, Floats]:
        normal = along + x[1] * across + x[2] * np.array([0, 0, 1.0])
        return narrow + x[0] * along, normal / np.linalg.norm(normal)

    def area(x: Floats, cell: float) -> float:
        if abs(x[0]) > 0.8 or np.hypot(x[1], x[2]) > np.tan(np.radians(28)):
            return 99.0
        return _section(blend, *placed(x), cell)

    best = min(
        (minimize(area, start, args=(0.1,), method="Nelder-Mead", options={"xatol": 4e-3, "fatol": 1e-4,
                  "initial_simplex": start + 0.2 * np.vstack([np.zeros(3), np.eye(3)]), "maxiter": 70})
         for start in (np.zeros(3), np.array([0.1, 0.1, -0.2]))),
        key=lambda found: found.fun,
    )  # fmt: skip
    point, normal = placed(best.x)
    return Plane(point, normal, _section(blend, point, normal, 0.03))


def _section(blend: Blend, point: Floats, normal: Floats, cell: float) -> float:
    """Return the area of the largest loop of a plane section of a field."""
    one = np.cross(normal, [0, 0, 1.0])
    one /= np.linalg.norm(one)
    two = np.cross(one, normal)
    side = np.arange(-4.6, 4.6 + cell, cell)  # whole crowns too: a loop that is cut off has no area
    grid = point + side[:, None, None] * one + side[None, :, None] * two
    values = blend.value(grid.reshape(-1, 3)).reshape(len(side), -1)
    areas = [0.0]
    for loop in find_contours(values, 0.0):
        x, y = (loop * cell).T
        areas.append(abs(float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)) / 2))
    return max(areas)
