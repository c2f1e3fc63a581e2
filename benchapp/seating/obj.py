"""Reads Wavefront OBJ by trimesh; what it would take without a word (zero and relative numbers) is seen to before.

The format: the Wavefront OBJ description, "Vertex data" and "Elements", from memory: `v x y z`, `f v/vt/vn v/vt/vn …`,
counted from 1, or from -1 backwards from where the face stands.
"""

import re
from io import BytesIO
from typing import Final

import numpy as np
import trimesh
from numpy.typing import NDArray

from benchapp.core.words import _
from benchapp.seating.faults import Unusable
from benchapp.seating.stl import is_number

_BROKEN: Final = re.compile(rb"\\[ \t]*\n")
_VERTEX: Final = re.compile(rb"^[ \t]*v[ \t]+([^#\n]*)", re.MULTILINE)
_FACE: Final = re.compile(rb"^[ \t]*f[ \t]+([^#\n]*)", re.MULTILINE)
_EITHER: Final = re.compile(rb"^[ \t]*([vf])[ \t]+([^#\n]*)", re.MULTILINE)
_REST: Final = re.compile(rb"/[^\s]*")
_ZERO: Final = re.compile(rb"(?<!\S)[-+]?0+(?!\S)")
_SIGN: Final = re.compile(rb"[-+]")


def read_obj(data: bytes, part: str) -> NDArray[np.float64]:
    """Return the corners (n, 3, 3) of an OBJ's faces, polygons as fans; all objects and groups are one.

    Texture coordinates, normals, colours, materials, lines and points are left out. Unusable says which face or vertex
    is wrong.
    """
    text = data.removeprefix(b"\xef\xbb\xbf").replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    text = _BROKEN.sub(b" ", text)
    vertices, faces = _VERTEX.findall(text), _FACE.findall(text)
    if not faces:
        return np.empty((0, 3, 3))
    corners = _REST.sub(b"", b"\n".join(faces))
    if _SIGN.search(corners):
        corners = b"\n".join(_absolute(text, part))
    sizes = [len(face.split()) for face in corners.split(b"\n")]
    triangles = None
    if min(sizes) >= 3 and not _ZERO.search(corners):
        triangles = _by_library(vertices, corners)
    if triangles is None or triangles.shape != (sum(sizes) - 2 * len(sizes), 3, 3):
        raise _fault(vertices, corners, part)
    return triangles


def _by_library(vertices: list[bytes], corners: bytes) -> NDArray[np.float64] | None:
    """Return the triangles of vertices and faces as trimesh reads them, None where it cannot."""
    clean = b"v " + b"\nv ".join(vertices) + b"\nf " + corners.replace(b"\n", b"\nf ") + b"\n"
    try:
        scene = trimesh.load_scene(BytesIO(clean), file_type="obj", process=False, skip_materials=True)
        return np.asarray(scene.to_mesh().triangles, dtype=np.float64)
    except MemoryError:
        raise
    except Exception:  # the fault is looked for in the text
        return None


def _absolute(text: bytes, part: str) -> list[bytes]:
    """Return the faces with relative numbers counted from the start: -1 is the vertex before the face."""
    seen = 0
    found: list[bytes] = []
    for kind, words in _EITHER.findall(text):
        if kind == b"v":
            seen += 1
            continue
        numbers = _REST.sub(b"", words).split()
        for at, word in enumerate(numbers):
            number = _whole(word)
            if number is not None and number < 0:
                if seen + number < 0:
                    raise _points_beyond(len(found) + 1, word, seen, part)
                numbers[at] = b"%d" % (seen + number + 1)
        found.append(b" ".join(numbers))
    return found


def _fault(vertices: list[bytes], corners: bytes, part: str) -> Unusable:
    """Return what is wrong with the first vertex or face that cannot be read."""
    for at, vertex in enumerate(vertices, 1):
        words = vertex.split()[:3]
        if len(words) < 3 or not all(map(is_number, words)):
            return Unusable(
                _(
                    "Vertex {number} in the OBJ file of the {part} has no three numbers ({words}). "
                    "Export it from CAD again.",
                    number=at,
                    part=part,
                    words=repr(_shown(vertex)),
                )
            )
    for at, face in enumerate(corners.split(b"\n"), 1):
        numbers = [_whole(word) for word in face.split()]
        if len(numbers) < 3 or None in numbers:
            return Unusable(
                _(
                    "Face {number} in the OBJ file of the {part} has no three whole numbers ({words}). "
                    "Export it from CAD again.",
                    number=at,
                    part=part,
                    words=repr(_shown(face)),
                )
            )
        for number in numbers:
            if not 1 <= (number or 0) <= len(vertices):
                return _points_beyond(at, b"%d" % (number or 0), len(vertices), part)
    return Unusable(
        _("The faces in the OBJ file of the {part} cannot be read as triangles. Export it from CAD again.", part=part)
    )


def _points_beyond(face: int, word: bytes, count: int, part: str) -> Unusable:
    return Unusable(
        _(
            "Face {face} in the OBJ file of the {part} names vertex {number}, and there are {count} to name. "
            "Export it from CAD again.",
            face=face,
            part=part,
            number=_shown(word),
            count=count,
        )
    )


def _shown(words: bytes) -> str:
    return words.strip().decode("ascii", "replace")[:40]


def _whole(word: bytes) -> int | None:
    return int(word) if re.fullmatch(rb"[-+]?\d{1,18}", word) else None
