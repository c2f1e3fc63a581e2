"""How noisy a mesh is, and normals and the lowest point evened over what noise makes of them."""

from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from benchapp.seating.mesh import Floats, Mesh
from benchapp.seating.normals import corner_normals
from benchapp.seating.sagitta import roughness

AROUND: Final = 24  # corners to which a quadric is fitted
SOME: Final = 800  # of the corners are looked at for noise
EVEN: Final = 13.0  # times the noise: over so far normals are evened
ALIKE: Final = 0.77  # 40 degrees: normals that differ more are of another surface
AGREE: Final = 2.2  # times what facets tell: up to there what quadrics leave is noise, beyond it they do not fit
MORE: Final = 1.25  # times what facets tell, which is too little
LEAST: Final = 0.0005  # mm
NOISY: Final = 0.003  # mm: less is left alone
STRAY: Final = 2.5  # times the noise: so far above the lowest corner others count with it


def noise_of(mesh: Mesh, chosen: NDArray[np.bool_]) -> float:
    """Return how much corners stray from smooth surfaces, as a standard deviation in mm, over chosen triangles.

    Quadrics are fitted to 24 corners about some; the median of what is left of them is the noise, since most of a
    tooth's and socket's surface is smooth at that size; where corners are too far apart for that, it is far more than
    the edges that bend both ways tell (`roughness`), and they tell. Under 0.0005 it is none.
    """
    points = mesh.vertices[np.unique(mesh.triangles[chosen])]
    if len(points) < 4 * AROUND:
        return 0.0
    some = points[:: max(1, len(points) // SOME)]
    near = points[np.asarray(cKDTree(points).query(some, k=AROUND)[1])]
    near = near - near.mean(axis=1, keepdims=True)
    _values, ways = np.linalg.eigh(np.einsum("vik,vil->vkl", near, near))
    z, x, y = np.moveaxis(np.einsum("vik,vkl->vil", near, ways), 2, 0)
    size = np.maximum(np.sqrt((x**2 + y**2).mean(axis=1, keepdims=True)), 1e-9)
    x, y = x / size, y / size
    terms = np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=2)
    square = np.einsum("vij,vik->vjk", terms, terms) + 1e-9 * np.eye(6)
    fit = np.linalg.solve(square, np.einsum("vij,vi->vj", terms, z)[..., None])[..., 0]
    left = z - np.einsum("vij,vj->vi", terms, fit)
    found = float(np.median(np.sqrt((left**2).sum(axis=1) / (AROUND - 6))))
    if found > LEAST:
        rough = roughness(mesh.part(chosen))
        found = found if found < AGREE * rough else MORE * rough
    return found if found > LEAST else 0.0


def evened(mesh: Mesh, noise: float) -> Floats:
    """Return a unit normal (m, 3, 3) for each corner of each triangle, evened over what noise (mm) makes of them.

    Over up to 0.2 mm, and never across a sharp edge; of less than NOISY they need no evening.
    """
    normals = corner_normals(mesh)
    reach = min(EVEN * noise, 0.2)
    of_vertices = _vertex_normals(mesh, normals.reshape(-1, 3))
    away, near = cKDTree(mesh.vertices).query(mesh.vertices, k=min(16, len(mesh.vertices)), distance_upper_bound=reach)
    there = np.isfinite(away)
    near = np.where(there, near, 0)[mesh.triangles]
    alike = np.einsum("mck,mcik->mci", normals, of_vertices[near])
    weight = np.where(there[mesh.triangles] & (alike > ALIKE), 1.0, 0.0)
    found = np.einsum("mci,mcik->mck", weight, of_vertices[near]) + 1e-3 * normals
    return np.asarray(found / np.maximum(np.linalg.norm(found, axis=2, keepdims=True), 1e-12))


def lowest_of(heights: Floats, noise: float) -> float:
    """Return the lowest of heights in mm, without what noise makes of it: of many corners that are as low, some stray
    down by two or three times the noise, so the mean of those is taken that lie little above the lowest."""
    low = float(heights.min())
    return float(heights[heights <= low + STRAY * noise].mean()) if noise >= NOISY else low


def _vertex_normals(mesh: Mesh, normals: Floats) -> Floats:
    """Return a unit normal (n, 3) for each vertex, the mean of the normals of the corners (3 m, 3) that meet there."""
    found = np.column_stack(
        [np.bincount(mesh.triangles.ravel(), weights=normals[:, k], minlength=len(mesh.vertices)) for k in range(3)]
    )
    return np.asarray(found / np.maximum(np.linalg.norm(found, axis=1, keepdims=True), 1e-12))
