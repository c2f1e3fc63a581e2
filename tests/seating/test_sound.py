"""What files hold beside one outer surface: triangles twice, hollow spaces, shells turned round, an arch in pieces."""

from dataclasses import replace
from io import BytesIO
from itertools import pairwise

import jsonschema
import manifold3d as m3
import numpy as np
import pytest
import trimesh

from benchapp.paths import FONTS
from benchapp.seating import bodies as bodies_module
from benchapp.seating import sound as sound_module
from benchapp.seating.check import Checked, check
from benchapp.seating.faults import Unusable
from benchapp.seating.glb import with_shown
from benchapp.seating.mesh import weld
from benchapp.seating.report import as_json, schema
from benchapp.seating.sound import holds, shells_of, sound, surrounded
from benchapp.seating.still import still_of
from benchapp.seating.tell import Asked
from tests.seating.pairs import Pair, Plan, stl, triangles_of
from tests.seating.shapes import Floats

TEETH = (34, 33, 32, 31, 41, 42, 43, 44)
PAIR = Pair(Plan("lower", TEETH, 20, scallop=0.3))
BASE = triangles_of(PAIR.base())


WHOLE = triangles_of(PAIR.arch())
NAMES = list(pairwise(tooth.number for tooth in PAIR.teeth))


def in_pieces(ends: dict[int, float], lean: float = 0.0) -> Floats:
    """Return the arch with connectors parted by a slit of so many mm each, by their place in the row, which leans by so
    many degrees."""
    teeth, rods = PAIR.bodies()
    pieces, piece = [], [teeth[0]]
    for at, (rod, body) in enumerate(zip(PAIR.rods, rods, strict=True)):
        if at in ends:
            way = (rod.end - rod.start) / np.linalg.norm(rod.end - rod.start)
            plane = np.cos(np.radians(lean)) * way + np.sin(np.radians(lean)) * np.array([0.0, 0.0, 1.0])
            middle = float(plane @ (rod.start + rod.end) / 2)
            pieces.append([*piece, body.split_by_plane(tuple(plane), middle - ends[at] / 2)[1]])
            piece = [body.split_by_plane(tuple(plane), middle + ends[at] / 2)[0], teeth[at + 1]]
        else:
            piece += [body, teeth[at + 1]]
    return np.concatenate([triangles_of(m3.Manifold.batch_boolean(one, m3.OpType.Add)) for one in [*pieces, piece]])


def checked(arch: Floats) -> Checked:
    """Check an arch in the pair's base."""
    return check(stl(BASE), stl(arch), Asked("lower", teeth=TEETH, axis=(0.0, 0.0, 1.0)))


def taken(corners: Floats) -> tuple[int, list[str]]:
    """Return how many triangles are taken of a part, and what is said of it."""
    mesh, closed, said = sound(corners.astype(np.float32), "arch", 1.0)
    assert closed
    return len(mesh.triangles), said


@pytest.fixture(scope="module")
def whole() -> Checked:
    """The arch as it should be."""
    return checked(WHOLE)


def same(found: Checked, as_other: Checked) -> None:
    """Assert that all numbers of a report are those of another one, within what rounding of corners may do."""
    told, other = as_json(found.report), as_json(as_other.report)
    for part in ("teeth", "connectors"):
        for here, there in zip(told[part], other[part], strict=True):
            for name, value in there.items():
                if isinstance(value, float):
                    assert here[name] == pytest.approx(value, rel=2e-3, abs=2e-3), (name, here, there)
    assert told["resin_ml"] == pytest.approx(other["resin_ml"], rel=2e-3)


def test_a_point_within_a_closed_surface_is_surrounded() -> None:
    """Of a box and a hollow ball by their formulas; turned round nothing surrounds a point."""
    box = triangles_of(m3.Manifold.cube((2, 2, 2), True))
    for at in (-1.1, -0.9, 0.0, 0.5, 0.99, 1.01, 3.0):
        assert surrounded(np.array([at, 0.2, -0.3]), box) == (abs(at) < 1)
        assert not surrounded(np.array([at, 0.2, -0.3]), box[:, ::-1])
    shell = m3.Manifold.sphere(2, 64) - m3.Manifold.sphere(1, 64)
    assert [surrounded(np.array([at, 0, 0.01]), triangles_of(shell)) for at in (0.0, 1.5, 2.1)] == [False, True, False]


