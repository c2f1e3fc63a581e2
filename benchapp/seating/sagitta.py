"""How far facets lie from the smooth surface that they stand for: the sagitta of its bend over them.

Two facets that turn by t along an edge, and reach h to either side of it, are chords of an arc whose sagitta is t·h/8;
the three edges of a triangle together tell how far the surface rises over it. Exact to the second order for even
triangles on cylinders and spheres (tested on them). Beside long facets short ones tell, as thinning leaves them.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchapp.seating.mesh import Floats, Ints, Mesh, edge_keys, lengths, median_by, middles_of, normals_and_areas
from benchapp.seating.normals import SHARP


@dataclass(frozen=True)
class Bends:
    """Per triangle of a mesh: how far the smooth surface rises outwards over the facet on the whole (m,), in mm, and by
    what part its area is more than the facet's (m,)."""

    rise: Floats
    more: Floats

    def part(self, keep: NDArray[np.bool_]) -> "Bends":
        """Return the bends of the triangles that are kept."""
        return Bends(self.rise[keep], self.more[keep])


def bends_of(mesh: Mesh, sharp: float = SHARP) -> Bends:
    """Return how far the facets of a mesh lie from the smooth surface; edges of more than `sharp` degrees do not
    count."""
    corners = mesh.corners
    normals, areas = normals_and_areas(corners)
    sides, turn = _turns(mesh, normals, areas, sharp)
    length = lengths(corners - np.roll(corners, -1, axis=1)).ravel()
    height = 2 * np.repeat(areas, 3) / np.maximum(length, 1e-9)
    reach = height[sides].min(axis=0)
    rise, turns, squares = np.zeros(len(corners)), np.zeros(len(corners)), np.zeros(len(corners))
    for side in sides // 3:
        rise += np.bincount(side, weights=turn * reach / 12, minlength=len(corners))
        turns += np.bincount(side, weights=turn, minlength=len(corners))
        squares += np.bincount(side, weights=turn**2, minlength=len(corners))
    return Bends(rise, np.maximum(2 * turns**2 - squares, 0) / 24)


def roughness(mesh: Mesh) -> float:
    """Return how rough the facets of a mesh are, in mm: a smooth surface turns one way at all edges of most triangles,
    a noisy one both ways."""
    normals, areas = normals_and_areas(mesh.corners)
    sides, turn = _turns(mesh, normals, areas, SHARP)
    if not len(turn):
        return 0.0
    a, b = sides // 3
    middles = middles_of(mesh.corners)
    bend = turn * lengths(middles[b] - middles[a])
    up, down = np.zeros(len(areas)), np.zeros(len(areas))
    for side in (a, b):
        np.maximum.at(up, side, bend)
        np.maximum.at(down, side, -bend)
    return median_by(np.minimum(up, down), areas)


def _turns(mesh: Mesh, normals: Floats, areas: Floats, sharp: float) -> tuple[Ints, Floats]:
    """Return the edges between two facets, as the numbers (2, n) that they have in both (three to a triangle), and by
    how much the facets turn there, in radians, outwards positive; without edges that are sharper than `sharp`."""
    key = edge_keys(mesh).ravel()
    order = np.argsort(key)
    ranked = key[order]
    same = np.flatnonzero(ranked[1:] == ranked[:-1])
    sides = np.stack([order[same], order[same + 1]])
    a, b = sides // 3
    middles = middles_of(mesh.corners)
    turn = np.arccos(np.clip(np.einsum("ij,ij->i", normals[a], normals[b]), -1, 1))
    fine = (turn < np.radians(sharp)) & (np.minimum(areas[a], areas[b]) > 1e-9)
    way = np.sign(np.einsum("ij,ij->i", normals[b] - normals[a], middles[b] - middles[a]))
    return sides[:, fine], (turn * way)[fine]
