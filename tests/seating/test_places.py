"""Where the arch is stopped: places that are known by construction come out by tooth, side, point and size."""

from functools import cache

import manifold3d as m3
import numpy as np
import pytest
import trimesh
from scipy import ndimage

from benchapp.seating.around import DIRECTIONS
from benchapp.seating.check import check
from benchapp.seating.mesh import seen_of
from benchapp.seating.places import SIDES, spots_of, ways_of
from benchapp.seating.report import PlaceReport, Report
from benchapp.seating.seat import MOST_UNDERCUT
from benchapp.seating.tell import Asked
from benchapp.seating.wayin import height_map, overhangs, undercut_of
from tests.seating.demo import checked_demo, plans
from tests.seating.made import SMALL, UP, pair_of, turned
from tests.seating.pairs import stl, triangles_of
from tests.seating.shapes import Floats
from tests.seating.test_sections import mesh_of, shared

PLAN = f"teeth={SMALL}, fine=16"
OUT = {"buccal": (0, 1), "lingual": (0, -1), "mesial": (1, 0), "distal": (-1, 0)}  # of a tooth on the patient's right


def place(tooth: int, side: str, mm: float) -> Floats:
    """Return the point of the plane so far from a tooth's middle on its side; on the left mesial is the other way."""
    one = next(one for one in pair_of(PLAN).teeth if one.number == tooth)
    along, buccal = OUT[side]
    along *= -1 if tooth // 10 in (2, 3) else 1
    return one.at + mm * (along * one.along + buccal * one.along @ np.array([[0.0, -1.0], [1.0, 0.0]]))


def hook(tooth: int, side: str, wide: float, inner: float = 1.6, low: float = 7.5) -> m3.Manifold:
    """Return an arm of the base, so wide (mm), that comes from a post on one side of a tooth at a height (mm) and ends
    so far from the tooth's middle."""
    one = next(one for one in pair_of(PLAN).teeth if one.number == tooth)
    way = place(tooth, side, 1.0) - one.at
    arm = m3.Manifold.cube([5.2 - inner, wide, 0.4]).translate([inner, -wide / 2, low])
    post = m3.Manifold.cube([0.6, wide, low + 1.4]).translate([4.6, -wide / 2, -1])
    return (arm + post).rotate([0, 0, float(np.degrees(np.arctan2(way[1], way[0])))]).translate([*one.at, 0])


@cache
def checked(*hooks: tuple[int, str, float]) -> Report:
    """Return the report of six front teeth whose base has hooks."""
    base = m3.Manifold.batch_boolean([pair_of(PLAN).base(), *(hook(*one) for one in hooks)], m3.OpType.Add)
    return check(stl(triangles_of(base)), stl(triangles_of(pair_of(PLAN).arch())), Asked("lower", SMALL, UP)).report


def where(places: tuple[PlaceReport, ...]) -> list[tuple[int | None, str | None]]:
    """Return tooth and side of places."""
    return [(one.tooth, one.side) for one in places]


def test_a_good_pair_has_no_place_but_the_nearest() -> None:
    """Nothing stops an arch that goes in; where it comes nearest is on both surfaces, as far apart as is told (feet by
    trimesh)."""
    report = checked()
    assert report.undercuts == report.overlaps == () and report.goes_in
    nearest = report.nearest
    assert nearest is not None and nearest.tooth in SMALL and nearest.size_mm == report.least_clearance_mm
    away = []
    for body in (pair_of(PLAN).base(), pair_of(PLAN).arch()):
        corners = triangles_of(body)
        feet = trimesh.triangles.closest_point(corners, np.tile(nearest.point_mm, (len(corners), 1)))
        away.append(np.linalg.norm(feet - nearest.point_mm, axis=1).min())
    assert min(away) == pytest.approx(0, abs=1e-4) and max(away) == pytest.approx(nearest.size_mm, abs=1e-3)


@pytest.mark.parametrize(("tooth", "side"), [(42, "buccal"), (31, "lingual"), (33, "distal"), (43, "buccal")])
def test_a_hook_above_a_crown_stops_it_there(tooth: int, side: str) -> None:
    """An arm of base, 0.6 mm wide, that hangs above one side of a crown is an undercut of 0.6 mm at that side."""
    report = checked((tooth, side, 0.6))
    assert report.goes_in is False and where(report.undercuts) == [(tooth, side)]
    (found,) = report.undercuts
    assert found.size_mm == report.undercut_width_mm == pytest.approx(0.6, abs=0.015)
    away = [np.linalg.norm(np.array(found.point_mm[:2]) - place(tooth, side, mm)) for mm in np.arange(1.6, 4, 0.02)]
    assert min(away) < 0.05  # on the middle of the arm
    assert found.point_mm[2] == pytest.approx(7.9, abs=1e-4)  # its upper side


