"""Facets and noise: what they take from bodies whose numbers formulas give is told; what an unsure axis costs."""

import manifold3d as m3
import numpy as np
import pytest

from benchapp.seating.check import check
from benchapp.seating.evenness import evenness
from benchapp.seating.mesh import Mesh, normals_and_areas, volume, weld
from benchapp.seating.mind import MOVES
from benchapp.seating.noise import noise_of
from benchapp.seating.normals import CornerNormals, corner_normals
from benchapp.seating.sagitta import bends_of
from benchapp.seating.sockets import slim_of
from benchapp.seating.tell import Asked
from benchapp.seating.tilt import per_degree
from tests.seating.blended import BlendedPair, shape_of
from tests.seating.integral import known_of
from tests.seating.least import least_section
from tests.seating.made import SMALL, UP, small
from tests.seating.pairs import stl, triangles_of


def ball(radius: float, around: int, noise: float = 0.0) -> Mesh:
    """Return a faceted sphere whose corners lie on it, but for noise."""
    mesh = weld(triangles_of(m3.Manifold.sphere(radius, around)).astype(np.float32))
    return Mesh(mesh.vertices + np.random.default_rng(1).normal(0, noise, mesh.vertices.shape), mesh.triangles)


@pytest.mark.parametrize(("radius", "around"), [(1.0, 16), (1.0, 32), (5.0, 48)])
def test_what_facets_of_a_sphere_lack_is_told(radius: float, around: int) -> None:
    """Volume and surface that a faceted sphere lacks, within a tenth (4/3 pi r³, 4 pi r²)."""
    mesh = ball(radius, around)
    areas, bends = normals_and_areas(mesh.corners)[1], bends_of(mesh)
    lacks = 4 / 3 * np.pi * radius**3 - volume(mesh), 4 * np.pi * radius**2 - areas.sum()
    assert min(lacks) > 0.01
    assert float((areas * bends.rise).sum()) == pytest.approx(lacks[0], rel=0.1)
    assert float((areas * bends.more).sum()) == pytest.approx(lacks[1], rel=0.03)


def test_what_facets_of_a_cylinder_lack_is_told_and_a_box_lacks_nothing() -> None:
    """A cylinder of 24 sides lacks volume (pi r² h) and, at its side, surface (2 pi r h); sharp edges bend nothing."""
    mesh = weld(triangles_of(m3.Manifold.cylinder(2, 1, 1, 24)).astype(np.float32))
    normals, areas = normals_and_areas(mesh.corners)
    bends, side = bends_of(mesh), np.abs(normals[:, 2]) < 0.5
    assert float((areas * bends.rise).sum()) == pytest.approx(2 * np.pi - volume(mesh), rel=0.01)
    assert float((areas * bends.more)[side].sum()) == pytest.approx(4 * np.pi - areas[side].sum(), rel=0.01)
    assert not bends.rise[~side].any() and not bends.more[~side].any()
    box = bends_of(weld(triangles_of(m3.Manifold.cube([3, 2, 1])).astype(np.float32)))
    assert not box.rise.any() and not box.more.any()


@pytest.mark.parametrize("tolerance", [0.003, 0.01, 0.03])
def test_what_a_thinned_sphere_lacks_is_not_told_as_more(tolerance: float) -> None:
    """Of a sphere thinned to a tolerance half to all of the lacking volume is told (4/3 pi r³)."""
    mesh = weld(triangles_of(m3.Manifold.sphere(3, 160).simplify(tolerance)).astype(np.float32))
    told = float((normals_and_areas(mesh.corners)[1] * bends_of(mesh).rise).sum())
    assert 0.5 < told / (36 * np.pi - volume(mesh)) < 1.05


