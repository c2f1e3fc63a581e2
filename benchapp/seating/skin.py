"""What is known of a mesh's triangles beside their corners: normals of the smooth surface, and how it bends."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchapp.seating.mesh import Floats, Ints, Mesh
from benchapp.seating.noise import NOISY, evened
from benchapp.seating.normals import CornerNormals
from benchapp.seating.sagitta import Bends, bends_of


@dataclass(frozen=True)
class Skin:
    """Normals at the corners of triangles, made when they are asked for by number, and bends; of chosen triangles."""

    normals: Callable[[Ints], Floats]
    bends: Bends
    numbers: Ints

    def part(self, keep: NDArray[np.bool_]) -> "Skin":
        """Return what is known of the triangles that are kept."""
        return Skin(self.normals, self.bends.part(keep), self.numbers[keep])

    def normals_of(self, triangles: Ints) -> Floats:
        """Return unit normals (n, 3, 3) at the corners of triangles, by their numbers in this part."""
        return self.normals(self.numbers[triangles])


def skin_of(mesh: Mesh, facing: NDArray[np.bool_], noise: float) -> Skin:
    """Return what is known of a mesh with noise (mm); its bends where it faces the other part, 0 elsewhere."""
    rise, more = np.zeros(len(mesh.triangles)), np.zeros(len(mesh.triangles))
    if facing.any():
        found = bends_of(mesh.part(facing))
        rise[facing], more[facing] = found.rise, found.more
    if noise < NOISY:
        normals: Callable[[Ints], Floats] = CornerNormals(mesh)
    else:
        normals = evened(mesh, noise).__getitem__
    return Skin(normals, Bends(rise, more), np.arange(len(mesh.triangles)))
