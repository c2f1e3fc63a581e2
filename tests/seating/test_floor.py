"""Bases that are thin below their sockets, or open: the other side is no wall, and what is missing is told."""

from functools import cache

import manifold3d as m3
import numpy as np
import pytest

from benchapp.seating.check import Checked, check
from benchapp.seating.tell import Asked
from tests.seating.chance import noisy
from tests.seating.pairs import Pair, Plan, stl, triangles_of
from tests.seating.test_second_opinion import body_of, plug

TEETH = (43, 42, 41, 31, 32, 33)
PAIR = Pair(Plan("lower", TEETH, 24, rim=0.15, scallop=0.3, fillet=0.2))
FLOOR = -0.6  # mm: the teeth stand 0.5 mm deep, the gap is 0.1
SIDES = 48  # of a hole that is round


@cache
def base() -> m3.Manifold:
    """Return the base, 4.4 mm thick below its sockets."""
    return PAIR.base()


def thin(thick: float, lean: float = 0.0) -> m3.Manifold:
    """Return the base cut off so far below its floors (mm), by a plane that leans to the right (degrees)."""
    normal = np.array([np.sin(np.radians(lean)), 0.0, np.cos(np.radians(lean))])
    return base().trim_by_plane(tuple(normal), float(normal[2] * (FLOOR - thick)))


def hole(tooth: int, radius: float, from_: float = -9.0) -> m3.Manifold:
    """Return a round peg through the floor of a tooth's socket."""
    one = next(one for one in PAIR.teeth if one.number == tooth)
    return m3.Manifold.cylinder(abs(from_), radius, radius, SIDES).translate([*one.at, from_])


def checked(body: m3.Manifold, noise: float = 0.0) -> Checked:
    """Check a base with the pair's arch."""
    rng = np.random.default_rng(3)
    found, arch = (noisy(one, noise, rng) if noise else triangles_of(one) for one in (body, PAIR.arch()))
    return check(stl(found), stl(arch), Asked("lower", TEETH, (0.0, 0.0, 1.0)))


@cache
def thick(noise: float = 0.0) -> Checked:
    """Return the check of the whole base."""
    return checked(base(), noise)


@pytest.mark.parametrize("by", [(0.6, 0.0), (0.03, 0.0), (0.35, 0.3)])
def test_the_other_side_of_a_thin_base_changes_no_number(by: tuple[float, float]) -> None:
    """Cut off 0.03 to 0.6 mm below its floors, level and slanting: every number is that of the thick base."""
    told, whole = checked(thin(*by)).report, thick().report
    assert told.resin_ml == pytest.approx(whole.resin_ml, rel=2e-3)
    for one, other in zip(told.teeth, whole.teeth, strict=True):
        assert one.gap_volume_ml == pytest.approx(other.gap_volume_ml, rel=2e-3)
        assert one.depth_median_mm == pytest.approx(other.depth_median_mm, abs=1e-6)
        assert one.bond_area_mm2 == pytest.approx(other.bond_area_mm2, rel=1e-6)
    assert told.warnings == whole.warnings


def test_a_thin_base_has_what_booleans_leave_of_a_plug() -> None:
    """manifold3d cuts base and arch out of a plug: the piece about the tooth has the told volume, within 0.5 %."""
    found = checked(thin(0.2))
    solids = [body_of(found, part.mesh) for part in (found.pair.base, found.pair.arch)]
    for socket in found.measured.sockets:
        assert socket
        pieces = (plug(socket) - solids[0] - solids[1]).decompose()
        own = [one for one in pieces if one.bounding_box()[5] > socket.lowest]  # the others lie below the base
        assert len(pieces) > len(own)
        assert socket.volume == pytest.approx(sum(one.volume() for one in own), rel=5e-3)


def test_a_noisy_thin_base_has_the_resin_of_a_noisy_thick_one() -> None:
    """Corners that stray by 0.01 mm take no part of a floor for the other side."""
    assert checked(thin(0.15), 0.01).report.resin_ml == pytest.approx(thick(0.01).report.resin_ml, rel=0.03)


@pytest.mark.parametrize("radius", [0.4, 1.2])
def test_a_hole_is_told_and_changes_no_volume(radius: float) -> None:
    """Holes through two floors: their area is that of the polygon, within 8 %, and the resin stays within 1 %."""
    found = checked(base() - hole(42, radius) - hole(33, radius))
    area = SIDES / 2 * np.sin(2 * np.pi / SIDES) * radius**2
    told = [socket.open for socket in found.measured.sockets if socket]
    assert told == [0.0, pytest.approx(area, rel=0.08), 0.0, 0.0, 0.0, pytest.approx(area, rel=0.08)]
    assert found.report.resin_ml == pytest.approx(thick().report.resin_ml, rel=0.01)
    (said,) = set(found.report.warnings) - set(thick().report.warnings)
    assert f"42 ({told[1]:.1f} mm²), 33 ({told[5]:.1f} mm²)" in said


def test_a_hole_in_a_thin_base_is_no_wall() -> None:
    """Both at once: a hole through a floor that is 0.3 mm thick."""
    found = checked(thin(0.3) - hole(41, 0.8))
    assert found.report.resin_ml == pytest.approx(thick().report.resin_ml, rel=0.01)
    assert [bool(socket.open) for socket in found.measured.sockets if socket] == [False, False, True] + [False] * 3


def test_floors_that_are_gone_altogether() -> None:
    """A base cut off above its floors: every socket is told to be open, and no volume is less than nothing."""
    found = checked(thin(-0.08))
    for socket, whole in zip(found.measured.sockets, thick().measured.sockets, strict=True):
        assert socket and whole and socket.open > 0.5 * whole.bond * 0.5
        assert 0.4 * whole.volume < socket.volume < whole.volume
    assert "open below the sockets of 43" in " ".join(found.report.warnings)


def test_a_pit_in_a_floor_is_no_hole_and_takes_resin() -> None:
    """A pit 0.4 mm deep below a floor holds its own volume more (a prism's), and nothing is said of it."""
    found = checked(base() - hole(42, 0.7, FLOOR - 0.4))
    area = SIDES / 2 * np.sin(2 * np.pi / SIDES) * 0.7**2
    one, whole = found.measured.sockets[1], thick().measured.sockets[1]
    assert one and whole and one.volume - whole.volume == pytest.approx(0.4 * area, rel=0.02) and one.open == 0.0


def test_a_triangle_that_was_lost_is_no_hole() -> None:
    """One triangle less in a floor: the surface is told to be open, a socket is not."""
    corners = triangles_of(base())
    middle = next(one for one in PAIR.teeth if one.number == 31).at
    floor = np.abs(corners[:, :, 2] - FLOOR).max(axis=1) < 0.02
    lost = np.argmin(np.where(floor, np.linalg.norm(corners.mean(axis=1)[:, :2] - middle, axis=1), np.inf))
    told = check(stl(np.delete(corners, lost, axis=0)), stl(triangles_of(PAIR.arch())),
                 Asked("lower", TEETH, (0.0, 0.0, 1.0)))
    assert not any("open below" in one for one in told.report.warnings)
    assert any("not closed" in one for one in told.report.warnings)
    assert told.report.resin_ml == pytest.approx(thick().report.resin_ml, rel=0.01)
