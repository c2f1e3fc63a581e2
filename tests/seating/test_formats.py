"""The same part as STL, OBJ and 3MF is the same part; a bad OBJ or 3MF hears its sentence."""

import io
import subprocess
import sys
import zipfile
from collections.abc import Callable
from functools import cache

import numpy as np
import pytest
import trimesh

from benchapp.seating import threemf as reader
from benchapp.seating.check import check
from benchapp.seating.faults import Unusable
from benchapp.seating.formats import read_mesh
from benchapp.seating.report import as_json
from benchapp.seating.stl import read_stl
from benchapp.seating.tell import Asked
from tests.seating.made import SMALL, UP, small
from tests.seating.mutate import tiny
from tests.seating.mutate_formats import WAYS
from tests.seating.other_formats import TETRA, by_trimesh, in_components, mesh_xml, model, obj, package, threemf
from tests.seating.pairs import stl
from tests.seating.shapes import Floats

BODY = f'<object id="1" type="model">{mesh_xml(TETRA)}</object>'
ITEM = '<item objectid="1"/>'

WRITTEN: dict[str, Callable[[Floats], bytes]] = {
    "OBJ": obj,
    "OBJ, a/b/c": lambda one: obj(one, "{0}/{0}/{0}"),
    "OBJ, a//c": lambda one: obj(one, "{0}//{0}"),
    "OBJ, negative": lambda one: obj(one, "{0}/{0}", relative=True),
    "OBJ of trimesh": lambda one: by_trimesh(one, "obj"),
    "3MF": threemf,
    "3MF, inches": lambda one: threemf(one, "inch", 25.4),
    "3MF, components": in_components,
    "3MF of trimesh": lambda one: by_trimesh(one, "3mf"),
}


def volume(corners: Floats) -> float:
    """Return the volume that triangles enclose."""
    one = corners.astype(np.float64)
    return float(np.einsum("ij,ij->", one[:, 0], np.cross(one[:, 1], one[:, 2])) / 6)


def said(data: bytes) -> str:
    """Return the sentence that a file hears."""
    with pytest.raises(Unusable) as caught:
        read_mesh(data, "arch")
    (fault,) = caught.value.faults
    assert fault.endswith(".") and fault.count(".") >= 2 and "arch" in fault
    return fault


@pytest.mark.parametrize("way", WRITTEN)
def test_every_format_gives_the_corners_of_the_stl(way: str) -> None:
    """Each writing of a part gives the triangles of its STL, in their order."""
    _base, arch = tiny(2)
    expected = read_stl(stl(arch), "arch")
    found = read_mesh(WRITTEN[way](arch), "arch")
    assert found.dtype == np.float32 and np.allclose(found, expected, rtol=0, atol=1e-5)


def report_of(base: bytes, arch: bytes) -> dict[str, object]:
    """Return a report without the hashes of its files."""
    found = as_json(check(base, arch, Asked("lower", SMALL, UP)).report)
    for part in found["meshes"].values():
        del part["sha256"]
    return found


@cache
def report_of_stl() -> dict[str, object]:
    """Return the report of the small pair as STL."""
    base, arch = small()
    return report_of(stl(base), stl(arch))


@pytest.mark.parametrize("ways", [("OBJ, negative", "3MF"), ("3MF, components", "OBJ of trimesh")])
def test_a_pair_in_other_formats_has_the_same_report(ways: tuple[str, str]) -> None:
    """Every number of the report is that of the STL pair, also where the two files differ in format."""
    base, arch = small()
    expected, found = report_of_stl(), report_of(WRITTEN[ways[0]](base), WRITTEN[ways[1]](arch))
    assert expected["warnings"] == found["warnings"]
    flat = [list(numbers(one)) for one in (expected, found)]
    assert len(flat[0]) > 100 and flat[1] == pytest.approx(flat[0], abs=2e-3)


def numbers(tree: object) -> list[float]:
    """Return all numbers of plain data, in their order."""
    if isinstance(tree, dict):
        tree = list(tree.values())
    if isinstance(tree, list | tuple):
        return [number for one in tree for number in numbers(one)]
    return [float(tree)] if isinstance(tree, int | float) else []


