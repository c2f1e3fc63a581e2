"""How near base and arch come to each other, and whether they lie in each other."""

from typing import Final

import manifold3d
import numpy as np

from benchapp.seating.mesh import Floats, Mesh, longest, middles_of, normals_and_areas
from benchapp.seating.near import Close, Surface

AROUND: Final = 0.6  # mm about the facing surfaces that are looked at
SLACK: Final = 0.1  # of an edge: corners that come so much nearer than edges are the rule have their edges compared
SOME: Final = 16  # of the corners every so many tell first about how near the parts come
FEW: Final = 2  # triangles that are looked at for every corner; more for those that come nearly as near as any
AGAIN: Final = 0.005  # mm
PAIRS: Final = 12_000  # triangles whose edges are compared, the nearest ones


def overlap_of(base: Mesh, arch: Mesh) -> float | None:
    """Return the volume in mm3 that lies in both parts, by a boolean of closed meshes; None where there is none."""
    bodies = [
        manifold3d.Manifold(
            manifold3d.Mesh64(
                np.ascontiguousarray(mesh.vertices), np.ascontiguousarray(mesh.triangles.astype(np.uint64))
            )
        )
        for mesh in (base, arch)
    ]
    if any(body.status() != manifold3d.Error.NoError or body.is_empty() for body in bodies):
        return None
    return float((bodies[0] ^ bodies[1]).volume())


def shallow_overlap(base: Floats, arch: Floats) -> float:
    """Return about how much of facing base triangles (n, 3, 3) lies in the arch, in mm3: depth times area."""
    middles = middles_of(base)
    normals, areas = normals_and_areas(base)
    found = Surface(arch).nearest(middles, normals)
    upright = np.einsum("ij,ij->i", found.foot - middles, found.normal)  # beside a hole the sign means nothing
    inside = upright > 0.95 * np.abs(found.distance)
    return float(np.sum(np.where(inside, np.maximum(-found.distance, 0), 0) * areas))


def least_clearance(close: tuple[Close, Close]) -> float:
    """Return the smallest distance between two surfaces that do not cross, in mm.

    Corners against faces both ways, exactly; edges against edges of all pairs that come near the least so found.
    """
    parts, surfaces = [one.mesh for one in close], [one.surface for one in close]
    away = [np.full(len(mesh.vertices), np.inf) for mesh in parts]
    roughly = [surfaces[1 - k].rough(mesh.vertices, AROUND)[0] for k, mesh in enumerate(parts)]
    if not any(np.isfinite(found).any() for found in roughly):  # only edges come near
        roughly = [surfaces[1 - k].rough(mesh.vertices, np.inf)[0] for k, mesh in enumerate(parts)]
    for many in (SOME, 1):  # some first: how near they come tells which of the others may come nearer
        least = float(min(away[0].min(), away[1].min()))
        for k, mesh in enumerate(parts):
            # a strewn point lies no farther than `wide` beside the nearest point, about square to the way there
            maybe = np.isfinite(roughly[k]) & (roughly[k] ** 2 < least**2 + surfaces[1 - k].wide ** 2)
            some = np.flatnonzero(maybe & ~np.isfinite(away[k]))[::many]
            away[k][some] = np.abs(surfaces[1 - k].nearest(mesh.vertices[some], many=FEW).distance)
    least = float(min(away[0].min(), away[1].min()))
    for k, mesh in enumerate(parts):
        some = np.flatnonzero(away[k] < least + AGAIN)
        away[k][some] = np.abs(surfaces[1 - k].nearest(mesh.vertices[some]).distance)
    least = float(min(away[0].min(), away[1].min()))
    a, b, c = away[0][parts[0].triangles].T
    nearest = np.minimum(np.minimum(a, b), c)
    near = np.flatnonzero(nearest < least + SLACK * longest(parts[0].corners))
    near = near[np.argsort(nearest[near], kind="stable")][:PAIRS]
    return min(least, _by_edges(parts[0].corners[near], surfaces[1]))


def _by_edges(base: Floats, arch: Surface) -> float:
    """Return the least distance between edges of base triangles and edges of the arch's triangles nearest to them."""
    if not len(base):
        return float("inf")
    pairs = arch.candidates(middles_of(base))
    one, two = np.repeat(np.arange(len(base)), pairs.shape[1]), pairs.ravel()
    least = float("inf")
    for k in range(3):
        for j in range(3):
            away = _edge_to_edge(
                base[one, k], base[one, (k + 1) % 3], arch.corners[two, j], arch.corners[two, (j + 1) % 3]
            )
            least = min(least, float(away.min()))
    return least


def _edge_to_edge(p: Floats, q: Floats, r: Floats, s: Floats) -> Floats:
    """Return the distances of lines' nearest points where both lie within their edges, else infinite (from memory)."""
    u, v, w = q - p, s - r, p - r
    a, b, c = (np.einsum("ij,ij->i", x, y) for x, y in ((u, u), (u, v), (v, v)))
    d, e = np.einsum("ij,ij->i", u, w), np.einsum("ij,ij->i", v, w)
    size = a * c - b * b
    safe = np.where(size > 1e-18, size, 1.0)
    at, to = (b * e - c * d) / safe, (a * e - b * d) / safe
    inside = (size > 1e-18) & (at >= 0) & (at <= 1) & (to >= 0) & (to <= 1)
    away = np.linalg.norm(w + at[:, None] * u - to[:, None] * v, axis=1)
    return np.where(inside, away, np.inf)
