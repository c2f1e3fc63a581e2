"""How near base and arch come to each other, and whether they lie in each other."""

from dataclasses import dataclass
from typing import Final

import manifold3d
import numpy as np
from numpy.typing import NDArray

from benchapp.seating.mesh import Floats, Mesh, any_of, box_of, lengths, longest, middles_of, normals_and_areas
from benchapp.seating.near import Close, Surface, away_from

SLACK: Final = 0.3  # of an edge: corners that come so much nearer than edges are the rule have their edges compared
AGAIN: Final = 0.005  # mm
SPARED: Final = 0.8  # of the triangles: where more lie within the box, a cone spares too little
PAIRS: Final = 4_000  # triangles whose edges are compared, the nearest ones


@dataclass(frozen=True)
class Overlap:
    """What lies in both parts: its volume in mm3, points (n, 3) of it, how deep each lies in the other part (mm)."""

    volume: float
    points: Floats
    deep: Floats


@dataclass(frozen=True)
class Closest:
    """Where two surfaces come nearest to each other: how near (mm), and about where (3,)."""

    distance: float
    point: Floats


def solid_of(mesh: Mesh) -> manifold3d.Manifold | None:
    """Return a mesh as a solid for booleans; None where it is none."""
    body = manifold3d.Manifold(
        manifold3d.Mesh64(np.ascontiguousarray(mesh.vertices), np.ascontiguousarray(mesh.triangles.astype(np.uint64)))
    )
    return None if body.status() != manifold3d.Error.NoError or body.is_empty() else body


def overlap_of(base: Mesh, arch: Mesh, surfaces: tuple[Surface, Surface]) -> Overlap | None:
    """Return what lies in both closed parts, by a boolean; None where there is none. `surfaces` are those of both parts
    where they come near each other."""
    bodies = []
    for mesh, other in ((base, arch), (arch, base)):
        cut = within_box(mesh, *box_of(other.vertices))
        body = solid_of(cut)
        if body is None:
            return None
        bodies.append(body)
    common = bodies[0] ^ bodies[1]
    points = np.asarray(common.to_mesh64().vert_properties)[:, :3]
    # each lies on one part, and so deep in the other
    deep = np.maximum(*(np.abs(surface.nearest(points).distance) for surface in surfaces))
    return Overlap(float(common.volume()), points, deep)


def within_box(mesh: Mesh, low: Floats, high: Floats) -> Mesh:
    """Return a closed mesh that is the same within a box (mm), and has fewer triangles beyond it.

    Beyond each face of the box triangles make way for a cone over the hole that they leave, whose tip is beyond it too:
    both together are a closed surface beyond the face, so how often a point within is surrounded stays as it was. The
    cone may cross itself; nothing of the other part is there.
    """
    for k in range(3):
        for way, face in ((1.0, high[k]), (-1.0, -low[k])):
            height = way * mesh.vertices[:, k] - face
            keep = any_of(height <= 0, mesh.triangles)
            if 0 < keep.mean() < SPARED:
                mesh = _coned(mesh, keep, height, k, way)
    return mesh


def _coned(mesh: Mesh, keep: NDArray[np.bool_], height: Floats, k: int, way: float) -> Mesh:
    """Return the triangles that are kept, and a cone over the hole; `height` is how far vertices lie beyond the face
    across coordinate `k`."""
    some = mesh.triangles[keep]
    one, two = some.ravel(), some[:, [1, 2, 0]].ravel()
    high = (height[one] > 0) & (height[two] > 0)  # of these alone a neighbour may be gone
    one, two = one[high], two[high]
    count = len(mesh.vertices)
    alone = ~np.isin(one * count + two, two * count + one)
    one, two = one[alone], two[alone]
    if not len(one):
        return mesh.part(keep)
    tip = mesh.vertices[one].mean(axis=0)
    tip[k] = mesh.vertices[one[int(np.argmax(height[one]))], k] + way
    cone = np.column_stack([two, one, np.full(len(one), count)])
    whole = Mesh(np.concatenate([mesh.vertices, tip[None]]), np.concatenate([some, cone]))
    return whole.part(np.ones(len(whole.triangles), dtype=bool))


def shallow_overlap(base: Floats, arch: Floats) -> Overlap:
    """Return about what of facing base triangles (n, 3, 3) lies in the arch: its volume is depth times area."""
    middles = middles_of(base)
    normals, areas = normals_and_areas(base)
    found = Surface(arch).nearest(middles, normals)
    upright = np.einsum("ij,ij->i", found.foot - middles, found.normal)  # beside a hole the sign means nothing
    inside = upright > 0.95 * np.abs(found.distance)
    deep = np.where(inside, np.maximum(-found.distance, 0), 0)
    return Overlap(float(np.sum(deep * areas)), middles[deep > 0], deep[deep > 0])


def least_clearance(close: tuple[Close, Close], away: tuple[Floats, Floats]) -> Closest:
    """Return where two surfaces that do not cross come nearest to each other; `away` is how far the corners of each
    lie from the other, about, as in `Facing`.

    Corners against faces both ways, exactly; edges against edges of all pairs that come near the least so found.
    """
    parts, surfaces = [one.mesh for one in close], [one.surface for one in close]
    if not any(np.isfinite(one).any() for one in away):  # only edges come near
        away = away_from(parts[0].vertices, surfaces[1])[0], away_from(parts[1].vertices, surfaces[0])[0]
    least = float(min(away[0].min(), away[1].min()))
    for k, mesh in enumerate(parts):
        some = np.flatnonzero(away[k] < least + AGAIN)
        away[k][some] = np.abs(surfaces[1 - k].nearest(mesh.vertices[some]).distance)
    k = int(away[1].min() < away[0].min())
    corner = int(away[k].argmin())
    found = Closest(float(away[k][corner]), parts[k].vertices[corner])
    a, b, c = away[0][parts[0].triangles].T
    nearest = np.minimum(np.minimum(a, b), c) - SLACK * longest(parts[0].corners)
    near = np.flatnonzero(nearest < found.distance)
    near = near[np.argsort(nearest[near], kind="stable")][:PAIRS]
    by_edges = _by_edges(parts[0].corners[near], surfaces[1])
    return by_edges if by_edges and by_edges.distance < found.distance else found


def _by_edges(base: Floats, arch: Surface) -> Closest | None:
    """Return where edges of base triangles come nearest to edges of the arch's triangles nearest to them."""
    if not len(base):
        return None
    pairs = arch.candidates(middles_of(base))[1]
    one, two = np.repeat(np.arange(len(base)), pairs.shape[1]), pairs.ravel()
    least = Closest(np.inf, np.zeros(3))
    for k in range(3):
        for j in range(3):
            away = _edge_to_edge(
                base[one, k], base[one, (k + 1) % 3], arch.corners[two, j], arch.corners[two, (j + 1) % 3]
            )
            at = int(away.argmin())
            if away[at] < least.distance:
                least = Closest(float(away[at]), (base[one[at], k] + base[one[at], (k + 1) % 3]) / 2)
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
    away = lengths(w + at[:, None] * u - to[:, None] * v)
    return np.where(inside, away, np.inf)