def test_a_3mf_in_inches_needs_no_word_and_whoever_says_a_unit_is_heard() -> None:
    """The unit that a 3MF states is taken; what a person says the files are in counts more."""
    base, arch = small()
    inches = [threemf(one, "inch", 25.4) for one in (base, arch)]
    wrongly_mm = [threemf(one / 25.4) for one in (base, arch)]
    asked = Asked("lower", SMALL, UP)
    known = report_of_stl()["resin_ml"]
    assert check(inches[0], stl(arch), asked).report.resin_ml == pytest.approx(known, abs=1e-3)
    in_inches = Asked("lower", SMALL, UP, unit="inch")
    assert check(wrongly_mm[0], wrongly_mm[1], in_inches).report.resin_ml == pytest.approx(known, abs=1e-3)
    with pytest.raises(Unusable, match="diagonals"):
        check(wrongly_mm[0], wrongly_mm[1], asked)


@pytest.mark.parametrize(
    ("unit", "size"),
    [("micron", 0.001), ("millimeter", 1), ("centimeter", 10), ("inch", 25.4), ("foot", 304.8), ("meter", 1000)],
)
def test_units_of_a_3mf(unit: str, size: float) -> None:
    """The six units of the 3MF Core Specification come out in mm."""
    assert read_mesh(package(model(BODY, ITEM, unit)), "arch").max() == pytest.approx(size, rel=1e-6)


def test_polygons_become_fans_and_objects_one() -> None:
    """A box of quads, one of them in another object, has twelve triangles and its volume; comments are left out."""
    box = trimesh.creation.box(extents=(2, 3, 4)).vertices
    quads = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]
    lines = ["# box", "o one", *("v {} {} {}".format(*point) for point in box), "s off"]
    faces = ["f " + " ".join(f"{at + 1}/1" for at in quad) + "  # a side" for quad in quads]
    text = "\r\n".join([*lines, *faces[:5], "g two", "usemtl grey", faces[5].replace("f ", "\tf\t")])
    found = read_mesh(b"\xef\xbb\xbf" + text.encode(), "arch")
    assert found.shape == (12, 3, 3) and abs(volume(found)) == pytest.approx(24)
    five = b"v 0 0 0\nv 2 0 0\nv 3 2 0\nv 1 3 0\nv -1 2 0\nf 1 2 \\\n3 4 5\nf 1 2 3\n"
    assert read_mesh(five, "arch").shape == (4, 3, 3)


def test_negative_numbers_count_from_where_the_face_stands() -> None:
    """Wavefront OBJ: -1 is the vertex before the face, not the last of the file (trimesh alone would take that)."""
    text = b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf -3 -2 -1\nv 0 0 9\nv 1 0 9\nv 0 1 9\nf -3 -2 -1\n"
    assert read_mesh(text, "arch")[:, 0, 2].tolist() == [0, 9]
    assert "names vertex -4, and there are 3" in said(text.replace(b"f -3", b"f -4", 1))


def test_everything_that_is_built_is_placed() -> None:
    """Items of one part number, components of components and a mirror: count, place and volume by hand."""
    moved = 'transform="1 0 0 0 1 0 0 0 1 {} 0 0"'
    twice = f'<item objectid="1" partnumber="a"/><item objectid="1" partnumber="a" {moved.format(5)}/>'
    found = read_mesh(package(model(BODY, twice)), "arch")
    assert len(found) == 8 and volume(found) == pytest.approx(2 / 6) and found.max() == 6
    deep = BODY + "".join(
        f'<object id="{k}"><components>{f"<component objectid={chr(34)}{k - 1}{chr(34)}/>" * 4}</components></object>'
        for k in range(2, 5)
    )
    found = read_mesh(package(model(deep, '<item objectid="4"/>')), "arch")
    assert len(found) == 4 * 64 and volume(found) == pytest.approx(64 / 6)
    mirror = '<item objectid="1" transform="-1 0 0 0 1 0 0 0 1 0 0 0"/>'
    found = read_mesh(package(model(BODY + BODY.replace('"1"', '"8"', 1), mirror)), "arch")
    assert len(found) == 4 and volume(found) == pytest.approx(1 / 6) and found.min() == -1
    elsewhere = package(model(BODY, ITEM), "Parts/a.model")
    assert len(read_mesh(elsewhere, "arch")) == 4