@pytest.fixture(params=[sound_module.MOST_IN_ONE, 10])
def numbers(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Triangles told apart by one number each, and, as those of very large meshes, by three."""
    monkeypatch.setattr(sound_module, "MOST_IN_ONE", request.param)


@pytest.mark.usefixtures("numbers")
def test_a_triangle_that_stands_there_twice_is_taken_once(whole: Checked) -> None:
    """A file that holds the whole arch twice, and one that repeats a few triangles, are the arch; both are said."""
    mixed = np.concatenate([WHOLE, np.roll(WHOLE, 1, axis=1)])
    assert taken(WHOLE) == (len(WHOLE), [])
    assert taken(mixed) == (
        len(WHOLE), [f"{len(WHOLE)} triangles of the arch stand in the file more than once and were taken once."])
    assert taken(np.concatenate([WHOLE, WHOLE[5:6]]))[1] == [
        "1 triangle of the arch stands in the file more than once and was taken once."]
    same(checked(mixed), whole)


@pytest.mark.usefixtures("numbers")
def test_a_surface_that_faces_both_ways_is_refused() -> None:
    """Each triangle a second time turned round: nothing tells inside from outside."""
    with pytest.raises(Unusable, match="The arch faces both ways") as found:
        checked(np.concatenate([WHOLE, WHOLE[:, ::-1]]))
    assert len(found.value.faults) == 1


def test_a_hollow_space_is_left_out(whole: Checked) -> None:
    """A ball within a tooth, seen from within, changes nothing but the count; its volume by the library's own."""
    ball = m3.Manifold.sphere(1.8, 24)
    tooth = PAIR.teeth[2].world(np.array([0.0, 0.0, 4.0]))
    hollow = np.concatenate([WHOLE, (triangles_of(ball) * [0.9, 0.9, 1.5] + tooth)[:, ::-1]])
    count, said = taken(hollow)
    volume = ball.volume() * 0.9 * 0.9 * 1.5
    assert count == len(WHOLE)
    assert said == [f"1 hollow space within the arch was left out, {volume:.2f} mm³ in all."]
    same(checked(hollow), whole)


def test_a_shell_that_is_turned_round_is_refused() -> None:
    """A tooth, or a connector whose ends lie in its teeth, with its inside out is no hollow space."""
    teeth, rods = PAIR.bodies()
    for parts in ([*teeth[1:], teeth[0]], [*teeth, rods[2]]):
        corners = [triangles_of(part) for part in parts]
        with pytest.raises(Unusable, match="The arch is inside out"):
            sound(np.concatenate([*corners[:-1], corners[-1][:, ::-1]]).astype(np.float32), "arch", 1.0)


def test_teeth_and_connectors_that_were_not_made_one_are_an_arch(whole: Checked) -> None:
    """Each a closed surface that reaches into its neighbours: every number is that of the arch in one piece."""
    teeth, rods = PAIR.bodies()
    loose = checked(np.concatenate([triangles_of(part) for part in (*teeth, *rods)]))
    same(loose, whole)
    assert not [said for said in loose.report.warnings if "pieces" in said]


@pytest.mark.parametrize(("slits", "lean"), [
    ({3: 0.02}, 0.0), ({3: 0.3}, 15.0), ({0: 0.1, 5: 0.02}, 0.0), (dict.fromkeys(range(7), 0.2), 0.0),
])
def test_an_arch_in_pieces_is_told_tooth_by_tooth(slits: dict[int, float], lean: float, whole: Checked) -> None:
    """Parted by slits: each tooth as in one piece, no section there, and a sentence that names them; pictures come."""
    found = checked(in_pieces(slits, lean))
    ends = [one for one in found.report.connectors if not one.area_mm2]
    assert [one.between for one in ends] == [NAMES[at] for at in slits]
    assert all(one.intervals["area_mm2"] == (0, 0) and one.cut_depth_mm == 0 for one in ends)
    told = ", ".join(f"{a}-{b}" for a, b in (NAMES[at] for at in slits))
    assert [said.partition(":")[0] for said in found.report.warnings if "pieces" in said] == [
        f"The arch is in pieces that stand apart at {told}"]
    kept = replace(found.report, connectors=tuple(
        other if one in ends else one
        for one, other in zip(found.report.connectors, whole.report.connectors, strict=True)))
    same(replace(found, report=kept), whole)
    jsonschema.validate(as_json(found.report), schema())
    data, shown = with_shown(found)
    assert trimesh.load(BytesIO(data), file_type="glb").geometry
    assert all(np.isfinite(spot.point).all() and np.isfinite(spot.normal).all() for spot in shown.connectors)
    assert still_of(shown, found.report, FONTS).startswith(b"\x89PNG")


@pytest.mark.parametrize(("size", "off"), [(0.0005, 0.01), (0.002, 0.02)])
def test_a_surface_with_cracks_is_whole(size: float, off: float, whole: Checked) -> None:
    """Patches that were never sewn, some thousandths of a mm apart: each section is that of the sewn arch."""
    rng, patch = np.random.default_rng(1), np.round(WHOLE.mean(axis=1)[:, 0] / 4).astype(int)
    moves = rng.normal(0, size, (int(np.ptp(patch)) + 1, 3))
    found = checked(WHOLE + moves[patch - patch.min()][:, None])
    assert not found.report.meshes["arch"].closed
    for part, of in (("connectors", "area_mm2"), ("teeth", "depth_median_mm")):
        told, other = ([getattr(one, of) for one in getattr(it.report, part)] for it in (found, whole))
        assert told == pytest.approx(other, rel=off)
    assert found.report.resin_ml == pytest.approx(whole.report.resin_ml, rel=off)
    assert not [said for said in found.report.warnings if "pieces" in said]


def test_pieces_with_holes_are_told_apart_where_a_plane_parts_them() -> None:
    """Of open shells nothing tells what lies within them; that nothing is between two teeth is seen all the same."""
    pieces = in_pieces({3: 0.3})
    high = pieces[:, :, 2].max(axis=1)
    found = checked(pieces[high < high.max() - 0.3])
    assert not found.report.meshes["arch"].closed
    assert [one.between for one in found.report.connectors if not one.area_mm2] == [NAMES[3]]


def test_a_surface_in_shreds_is_not_looked_at_shred_by_shred(monkeypatch: pytest.MonkeyPatch) -> None:
    """Of triangles that hang together nowhere there are thousands: which of them lie within others is not asked."""

    def asked(point: Floats, corners: Floats) -> bool:
        raise AssertionError(f"asked of {len(corners)} triangles")

    for module in (sound_module, bodies_module):
        monkeypatch.setattr(module, "surrounded", asked)
    shreds = (WHOLE + np.random.default_rng(1).normal(0, 1e-3, WHOLE.shape)).astype(np.float32)
    mesh, closed, _said = sound(shreds, "arch", 1.0)
    assert not closed and shells_of(mesh).max() > 1000
    assert not bodies_module.apart(mesh, mesh.vertices[:, 0], np.array([-5.0, 5.0])).any()


@pytest.mark.parametrize(("base", "arch", "said"), [
    ((BASE, WHOLE), (WHOLE,), "The file of the base holds the arch too."),
    ((BASE,), (BASE, WHOLE), "The file of the arch holds the base too."),
    ((BASE, WHOLE), (WHOLE, BASE), "Both files hold the same surfaces."),
    ((WHOLE,), (WHOLE[::-1],), "Both files hold the same surfaces."),
])
def test_a_file_that_holds_both_parts_is_told(base: tuple[Floats, ...], arch: tuple[Floats, ...], said: str) -> None:
    """What comes of exporting a whole scene twice, or of the same part twice, in whatever order of triangles."""
    with pytest.raises(Unusable) as found:
        check(stl(np.concatenate(base)), stl(np.concatenate(arch)), Asked("lower"))
    assert [fault.partition(". ")[0] + "." for fault in found.value.faults] == [said]


def test_corners_in_common_do_not_make_two_parts_one() -> None:
    """Parts that lie on the same planes of a grid share coordinates, not corners; half a part is not the part."""
    box = weld(triangles_of(m3.Manifold.cube((9, 9, 9)).refine(30)).astype(np.float32))
    other = weld(triangles_of(m3.Manifold.cube((9, 9, 9)).refine(30).translate((0, 0.15, 0.15))).astype(np.float32))
    assert holds(box, box) and not holds(box, other) and not holds(other, box)
    half = box.part(np.arange(len(box.triangles)) < len(box.triangles) // 2)
    assert holds(box, half) and not holds(half, box)
