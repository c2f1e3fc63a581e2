"""Triangles cut at the middles of their longer sides: so pictures show what lies between the corners."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from benchapp.seating.mesh import Ints, Mesh, edge_keys

_TEMPLATES: Final = {  # corners 0 1 2, middles 3 4 5 of the edges 0-1, 1-2, 2-0
    1: [(0, 3, 2), (3, 1, 2)],
    2: [(0, 3, 2), (2, 3, 4), (3, 1, 4)],
    3: [(0, 3, 5), (3, 1, 4), (5, 4, 2), (3, 4, 5)],
}


def refined(mesh: Mesh, wanted: NDArray[np.bool_], longest: float) -> Mesh:
    """Return the mesh with those sides of wanted triangles halved that are longer, and their neighbours fitted."""
    ends = mesh.triangles
    one, two = ends, np.roll(ends, -1, axis=1)
    key = edge_keys(mesh)
    long = np.linalg.norm(mesh.vertices[one] - mesh.vertices[two], axis=2) > longest
    halved = np.unique(key[long & wanted[:, None]])
    if not len(halved):
        return mesh
    at = np.minimum(np.searchsorted(halved, key), len(halved) - 1)
    cut = halved[at] == key
    fresh = len(mesh.vertices) + at
    low, high = halved // len(mesh.vertices), halved % len(mesh.vertices)
    vertices = np.concatenate([mesh.vertices, (mesh.vertices[low] + mesh.vertices[high]) / 2])
    return Mesh(vertices, _cut(ends, np.where(cut, fresh, -1)))


def _cut(triangles: Ints, middle: Ints) -> Ints:
    """Return triangles (m, 3) cut where their edges have a middle: the number of its vertex, else -1."""
    count = (middle >= 0).sum(axis=1)
    found = [triangles[count == 0]]
    for wanted, template in _TEMPLATES.items():
        chosen = np.flatnonzero(count == wanted)
        has = middle[chosen] >= 0
        # turn each triangle so that its cut edges come first: one at 0, two at 0 and 1
        turn = {1: has.argmax(axis=1), 2: (~has).argmax(axis=1) + 1}.get(wanted, np.zeros(len(has), dtype=np.int64))
        at = (turn[:, None] + np.arange(3)) % 3
        points = np.concatenate(
            [np.take_along_axis(triangles[chosen], at, 1), np.take_along_axis(middle[chosen], at, 1)], axis=1
        )
        found += [points[:, corner] for corner in template]
    return np.concatenate(found)
