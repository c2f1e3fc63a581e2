"""Whether a file can be an STL at all, from its two ends and its length: said at once, before a check reads it whole.

Layout of the records: the STL format as it is commonly written (80 bytes, a count, 50 bytes a triangle), from memory.
"""

from typing import Final

from benchapp.core.words import _

MOST_BYTES: Final = 200_000_000
ENDS: Final = 2000  # bytes at either end that are looked at
HEAD: Final = 84
RECORD: Final = 50


def shape_fault(size: int, start: bytes, end: bytes) -> str:
    """Say what is wrong with a file of `size` bytes that begins and ends so, "" where it can be an STL."""
    if not size:
        return _("The file is empty. Export it from CAD again.")
    if size > MOST_BYTES:
        return _("The file has {size} MB; at most {most} MB are taken. Export it with fewer triangles.",
                 size=size // 1_000_000, most=MOST_BYTES // 1_000_000)
    announced = int.from_bytes(start[80:HEAD], "little") if len(start) >= HEAD else -1
    if size == HEAD + RECORD * announced:
        return "" if announced else _("The file holds no triangle. Export it from CAD again.")
    if start.lstrip().lower().startswith(b"solid") and b"facet" in start.lower():
        return "" if b"endsolid" in end.lower() else _(
            "The file has no end: its last line is not `endsolid`. Copy or export it again.")
    return _("That is no STL file, or it is cut off. Export the part from CAD as STL, binary or ASCII.")
