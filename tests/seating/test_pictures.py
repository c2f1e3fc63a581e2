"""The pictures of a check: a GLB that keeps to glTF 2.0 and is read by another library, and a still picture."""

import json
import struct
from dataclasses import replace
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import trimesh
from click.testing import CliRunner
from PIL import Image

from benchapp.cli import cli
from benchapp.paths import FONTS
from benchapp.seating.check import check
from benchapp.seating.draw import Window, lines_of, seen
from benchapp.seating.glb import MOST_BYTES, as_glb, glb_of, with_shown
from benchapp.seating.mesh import Mesh, edges_of
from benchapp.seating.shown import Skin, refined, shades, shown_of, simplified
from benchapp.seating.still import MOST_BYTES as MOST_PNG
from benchapp.seating.still import still_of
from benchapp.seating.tell import Asked
from tests.seating.made import SMALL, UP, checked, pair_of, small, turned
from tests.seating.pairs import stl, triangles_of
from tests.seating.test_places import hook

LOWER = f"teeth={SMALL}, fine=16"
UPPER = "fine=24, deep_by={16: .9, 25: 1.1}, jaw='upper', rod_by={(11, 21): 2.0}"  # is checked elsewhere too
WIDTHS = {"SCALAR": 1, "VEC3": 3, "VEC4": 4}
TYPES = {5126: "<f4", 5123: "<u2", 5125: "<u4", 5121: "u1"}


def parts_of(data: bytes) -> tuple[dict[str, Any], bytes]:
    """Return the JSON and the binary chunk of a GLB, its container checked by glTF 2.0, section 4.4."""
    magic, version, length = struct.unpack_from("<4sII", data)
    assert (magic, version, length) == (b"glTF", 2, len(data))
    size, kind = struct.unpack_from("<I4s", data, 12)
    assert kind == b"JSON" and size % 4 == 0
    tree = json.loads(data[20 : 20 + size])
    more, kind = struct.unpack_from("<I4s", data, 20 + size)
    assert kind == b"BIN\0" and more % 4 == 0 and 28 + size + more == len(data)
    assert 0 <= more - tree["buffers"][0]["byteLength"] < 4
    return tree, data[28 + size :]


def array(tree: dict[str, Any], binary: bytes, number: int) -> np.ndarray:
    """Return an accessor's values, its rules checked by glTF 2.0, section 3.6.2."""
    accessor = tree["accessors"][number]
    view = tree["bufferViews"][accessor["bufferView"]]
    kind, width = np.dtype(TYPES[accessor["componentType"]]), WIDTHS[accessor["type"]]
    assert view["byteOffset"] % 4 == 0 and view["byteLength"] == accessor["count"] * width * kind.itemsize
    assert view["target"] == 34963 or width * kind.itemsize % 4 == 0
    raw = binary[view["byteOffset"] : view["byteOffset"] + view["byteLength"]]
    found = np.frombuffer(raw, kind).reshape(accessor["count"], width)
    assert kind.kind != "f" or np.isfinite(found).all()
    if "min" in accessor:
        assert accessor["min"] == found.min(axis=0).tolist() and accessor["max"] == found.max(axis=0).tolist()
    return found


@pytest.mark.parametrize("plan", [LOWER, UPPER])
def test_the_glb_keeps_to_the_format(plan: str) -> None:
    """Container, accessors, indices, normals and names are as Khronos' glTF 2.0 specification asks."""
    data = glb_of(checked(plan))
    assert len(data) <= MOST_BYTES
    tree, binary = parts_of(data)
    assert tree["asset"]["version"] == "2.0" and "extensionsRequired" not in tree
    assert [node["name"] for node in tree["nodes"]] == ["jaw", "base", "arch"]
    assert np.linalg.norm(tree["nodes"][0]["rotation"]) == pytest.approx(1)
    for mesh in tree["meshes"]:
        (primitive,) = mesh["primitives"]
        values = {name: array(tree, binary, at) for name, at in primitive["attributes"].items()}
        assert set(values) == {"POSITION", "NORMAL", "COLOR_0", "_DEPTH", "_GAP", "_TOOTH"}
        assert len({len(one) for one in values.values()}) == 1
        assert "min" in tree["accessors"][primitive["attributes"]["POSITION"]]
        assert np.linalg.norm(values["NORMAL"], axis=1) == pytest.approx(1, abs=1e-5)
        assert tree["accessors"][primitive["attributes"]["COLOR_0"]]["normalized"] is True
        ends = array(tree, binary, primitive["indices"])
        largest = np.iinfo(ends.dtype).max
        assert len(ends) % 3 == 0 and ends.max() < len(values["POSITION"]) < largest
        assert set(np.unique(values["_TOOTH"])) <= set(range(-1, len(tree["nodes"][0]["extras"]["teeth"])))


