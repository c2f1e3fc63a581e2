"""What a degree of axis costs: by how much each depth moves when the axis leans, with margin and tooth as they are."""

from typing import Final

import numpy as np

from benchapp.seating.mesh import Floats

WAYS: Final = 12  # directions in which the axis is leant
KEYS: Final = ("depth", "deepest", "crest", "on", "buccal", "back", "lingual")


def per_degree(margin: Floats, crest: Floats, tooth: Floats, reach: int) -> dict[str, float]:
    """Return by name the greatest move of each depth in mm for one degree of lean.

    `margin` (n, 3) are the margin's points by direction (NaN where there is none), `crest` (n,) the heights of the
    crest, `tooth` (m, 3) corners of the tooth below, `reach` the directions to either side that make up a side.
    """
    if not len(tooth):
        return dict.fromkeys(KEYS, 0.0)
    plain = _depths(margin, crest, tooth, reach, np.zeros(2))
    moved = dict.fromkeys(KEYS, 0.0)
    for turn in np.arange(WAYS) * 2 * np.pi / WAYS:
        lean = np.tan(np.radians(1.0)) * np.array([np.cos(turn), np.sin(turn)])
        for name, depth in _depths(margin, crest, tooth, reach, lean).items():
            if np.isfinite(depth) and np.isfinite(plain[name]):
                moved[name] = max(moved[name], abs(depth - plain[name]))
    return moved


def _depths(margin: Floats, crest: Floats, tooth: Floats, reach: int, lean: Floats) -> dict[str, float]:
    lowest = float((tooth[:, 2] + tooth[:, :2] @ lean).min())
    over = margin[:, :2] @ lean
    depth = margin[:, 2] + over - lowest
    found = {
        "depth": float(np.nanmedian(depth)),
        "deepest": float(np.nanmax(depth)),
        "crest": float(np.nanmedian(crest + over) - lowest),
    }
    quarter = len(margin) // 4
    for name, at, pick in (("on", 0, np.max), ("buccal", 1, np.min), ("back", 2, np.max), ("lingual", 3, np.min)):
        here = depth[(at * quarter + np.arange(-reach, reach + 1)) % len(depth)]
        here = here[np.isfinite(here)]
        found[name] = float(pick(here)) if len(here) else float("nan")
    return found
