"""Whether a file's triangles are one sound part: welded, each there once, its shells the right way out."""

from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from benchapp.core.words import _, n_
from benchapp.seating.faults import Unusable
from benchapp.seating.mesh import (
    Edges,
    Floats,
    Ints,
    Mesh,
    crossed,
    edges_of,
    lengths,
    normals_and_areas,
    volume,
    wedges,
    weld,
)

GRID: Final = 2e-4  # mm: corners nearer than this are one, where the file's own digits leave edges open
LOOSE: Final = 0.02  # of the largest shell's surface: less is no part of the design
MOST_IN_ONE: Final = 2_642_245  # vertices: the numbers of three of so many fit into one of 64 bits
SHELLS: Final = 64  # of more shells none is looked at by itself: a surface in shreds tells no bodies
LIKE: Final = 500  # corners of a part, about, that are looked for in the other one
NEARLY_ALL: Final = 0.9
TRIED: Final = 12  # corners of a shell, about, that must lie within the others for it to be a hollow space


def shells_of(mesh: Mesh) -> Ints:
    """Return the number of the shell that each triangle belongs to."""
    ends = mesh.triangles
    count = len(mesh.vertices)
    links = coo_array(
        (np.ones(2 * len(ends), dtype=np.int8), (np.tile(ends[:, 0], 2), ends[:, 1:].T.ravel())), shape=(count, count)
    )
    _count, label = connected_components(links, directed=False)
    return np.asarray(label[ends[:, 0]], dtype=np.int64)


