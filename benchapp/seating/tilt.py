"""What a degree of axis costs: by how much each depth moves when the axis leans, with margin and tooth as they are."""

from typing import Final

import numpy as np

from benchapp.seating.evenness import HIGHEST, directions_of
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
    turn = np.arange(WAYS) * 2 * np.pi / WAYS
    leans = np.concatenate([np.zeros((1, 2)), np.tan(np.radians(1.0)) * np.column_stack([np.cos(turn), np.sin(turn)])])
    moved = dict.fromkeys(KEYS, 0.0)
    for name, depths in _depths(margin, crest, tooth, reach, leans.T).items():
        moved[name] = float(np.abs(depths[1:] - depths[0]).max())
    return moved


def _depths(margin: Floats, crest: Floats, tooth: Floats, reach: int, leans: Floats) -> dict[str, Floats]:
    """Return by name each depth that can be told, for every lean (2, n) of the axis: (n,)."""
    lowest = (tooth[:, 2:] + tooth[:, :2] @ leans).min(axis=0)
    over = margin[:, :2] @ leans
    depth, crests = margin[:, 2:] + over - lowest, crest[:, None] + over - lowest
    found = {}
    known, seen = np.isfinite(margin[:, 2]), np.isfinite(crest)
    if known.any():
        found = {"depth": np.median(depth[known], axis=0), "deepest": depth[known].max(axis=0)}
    if seen.any():
        found["crest"] = np.median(crests[seen], axis=0)
    for name, here in directions_of(len(margin), reach).items():
        if known[here].any():
            found[name] = (np.max if name in HIGHEST else np.min)(depth[here[known[here]]], axis=0)
    return found