def test_another_library_reads_the_same_parts() -> None:
    """trimesh finds both nodes in metres with y as the axis, as large as the pair, and every vertex's depth."""
    found = checked(LOWER)
    data, shown = with_shown(found)
    scene = trimesh.load(BytesIO(data), file_type="glb")
    assert set(scene.graph.nodes_geometry) == {"base", "arch"}
    for name, skin in (("base", shown.base), ("arch", shown.arch)):
        given = getattr(found.pair, name).mesh.vertices
        way = scene.graph[name][0]
        read = scene.geometry[scene.graph[name][1]]
        assert np.ptp(read.vertices @ way[:3, :3].T, axis=0)[1] * 1000 == pytest.approx(np.ptp(given[:, 2]), abs=0.01)
        assert len(read.faces) == len(skin.triangles)
        assert read.vertex_attributes["_DEPTH"].max() == pytest.approx(skin.depth.max(), abs=1e-6)
        back = shown.origin + skin.vertices @ shown.frame
        assert back.min(axis=0) == pytest.approx(given.min(axis=0), abs=0.02)


def test_depth_and_gap_at_the_vertices_are_those_of_the_plan() -> None:
    """Teeth are 0.5 mm deep, one 0.9, and 0.1 mm from their walls, as planned; the crowns are in no socket."""
    shown = shown_of(checked(UPPER))
    numbers = [spot.tooth for spot in shown.teeth]
    for skin in (shown.base, shown.arch):
        for number, planned in ((11, 0.5), (16, 0.9)):
            own = skin.piece == numbers.index(number)
            extra = 0.1 if skin is shown.base else 0.0  # the socket's floor lies a gap deeper
            lowest = own & (skin.vertices[:, 2] < skin.vertices[own, 2].min() + 0.02)
            assert np.median(skin.depth[lowest]) == pytest.approx(planned + extra, abs=0.08)
        wall = (skin.depth > 0.15) & (skin.depth < 0.35)
        assert np.median(skin.gap[wall]) == pytest.approx(0.1, abs=0.015)
    assert (shown.arch.depth[shown.arch.vertices[:, 2] > 2] < 0).all()