def test_supports_are_no_part_of_the_shape() -> None:
    """Of five types of objects (3MF core schema 1.2.2) a part and its open surfaces are read, supports and helpers are
    not; without a type it is a part."""
    types = ("model", "surface", "support", "solidsupport", "other")
    first = 'id="1" type="model"'
    body = "".join(BODY.replace(first, f'id="{at}" type="{kind}"') for at, kind in enumerate(types, 1))
    body += BODY.replace(first, 'id="6"')
    items = "".join(f'<item objectid="{at}" transform="1 0 0 0 1 0 0 0 1 {10 * at} 0 0"/>' for at in range(1, 7))
    found = read_mesh(package(model(body, items)), "arch")
    assert len(found) == 12 and set(np.floor(found[..., 0].min(axis=1) / 10).tolist()) == {1.0, 2.0, 6.0}
    assert "builds supports alone" in said(package(model(body, '<item objectid="3"/><item objectid="5"/>')))


def zipped(**parts: bytes) -> bytes:
    """Return a zip of parts, in whose names `_` is a point."""
    found = io.BytesIO()
    with zipfile.ZipFile(found, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in parts.items():
            archive.writestr(name.replace("_", "."), data)
    return found.getvalue()


def locked(data: bytes) -> bytes:
    """Return a zip whose parts say that they are encrypted (APPNOTE 4.4.4: bit 0 of the flags)."""
    found = bytearray(data)
    for sign, flags in ((b"PK\1\2", 8), (b"PK\3\4", 6)):
        at = found.find(sign)
        while at >= 0:
            found[at + flags] |= 1
            at = found.find(sign, at + 4)
    return bytes(found)


LAUGH = "".join(
    f'<object id="{k}"><components>{f"<component objectid={chr(34)}{k - 1}{chr(34)}/>" * 10}</components></object>'
    for k in range(2, 60)
)
ENTITIES = (
    b'<!DOCTYPE a [<!ENTITY a "aaaaaaaaaa">'
    + b"".join(b'<!ENTITY %c "%s">' % (98 + k, b"&%c;" % (97 + k) * 10) for k in range(20))
    + b"]>"
)
CIRCLE = '<object id="2"><components><component objectid="2"/></components></object>'


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"v 0 0 0\nv 1 0 0\nv 0 1 0\n", "holds no triangle"),
        (b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 4\n", "Face 1 in the OBJ file of the arch names vertex 4, and there are 3"),
        (b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\nf 0 1 2\n", "Face 2 in the OBJ file of the arch names vertex 0"),
        (b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2\n", "has no three whole numbers"),
        (b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\nf 1 x 3\n", "Face 2 in the OBJ file of the arch has no three whole"),
        (b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 " + b"9" * 40, "has no three whole numbers"),
        (b"v 0 0 0\nv 1 zero 0\nv 0 1 0\nf 1 2 3\n", "Vertex 2 in the OBJ file of the arch has no three numbers"),
        (b"v 0 0 0\nv 1 0\nv 0 1 0\nf 1 2 3\n", "Vertex 2 in the OBJ file of the arch has no three numbers"),
        (b"v 0 0 0\nv 1 nan 0\nv 0 1 0\nf 1 2 3\n", "coordinates that are no numbers"),
        (b"v 0 0 0\nv 1 1e300 0\nv 0 1 0\nf 1 2 3\n", "coordinates that are no numbers"),
        (package(model(BODY, ITEM))[:-30], "is cut off or damaged"),
        (package(model(BODY, ITEM))[:400], "is cut off or damaged"),
        (zipped(orders_csv=b"a,b\n"), "is a zip file without a 3D model"),
        (zipped(), "is a zip file without a 3D model"),
        (locked(zipped(a_model=model(BODY, ITEM))), "is locked by a password"),
        (package(model(BODY, ITEM)[:300]), "its XML ends or breaks at line"),
        (package(b""), "its XML ends or breaks at line 1"),
        (package(ENTITIES + b"<model>&u;</model>"), "declarations (DTD)"),
        (package(model(BODY, ITEM, "cubit")), "states a unit that there is not: 'cubit'"),
        (package(model(BODY, ITEM.replace("1", "5"))), "places object '5', which it does not hold"),
        (package(model(BODY + LAUGH, '<item objectid="59"/>')), "places too much"),
        (package(model(BODY + CIRCLE, '<item objectid="2"/>')), "places too much"),
        (package(model(BODY + BODY, ITEM)), "two objects with the id '1'"),
        (package(model(BODY, "")), "holds no triangle"),
        (package(model("", "")), "holds no triangle"),
        (package(model(BODY, ITEM.replace("/>", ' transform="1 0 0"/>'))), "no twelve numbers: '1 0 0'"),
        (package(model(BODY, ITEM.replace("/>", f' transform="{"nan " * 12}"/>'))), "no twelve numbers"),
        (package(model(BODY.replace('v1="0"', 'v1="4"', 1), ITEM)), "Triangle 1 in the 3MF file of the arch names a"),
        (package(model(BODY.replace('v1="0"', 'v1="-1"', 1), ITEM)), "names a vertex that is not there"),
        (package(model(BODY.replace('x="1.0"', 'x="one"'), ITEM)), "has no three numbers ('one 0.0 0.0')"),
        (package(model(BODY.replace('x="1.0"', ""), ITEM)), "Vertex 3 in the 3MF file of the arch has"),
        (package(model(BODY.replace('v3="', 'v3=".'), ITEM)), "Triangle 1 in the 3MF file of the arch has"),
        (package(model(BODY.replace("<vertex ", "<corner "), ITEM)), "that is not there: object '1' has 0"),
        (package(model(BODY.replace("vertices>", "corners>"), ITEM)), "is damaged: what stands in it"),
        (package(model(BODY.replace('x="1.0"', 'x="nan"'), ITEM)), "coordinates that are no numbers"),
        (package(model(BODY, ITEM, more=' xmlns:b="urn:beams" requiredextensions="b"')), "of the format (urn:beams)"),
        (package(model(BODY, ITEM.replace("/>", ' path="/3D/b.model"/>'))), "extension of the format (path)"),
    ],
)  # fmt: skip
def test_each_bad_file_hears_its_own_sentence(data: bytes, words: str) -> None:
    """Each fault of an OBJ or a 3MF is told where it is, and with its remedy."""
    assert words in said(data)


def test_what_is_too_large_is_not_read(monkeypatch: pytest.MonkeyPatch) -> None:
    """A zip of few bytes that unpacks to more than may be is refused, also where it lies; so is a long list."""
    bomb = package(b" " * 100_000_001)
    assert len(bomb) < 200_000 and "unpacks to more than 100 MB" in said(bomb)
    lie = bomb.replace((100_000_001).to_bytes(4, "little"), (999).to_bytes(4, "little"))
    assert lie != bomb and "cut off or damaged" in said(lie)
    assert "lists 20000 parts" in said(b"PK\3\4" + b"PK\1\2" * 20_000)
    monkeypatch.setattr(reader, "MOST_TRIANGLES", 7)
    assert "places too much" in said(package(model(BODY, ITEM * 2)))
    monkeypatch.setattr("benchapp.seating.stl.MOST_BYTES", 50)
    assert "at most 0 MB are read" in said(obj(TETRA))


def test_an_stl_is_read_without_the_libraries() -> None:
    """Whoever checks STL files has loaded neither trimesh nor what reads XML."""
    code = (
        "import sys, benchapp.seating.check; from benchapp.seating.formats import read_mesh\n"
        "read_mesh(bytes(80) + (1).to_bytes(4, 'little') + bytes(50), 'arch')\n"
        "sys.exit(len({'trimesh', 'lxml', 'networkx'} & set(sys.modules)))"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


@pytest.mark.parametrize("way", WAYS)
def test_spoilt_files_are_refused_in_words_or_read(way: str) -> None:
    """Forty files spoilt in each way end in triangles or in one sentence, never in anything else."""
    part = tiny(2)[1][:120]
    came = set()
    for number in range(40):
        data = WAYS[way](part, np.random.default_rng([3, number]))
        try:
            came.add(read_mesh(data, "arch").shape[1:])
        except Unusable as fault:
            came.add(len(fault.faults))
    assert came <= {(3, 3), 1} and 1 in came
