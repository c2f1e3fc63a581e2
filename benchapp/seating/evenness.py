"""How even a margin is told from direction to direction: where it is not, its heights are less sure."""

from typing import Final, NamedTuple

import numpy as np

from benchapp.seating.mesh import Floats, Ints

SIDES: Final = ("on", "buccal", "back", "lingual")  # from the row's way on, a quarter turn each
FEW: Final = 3  # directions more or less that may count
HIGHEST: Final = ("deepest", "on", "back")  # kinds that are the greatest of their directions
LEAST: Final = ("buccal", "lingual")


class Evenness(NamedTuple):
    """Of what a kind of depth is told from, in mm: how far single directions lie from their neighbours, by how much the
    margin climbs over one facet, and by how much the number moves where a few directions more or less count."""

    uneven: float = 0.0
    climbs: float = 0.0
    hangs: float = 0.0


def directions_of(count: int, reach: int) -> dict[str, Ints]:
    """Return the directions of `count` that make up each side: `reach` to either side of its middle."""
    near = np.arange(-reach, reach + 1)
    return {side: (quarter * count // 4 + near) % count for quarter, side in enumerate(SIDES)}


def evenness(depths: Floats, crests: Floats, facet: float, reach: int) -> dict[str, Evenness]:
    """Return how even each kind of depth is.

    Depths to margin and crest by direction in mm (NaN where there is none), the width of a facet in directions, and the
    directions to either side that make up a side; means over those that a kind is told from.
    """
    found = {"crest": _of("crest", crests, facet)}
    found |= {name: _of(name, depths, facet) for name in ("depth", "deepest")}
    for side, here in directions_of(len(depths), reach).items():
        found[side] = _of(side, depths, facet, here)
    return found


def _of(name: str, heights: Floats, facet: float, chosen: Ints | slice = slice(None)) -> Evenness:
    back, on = np.roll(heights, 1), np.roll(heights, -1)
    apart, climbs = (np.abs(back - 2 * heights + on) / 2)[chosen], (np.abs(on - back) / 2 * facet)[chosen]
    known = np.isfinite(apart)
    if not known.any():
        return Evenness()
    return Evenness(float(apart[known].mean()), float(climbs[known].mean()), _hangs(name, heights[chosen]))


def _hangs(name: str, heights: Floats) -> float:
    inner = np.sort(heights[np.isfinite(heights)])
    if name in HIGHEST:
        return float(inner[-1] - inner[-FEW:][0])
    if name in LEAST:
        return float(inner[:FEW][-1] - inner[0])
    middle = len(inner) // 2
    return float(inner[middle : middle + FEW + 1][-1] - inner[max(0, middle - FEW)]) / 2
