"""How even a margin is told from direction to direction: where it is not, its heights are less sure."""

from typing import Final

import numpy as np

from benchapp.seating.mesh import Floats, Ints

SIDES: Final = ("on", "buccal", "back", "lingual")  # from the row's way on, a quarter turn each


def directions_of(count: int, reach: int) -> dict[str, Ints]:
    """Return the directions of `count` that make up each side: `reach` to either side of its middle."""
    near = np.arange(-reach, reach + 1)
    return {side: (quarter * count // 4 + near) % count for quarter, side in enumerate(SIDES)}


def evenness(depths: Floats, crests: Floats, facet: float, reach: int) -> dict[str, tuple[float, float]]:
    """Return for each kind of depth (mm) how far single directions lie from their neighbours, and by how much the
    margin climbs over one facet.

    Depths to margin and crest by direction (NaN where there is none), the width of a facet in directions, and the
    directions to either side that make up a side; means over those that a kind is told from.
    """
    found = {"crest": _mean_of(crests, facet)}
    found["depth"] = found["deepest"] = _mean_of(depths, facet)
    for side, here in directions_of(len(depths), reach).items():
        found[side] = _mean_of(depths, facet, here)
    return found


def _mean_of(heights: Floats, facet: float, chosen: Ints | slice = slice(None)) -> tuple[float, float]:
    back, on = np.roll(heights, 1), np.roll(heights, -1)
    apart, climbs = (np.abs(back - 2 * heights + on) / 2)[chosen], (np.abs(on - back) / 2 * facet)[chosen]
    known = np.isfinite(apart)
    return (float(apart[known].mean()), float(climbs[known].mean())) if known.any() else (0.0, 0.0)