@pytest.mark.parametrize(("plan", "front"), [(LOWER, -1), (UPPER, 1)])
def test_a_jaw_lies_as_on_a_tooth_chart(plan: str, front: int) -> None:
    """The patient's right is at the left in both jaws, the front of an upper one at the top, of a lower one below."""
    teeth = shown_of(checked(plan)).teeth
    assert teeth[0].point[0] < -5 and teeth[-1].point[0] > 5
    assert (teeth[len(teeth) // 2].point[1] - teeth[0].point[1]) * front > 2


def test_a_ball_stays_a_ball_when_it_is_made_light() -> None:
    """A ball of 82,000 triangles keeps its radius within 0.02 mm and its closed surface with 3,000."""
    ball = trimesh.creation.icosphere(subdivisions=6, radius=10.0)
    light = simplified(Mesh(np.array(ball.vertices), np.array(ball.faces)), 3000)
    assert 2900 < len(light.triangles) <= 3060 and edges_of(light).open == 0
    middles = np.concatenate([light.vertices, light.corners.mean(axis=1)])
    assert np.abs(np.linalg.norm(middles, axis=1) - 10.0).max() < 0.05
    finer = refined(light, light.corners[:, :, 2].min(axis=1) > 0, 0.4)
    assert edges_of(finer).open == 0 and len(finer.triangles) > 2 * len(light.triangles)


def test_a_torn_and_rough_pair_still_fits() -> None:
    """A mesh whose faces share no direction gets a GLB of at most 1 MB too."""
    found = checked(LOWER)
    shown = shown_of(found)
    rng = np.random.default_rng(1)
    arch = shown.arch
    rough = Mesh(arch.vertices + rng.normal(0, 0.2, arch.vertices.shape), arch.triangles)
    skin = Skin(rough.vertices, rough.triangles, shades(rough), arch.depth, arch.gap, arch.piece)
    both = type(shown)(skin, skin, shown.teeth, shown.connectors, shown.frame, shown.origin)
    assert len(as_glb(both, found.report, creased=False)) < len(as_glb(both, found.report))
    assert len(as_glb(both, found.report, creased=False)) <= MOST_BYTES


def test_what_is_drawn_of_a_ball() -> None:
    """Seen from above a ball covers the area of its circle, is as high as it is, and its lines are right."""
    ball = trimesh.creation.icosphere(subdivisions=4, radius=10.0)
    mesh = Mesh(np.array(ball.vertices), np.array(ball.faces))
    nothing = np.zeros(len(mesh.vertices))
    skin = Skin(
        mesh.vertices, mesh.triangles, shades(mesh), mesh.vertices[:, 2] + 0.0, nothing, nothing.astype(np.int64)
    )
    window = Window(-12, 12, 10, 240, 240)
    found = seen([skin], window)
    there = found.part == 0
    assert there.sum() / 100 == pytest.approx(np.pi * 100, rel=0.005)
    x, y = np.meshgrid((np.arange(240) + 0.5) / 10 - 12, 12 - (np.arange(240) + 0.5) / 10)
    inner = np.hypot(x, y) < 9
    assert np.abs(found.height - np.sqrt(np.maximum(100 - x**2 - y**2, 0)))[inner].max() < 0.05
    assert np.abs(found.normal[inner] * 10 - np.stack([x, y, found.height], -1)[inner]).max() < 0.1
    lines = lines_of(found.depth, 5.0, there & inner) & (np.hypot(x, y) < 8.8)  # its border has a line too
    assert np.hypot(x, y)[lines] == pytest.approx(np.sqrt(75), abs=0.2)


def test_the_still_picture_is_small_and_shows_its_parts() -> None:
    """PNG, 1600 wide, under 300 kB; the deeper tooth is darker than its neighbour, the cut is red."""
    found = checked(UPPER)
    shown = shown_of(found)
    data = still_of(shown, found.report, FONTS)
    picture = Image.open(BytesIO(data))
    assert picture.format == "PNG" and picture.width == 1600 and 500 < picture.height <= 1000
    assert len(data) <= MOST_PNG
    dots = np.asarray(picture.convert("RGB")).astype(int)
    red = (dots[..., 0] > 150) & (dots[..., 1:].max(axis=-1) < 60)
    cuts = sum(one.cut_depth > 0 for one in shown.connectors)
    assert cuts == 13 and red[:, :800].sum() < 50 < red[:, 800:].sum()
    coloured = np.ptp(dots, axis=-1) > 25
    assert coloured[:, :800].mean() > 0.05 and coloured[:, 800:].mean() > 0.02


def test_where_the_arch_is_stopped_is_in_both_pictures() -> None:
    """In the GLB a place lies where its point of the files does, and names tooth and side; in the still picture a red
    cross stands over it, where a pair that goes in has nothing red."""
    pair = pair_of(LOWER)
    base = pair.base() + hook(42, "buccal", 0.6)
    base, arch = (turned(triangles_of(body), 40, (1, 2, 3), (5, 6, 7)) for body in (base, pair.arch()))
    way = turned(np.array([[UP]]), 40, (1, 2, 3), (0, 0, 0))[0, 0]
    found = check(stl(base), stl(arch), Asked("lower", SMALL, tuple(way)))
    data, shown = with_shown(found)
    (told,) = [one for one in parts_of(data)[0]["nodes"][0]["extras"]["stops"] if one["kind"] == "undercut"]
    assert (told["tooth"], told["side"], told["size_mm"]) == (42, "buccal", pytest.approx(0.6, abs=0.02))
    back = shown.origin + np.array(told["point"]) @ shown.frame
    assert back == pytest.approx(np.array(found.report.undercuts[0].point_mm), abs=2e-3)
    over = np.abs(shown.base.vertices[:, :2] - told["point"][:2]).max(axis=1) < 0.8
    assert told["point"][2] == pytest.approx(shown.base.vertices[over, 2].max(), abs=0.02)  # on top of the hook
    red = []
    for report in (found.report, replace(found.report, undercuts=())):
        picture = Image.open(BytesIO(still_of(shown, report, FONTS)))
        dots = np.asarray(picture.convert("RGB")).astype(int)[: picture.height - 140, :800]
        red.append((dots[..., 0] > 150) & (dots[..., 1:].max(axis=-1) < 60))
    assert red[1].sum() < 50 and red[0].sum() > red[1].sum() + 120
    rows, columns = np.nonzero(red[0] & ~red[1])
    assert np.ptp(rows) < 30 and np.ptp(columns) < 30  # one cross, and in one place


def test_the_command_writes_both(tmp_path: Path) -> None:
    """`--glb` and `--png` write the pictures of the check."""
    base, arch = small()
    (tmp_path / "base.stl").write_bytes(stl(base))
    (tmp_path / "arch.stl").write_bytes(stl(arch))
    files = [str(tmp_path / name) for name in ("base.stl", "arch.stl")]
    more = ["--glb", str(tmp_path / "jaw.glb"), "--png", str(tmp_path / "jaw.png")]
    done = CliRunner().invoke(cli, ["seating", *files, "--jaw", "lower", "--axis", "0,0,1", *more])
    assert done.exit_code == 0, done.output
    parts_of((tmp_path / "jaw.glb").read_bytes())
    assert Image.open(BytesIO((tmp_path / "jaw.png").read_bytes())).width == 1600