def sound(corners: NDArray[np.float32], part: str, scale: float) -> tuple[Mesh, bool, list[str]]:
    """Return a file's triangles as one mesh in mm, whether it is closed, and what is to be warned of.

    `scale` is the file's unit in mm. Unusable when the mesh is inside out, or its triangles disagree about the outside.
    """
    mesh, edges = _welded(corners * np.float32(scale))
    warnings: list[str] = []
    if edges.crowded:
        mesh, edges = _once(mesh, edges, part, warnings)
    if len(mesh.triangles) < 4:
        raise Unusable(_("The {part} has no surface: its triangles collapse. Export it from CAD again.", part=part))
    mesh, edges, shell = _without_loose(mesh, edges, part, warnings)
    if edges.misoriented > max(3, len(mesh.triangles) // 2000):
        raise Unusable(
            _(
                "The triangles of the {part} do not agree about which side is out ({edges} edges). "
                "Mend the orientation in CAD, then export it again.",
                part=part,
                edges=edges.misoriented,
            )
        )
    mesh, edges = _without_hollows(mesh, edges, shell, part, warnings)
    closed = not (edges.open or edges.crowded or edges.misoriented)
    if not closed:
        warnings.append(
            _(
                "The surface of the {part} is not closed: {open} open edges, {crowded} with more than two triangles. "
                "Volumes are taken from the surfaces themselves.",
                part=part,
                open=edges.open,
                crowded=edges.crowded + edges.misoriented,
            )
        )
    return mesh, closed, warnings


def _once(mesh: Mesh, edges: Edges, part: str, warnings: list[str]) -> tuple[Mesh, Edges]:
    """Return the mesh with each triangle once; Unusable where it stands there facing both ways."""
    turn = np.argmin(mesh.triangles, axis=1)
    turned = np.take_along_axis(mesh.triangles, (turn[:, None] + np.arange(3)) % 3, axis=1)
    first = _kinds(turned, len(mesh.vertices))
    twice = len(turned) - len(first)
    kept = mesh
    if twice:
        keep = np.zeros(len(turned), dtype=bool)
        keep[first] = True
        kept = mesh.part(keep)
        warnings.append(
            n_(
                "{n} triangle of the {part} stands in the file more than once and was taken once.",
                "{n} triangles of the {part} stand in the file more than once and were taken once.",
                twice,
                part=part,
            )
        )
    both = len(kept.triangles) - len(_kinds(np.sort(kept.triangles, axis=1), len(kept.vertices)))
    if both > len(kept.triangles) // 4:
        raise Unusable(
            _(
                "The {part} faces both ways: {n} of its triangles stand in the file a second time, turned round. "
                "Export its outer surface alone.",
                part=part,
                n=both,
            )
        )
    return (kept, edges_of(kept)) if twice else (mesh, edges)


def _kinds(triangles: Ints, vertices: int) -> Ints:
    """Return the place of the first of each kind of triangle; `vertices` is how many there are."""
    if vertices > MOST_IN_ONE:
        return np.asarray(np.unique(triangles, axis=0, return_index=True)[1], dtype=np.int64)
    a, b, c = triangles.T.astype(np.uint64)
    many = np.uint64(vertices)
    return np.asarray(np.unique((a * many + b) * many + c, return_index=True)[1], dtype=np.int64)


def _without_loose(mesh: Mesh, edges: Edges, part: str, warnings: list[str]) -> tuple[Mesh, Edges, Ints]:
    """Return the mesh without shells that are too small to be a part of the design, and the shell of each triangle."""
    shell = shells_of(mesh)
    sizes = np.bincount(shell, weights=normals_and_areas(mesh.some())[1])
    kept = sizes >= LOOSE * sizes.max()
    if kept.all():
        return mesh, edges, shell
    warnings.append(
        n_(
            "{n} loose shell of the {part} was left out, {area} mm² in all.",
            "{n} loose shells of the {part} were left out, {area} mm² in all.",
            int((~kept).sum()),
            part=part,
            area=f"{sizes[~kept].sum():.2f}",
        )
    )
    left = mesh.part(kept[shell])
    return left, edges_of(left), shell[kept[shell]]


def _without_hollows(
    mesh: Mesh, edges: Edges, shell: Ints, part: str, warnings: list[str]
) -> tuple[Mesh, Edges]:
    """Return the mesh without closed spaces within it; Unusable where it, or a closed shell of it, is inside out."""
    hollow = _turned_in(mesh, shell)
    left = mesh.part(~hollow) if hollow is not None else mesh
    if hollow is None or volume(left) < 0:
        raise Unusable(
            _(
                "The {part} is inside out: its triangles face inwards. Turn them round in CAD, then export it again.",
                part=part,
            )
        )
    if not hollow.any():
        return mesh, edges
    within = mesh.part(hollow)
    many = int(shells_of(within).max()) + 1
    warnings.append(
        n_(
            "{n} hollow space within the {part} was left out, {volume} mm³ in all.",
            "{n} hollow spaces within the {part} were left out, {volume} mm³ in all.",
            many,
            part=part,
            volume=f"{-volume(within):.2f}",
        )
    )
    return left, edges_of(left)


def _turned_in(mesh: Mesh, shell: Ints) -> NDArray[np.bool_] | None:
    """Tell which triangles bound a closed space within the rest; None where a closed shell is turned round instead."""
    hollow = np.zeros(len(mesh.triangles), dtype=bool)
    if not 1 < np.count_nonzero(np.bincount(shell)) <= SHELLS:
        return hollow
    volumes = np.bincount(shell, weights=wedges(mesh))
    outer = mesh.some((volumes > 0)[shell])
    for one in np.flatnonzero(volumes < 0):
        own = mesh.part(shell == one)
        if edges_of(own).open:
            continue  # of an open shell nothing tells its outside
        some = own.vertices[:: max(1, len(own.vertices) // TRIED)]
        if not len(outer) or not all(surrounded(point, outer) for point in some):
            return None
        hollow |= shell == one
    return hollow


def holds(mesh: Mesh, other: Mesh) -> bool:
    """Tell whether a mesh has nearly all corners of another one too: both were exported into one file."""
    some = other.vertices[:: max(1, len(other.vertices) // LIKE)]
    if np.isin(some[:, 0], mesh.vertices[:, 0]).mean() < NEARLY_ALL:  # the usual case, told in a moment
        return False
    known = set(map(tuple, mesh.vertices[np.isin(mesh.vertices[:, 0], some[:, 0])].tolist()))
    return sum(tuple(point) in known for point in some.tolist()) >= NEARLY_ALL * len(some)


def surrounded(point: Floats, corners: Floats) -> bool:
    """Tell whether triangles (n, 3, 3) surround a point, by the solid angles that they fill (van Oosterom and Strackee
    1983, from memory)."""
    a, b, c = (corners[:, k] - point for k in range(3))
    x, y, z = lengths(a), lengths(b), lengths(c)
    over = np.einsum("ij,ij->i", a, crossed(b, c))
    under = x * y * z + (a * b).sum(axis=1) * z + (b * c).sum(axis=1) * x + (c * a).sum(axis=1) * y
    return bool(2 * np.arctan2(over, under).sum() > 2 * np.pi)


def _welded(corners: NDArray[np.float32]) -> tuple[Mesh, Edges]:
    mesh = weld(corners)
    edges = edges_of(mesh) if len(mesh.triangles) else Edges(0, 0, 0)
    if edges.open:
        coarse = weld(corners, GRID)
        other = edges_of(coarse) if len(coarse.triangles) else edges
        if other.open < edges.open and other.crowded <= edges.crowded:
            return coarse, other
    return mesh, edges
