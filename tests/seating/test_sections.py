"""Sections, volumes, distances and widths against formulas and against another library's meshes."""

import manifold3d as m3
import numpy as np
import pytest

from benchapp.seating.clearance import Overlap, least_clearance, overlap_of, within_box
from benchapp.seating.connectors import connector_at
from benchapp.seating.mesh import Mesh, edges_of, volume, weld
from benchapp.seating.near import Surface, close_parts, facing_sets
from benchapp.seating.rim import TURNED, WITHIN
from benchapp.seating.sections import Slab, area_above
from benchapp.seating.sound import shells_of
from benchapp.seating.wayin import overhangs, undercut_of
from tests.seating.made import corners
from tests.seating.pairs import triangles_of
from tests.seating.shapes import Floats


def mesh_of(body: m3.Manifold) -> Mesh:
    """Return a solid of the other library as a mesh of ours, through the corners of its triangles."""
    return weld(triangles_of(body).astype(np.float32))


def shared(base: Mesh, arch: Mesh) -> Overlap:
    """Return what two closed meshes share."""
    found = overlap_of(base, arch, (Surface(base.corners), Surface(arch.corners)))
    assert found
    return found


def test_a_sphere_has_the_volume_and_section_of_the_formula() -> None:
    """A sphere of radius 10 has 4188.790 mm3 and at height 3 a section of 285.885 mm2 (formulas of the sphere)."""
    mesh = mesh_of(m3.Manifold.sphere(10, 400))
    assert volume(mesh) == pytest.approx(4188.790, rel=5e-4)
    cut = Slab(mesh).cut(np.array([[0.0, 0, 1]]), np.array([3.0]))
    assert cut.areas().main[0] == pytest.approx(285.885, rel=5e-4)


def test_a_prism_of_256_sides_is_exact() -> None:
    """A 256-sided cylinder of radius 5 and height 20 has 1570.6386 mm3: n/2 r² sin(2 pi/n) h."""
    mesh = mesh_of(m3.Manifold.cylinder(20, 5, 5, 256))
    assert volume(mesh) == pytest.approx(1570.6386, abs=1e-3)
    edges = edges_of(mesh)
    assert (edges.open, edges.crowded, edges.misoriented) == (0, 0, 0) and set(shells_of(mesh)) == {0}


def test_a_lens_is_what_two_spheres_share() -> None:
    """Two spheres of radius 10 whose middles are 10 apart share a lens of 1308.997 mm3: 5 pi r³/12."""
    one = m3.Manifold.sphere(10, 256)
    assert shared(mesh_of(one), mesh_of(one.translate([10, 0, 0]))).volume == pytest.approx(1308.997, rel=1e-3)


def test_what_lies_beyond_the_other_part_changes_no_overlap() -> None:
    """A ball on a tall column and a hollow block with a foot: cut down to each other's box they share what the library
    finds in both whole ones; what is cut has a third of the triangles at most, and is closed."""
    ball = m3.Manifold.sphere(4, 128) + m3.Manifold.cylinder(30, 3, 1, 256).translate([0, 0, 2]).refine(6)
    block = m3.Manifold.cube([12, 12, 6], center=True) - m3.Manifold.sphere(3.5, 64)
    block = block.translate([0.3, 0.2, -1.5]) + m3.Manifold.cylinder(8, 2, 2, 64).translate([4, 4, -14])
    parts = mesh_of(ball), mesh_of(block)
    cut = within_box(parts[0], parts[1].vertices.min(axis=0), parts[1].vertices.max(axis=0))
    assert len(cut.triangles) < len(parts[0].triangles) / 3
    edges = edges_of(cut)
    assert (edges.open, edges.crowded, edges.misoriented) == (0, 0, 0)
    whole = [m3.Manifold(m3.Mesh64(one.vertices, one.triangles.astype(np.uint64))) for one in parts]
    assert shared(*parts).volume == pytest.approx((whole[0] ^ whole[1]).volume(), rel=1e-9)
    assert shared(*parts).volume == pytest.approx((ball ^ block).volume(), rel=1e-4)


def test_a_ring_has_the_volume_of_a_bond_line() -> None:
    """A ring of 5.1 about 5.0 mm, 3 high, has 9.5190 mm3, and its section both loops: pi (R² - r²) h."""
    ring = m3.Manifold.cylinder(3, 5.1, 5.1, 720) - m3.Manifold.cylinder(9, 5, 5, 720, center=True)
    mesh = mesh_of(ring)
    assert volume(mesh) == pytest.approx(9.5190, rel=2e-3)
    assert Slab(mesh).cut(np.array([[0.0, 0, 1]]), np.array([1.5])).areas().main[0] == pytest.approx(
        9.5190 / 3, rel=2e-3
    )


