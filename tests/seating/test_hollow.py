"""Teeth that are hollow from below, and pegs of the base that reach into them: no margin, depth or resin is theirs."""

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
PAIR = Pair(Plan("lower", TEETH, 20, rim=0.15, scallop=0.3, fillet=0.2))
FLOOR = -0.6  # mm: the teeth stand 0.5 mm deep, the gap is 0.1
SIDES = 32  # of what is round
SAYS = "hollow from below"


def area(radius: float) -> float:
    """Return the area of what is round, as the polygon that it is."""
    return float(SIDES / 2 * np.sin(2 * np.pi / SIDES) * radius**2)


def round_(radius: float, top: float, aside: float = 0.0, low: float = FLOOR - 0.2) -> m3.Manifold:
    """Return a round rod in the middle of every tooth, or so far beside it (mm), from `low` to `top`."""
    rods = [
        m3.Manifold.cylinder(top - low, radius, radius, SIDES).translate([one.at[0] + aside, one.at[1], low])
        for one in PAIR.teeth
    ]
    return m3.Manifold.batch_boolean(rods, m3.OpType.Add)


@cache
def parts() -> tuple[m3.Manifold, m3.Manifold]:
    """Return base and arch as they are without pegs and hollows."""
    return PAIR.base(), PAIR.arch()


def checked(pegs: m3.Manifold | None, hollows: m3.Manifold | None, noise: float = 0.0) -> Checked:
    """Check the pair with pegs on its base, and hollows in its teeth."""
    base, arch = parts()
    rng = np.random.default_rng(5)
    bodies = (base + pegs if pegs else base, arch - hollows if hollows else arch)
    files = [stl(noisy(one, noise, rng) if noise else triangles_of(one)) for one in bodies]
    return check(files[0], files[1], Asked("lower", TEETH, (0.0, 0.0, 1.0)))


@cache
def plain() -> Checked:
    """Return the check of the pair as it is."""
    return checked(None, None)


def said(found: Checked) -> list[str]:
    """Return what the report says of hollows."""
    return [one for one in found.report.warnings if SAYS in one]


def test_a_pit_above_the_margin_is_told_by_its_volume() -> None:
    """Above each margin 1.2 mm of a pit are a prism; the volume that is said is theirs, within 5 %."""
    found = checked(None, round_(0.7, 1.3, low=-2.0))
    lids = [float(one.rim.lid.mean()) for one in found.measured.sockets if one]
    true = [area(0.7) * (1.3 - lid) for lid in lids]
    assert found.measured.hollows == tuple(pytest.approx(one, rel=0.05) for one in true)
    (words,) = said(found)
    assert ", ".join(map(str, TEETH)) in words and f"about {sum(true) / 1000:.3f} ml" in words
    assert found.report.definitions_version == 6


@pytest.mark.parametrize("top", [None, -0.1])
def test_nothing_is_said_where_nothing_lies_above_the_margin(top: float | None) -> None:
    """Solid teeth, and pits that end below it, whose resin is in the figures: a prism's more of it, within 3 %."""
    found = checked(None, round_(0.7, top, low=-2.0)) if top else plain()
    assert said(found) == [] and set(found.measured.hollows) == {0.0}
    if top:
        more = area(0.7) * (top + 0.5)
        for one, whole in zip(found.measured.sockets, plain().measured.sockets, strict=True):
            assert one and whole and one.volume - whole.volume == pytest.approx(more, rel=0.03)


@pytest.mark.parametrize("by", [(1.0, 1.9, 0.0, 0.0), (0.5, 1.2, 0.9, 0.0), (1.0, 1.9, 0.0, 0.01)])
def test_pegs_are_no_margin(by: tuple[float, float, float, float]) -> None:
    """Pegs 1.2 and 1.9 mm above the margins, in the middle and aside: every depth is that without them."""
    radius, top, aside, noise = by
    found = checked(round_(radius, top, aside), round_(radius + 0.2, top + 0.1, aside, -2.0), noise)
    near = 0.03 if noise else 0.002
    for one, whole in zip(found.report.teeth, plain().report.teeth, strict=True):
        assert one.depth_median_mm == pytest.approx(whole.depth_median_mm, abs=near)
        assert one.depth_max_mm == pytest.approx(whole.depth_max_mm, abs=3 * near)
        assert one.crest_depth_median_mm == pytest.approx(whole.crest_depth_median_mm, abs=near)
    assert found.report.goes_in and len(said(found)) == 1


def test_resin_about_pegs_is_what_booleans_leave_of_a_plug() -> None:
    """manifold3d cuts base and arch out of a plug to the margin: each tooth's volume is what is left, within 3 %."""
    found = checked(round_(1.0, 1.9), round_(1.2, 2.0, low=-2.0))
    base, arch = (body_of(found, part.mesh) for part in (found.pair.base, found.pair.arch))
    for socket in found.measured.sockets:
        assert socket
        assert socket.volume == pytest.approx((plug(socket) - base - arch).volume(), rel=0.03)


def test_what_is_said_of_a_hollow_is_less_by_its_peg() -> None:
    """Above each margin a prism of the pit less one of the peg, within 5 %; a peg that fills it leaves nothing."""
    found = checked(round_(1.0, 1.9), round_(1.2, 2.0, low=-2.0))
    lids = [float(one.rim.lid.mean()) for one in found.measured.sockets if one]
    true = [area(1.2) * (2.0 - lid) - area(1.0) * (1.9 - lid) for lid in lids]
    assert found.measured.hollows == tuple(pytest.approx(one, rel=0.05) for one in true)
    assert said(checked(round_(0.6, 0.3), round_(0.65, 0.32, low=-2.0))) == []


def test_a_shell_that_reaches_into_a_tooth_is_no_hollow() -> None:
    """Some programs export connectors as bodies of their own: one that ends in a tooth above its margin is none."""
    base, arch = parts()
    rods = [m3.Manifold.cube((2.0, 2.0, 1.0), True).translate([*one.at, 1.5]) for one in PAIR.teeth]
    corners = np.concatenate([triangles_of(one) for one in (arch, *rods)])
    found = check(stl(triangles_of(base)), stl(corners), Asked("lower", TEETH, (0.0, 0.0, 1.0)))
    assert said(found) == [] and found.report.resin_ml == pytest.approx(plain().report.resin_ml, rel=1e-6)
