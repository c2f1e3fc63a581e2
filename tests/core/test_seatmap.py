"""The seating check on the arch map: five bands by the lab's limits, each place with its own figure, nothing on top."""

import random
from itertools import combinations
from typing import Any

import numpy as np
import pytest

from benchapp.core import seatmap
from benchapp.core.scales import Limits, round_step, scale
from benchapp.core.seatmap import KINDS, Kind, seat_map
from benchapp.core.seatrows import connector_rows, tooth_rows
from benchapp.core.teeth import ROW, Jaw, connectors

DEPTH, CONNECTOR, RESIN, BOND = KINDS


def report(teeth: tuple[int, ...], jaw: Jaw = "upper", seed: int = 1) -> dict[str, Any]:
    """Return what of a report is drawn, with numbers by chance."""
    dice = random.Random(seed)
    return {
        "teeth": [{
            "tooth": tooth, "depth_median_mm": dice.uniform(0.1, 1.2), "gap_volume_ml": dice.uniform(0.002, 0.02),
            "bond_area_mm2": dice.uniform(20, 120),
        } for tooth in teeth],
        "connectors": [{"between": list(pair), "area_mm2": dice.uniform(1, 12)} for pair in connectors(jaw, teeth)],
    }  # fmt: skip


@pytest.mark.parametrize("limits", [
    Limits(), Limits(0.3, 0.8), Limits(most=0.8), Limits(least=0.3), Limits(2.0, 2.001),
])
def test_numbers_fall_into_bands_as_numpy_sorts_them(limits: Limits) -> None:
    """By chance and at the bounds: the band is that of `numpy.digitize`, but the lab's most is still accepted."""
    dice = random.Random(5)
    values = [dice.uniform(0, 3) for _n in range(200)]
    found = scale(values, limits, 2)
    assert len(found.bounds) == 4 and list(found.bounds) == sorted(set(found.bounds))
    for value in [*values, *(one for one in found.bounds if one != limits.most)]:
        assert found.band(value).number == np.digitize(value, found.bounds) + 1
    beyond = {band.number: band.beyond for band in found.bands if band.beyond}
    assert beyond == ({1: "under"} if limits.least is not None else {}) | (
        {5: "over"} if limits.most is not None else {})
    for limit in (limits.least, limits.most):
        assert limit is None or (limit in found.bounds and found.band(limit).beyond == "")


def test_steps_are_round_and_limits_must_leave_something() -> None:
    """Steps are 1, 2, 2.5 or 5 of a power of ten; limits that cross are refused; one number alone has bands too."""
    assert [round_step(one) for one in (0.013, 0.2, 3, 26, 0)] == pytest.approx([0.02, 0.2, 5, 50, 1])
    with pytest.raises(ValueError, match="not below"):
        scale([1], Limits(0.8, 0.3))
    assert scale([0.7], Limits()).band(0.7).number == 1 and scale([], Limits()).bounds


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
@pytest.mark.parametrize("jaw", ["upper", "lower"])
def test_a_full_arch_lies_on_the_picture_and_no_figure_on_another(jaw: Jaw, kind: Kind) -> None:
    """Sixteen teeth with the longest figures: all within the view box, no two figures overlap at 17 px letters."""
    row = ROW[jaw]
    found = seat_map(kind, jaw, row, report(row, jaw), Limits(0.3, 0.8) if kind is DEPTH else Limits())
    left, top, wide, high = (float(one) for one in found.view_box.split())
    assert len(found.spots) == (15 if kind is CONNECTOR else 16)
    boxes = []
    for spot in found.spots:
        text = f"{'▲' if spot.beyond else ''}{spot.figure}"
        half = len(text) * 10.5 / 2
        assert left <= spot.fx - half and spot.fx + half <= left + wide and top <= spot.fy - 9 <= top + high - 18
        boxes.append((spot.fx - half, spot.fx + half, spot.fy - 8.5, spot.fy + 8.5))
    for one, two in combinations(boxes, 2):
        assert min(one[1], two[1]) <= max(one[0], two[0]) or min(one[3], two[3]) <= max(one[2], two[2])


def test_each_place_shows_its_own_number() -> None:
    """Figures, bands and words are those of the report; a missing tooth is spanned; what is not known says so."""
    teeth = (16, 15, 13, 12, 11, 21)
    told = report(teeth)
    told["teeth"][2]["depth_median_mm"] = None
    told["teeth"][0]["depth_median_mm"] = 0.80
    told["teeth"][1]["depth_median_mm"] = 0.81
    found = {spot.place: spot for spot in seat_map(DEPTH, "upper", teeth, told, Limits(0.3, 0.8)).spots}
    assert (found["16"].figure, found["16"].band, found["16"].beyond) == ("0.80", 4, "")
    assert (found["15"].band, found["15"].beyond) == (5, "over")
    assert found["15"].words == "tooth 15: Depth 0.81 mm, over what the lab accepts"
    assert (found["13"].figure, found["13"].band) == ("?", 0) and found["13"].words == "tooth 13: Depth not known"
    between = seat_map(CONNECTOR, "upper", teeth, told, Limits(least=2.0, cut=True), "universal")
    assert [spot.place for spot in between.spots] == ["16-15", "15-13", "13-12", "12-11", "11-21"]
    assert between.spots[1].label == "4-6" and between.rows[-1].said == "nothing to cut"
    assert {spot.figure for spot in between.spots} == {f"{one['area_mm2']:.1f}" for one in told["connectors"]}
    assert seatmap.values_of(RESIN, told)["16"] == pytest.approx(told["teeth"][0]["gap_volume_ml"] * 1000)
    nothing = seat_map(BOND, "upper", teeth, {"teeth": [], "connectors": []}, Limits())
    assert {spot.band for spot in nothing.spots} == {0}


def test_teeth_without_a_number_have_rows_and_no_place() -> None:
    """A tooth that could not be told stands in its row as a dash, and so does its connector."""
    sides = dict.fromkeys(("buccal", "lingual", "mesial", "distal"))
    numbers = dict.fromkeys(("depth_median_mm", "depth_max_mm", "crest_depth_median_mm", "gap_median_mm",
                             "gap_volume_ml", "bond_area_mm2"))
    tooth = {"tooth": None, "depth_by_side_mm": sides, "intervals": {}, **numbers}
    rod = {"between": [11, None], "area_mm2": 4.47, "height_mm": 2.2, "thickness_mm": 2.6, "cut_depth_mm": -0.0,
           "relief_volume_ml": 0.0007, "islands_mm2": [0.4], "at_limit": True, "intervals": {"area_mm2": [-0.1, 4.5]}}
    told = {"teeth": [tooth], "connectors": [rod]}
    (row,), (between,) = tooth_rows(told, "fdi"), connector_rows(told, "fdi", {})
    assert (row.place, row.title, {cell.figure for cell in row.cells}) == ("", "–", {"–"})
    assert (between.place, between.title) == ("", "11-–")
    assert between.cells[0].interval == "−0.10–4.50" and [cell.figure for cell in between.cells[-2:]] == [
        "0.40", "at the limit"]