def test_normals_are_made_for_the_triangles_that_are_asked_for() -> None:
    """At a sphere's corners normals point from its middle; asked bit by bit they are those of asking for all; at a
    box's corners each face keeps its own."""
    mesh = ball(2, 32)
    every = corner_normals(mesh)
    assert np.einsum("mci,mci->mc", every, mesh.corners / 2) == pytest.approx(1, abs=2e-3)
    some, made = np.array([5, 90, 7]), CornerNormals(mesh)
    assert np.array_equal(made(some[:1]), every[some[:1]]) and np.array_equal(made(some), every[some])
    box = weld(triangles_of(m3.Manifold.cube([3, 2, 1])).astype(np.float32))
    faces = normals_and_areas(box.corners)[0]
    assert corner_normals(box) == pytest.approx(np.repeat(faces[:, None], 3, axis=1))


@pytest.mark.parametrize("noise", [0.005, 0.015])
def test_noise_is_told(noise: float) -> None:
    """Noise of known size is told within a third, none as none."""
    every = np.ones(len(ball(5, 280).triangles), dtype=bool)
    assert noise_of(ball(5, 280), every) == 0
    assert noise_of(ball(5, 280, noise), every) == pytest.approx(noise, rel=0.34)


def test_what_a_degree_of_axis_costs() -> None:
    """A round margin of radius 3 about a tooth that ends in a point below its middle: a lean of a degree moves mesial
    and distal by 3 tan(1°), the median not at all."""
    turn = np.arange(72) * 2 * np.pi / 72
    margin = np.column_stack([3 * np.cos(turn), 3 * np.sin(turn), np.zeros(72)])
    found = per_degree(margin, np.zeros(72), np.array([[0.0, 0.0, -0.5]]), 6)
    assert found["on"] == found["back"] == pytest.approx(3 * np.tan(np.radians(1)), rel=1e-6)
    assert found["deepest"] == pytest.approx(3 * np.tan(np.radians(1)), rel=1e-6)
    assert found["depth"] == pytest.approx(0, abs=1e-9)


def test_an_axis_that_was_found_tells_its_cost_and_a_given_one_none() -> None:
    """Without an axis the warning names what moves by over 0.05 mm, in mm; intervals of depths then hold the true axis.

    A pair whose floors are flat is sure enough to say nothing.
    """
    pair = BlendedPair(shape_of(1, 0.45))
    files = [stl(pair.triangles(part)) for part in ("base", "arch")]
    given, found = (check(*files, Asked(pair.shape.jaw, pair.shape.row, axis)).report for axis in (UP, None))
    assert found.axis_source == "margins" and not any("axis" in warning for warning in given.warnings)
    said = next(warning for warning in found.warnings if "The axis was found" in warning)
    assert "mesial or distal 0." in said and "greatest 0." in said
    for one, other in zip(given.teeth, found.teeth, strict=True):
        for side, depth in one.depth_by_side_mm.items():
            low, high = other.intervals[f"{side}_mm"]
            assert low <= depth <= high and high - low > MOVES
    base, arch = map(stl, small())
    flat = check(base, arch, Asked("lower", SMALL)).report
    assert flat.axis_source == "floors" and not any("axis" in warning for warning in flat.warnings)


def test_a_blended_tooth_and_connector_are_those_of_their_fields() -> None:
    """A pair of the second family, meshed by cubes of 0.32 mm: a tooth and a connector against sums over the fields."""
    pair = BlendedPair(shape_of(1, 0.32))
    base, arch = (stl(pair.triangles(part)) for part in ("base", "arch"))
    report = check(base, arch, Asked(pair.shape.jaw, pair.shape.row, UP)).report
    planes = [least_section(pair, number) for number in range(len(pair.bars))]
    true = known_of(pair, pair.crowns[1], planes)
    tooth = next(one for one in report.teeth if one.tooth == true.tooth)
    assert tooth.depth_median_mm == pytest.approx(true.depth_median, abs=0.03)
    assert tooth.crest_depth_median_mm == pytest.approx(true.crest_median, abs=0.01)
    assert tooth.depth_by_side_mm == pytest.approx(true.sides, abs=0.08)
    assert tooth.bond_area_mm2 == pytest.approx(true.bond, rel=0.02)
    assert tooth.gap_volume_ml * 1000 == pytest.approx(true.volume, rel=0.03)
    assert tooth.gap_median_mm == pytest.approx(true.gap, abs=0.004)
    for one, plane in zip(report.connectors, planes if pair.shape.jaw == "lower" else planes[::-1], strict=True):
        low, high = one.intervals["area_mm2"]  # clefts that the cubes bridge: the field's section is less than told
        assert low <= plane.area <= high and low <= one.area_mm2 <= high
    assert any("narrow necks or clefts" in words for words in report.warnings)
    assert any("triangles in the sockets are coarse" in words for words in report.warnings)
    areas = {one.between: one.area_mm2 for one in report.connectors}
    assert areas[pair.bars[0].between] == pytest.approx(planes[0].area, rel=0.02)
    assert report.goes_in


