"""Reads STL, binary or ASCII, into corners of triangles; what is wrong with a file is one sentence with its remedy."""

import re
from typing import Final

import numpy as np
from numpy.typing import NDArray

from benchapp.core.words import _
from benchapp.seating.faults import Unusable

HEAD: Final = 84
RECORD: Final = 50
MOST_BYTES: Final = 200_000_000
FAR: Final = 1e7  # mm: beyond this no coordinate is meant

_RECORDS: Final = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("more", "<u2")])
_VERTEX: Final = re.compile(rb"vertex\s+(\S+)\s+(\S+)\s+(\S+)")


def read_stl(data: bytes, part: str) -> NDArray[np.float32]:
    """Return the corners of an STL file's triangles as they stand in it.

    Shape (n, 3, 3), in the file's own unit. `part` is the word for the part in what is said. Unusable when the file is
    empty, too large, no STL, cut off, or holds coordinates that are no numbers. Layout of the records: the STL format
    as it is commonly written (80 bytes, a count, 50 bytes a triangle), from memory.
    """
    must_fit(data, part)
    corners = _ascii(data, part) if _is_ascii(data) else _binary(data, part)
    must_be_numbers(corners, part)
    return corners


def must_fit(data: bytes, part: str) -> None:
    """Raise Unusable when a file is empty or too large."""
    if not data:
        raise Unusable(_("The file of the {part} is empty. Export it from CAD again.", part=part))
    if len(data) > MOST_BYTES:
        raise Unusable(
            _(
                "The file of the {part} has {size} MB; at most {most} MB are read. Export it with fewer triangles.",
                part=part,
                size=len(data) // 1_000_000,
                most=MOST_BYTES // 1_000_000,
            )
        )


def _is_ascii(data: bytes) -> bool:
    """Tell ASCII from binary: a binary file may begin with `solid` too, but then its count fits its length."""
    if len(data) >= HEAD and len(data) == HEAD + RECORD * int.from_bytes(data[80:84], "little"):
        return False
    start = data[:1000].lstrip().lower()
    return start.startswith(b"solid") and (b"facet" in start or b"endsolid" in start or b"\0" not in data[:HEAD])


def _binary(data: bytes, part: str) -> NDArray[np.float32]:
    announced = int.from_bytes(data[80:84], "little")
    found, rest = divmod(len(data) - HEAD, RECORD)
    if len(data) < HEAD or (found != announced and not _looks_binary(data, found)):
        raise Unusable(
            _(
                "The file of the {part} is no STL file, no OBJ and no 3MF. "
                "Export the part from CAD as one of these three.",
                part=part,
            )
        )
    if announced > found:
        raise Unusable(
            _(
                "The file of the {part} is cut off: it announces {announced} triangles and holds {found}. "
                "Copy or export it again.",
                part=part,
                announced=announced,
                found=found,
            )
        )
    if announced < found or rest:
        raise Unusable(
            _(
                "The file of the {part} is longer than it says: it announces {announced} triangles and has room for "
                "{found}. Export it from CAD again.",
                part=part,
                announced=announced,
                found=found,
            )
        )
    return np.frombuffer(data, _RECORDS, count=found, offset=HEAD)["corners"]


def _looks_binary(data: bytes, found: int) -> bool:
    """Tell whether what follows the count can be triangles: most coordinates of the first ones are ordinary numbers."""
    if not found:
        return len(data) >= HEAD and data.lstrip()[:1] not in b"<{#" and not data.startswith(b"PK")
    first = np.frombuffer(data, _RECORDS, count=min(found, 50), offset=HEAD)["corners"]
    with np.errstate(invalid="ignore"):
        size = np.abs(first.astype(np.float64))
    return bool(np.mean((size < 1e5) & ((size > 1e-12) | (size == 0))) > 0.9)


def _ascii(data: bytes, part: str) -> NDArray[np.float32]:
    if b"endsolid" not in data[-2000:].lower():
        raise Unusable(
            _(
                "The ASCII file of the {part} has no end: its last line is not `endsolid`. Copy or export it again.",
                part=part,
            )
        )
    numbers = [word for found in _VERTEX.findall(data.lower()) for word in found]
    facets = len(re.findall(rb"^\s*facet\b", data, re.MULTILINE | re.IGNORECASE))
    if len(numbers) != 9 * facets:
        raise Unusable(
            _(
                "The ASCII file of the {part} has {facets} facets and {vertices} vertices; a facet has three. "
                "Export it from CAD again.",
                part=part,
                facets=facets,
                vertices=len(numbers) // 3,
            )
        )
    try:
        with np.errstate(over="ignore"):
            return np.array(numbers, dtype=np.float64).astype(np.float32).reshape(-1, 3, 3)
    except ValueError:
        wrong = next(word for word in numbers if not is_number(word)).decode("ascii", "replace")[:40]
        raise Unusable(
            _(
                "The ASCII file of the {part} has {word} where a coordinate should stand. Export it from CAD again.",
                part=part,
                word=repr(wrong),
            )
        ) from None


def is_number(word: bytes) -> bool:
    """Tell whether a word of a text file is a number."""
    try:
        float(word)
    except ValueError:
        return False
    return True


def must_be_numbers(corners: NDArray[np.float32], part: str) -> None:
    """Raise Unusable when there is no triangle (n, 3, 3), or a coordinate that is no number or beyond all measure."""
    if not len(corners):
        raise Unusable(_("The file of the {part} holds no triangle. Export it from CAD again.", part=part))
    with np.errstate(invalid="ignore"):
        if np.abs(corners).max() < FAR:
            return
        wrong = ~(np.abs(corners) < FAR).all(axis=(1, 2))
    if wrong.any():
        raise Unusable(
            _(
                "The file of the {part} has {count} triangles with coordinates that are no numbers, or beyond all "
                "measure; the first one is triangle {first}. Export it from CAD again.",
                part=part,
                count=int(wrong.sum()),
                first=int(np.argmax(wrong)) + 1,
            )
        )
