"""Bad files hear what is wrong with them, in one sentence for each fault, with a remedy."""

from collections.abc import Callable

import numpy as np
import pytest

from benchapp.seating.check import check
from benchapp.seating.faults import Unusable
from benchapp.seating.pair import pair_of
from benchapp.seating.stl import read_stl
from benchapp.seating.tell import Asked
from tests.seating.made import SMALL, UP, ascii_stl, small, turned
from tests.seating.mutate import WAYS, one
from tests.seating.pairs import stl


def said(base: bytes, arch: bytes, asked: Asked | None = None) -> list[str]:
    """Return the sentences that a pair hears."""
    with pytest.raises(Unusable) as caught:
        check(base, arch, asked or Asked("lower", SMALL, UP))
    assert all(fault.endswith(".") and fault.count(".") >= 2 for fault in caught.value.faults)
    return caught.value.faults


def good() -> tuple[bytes, bytes]:
    """Return the two files of a sound small pair."""
    base, arch = small()
    return stl(base), stl(arch)


def nan_in(data: bytes) -> bytes:
    """Return a binary file with one coordinate that is no number."""
    return data[: 84 + 50 * 7 + 12] + np.float32("nan").tobytes() + data[84 + 50 * 7 + 16 :]


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (lambda data: b"", "is empty"),
        (lambda data: b"<html><body>not here</body></html>" * 9, "is no STL file"),
        (lambda data: b"PK\3\4" + data[4:83], "is cut off or damaged"),
        (lambda data: data[:-50], "is cut off: it announces"),
        (lambda data: data[:-7], "is cut off: it announces"),
        (lambda data: data[:80] + (2**32 - 1).to_bytes(4, "little") + data[84:], "announces 4294967295 triangles"),
        (lambda data: data + b"\0" * 130, "is longer than it says"),
        (lambda data: data[:80] + bytes(4), "holds no triangle"),
        (nan_in, "the first one is triangle 8"),
        (lambda data: b"solid x\nfacet normal 0 0 1\nouter loop\nvertex 0 0 0\nvertex 1 0 0\n", "has no end"),
        (
            lambda data: b"solid x\nfacet\nouter loop\nvertex 0 0 0\nvertex 1 0 0\nendloop\nendfacet\nendsolid x",
            "a facet has three",
        ),
        (
            lambda data: b"solid x\nfacet\nvertex 0 0 0\nvertex 1 0 0\nvertex a 0 0\nendfacet\nendsolid",
            "where a coordinate should",
        ),
        (
            lambda data: b"solid x\nfacet\nvertex 0 0 0\nvertex 1 0 0\nvertex nan 0 0\nendfacet\nendsolid",
            "are no numbers",
        ),
    ],
)
def test_each_bad_file_hears_its_own_sentence(spoil: Callable[[bytes], bytes], words: str) -> None:
    """A spoilt arch is refused with the sentence of its fault, and the sound base beside it hears nothing."""
    base, arch = good()
    (fault,) = said(base, spoil(arch))
    assert words in fault and "arch" in fault


def test_both_files_are_told_at_once() -> None:
    """Two bad files are two sentences."""
    assert len(said(b"", b"x")) == 2


def test_meshes_that_are_inside_out_or_mixed() -> None:
    """A mesh turned inside out, and one whose triangles disagree, are refused, each in its words."""
    base, arch = small()
    assert "inside out" in said(stl(base), stl(arch[:, ::-1]))[0]
    mixed = arch.copy()
    mixed[::2] = mixed[::2, ::-1]
    assert "do not agree" in said(stl(base), stl(mixed))[0]


def test_pairs_that_are_none() -> None:
    """The same file twice, swapped, moved apart, mirrored or turned over: each is told."""
    base, arch = small()
    assert "same file" in said(stl(base), stl(base))[0]
    assert "swapped" in said(stl(arch), stl(base))[0]
    assert "do not meet" in said(stl(base), stl(arch + np.array([80.0, 0, 0])))[0]
    assert "do not meet" in said(stl(base), stl((arch * [1, -1, 1])[:, ::-1]))[0]
    assert "do not meet" in said(stl(turned(base, 180, (0, 1, 0), (0, 0, -9))), stl(arch))[0]


def test_units_are_named_and_never_converted_silently() -> None:
    """Files in inches, metres or two units are refused with the unit that they look like; if said, they are taken."""
    base, arch = (one * 1.6 for one in small())
    assert "look like inch" in said(stl(base / 25.4), stl(arch / 25.4))[0]
    assert "look like m." in said(stl(base / 1000), stl(arch / 1000))[0]
    assert "two units" in said(stl(base), stl(arch / 25.4))[0]
    assert "45 to 125 mm" in said(stl(base * 9), stl(arch * 9))[0]
    found = pair_of(stl(base / 25.4), stl(arch / 25.4), "inch")
    assert found.unit == "inch" and np.ptp(found.base.mesh.vertices[:, 0]) == pytest.approx(
        np.ptp(base[..., 0]), rel=1e-5
    )


def test_axes_that_lead_nowhere() -> None:
    """An axis into the sockets, across them or of no length is refused."""
    base, arch = map(stl, small())
    for axis, words in (
        ((0, 0, -1), "into the sockets"),
        ((1, 0, 0.2), "degrees from where"),
        ((0, 0, 0), "no direction"),
    ):
        assert words in said(base, arch, Asked("lower", SMALL, axis))[0]


def test_an_arch_of_another_base_is_told() -> None:
    """An arch whose teeth stand in no socket of the base does not belong to it."""
    base, arch = small()
    half = base[(base[..., 0] > 2).all(axis=1)]
    fault = said(stl(half), stl(arch))[0]
    assert "do not belong together" in fault or "do not meet" in fault


def test_ascii_and_binary_read_alike() -> None:
    """ASCII gives the corners of the binary file to its six decimals; a binary file may begin with `solid`."""
    _base, arch = small()
    binary = stl(arch)
    assert np.allclose(read_stl(ascii_stl(arch), "arch"), read_stl(binary, "arch"), atol=1e-6)
    assert np.array_equal(read_stl(b"solid" + binary[5:], "arch"), read_stl(binary, "arch"))


BROKE_ONCE = (216,)  # a tooth with no base but its wall


def test_spoilt_files_are_refused_in_words_or_checked() -> None:
    """A file spoilt in each way, and one that once broke the check, end in a report or a sentence."""
    for number in (*range(len(WAYS)), *BROKE_ONCE):
        row = one(number, 1)
        assert row["came"] in ("report", "refused"), row


@pytest.mark.parametrize("number", [131, 216, 4206, 7546, 13491])
def test_spoilt_files_that_once_ended_in_a_trace_hear_a_sentence(number: int) -> None:
    """Files of `python -m tests.seating mutate`, seed 1: triangles lost, corners astray, bytes changed."""
    assert one(number, 1)["came"] in ("refused", "report")
