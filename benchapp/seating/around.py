"""Values by direction around a socket's centre: their median, means over a facet, gaps filled."""

from typing import Final

import numpy as np

from benchapp.seating.mesh import Floats

DIRECTIONS: Final = 72
BETWEEN: Final = 10  # parts of a step of the directions, from which a median is told


def median(values: Floats) -> float:
    """Return the median over the whole way round, straight between directions; those that are NaN do not count.

    Over the directions alone it hangs, where flanks are steep, on where just these lie.
    """
    part = np.arange(1, BETWEEN) / BETWEEN
    between = values[:, None] * (1 - part) + np.roll(values, -1)[:, None] * part
    return float(np.nanmedian(np.column_stack([values, between])))


def over_facets(values: Floats, wide: float) -> Floats:
    """Return values by direction as means over the angle (radians) of a facet: finer the edge is not known.

    NaN stays where it was; facets that are narrower than the step of the directions change nothing.
    """
    half = int(np.clip(round(0.7 * wide / (2 * np.pi / DIRECTIONS)), 0, 3))
    if not half:
        return values
    known = np.isfinite(values)
    found = values.copy()
    found[known] = np.nanmean(_beside(values, half)[:, known], axis=0)
    return found


def among(values: Floats, reach: int, part: float = 0.5) -> Floats:
    """Return of each direction and `reach` to either side the median, or another part of them from the least on; NaN
    stays where it was."""
    beside = np.sort(_beside(values, reach), axis=0)  # NaN last
    at = part * np.maximum(np.isfinite(beside).sum(axis=0) - 1, 0)
    low = np.floor(at).astype(np.int64)
    below, above = (np.take_along_axis(beside, rows[None], axis=0)[0] for rows in (low, np.ceil(at).astype(np.int64)))
    return np.where(np.isfinite(values), below + (at - low) * (above - below), np.nan)


def _beside(values: Floats, reach: int) -> Floats:
    """Return each direction's own value and those of `reach` directions to either side: (2 reach + 1, directions)."""
    return np.stack([np.roll(values, k) for k in range(-reach, reach + 1)])


def filled(values: Floats) -> Floats:
    """Return values by direction with the missing ones drawn straight between their neighbours."""
    known = np.flatnonzero(np.isfinite(values))
    return np.asarray(np.interp(np.arange(DIRECTIONS), known, values[known], period=DIRECTIONS))
