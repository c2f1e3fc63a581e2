"""Which format a design file has, and whether it can be whole, by its two ends and its length: said at once.

Layouts: the STL format as it is commonly written (80 bytes, a count, 50 bytes a triangle), from memory; the text of an
OBJ by the Wavefront OBJ description (`v` and `f` lines); a 3MF is a zip by the 3MF Core Specification 1.3, chapter 2,
with the signatures of the zip file format (APPNOTE 4.3).
"""

import re
from typing import Final, Literal

from benchapp.core.words import N_, _

Format = Literal["stl", "obj", "3mf"]
MOST_BYTES: Final = 200_000_000
ENDS: Final = 1 << 16  # bytes at either end that are looked at: an OBJ begins with comments, a zip ends with its list
HEAD: Final = 84
RECORD: Final = 50
EMPTY: Final = N_("The file holds no triangle. Export it from CAD again.")

_VERTEX: Final = re.compile(rb"(?:^|[\r\n])[ \t]*v[ \t]+[-+.\d]")
_FACE: Final = re.compile(rb"(?:^|[\r\n])[ \t]*f[ \t]+[-+\d]")


def format_of(size: int, start: bytes) -> Format:
    """Return the format of a file of `size` bytes that begins so; what is none of the three is taken for an STL."""
    if len(start) >= HEAD and size == HEAD + RECORD * _announced(start):
        return "stl"
    if start.startswith((b"PK\3\4", b"PK\5\6")):
        return "3mf"
    if b"\0" in start or start.lstrip()[:5].lower() == b"solid":
        return "stl"
    return "obj" if _VERTEX.search(start.removeprefix(b"\xef\xbb\xbf")) else "stl"


def shape_fault(size: int, start: bytes, end: bytes) -> str:
    """Say what is wrong with a file of `size` bytes that begins and ends so, "" where it can be whole."""
    if not size:
        return _("The file is empty. Export it from CAD again.")
    if size > MOST_BYTES:
        return _("The file has {size} MB; at most {most} MB are taken. Export it with fewer triangles.",
                 size=size // 1_000_000, most=MOST_BYTES // 1_000_000)
    match format_of(size, start):
        case "3mf":
            return _zip_fault(end)
        case "obj":
            return "" if _FACE.search(end) else _(
                "The OBJ file ends without faces: it is cut off, or holds points alone. Copy or export it again.")
    if size == HEAD + RECORD * _announced(start):
        return "" if size > HEAD else _(EMPTY)
    if start.lstrip().lower().startswith(b"solid") and b"facet" in start.lower():
        return "" if b"endsolid" in end.lower() else _(
            "The file has no end: its last line is not `endsolid`. Copy or export it again.")
    return _("That is no STL file, no OBJ and no 3MF, or it is cut off. "
             "Export the part from CAD as one of these three.")


def _announced(start: bytes) -> int:
    return int.from_bytes(start[80:HEAD], "little") if len(start) >= HEAD else -1


def _zip_fault(end: bytes) -> str:
    """Say what is wrong with a zip that ends so; its list of parts stands last, and a 3MF has one named `….model`."""
    if b"PK\5\6" not in end:
        return _("The 3MF file is cut off: the list of its parts is missing. Copy or export it again.")
    return "" if b".model" in end.lower() else _(
        "That is a zip file without a 3D model. Export the part from CAD as 3MF, OBJ or STL.")
