"""Which shells of the arch are one body, and between which teeth its bodies stand apart."""

from itertools import combinations
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from benchapp.seating.mesh import Floats, Ints, Mesh, edges_of
from benchapp.seating.sound import SHELLS, shells_of, surrounded

TRIED: Final = 16  # corners of a shell, about, that are looked for within another
REACHES: Final = 2.5  # mm: a body that joins two teeth reaches farther to both sides, a piece with a slanting end less
LONE: Final = 3.0  # mm: a body that reaches less to both sides is a connector by itself, and no tooth


def apart(arch: Mesh, s: Floats, places: Floats) -> NDArray[np.bool_]:
    """Tell for each place along the row (mm) whether no body of the arch joins the teeth beside it.

    `s` are the places (n,) of the arch's vertices. Shells that reach into each other are one body: programs export
    teeth and connectors that way. Of open shells, such as a surface with cracks, it is not told.
    """
    shell = shells_of(arch)
    numbers = np.flatnonzero(np.bincount(shell))
    unknown = np.zeros(len(places), dtype=bool)
    if not 1 < len(numbers) <= SHELLS:
        return unknown
    parts = {int(one): arch.part(shell == one) for one in numbers}
    if any(edges_of(part).open for part in parts.values()):
        return unknown
    body = _bodies(parts)[shell]
    along = s[arch.triangles]
    ends = [(along[body == one].min(), along[body == one].max()) for one in np.unique(body)]
    before, after = (
        np.array([[way * (place - end[k]) for end in ends] for place in places]) for way, k in ((1, 0), (-1, 1))
    )
    less, more = np.minimum(before, after), np.maximum(before, after)
    return np.asarray(~((less > REACHES) | (less > 0) & (more < LONE)).any(axis=1))


def _bodies(parts: dict[int, Mesh]) -> Ints:
    """Return the number of the body that each shell belongs to, by the shell's number."""
    boxes = {one: (part.vertices.min(axis=0), part.vertices.max(axis=0)) for one, part in parts.items()}
    links = [
        (one, other)
        for one, other in combinations(parts, 2)
        if _meet(parts[one], boxes[other], parts[other]) or _meet(parts[other], boxes[one], parts[one])
    ]
    ends = np.array(links, dtype=np.int64).reshape(-1, 2)
    count = max(parts) + 1
    graph = coo_array((np.ones(len(ends), dtype=np.int8), (ends[:, 0], ends[:, 1])), shape=(count, count))
    return np.asarray(connected_components(graph, directed=False)[1], dtype=np.int64)


def _meet(part: Mesh, box: tuple[Floats, Floats], other: Mesh) -> bool:
    """Tell whether some corner of a shell lies within another one, whose box is given."""
    within = part.vertices[((part.vertices > box[0]) & (part.vertices < box[1])).all(axis=1)]
    some = within[:: max(1, len(within) // TRIED)]
    return any(surrounded(point, other.corners) for point in some)
