"""How base and arch lie to each other: whether they overlap, where they come nearest, whether the arch goes in."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from benchapp.core.findings import lie_in
from benchapp.core.words import _
from benchapp.seating.clearance import Closest, Overlap, least_clearance, overlap_of, shallow_overlap
from benchapp.seating.measure import Given
from benchapp.seating.pair import Pair
from benchapp.seating.wayin import Overhang, Overhangs, overhangs, undercut_of

MOST_UNDERCUT: Final = 0.05  # mm: more, and the arch does not go in along the axis
LEAST: Final = 1e-6  # mm3: less is rounding


@dataclass(frozen=True)
class Seat:
    """How the parts lie to each other, in the frame of the axis: what lies in both, where they come nearest (None with
    any overlap), where base stands above arch and where most of it does (None where it nowhere does)."""

    overlap: Overlap
    nearest: Closest | None
    overhangs: Overhangs | None
    widest: Overhang | None

    @property
    def clearance(self) -> float:
        """The least distance of the parts in mm."""
        return self.nearest.distance if self.nearest else 0.0

    @property
    def undercut(self) -> float | None:
        """The widest undercut in mm; None where the parts overlap, since it means nothing then."""
        if lie_in(self.overlap.volume):
            return None
        return self.widest.width if self.widest else 0.0


def seat_of(pair: Pair, given: Given) -> tuple[Seat, list[str]]:
    """Return how the parts lie to each other, and what is to be warned of."""
    warnings: list[str] = []
    overlap = _overlap(pair, warnings)
    nearest = least_clearance(pair.close, pair.facing.away) if overlap.volume == 0 else None
    if nearest:
        nearest = Closest(nearest.distance, given.frame @ nearest.point)
    overlap = Overlap(overlap.volume, overlap.points @ given.frame.T, overlap.deep)
    if lie_in(overlap.volume):
        return Seat(overlap, nearest, None, None), warnings
    found = overhangs(given.base.some(), given.arch.some())
    return Seat(overlap, nearest, found, undercut_of(found)), warnings


def _overlap(pair: Pair, warnings: list[str]) -> Overlap:
    """Return what lies in both parts: by a boolean of closed meshes, else by the facing surfaces."""
    base, arch = pair.base.mesh, pair.arch.mesh
    surfaces = (pair.close[0].surface, pair.close[1].surface)
    found = overlap_of(base, arch, surfaces) if pair.base.closed and pair.arch.closed else None
    if found is None:
        warnings.append(_("The overlap is told from the facing surfaces alone, since a part is not closed."))
        found = shallow_overlap(base.some(pair.facing.base), arch.some())
    return Overlap(0.0, np.zeros((0, 3)), np.zeros(0)) if found.volume < LEAST else found
