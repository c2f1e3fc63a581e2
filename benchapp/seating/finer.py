"""Triangles cut finer, towards the smooth surface that they stand for: facets lie inside what bulges, outside hollows.

The middle of an edge moves to the middle of the cubic whose ends stand square on the normals of its ends; a circle's
sagitta comes out to the fourth order (checked on spheres). Where the normals of the two ends tell of bends that are not
alike, as where a flat floor runs into a corner, the lesser bend counts: else the flat would be bent too.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from benchapp.seating.mesh import Floats, Ints, Mesh, normals_and_areas

SHARP: Final = 65.0  # degrees between facets: more is an edge of the shape, not of its facets
LEAST: Final = 0.0015  # mm: edges whose middle would move less stay
NOISY: Final = 0.35  # of the noise: what corners that stray alone move the middles of edges is less
UNLIKE: Final = 2.0  # times the lesser bend of an edge's two ends: more is not believed
TURNS: Final = 3
MOST: Final = 1_200_000  # triangles


def finer(mesh: Mesh, noise: float, keep: NDArray[np.bool_]) -> tuple[Mesh, Ints]:
    """Return the mesh with its curved edges cut, and for each triangle the number of the one that it comes from.

    Edges between triangles that are not in `keep` stay; so do those whose middle hardly moves, or no farther
    than `noise` (mm) alone would move it.
    """
    vertices, triangles = mesh.vertices, mesh.triangles
    normals = corner_normals(mesh)
    owner = np.arange(len(triangles))
    least = max(LEAST, NOISY * noise)
    for _turn in range(TURNS):
        if len(triangles) > MOST:
            break
        edge, ends, middles, bent = _middles(vertices, triangles, normals)
        cut = np.zeros(len(ends), dtype=bool)
        cut[edge[keep[owner]].ravel()] = True
        cut &= bent > least
        if not cut.any():
            break
        number = np.where(cut, len(vertices) + np.cumsum(cut) - 1, -1)
        vertices = np.concatenate([vertices, middles[cut]])
        triangles, normals, parents = with_middles(triangles, normals, number[edge])
        owner = owner[parents]
    return Mesh(vertices, triangles), owner


def unevenness(mesh: Mesh) -> float:
    """Return how unlike the triangles' areas are: their standard deviation over their mean.

    What a program has thinned to a tolerance has long edges wherever it bends little; the normals at their ends are
    those of the short facets there, and would bend them far too much.
    """
    areas = normals_and_areas(mesh.corners)[1]
    return float(areas.std() / max(float(areas.mean()), 1e-12)) if len(areas) else 0.0


def corner_normals(mesh: Mesh, sharp: float = SHARP) -> Floats:
    """Return a unit normal (m, 3, 3) for each corner of each triangle: of the triangles about it, sharp edges apart.

    Weighted by the angle at the corner, so that slivers count for what they are. `sharp` are degrees between facets.
    """
    corners = mesh.corners
    normals, areas = normals_and_areas(corners)
    weights = _angles(corners) * (areas > 1e-12)[:, None]
    vertex = mesh.triangles.ravel()
    order = np.argsort(vertex, kind="stable")
    faces = order // 3
    starts = np.searchsorted(vertex[order], np.arange(len(mesh.vertices) + 1))
    many = np.diff(starts)
    found = np.zeros((len(vertex), 3))
    alike = np.cos(np.radians(sharp))
    for count in np.unique(many[many > 0]):
        here = np.flatnonzero(many == count)
        at = starts[here][:, None] + np.arange(count)
        around, weight = normals[faces[at]], weights.ravel()[order[at]]
        if count <= 24:
            near = np.einsum("vik,vjk->vij", around, around) >= alike
            summed = np.einsum("vij,vj,vjk->vik", near, weight, around)
        else:  # the middle of a fan: one normal
            summed = np.repeat(np.einsum("vj,vjk->vk", weight, around)[:, None], count, axis=1)
        found[order[at]] = summed
    size = np.linalg.norm(found, axis=1, keepdims=True)
    found = np.where(size > 1e-12, found / np.maximum(size, 1e-12), np.repeat(normals, 3, axis=0))
    return found.reshape(-1, 3, 3)


def normal_at(corners: Floats, normals: Floats, points: Floats) -> Floats:
    """Return the unit normals at points (n, 3) on triangles (n, 3, 3) whose corners have normals (n, 3, 3)."""
    a, b = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    p = points - corners[:, 0]
    aa, ab, bb = (np.einsum("ij,ij->i", x, y) for x, y in ((a, a), (a, b), (b, b)))
    pa, pb = np.einsum("ij,ij->i", p, a), np.einsum("ij,ij->i", p, b)
    size = np.maximum(aa * bb - ab**2, 1e-30)
    v, w = np.clip((bb * pa - ab * pb) / size, 0, 1), np.clip((aa * pb - ab * pa) / size, 0, 1)
    u = np.clip(1 - v - w, 0, 1)
    found = u[:, None] * normals[:, 0] + v[:, None] * normals[:, 1] + w[:, None] * normals[:, 2]
    return np.asarray(found / np.maximum(np.linalg.norm(found, axis=1, keepdims=True), 1e-12))


def _angles(corners: Floats) -> Floats:
    """Return the angle at each corner (m, 3)."""
    on = np.roll(corners, -1, axis=1) - corners
    back = np.roll(corners, 1, axis=1) - corners
    cross = np.linalg.norm(np.cross(on, back), axis=2)
    return np.asarray(np.arctan2(cross, np.einsum("mik,mik->mi", on, back)))


def _middles(vertices: Floats, triangles: Ints, normals: Floats) -> tuple[Ints, Ints, Floats, Floats]:
    """Return for each triangle its three edges' numbers, the edges' ends, their moved middles, and by how much (mm)."""
    one, two = triangles.ravel(), np.roll(triangles, -1, axis=1).ravel()
    key = np.minimum(one, two) * len(vertices) + np.maximum(one, two)
    _values, first, edge = np.unique(key, return_index=True, return_inverse=True)
    ends = np.column_stack([one[first], two[first]])
    a, b = normals.reshape(-1, 3), np.roll(normals, -1, axis=1).reshape(-1, 3)
    way = vertices[two] - vertices[one]
    at_a, at_b = -np.einsum("ij,ij->i", way, a), np.einsum("ij,ij->i", way, b)
    most = np.where(at_a * at_b > 0, UNLIKE * np.minimum(np.abs(at_a), np.abs(at_b)), 0.0)
    moved = (np.clip(at_a, -most, most)[:, None] * a + np.clip(at_b, -most, most)[:, None] * b) / 8
    middle = a + b
    middle /= np.maximum(np.linalg.norm(middle, axis=1, keepdims=True), 1e-12)
    count = np.bincount(edge)
    mean, facing = (
        np.column_stack([np.bincount(edge, weights=values[:, k]) for k in range(3)]) / count[:, None]
        for values in (moved, middle)
    )
    # Where two surfaces meet in a sharp edge, their common line bends as both do: the least move that suits both.
    sharp = np.linalg.norm(facing, axis=1) < 0.97
    if sharp.any():
        mean[sharp] = _common(np.flatnonzero(sharp), edge, middle, moved)
    length = np.linalg.norm(vertices[ends[:, 1]] - vertices[ends[:, 0]], axis=1)
    bent = np.linalg.norm(mean, axis=1)
    mean[bent > 0.2 * length] = 0.0  # no smooth surface bends so much between two corners
    bent[bent > 0.2 * length] = 0.0
    return edge.reshape(-1, 3), ends, vertices[ends].mean(axis=1) + mean, bent


def _common(chosen: Ints, edge: Ints, normal: Floats, moved: Floats) -> Floats:
    """Return for sharp edges the least move d with n·d = n·(own move) for the surfaces on both sides."""
    number = np.full(int(edge.max()) + 1, -1)
    number[chosen] = np.arange(len(chosen))
    mine = np.flatnonzero(number[edge] >= 0)
    square, right = np.zeros((len(chosen), 3, 3)), np.zeros((len(chosen), 3))
    n = normal[mine]
    np.add.at(square, number[edge[mine]], n[:, :, None] * n[:, None])
    np.add.at(right, number[edge[mine]], n * np.einsum("ij,ij->i", n, moved[mine])[:, None])
    return np.asarray(np.einsum("ijk,ik->ij", np.linalg.pinv(square, rcond=0.05, hermitian=True), right))


_TEMPLATES: Final = {  # corners 0 1 2, middles 3 4 5 of the edges 0-1, 1-2, 2-0
    1: [(0, 3, 2), (3, 1, 2)],
    2: [(0, 3, 2), (2, 3, 4), (3, 1, 4)],
    3: [(0, 3, 5), (3, 1, 4), (5, 4, 2), (3, 4, 5)],
}


def with_middles(triangles: Ints, normals: Floats, middle: Ints) -> tuple[Ints, Floats, Ints]:
    """Return triangles cut where their edges have a middle (number of its vertex, else -1), normals, and parents."""
    count = (middle >= 0).sum(axis=1)
    whole = np.flatnonzero(count == 0)
    found = [(triangles[whole], normals[whole], whole)]
    for wanted, template in _TEMPLATES.items():
        chosen = np.flatnonzero(count == wanted)
        if not len(chosen):
            continue
        has = middle[chosen] >= 0
        # turn each triangle so that its cut edges come first: one at 0, two at 0 and 1
        turn = {1: has.argmax(axis=1), 2: (~has).argmax(axis=1) + 1}.get(wanted, np.zeros(len(has), dtype=np.int64))
        at = (turn[:, None] + np.arange(3)) % 3
        t, m = np.take_along_axis(triangles[chosen], at, 1), np.take_along_axis(middle[chosen], at, 1)
        n = np.take_along_axis(normals[chosen], at[..., None], 1)
        between = n + np.roll(n, -1, axis=1)
        between /= np.maximum(np.linalg.norm(between, axis=2, keepdims=True), 1e-12)
        points, around = np.concatenate([t, m], axis=1), np.concatenate([n, between], axis=1)
        for corner in template:
            found.append((points[:, corner], around[:, corner], chosen))
    triangles, normals, parents = (np.concatenate([one[k] for one in found]) for k in range(3))
    return triangles, normals, parents


def round_about(mesh: Mesh, chosen: NDArray[np.bool_], reach: float) -> NDArray[np.bool_]:
    """Return the chosen triangles and those within about `reach` mm of them along the surface."""
    if not chosen.any():
        return chosen
    corners = mesh.corners[chosen]
    edge = float(np.median(np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=2)))
    found = chosen.copy()
    for _ring in range(int(np.clip(np.ceil(reach / max(edge, 1e-6)), 1, 12))):
        touched = np.zeros(len(mesh.vertices), dtype=bool)
        touched[mesh.triangles[found].ravel()] = True
        found = np.asarray(touched[mesh.triangles].any(axis=1))
    return found