def test_every_place_that_is_too_wide_is_told_along_the_row() -> None:
    """Hooks above four sides of three teeth are four places from the patient's right to the left, each as wide as its
    hook; one too narrow to stop the arch is none."""
    wide = {(43, "lingual"): 0.4, (41, "buccal"): 0.8, (41, "lingual"): 0.2, (32, "buccal"): 0.5, (31, "buccal"): 0.03}
    report = checked(*((tooth, side, mm) for (tooth, side), mm in wide.items()))
    assert where(report.undercuts) == [(43, "lingual"), (41, "buccal"), (41, "lingual"), (32, "buccal")]
    for one in report.undercuts:
        assert one.size_mm == pytest.approx(wide[one.tooth, one.side], abs=0.02)  # type: ignore[index]
    assert report.undercut_width_mm == max(one.size_mm for one in report.undercuts) and MOST_UNDERCUT > 0.03


def test_an_arch_that_is_pressed_down_lies_in_the_base_beneath_each_tooth() -> None:
    """Pressed 0.3 mm too deep each tooth is in its socket's floor by what is more than the planned gap."""
    pair = pair_of(PLAN)
    arch = triangles_of(pair.arch()) - [0, 0, 0.3]
    report = check(stl(triangles_of(pair.base())), stl(arch), Asked("lower", SMALL, UP)).report
    floors = {one.tooth: one.size_mm for one in report.overlaps if one.side is None}
    assert list(floors) == list(SMALL) and report.nearest is None and report.undercuts == ()
    free = checked().nearest
    assert free is not None
    assert max(floors.values()) <= 0.3 - free.size_mm + 1e-3  # both move by no more than that into each other
    assert min(floors.values()) > 0.1


def test_one_hook_in_one_crown_is_one_place() -> None:
    """An arm of base that reaches into the buccal side of one tooth lies in it there, as deep as its corners are from
    the crown's surface (feet by trimesh)."""
    pair, extra = pair_of(PLAN), hook(42, "buccal", 0.5, inner=2.0, low=3.5)
    parts = pair.base() + extra, pair.arch()
    report = check(*(stl(triangles_of(one)) for one in parts), Asked("lower", SMALL, UP)).report
    assert where(report.overlaps) == [(42, "buccal")]
    assert report.overlap_mm3 == pytest.approx((extra ^ parts[1]).volume(), rel=1e-3) and report.overlap_mm3 > 0.01
    inside = triangles_of(extra ^ parts[1]).reshape(-1, 3)
    deepest = []
    for surface in (triangles_of(parts[0]), triangles_of(parts[1])):
        feet = [trimesh.triangles.closest_point(surface, np.tile(one, (len(surface), 1))) for one in inside]
        deepest.append([np.linalg.norm(foot - one, axis=1).min() for foot, one in zip(feet, inside, strict=True)])
    assert report.overlaps[0].size_mm == pytest.approx(np.max(deepest), abs=1e-3) and np.max(deepest) > 0.1


def test_how_deep_two_plates_lie_in_each_other() -> None:
    """A plate that lies 0.3 mm in another is 0.3 mm deep at its corners there, and nowhere deeper (by construction)."""
    base, arch = m3.Manifold.cube([10, 10, 1]), m3.Manifold.cube([4, 4, 2]).translate([3, 3, 0.7])
    found = shared(mesh_of(base), mesh_of(arch))
    assert found.volume == pytest.approx(4 * 4 * 0.3, rel=1e-5)
    assert found.deep.max() == pytest.approx(0.3, abs=1e-6)
    assert found.points[found.deep > 0.29][:, 2] == pytest.approx(0.7, abs=1e-6)


def test_every_overhang_has_its_width() -> None:
    """Strips of base 4 mm apart over a plate: about a column of each it is measured as wide as it is, and the widest is
    the width of them all; base that lies below the plate overhangs nowhere."""
    plate = triangles_of(m3.Manifold.cube([60, 4, 1]))
    widths = [0.1 + 0.02 * n for n in range(12)]
    strips = [m3.Manifold.cube([w, 3, 1]).translate([5 + 4 * n, 0.5, 2]) for n, w in enumerate(widths)]
    base = triangles_of(m3.Manifold.batch_boolean(strips, m3.OpType.Add))
    found = overhangs(base, plate)
    assert found
    for n, width in enumerate(widths):
        place = found.widest(np.flatnonzero(np.abs(found.middles[:, 0] - (5 + 4 * n)) < 1))
        assert place and place.width == pytest.approx(width, abs=0.012)
        assert place.point[[0, 2]] == pytest.approx([5 + 4 * n + width / 2, 3], abs=0.02)
    widest = undercut_of(found)
    assert widest and widest.width == pytest.approx(widths[-1], abs=0.012)
    assert overhangs(base - [0, 0, 5], plate) is None and undercut_of(None) is None


