"""Reads a part's file in whichever of the three formats its bytes are: STL, Wavefront OBJ or 3MF."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from benchapp.core.mesh_shape import ENDS, format_of
from benchapp.core.words import _
from benchapp.seating.faults import Unusable
from benchapp.seating.stl import must_be_numbers, must_fit, read_stl

NAMES: Final = {"obj": "OBJ", "3mf": "3MF"}


def read_mesh(data: bytes, part: str, own_unit: bool = True) -> NDArray[np.float32]:
    """Return the corners of a file's triangles, (n, 3, 3), as `read_stl` does; the bytes tell the format, not a name.

    STL and OBJ state no unit: their coordinates come as they are. A 3MF states one: with `own_unit` its coordinates
    come in mm, without it (where a person says the unit) as they stand. `part` is the word for the part in what is
    said. Unusable with one sentence for whatever is wrong. The library is loaded for OBJ and 3MF alone.
    """
    kind = format_of(len(data), data[:ENDS])
    if kind == "stl":
        return read_stl(data, part)
    must_fit(data, part)
    try:
        if kind == "3mf":
            from benchapp.seating.threemf import read_3mf

            found = read_3mf(data, part, own_unit)
        else:
            from benchapp.seating.obj import read_obj

            found = read_obj(data, part)
        with np.errstate(over="ignore"):
            corners = found.astype(np.float32)
    except Unusable:
        raise
    except MemoryError:
        raise Unusable(
            _(
                "The {format} file of the {part} needs more memory than there is. "
                "Export it with fewer triangles, or as STL.",
                format=NAMES[kind],
                part=part,
            )
        ) from None
    except Exception:  # whatever the libraries raise of bytes that they did not expect
        raise Unusable(
            _(
                "The {format} file of the {part} is damaged: what stands in it cannot be read as triangles. "
                "Copy or export it again.",
                format=NAMES[kind],
                part=part,
            )
        ) from None
    must_be_numbers(corners, part)
    return corners