def test_sections_and_volumes_agree_with_another_library() -> None:
    """On a whole made-up arch, level sections by our code and by manifold3d's slicing agree to 1 in 100,000."""
    arch = corners("teeth=(43, 42, 41, 31, 32, 33), fine=16")[1]
    mesh = weld(arch.astype(np.float32))
    body = m3.Manifold(m3.Mesh(mesh.vertices.astype(np.float32), mesh.triangles.astype(np.uint32)))
    assert volume(mesh) == pytest.approx(body.volume(), rel=1e-5)
    levels = np.array([-0.31, 0.77, 2.93, 4.1])
    cut = Slab(mesh).cut(np.repeat([[0.0, 0, 1]], 4, axis=0), levels)
    ours = np.bincount(cut.plane, weights=cut.signed(), minlength=4)
    assert ours == pytest.approx([body.slice(level).area() for level in levels], rel=1e-5)


def test_islands_and_holes_are_kept_apart() -> None:
    """A section through two boxes and a tube: the largest loop less its hole, and the others as islands."""
    tube = m3.Manifold.cube([10, 10, 4]) - m3.Manifold.cube([4, 4, 9]).translate([3, 3, -1])
    body = tube + m3.Manifold.cube([2, 3, 4]).translate([20, 0, 0]) + m3.Manifold.cube([1, 1, 4]).translate([30, 0, 0])
    found = Slab(mesh_of(body)).cut(np.array([[0.0, 0, 1]]), np.array([2.0])).areas()
    assert found.main[0] == pytest.approx(84) and found.islands(0) == pytest.approx([6, 1])


def test_the_part_above_a_level() -> None:
    """Of an upright box section of 3 by 4 mm the part above a quarter of its height is 9 mm2."""
    cut = Slab(mesh_of(m3.Manifold.cube([5, 3, 4]))).cut(np.array([[1.0, 0, 0]]), np.array([2.2]))
    assert area_above(cut.first[:, 1:], cut.second[:, 1:], 1.0) == pytest.approx(9)


def test_the_least_section_of_a_leaning_waist() -> None:
    """Two balls joined by a rod of radius 1 that leans by 20 degrees: its least section is the circle of the rod.

    The upright section of the same rod is an ellipse, 1/cos(20 degrees) as large (formula of the ellipse).
    """
    rod = m3.Manifold.cylinder(8, 1, 1, 200, center=True).rotate([0, 90, 0])
    body = rod + m3.Manifold.sphere(2.6, 60).translate([-4, 0, 0]) + m3.Manifold.sphere(2.6, 60).translate([4, 0, 0])
    mesh = mesh_of(body.rotate([0, 20, 0]))
    found = connector_at(mesh, mesh, _Straight(), 0.0, 0.3, 1.0)
    assert found.area == pytest.approx(100 * np.sin(2 * np.pi / 200), rel=1e-3)
    assert abs(found.normal[2]) == pytest.approx(np.sin(np.radians(20)), abs=0.02) and not found.at_limit
    assert found.relief == pytest.approx((found.area - 1.0) * 0.3, rel=0.01)
    half = found.cut_depth - found.height / 2  # what is left of a circle above a level, solved the other way round
    assert np.arccos(half / found.height * 2) - half * 2 / found.height * np.sqrt(
        1 - (half / found.height * 2) ** 2
    ) == pytest.approx(1.0, abs=0.01)


class _Straight:
    """A row along x, for a section of one connector."""

    def place(self, s: float) -> tuple[Floats, Floats, Floats]:
        """Return point, way and buccal at s."""
        return np.array([s, 0.0]), np.array([1.0, 0.0]), np.array([0.0, 1.0])


def test_distances_and_clearance_of_spheres_and_boxes() -> None:
    """Two boxes with crossing edges 0.2 apart have that clearance; points about a sphere their distance from it."""
    ball = Surface(mesh_of(m3.Manifold.sphere(5, 300)).corners)
    points = np.array([[7.0, 0, 0], [0, 3, 0], [4, 4, 4]])
    found = ball.nearest(points)
    assert found.distance == pytest.approx(np.linalg.norm(points, axis=1) - 5, abs=2e-3)
    box = m3.Manifold.cube([4, 4, 4], center=True).rotate([45, 0, 0])
    other = m3.Manifold.cube([4, 4, 4], center=True).rotate([0, 45, 0]).translate([0, 0, 2 * 2 * 2**0.5 + 0.2])
    close = close_parts(mesh_of(box), mesh_of(other), 1.0)
    nearest = least_clearance(close, facing_sets(close, WITHIN, TURNED).away)
    gap = nearest.distance
    assert nearest.point == pytest.approx([0, 0, 2 * 2**0.5], abs=0.01)  # where the edges cross
    assert gap == pytest.approx(box.min_gap(other, 5), abs=1e-4) and gap == pytest.approx(0.2, abs=1e-4)


@pytest.mark.parametrize("width", [0.0, 0.03, 0.12, 0.4])
def test_the_width_of_an_overhang(width: float) -> None:
    """A plate in a slot whose lips overhang it by a known width on one side is undercut so wide."""
    plate = m3.Manifold.cube([6, 4, 1])
    lip = m3.Manifold.cube([6, 3, 1]).translate([0, 4 - width, 1.2])
    found = undercut_of(overhangs(triangles_of(lip), triangles_of(plate)))
    assert (found.width if found else 0.0) == pytest.approx(width, abs=0.012)
