"""Normals of a smooth surface at the corners of its triangles, sharp edges apart."""

from threading import Lock
from typing import Final

import numpy as np

from benchapp.seating.mesh import Floats, Ints, Mesh, normals_and_areas

SHARP: Final = 65.0  # degrees between facets: more is an edge of the shape, not of its facets


class CornerNormals:
    """Unit normals at the corners of a mesh's triangles, made when they are asked for: of the triangles about a corner,
    sharp edges apart.

    Weighted by the angle at the corner, so that slivers count for what they are. `sharp` are degrees between facets.
    """

    def __init__(self, mesh: Mesh, sharp: float = SHARP) -> None:
        self._mesh = mesh
        self._alike = np.cos(np.radians(sharp))
        self._facets, self._areas = normals_and_areas(mesh.corners)
        vertex = mesh.triangles.ravel()
        self._order = np.argsort(vertex, kind="stable")
        self._starts = np.concatenate([[0], np.cumsum(np.bincount(vertex, minlength=len(mesh.vertices)))])
        self._found = np.zeros((len(mesh.triangles), 3, 3))
        self._known = np.zeros(len(mesh.vertices), dtype=bool)
        self._making = Lock()

    def __call__(self, triangles: Ints) -> Floats:
        """Return the normals (n, 3, 3) of triangles by their numbers."""
        wanted = np.zeros(len(self._known), dtype=bool)
        wanted[self._mesh.triangles[triangles].ravel()] = True
        with self._making:  # several teeth are measured at once
            wanted &= ~self._known
            if wanted.any():
                self._make(np.flatnonzero(wanted))
                self._known |= wanted
        return self._found[triangles]

    def _make(self, vertices: Ints) -> None:
        many = self._starts[vertices + 1] - self._starts[vertices]
        found = self._found.reshape(-1, 3)
        for count in np.unique(many[many > 0]):
            here = vertices[many == count]
            at = self._order[self._starts[here][:, None] + np.arange(count)]
            faces = at // 3
            around, weight = self._facets[faces], self._angles(at) * (self._areas[faces] > 1e-12)
            if count <= 24:
                near = np.einsum("vik,vjk->vij", around, around) >= self._alike
                summed = np.einsum("vij,vj,vjk->vik", near, weight, around)
            else:  # the middle of a fan: one normal
                summed = np.repeat(np.einsum("vj,vjk->vk", weight, around)[:, None], count, axis=1)
            size = np.linalg.norm(summed, axis=2, keepdims=True)
            found[at] = np.where(size > 1e-12, summed / np.maximum(size, 1e-12), around)

    def _angles(self, at: Ints) -> Floats:
        """Return the angles at corners, numbered three to a triangle."""
        faces, corner = at // 3, at % 3
        here, on, back = (self._mesh.vertices[self._mesh.triangles[faces, (corner + k) % 3]] for k in range(3))
        one, two = on - here, back - here
        cross = np.linalg.norm(np.cross(one, two), axis=-1)
        return np.asarray(np.arctan2(cross, np.einsum("vik,vik->vi", one, two)))


def corner_normals(mesh: Mesh, sharp: float = SHARP) -> Floats:
    """Return a unit normal (m, 3, 3) for each corner of each triangle, as `CornerNormals`."""
    return CornerNormals(mesh, sharp)(np.arange(len(mesh.triangles)))


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
