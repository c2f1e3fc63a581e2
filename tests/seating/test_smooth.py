"""Facets and noise: corrected towards spheres whose numbers formulas give, and told; what an unsure axis costs."""

import manifold3d as m3
import numpy as np
import pytest

from benchapp.seating.check import check
from benchapp.seating.finer import finer
from benchapp.seating.mesh import Mesh, edges_of, normals_and_areas, volume, weld
from benchapp.seating.noise import calmed, noise_of
from benchapp.seating.sections import Slab
from benchapp.seating.tell import MOVES, Asked
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
def test_facets_of_a_sphere_come_near_its_formulas(radius: float, around: int) -> None:
    """Volume, surface and middle section of a faceted sphere lack a seventh at most of what they lacked, and it stays
    closed (4/3 pi r³, 4 pi r², pi r²)."""
    mesh = ball(radius, around)
    fine, owner = finer(mesh, 0.0, np.ones(len(mesh.triangles), dtype=bool))

    def lacks(one: Mesh) -> np.ndarray:
        section = Slab(one).cut(np.array([[0.6, 0.0, 0.8]]), np.array([0.01])).areas().main[0]
        found = np.array([volume(one), normals_and_areas(one.corners)[1].sum(), section])
        return 1 - found / (np.pi * np.array([4 / 3 * radius**3, 4 * radius**2, radius**2]))

    assert (lacks(mesh) > 0.004).all() and (np.abs(lacks(fine)) < lacks(mesh) / 7).all()
    edges = edges_of(fine)
    assert (edges.open, edges.crowded, edges.misoriented) == (0, 0, 0)
    assert len(owner) == len(fine.triangles) and owner.max() < len(mesh.triangles)


def test_flat_faces_and_their_sharp_edges_stay() -> None:
    """A box has nothing to be bent: the same triangles come back. A cylinder's caps stay flat, its sides get round."""
    box = weld(triangles_of(m3.Manifold.cube([3, 2, 1])).astype(np.float32))
    assert len(finer(box, 0.0, np.ones(len(box.triangles), dtype=bool))[0].triangles) == len(box.triangles)
    round_ = weld(triangles_of(m3.Manifold.cylinder(2, 1, 1, 24)).astype(np.float32))
    fine = finer(round_, 0.0, np.ones(len(round_.triangles), dtype=bool))[0]
    assert fine.vertices[:, 2].min() == 0 and fine.vertices[:, 2].max() == 2
    assert volume(fine) == pytest.approx(2 * np.pi, rel=2e-3) and volume(round_) < 2 * np.pi * 0.99


@pytest.mark.parametrize("noise", [0.005, 0.015])
def test_noise_is_told_and_taken_away(noise: float) -> None:
    """Noise of known size is told within a third, none as none; calming halves how far corners lie off a sphere."""
    every = np.ones(len(ball(5, 280).triangles), dtype=bool)
    assert noise_of(ball(5, 280), every) == 0
    rough = ball(5, 280, noise)
    assert noise_of(rough, every) == pytest.approx(noise, rel=0.34)
    off, left = (np.std(np.linalg.norm(one.vertices, axis=1)) for one in (rough, calmed(rough, noise, every)))
    assert left < off / 2


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
    assert tooth.depth_by_side_mm == pytest.approx(true.sides, abs=0.08)
    assert tooth.bond_area_mm2 == pytest.approx(true.bond, rel=0.02)
    assert tooth.gap_volume_ml * 1000 == pytest.approx(true.volume, rel=0.03)
    assert tooth.gap_median_mm == pytest.approx(true.gap, abs=0.004)
    areas = {one.between: one.area_mm2 for one in report.connectors}
    assert areas[pair.bars[0].between] == pytest.approx(planes[0].area, rel=0.02)
    assert report.goes_in
