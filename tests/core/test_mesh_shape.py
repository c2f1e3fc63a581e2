"""The format of a design file by its bytes, and what its two ends say is wrong."""

import pytest

from benchapp.core.mesh_shape import Format, format_of, shape_fault
from tests.actions.checked import stl
from tests.seating.other_formats import TETRA, obj, threemf


@pytest.mark.parametrize(
    ("data", "kind"),
    [
        (stl("arch"), "stl"),
        (b"PK\3\4\nv 1 0 0\n" + stl("arch")[13:], "stl"),  # the 80 bytes of an STL's head may hold anything
        (b"solid v\nv 1 0 0\nfacet normal 0 0 1\nendsolid", "stl"),
        (obj(TETRA), "obj"),
        (b"\xef\xbb\xbf# \xc5\xbc\r\n  v\t-1 0 0\r\n", "obj"),
        (threemf(TETRA), "3mf"),
        (b"PK\5\6" + bytes(18), "3mf"),
        (b"<html>\nv\n", "stl"),
        (b"v 0 0 0\nf 1 1 1\n".decode().encode("utf-16"), "stl"),
    ],
)
def test_the_bytes_tell_the_format(data: bytes, kind: Format) -> None:
    """An STL whose count fits its length is one whatever its head says; what is none of the three is taken for one."""
    assert format_of(len(data), data) == kind


@pytest.mark.parametrize("data", [stl("arch"), obj(TETRA), threemf(TETRA)])
def test_a_whole_file_has_no_fault_and_half_a_file_has_one(data: bytes) -> None:
    """What was cut in the middle is told at once."""
    assert shape_fault(len(data), data, data) == ""
    half = data[: len(data) // 3]
    assert "cut off" in shape_fault(len(half), half, half)