def test_the_widest_place_is_not_always_the_deepest_among_its_columns() -> None:
    """A strip of 0.11 mm that covers the middles of three columns (from 0.025 on, every 0.05 mm), and one of 0.14 mm
    that covers two: the width told is 0.14 mm."""
    plate = triangles_of(m3.Manifold.cube([20, 4, 1]))
    strips = [m3.Manifold.cube([wide, 3, 1]).translate([at, 0.5, 2]) for at, wide in ((5.02, 0.11), (9.03, 0.14))]
    found = overhangs(triangles_of(m3.Manifold.batch_boolean(strips, m3.OpType.Add)), plate)
    assert found and {float(one) for one in found.depths[found.middles[:, 0] > 8]} == {1.0} and found.depths.max() == 2
    widest = undercut_of(found)
    assert widest and widest.width == pytest.approx(0.14, abs=0.012) and widest.point[0] > 9


def test_no_side_of_a_tooth_is_forgotten() -> None:
    """Of the demo's pair that does not go in each side of a tooth is told whose inscribed width by columns of 0.02 mm
    is over 0.08 mm, to a column, by a point of that side; and only the three teeth that were planned to bulge."""
    found = checked_demo("stuck")
    base, arch = (found.pair.base.mesh.turned(found.frame).some(), found.pair.arch.mesh.turned(found.frame).some())
    low, cell = arch[..., :2].min(axis=(0, 1)) - 1, 0.02
    shape = tuple(int(n) for n in (arch[..., :2].max(axis=(0, 1)) + 1 - low) / cell)
    top = height_map(base[seen_of(base) > 0], low, shape, cell)
    bottom = -height_map(arch[seen_of(arch) < 0] * [1, 1, -1], low, shape, cell)
    blocked = top > bottom + 0.002
    width = (2 * ndimage.distance_transform_edt(blocked) - 1)[blocked] * cell
    points = np.column_stack([low + (np.argwhere(blocked) + 0.5) * cell, top[blocked]])
    wanted = {
        (one.piece, one.way): one.size for one in spots_of(found.measured, points, width, 0.0) if one.size > 0.08
    }
    row = [tooth.tooth for tooth in found.report.teeth]
    told = {(row.index(one.tooth), _way(one)): one.size_mm for one in found.report.undercuts}
    assert set(told) >= set(wanted) and len(wanted) > 4
    for key, size in wanted.items():
        assert told[key] == pytest.approx(size, abs=0.04)
    for (piece, way), one in zip(told, found.report.undercuts, strict=True):
        turn, radius = found.measured.sockets[piece].rim.polar(found.frame @ one.point_mm)
        off = (turn / DIRECTIONS * 4 - SIDES.index(way) + 2) % 4 - 2  # quarters from the middle of its side
        assert (abs(off) - 0.5) * np.pi / 2 * radius < 0.075, "farther over the border than a column"
    assert {one.tooth for one in found.report.undercuts} == {15, 14, 23} == set(plans()["stuck"].bulge_by)


def _way(one: PlaceReport) -> str | None:
    return ways_of(one.tooth).get(one.side or "", one.side)


def test_places_are_in_the_coordinates_of_the_files() -> None:
    """Turned and moved files have the same places, at the points that are turned and moved alike."""
    pair, extra = pair_of(PLAN), hook(42, "buccal", 0.6)
    parts = [triangles_of(pair.base() + extra), triangles_of(pair.arch())]
    moved = [turned(one, 50, (1, 2, 3), (20, -30, 40)) for one in parts]
    way = turned(np.array([[UP]]), 50, (1, 2, 3), (0, 0, 0))[0, 0]
    one, two = (
        check(stl(base), stl(arch), Asked("lower", SMALL, axis)).report
        for (base, arch), axis in ((parts, UP), (moved, tuple(way)))
    )
    assert where(one.undercuts) == where(two.undercuts) == [(42, "buccal")]
    there = turned(np.array([[one.undercuts[0].point_mm]]), 50, (1, 2, 3), (20, -30, 40))[0, 0]
    assert np.array(two.undercuts[0].point_mm) == pytest.approx(there, abs=1.0)  # anywhere along the middle of the arm
    assert two.undercuts[0].size_mm == pytest.approx(one.undercuts[0].size_mm, abs=0.02)


def test_without_numbers_of_teeth_a_place_is_its_point_alone() -> None:
    """Where the row is not numbered, tooth and side are null and the point is told."""
    base = triangles_of(pair_of(PLAN).base() + hook(42, "buccal", 0.6))
    report = check(stl(base), stl(triangles_of(pair_of(PLAN).arch())), Asked("lower", None, UP)).report
    assert where(report.undercuts) == [(None, None)]
    assert report.undercuts[0].point_mm[2] == pytest.approx(7.9, abs=1e-4)


def test_the_surfaces_of_a_pair_tell_how_deep_points_lie() -> None:
    """A ball's points that lie in a block are as deep in it as they are below its face (by construction)."""
    ball, face = m3.Manifold.sphere(2, 64).translate([0, 0, 1.5]), m3.Manifold.cube([20, 20, 5], center=True)
    face = face.translate([0, 0, -2.5])
    found = shared(mesh_of(face), mesh_of(ball))
    lowest = found.points[:, 2].argmin()
    assert found.deep[lowest] == pytest.approx(0.5, abs=1e-3) == -found.points[lowest, 2]