def test_noise_roughens_slim_triangles_most() -> None:
    """Of triangles whose corners stray squarely to them the mean area grows by `slim` times the noise squared, for even
    ones and for slim ones (the mean over 4,000 straying triangles)."""
    rng = np.random.default_rng(3)
    for flat in ([[0, 0], [1, 0], [0.5, 0.87]], [[0, 0], [1, 0], [0.5, 0.2]]):
        one = np.column_stack([np.array(flat), np.zeros(3)])
        stray = np.repeat(one[None], 4000, axis=0)
        stray[..., 2] = rng.normal(0, 0.02, (4000, 3))
        grown = normals_and_areas(stray)[1].mean() / normals_and_areas(one[None])[1][0] - 1
        assert slim_of(one[None])[0] * 0.02**2 == pytest.approx(grown, rel=0.1)


@pytest.mark.parametrize(("waves", "facet"), [(2, 1.0), (5, 2.5)])
def test_how_uneven_a_wavy_margin_is_told_is_what_trigonometry_says(waves: int, facet: float) -> None:
    """A margin of h cos(n t) by direction lies h (1 - cos(n d)) |cos(n t)| from its neighbours, d apart, and climbs
    h sin(n d) |sin(n t)| from one to the next (sum and difference formulas); a level one does neither."""
    turn = np.arange(72) * 2 * np.pi / 72
    step = waves * 2 * np.pi / 72
    found = evenness(2 + 0.3 * np.cos(waves * turn), np.full(72, 2.0), facet, 6)
    apart = 0.3 * (1 - np.cos(step)) * np.abs(np.cos(waves * turn))
    climbs = 0.3 * np.sin(step) * np.abs(np.sin(waves * turn)) * facet
    assert found["depth"][:2] == found["deepest"][:2] == pytest.approx((apart.mean(), climbs.mean()))
    assert found["buccal"][:2] == pytest.approx((apart[12:25].mean(), climbs[12:25].mean()))
    assert found["crest"] == pytest.approx((0, 0, 0), abs=1e-12)


def test_how_much_a_number_hangs_on_few_directions_is_counted_off_a_ladder() -> None:
    """Of heights that are the rungs of a ladder, in any order, the third highest is two rungs down, and three more
    directions to either side of the middle move the median by three."""
    rungs = 2 + 0.01 * np.random.default_rng(5).permutation(72)
    found = evenness(rungs, rungs, 1.0, 6)
    assert found["deepest"].hangs == pytest.approx(0.02)
    assert found["depth"].hangs == found["crest"].hangs == pytest.approx(0.03)
    on, buccal, back, lingual = (np.sort(rungs[at + np.arange(-6, 7)]) for at in (0, 18, 36, 54))
    for side, heights in (("on", on), ("back", back)):
        assert found[side].hangs == pytest.approx(heights[-1] - heights[-3])
    for side, heights in (("buccal", buccal), ("lingual", lingual)):
        assert found[side].hangs == pytest.approx(heights[2] - heights[0])


def test_directions_without_wall_tell_nothing_of_evenness() -> None:
    """Where a margin is unknown, neither that direction nor its neighbours count; where none is known, it is even."""
    depths = np.full(72, 2.0)
    depths[30], depths[31] = np.nan, 9.0
    found = evenness(depths, np.full(72, np.nan), 1.0, 6)
    assert found["depth"] == pytest.approx((3.5 / 69, 3.5 / 69, 0)) and found["on"] == (0, 0, 0)
    assert found["crest"] == (0, 0, 0)
