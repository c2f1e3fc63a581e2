"""What an arch has beside its row, bars, struts, a plate: cut away and said, or refused; no tooth is taken for it."""

from functools import cache

import manifold3d as m3
import numpy as np
import pytest

from benchapp.seating.check import Checked, check
from benchapp.seating.faults import Unusable
from benchapp.seating.tell import Asked
from tests.seating.made import turned
from tests.seating.pairs import Pair, Plan, stl, triangles_of
from tests.seating.shapes import Floats

PAIR = Pair(Plan("lower", fine=22, rim=0.15, scallop=0.3, fillet=0.2))
TEETH = PAIR.plan.row
UP = (0.0, 0.0, 1.0)


def rod(one: Floats, two: Floats, radius: float) -> m3.Manifold:
    """Return a round rod from point to point."""
    way = (two - one) / np.linalg.norm(two - one)
    across = np.cross(way, [0.3, 0.5, 0.8])
    across /= np.linalg.norm(across)
    frame = np.column_stack([across, np.cross(way, across), way, one])
    return m3.Manifold.cylinder(float(np.linalg.norm(two - one)), radius, radius, 32).transform(frame)


def over(place: int, height: float = 5.0) -> Floats:
    """Return the point so high (mm) over the margin of a tooth, by its place in the row."""
    return np.append(PAIR.teeth[place].at, height)


def bar(one: int, two: int) -> m3.Manifold:
    """Return a bar from tooth to tooth, by their places in the row."""
    return rod(over(one), over(two), 1.5)


def hub() -> m3.Manifold:
    """Return struts from five teeth to the middle."""
    middle = np.append(np.mean([tooth.at for tooth in PAIR.teeth], axis=0), 5.0)
    return m3.Manifold.batch_boolean([rod(over(at), middle, 0.8) for at in (0, 3, 6, 9, 13)], m3.OpType.Add)


def supports(plate: bool) -> m3.Manifold:
    """Return a pin on every tooth, and on them a plate if wanted."""
    pins = [rod(over(at, 6.0), over(at, 12.0), 0.5) for at in range(len(PAIR.teeth))]
    low, high = np.split(np.array(arch().bounding_box()), 2)
    if plate:
        pins.append(m3.Manifold.cube([*(high - low)[:2], 1.0]).translate([low[0], low[1], 11.5]))
    return m3.Manifold.batch_boolean(pins, m3.OpType.Add)


@cache
def arch() -> m3.Manifold:
    """Return the arch as it is designed."""
    return PAIR.arch()


def checked(body: m3.Manifold, turn: float = 0.0, base: m3.Manifold | None = None) -> Checked:
    """Check an arch, both parts turned as a whole about a slanting line."""
    parts = [turned(triangles_of(one), turn, (0.4, 1.0, 0.2), (3.0, -4.0, 9.0)) for one in (base or PAIR.base(), body)]
    way = turned(np.array([[UP]]), turn, (0.4, 1.0, 0.2), (0.0, 0.0, 0.0))[0, 0]
    return check(stl(parts[0]), stl(parts[1]), Asked("lower", TEETH, (float(way[0]), float(way[1]), float(way[2]))))


@cache
def plain() -> Checked:
    """Return the check of the arch as it is designed."""
    return checked(arch())


STRAYS = {"molars": lambda: bar(0, -1), "premolars": lambda: bar(2, -3), "hub": hub}


@pytest.mark.parametrize(("stray", "turn"), [("molars", 0.0), ("premolars", 40.0), ("hub", 0.0)])
def test_bars_and_struts_change_no_number_and_are_said(stray: str, turn: float) -> None:
    """Every number is that of the arch without them, sections within 0.3 %, depths within 0.003 mm."""
    told, whole = checked(arch() + STRAYS[stray](), turn).report, plain().report
    assert [one.tooth for one in told.teeth] == [one.tooth for one in whole.teeth]
    for one, other in zip(told.teeth, whole.teeth, strict=True):
        assert one.depth_median_mm == pytest.approx(other.depth_median_mm, abs=3e-3)
        assert one.depth_max_mm == pytest.approx(other.depth_max_mm, abs=3e-3)
        assert one.bond_area_mm2 == pytest.approx(other.bond_area_mm2, rel=1e-3)
        assert one.gap_volume_ml == pytest.approx(other.gap_volume_ml, rel=5e-3)
    for section, same in zip(told.connectors, whole.connectors, strict=True):
        assert section.area_mm2 == pytest.approx(same.area_mm2, rel=3e-3)
    assert told.resin_ml == pytest.approx(whole.resin_ml, rel=2e-3) and told.goes_in
    (said,) = set(told.warnings) - set(whole.warnings)
    assert said.startswith("Something of the arch lies beside its row")


def test_a_bar_that_runs_along_a_connector_may_be_told_with_it() -> None:
    """Between the first premolars a bar leaves so slantingly that it touches the next connectors: some of these
    are told larger, none less, and all else stays."""
    told, whole = checked(arch() + bar(3, -4)).report, plain().report
    more = [one.area_mm2 / same.area_mm2 for one, same in zip(told.connectors, whole.connectors, strict=True)]
    assert {at for at, one in enumerate(more) if abs(one - 1) > 3e-3} <= {2, 3, 4, 8, 9, 10} and min(more) > 0.997
    assert told.resin_ml == pytest.approx(whole.resin_ml, rel=2e-3)
    assert "may be told too large" in " ".join(told.warnings)


def test_pins_on_the_teeth_are_no_stray() -> None:
    """What stands over the row stays, and changes nothing."""
    told = checked(arch() + supports(plate=False)).report
    assert told.warnings == plain().report.warnings and told.resin_ml == pytest.approx(plain().report.resin_ml)


def test_a_plate_is_refused() -> None:
    """Nobody can tell teeth from a plate over all of them."""
    with pytest.raises(Unusable, match="a plate, or supports for printing"):
        checked(arch() + supports(plate=True))


def test_a_bar_on_an_open_arch_is_refused() -> None:
    """Where the arch is no solid nothing can be cut away cleanly."""
    corners = np.delete(triangles_of(arch() + bar(0, -1)), np.s_[:40:2], axis=0)
    with pytest.raises(Unusable, match="cannot be cut away"):
        check(stl(triangles_of(PAIR.base())), stl(corners), Asked("lower", TEETH, UP))


@pytest.mark.parametrize("gone", [(0, 1, 2), (6, 7, 8, 9)])
def test_teeth_without_a_socket_are_no_stray(gone: tuple[int, ...]) -> None:
    """Where the base ends or is cut out below three or four teeth, they stay teeth of the row."""
    at = np.array([PAIR.teeth[place].at for place in gone])
    ends = np.concatenate([at - 6.5, at + 6.5])
    box = m3.Manifold.cube([*np.ptp(ends, axis=0), 30]).translate([*ends.min(axis=0), -15])
    told = checked(arch(), base=PAIR.base() - box).report
    assert len(told.teeth) == len(TEETH) and not any("beside its row" in one for one in told.warnings)
    assert sum("No socket wall" in one for one in told.warnings) >= len(gone) - 1
