"""Where the arch is stopped: which places a report has, what they are called, what findings say of them."""

from typing import Any

import pytest

from benchapp.core.findings import findings
from benchapp.core.scales import Limits
from benchapp.core.seatmap import KINDS, Cross, seat_map
from benchapp.core.seatrows import stop_words
from benchapp.core.stops import listed, of_kind, placed, stops, teeth_of, worst
from benchapp.core.teeth import ROW, Jaw
from tests.core.test_findings import TEETH, of, report
from tests.core.test_seatmap import report as numbers_of

CLOSE = of('clearance = { least = 0.03, source = "cp" }')


def place(tooth: int | None, side: str | None, mm: float) -> dict[str, Any]:
    """Return a place of a report."""
    return {"tooth": tooth, "side": side, "size_mm": mm, "point_mm": [12.0, -3.25, 40.5]}


def test_places_have_names_in_the_order_of_the_report() -> None:
    """Undercuts, then overlaps, then the nearest place; an older report, which has none of them, has no places."""
    seen = report(undercuts=[place(16, "buccal", 0.2), place(15, "mesial", 0.1)], overlaps=[place(11, None, 0.3)],
                  nearest=place(21, "distal", 0.02))
    found = stops(seen)
    assert [(one.name, one.kind, one.tooth) for one in found] == [
        ("stop-1", "undercut", 16), ("stop-2", "undercut", 15), ("stop-3", "overlap", 11), ("stop-4", "nearest", 21),
    ]
    assert [stop_words(one) for one in found[1:]] == [
        "base stands above the arch, 0.10 mm wide", "0.30 mm deep in each other", "0.02 mm apart",
    ]
    assert stops(report()) == () and of_kind(seen, "overlap") == found[2:3]


def test_what_a_place_is_called() -> None:
    """Tooth in the lab's numbers and side, palatal in an upper jaw; beneath a tooth it is the tooth alone, and without
    a tooth the point of the files."""
    lower, upper = (
        stops({"jaw": jaw, "undercuts": [place(16, "lingual", 0.2), place(16, None, 0.2), place(None, None, 0.2)]})
        for jaw in ("lower", "upper")
    )
    assert [placed(one, "fdi") for one in upper] == ["16 palatal", "16", "point 12.0 −3.2 40.5 of the files"]
    assert placed(lower[0], "universal") == "3 lingual"


def test_a_few_places_are_told_with_their_sides_and_more_by_their_teeth() -> None:
    """Three places with sides; of four the teeth, each once, in the order of the row."""
    many = [place(16, "lingual", 0.2), place(16, "buccal", 0.1), place(15, "mesial", 0.1), place(21, "distal", 0.3)]
    found = stops({"jaw": "lower", "overlaps": many})
    assert listed(found[:3], "fdi") == "16 lingual, 16 buccal, 15 mesial" and listed(found, "fdi") == "16 15 21"
    assert teeth_of(found) == ("16", "15", "21") and listed((), "fdi") == ""


def test_of_many_places_the_worst_of_each_tooth_are_shown() -> None:
    """Twelve are shown as they are; of thirteen the widest or deepest of each tooth, in their order; what is as deep
    beneath a tooth as beside it is beneath."""
    every = [place(tooth, side, mm) for tooth in TEETH[:4] for side, mm in (
        ("buccal", 0.1), ("lingual", 0.3), (None, 0.2))]
    assert len(worst(stops({"overlaps": every}))) == 12
    many = worst(stops({"overlaps": every, "undercuts": [place(16, "buccal", 0.1)]}))
    assert [(one.kind, one.tooth, one.side) for one in many] == [
        ("undercut", 16, "buccal"), *(("overlap", tooth, "lingual") for tooth in TEETH[:4])]
    alike = [place(tooth, side, mm) for tooth in TEETH for side, mm in (("buccal", 0.201), (None, 0.199))]
    assert {one.side for one in worst(stops({"overlaps": alike}))} == {None}


def test_findings_tell_where() -> None:
    """What does not go in, lies in each other or comes too close says at which teeth, and names them for the record."""
    stuck = report(goes_in=False, undercut_width_mm=0.324, undercuts=[place(16, "lingual", 0.324)])
    everywhere = [place(tooth, None, 0.1) for tooth in TEETH]
    inside = report(goes_in=None, overlap_mm3=1.25, undercut_width_mm=None, overlaps=everywhere)
    close = report(least_clearance_mm=0.01, nearest=place(21, "mesial", 0.01))
    told = [findings(one, CLOSE, TEETH, "fdi") for one in (stuck, inside, close)]
    assert [found[0].words for found in told] == [
        "The arch does not go in: base stands above it, up to 0.32 mm wide, at 16 lingual",
        "Base and arch lie in each other: 1.25 mm³, at 16 15 14 13 12 11 21 22 23 24 25 26",
        "Base and arch come within 0.01 mm at 21 mesial; 0.03 mm is the least",
    ]
    assert [found[0].places for found in told] == [("16",), tuple(map(str, TEETH)), ("21",)]
    far = findings(report(), of('clearance = { most = 0.05, source = "cp" }'), TEETH)
    assert [one.words for one in far] == ["Base and arch come no closer than 0.08 mm; 0.05 mm is the most"]


@pytest.mark.parametrize("jaw", ["upper", "lower"])
def test_crosses_stand_on_the_side_that_they_are_of(jaw: Jaw) -> None:
    """On the map buccal is farther from the middle of the arch than lingual, mesial nearer to the midline than distal,
    on both sides of both jaws; a tooth that the case does not list has none, and every map has the same."""
    row = ROW[jaw]
    sides = ("buccal", "lingual", "mesial", "distal")
    for tooth in (row[2], row[-3]):
        told = {"jaw": jaw, "undercuts": [*(place(tooth, side, 0.2) for side in sides), place(None, None, 0.1)]}
        maps = [
            seat_map(kind, jaw, row, numbers_of(row, jaw), Limits(), stopped=stops(told))
            for kind in KINDS
        ]  # fmt: skip
        assert all(one.crosses == maps[0].crosses for one in maps) and len(maps[0].crosses) == 4
        buccal, lingual, mesial, distal = maps[0].crosses
        spot = next(one for one in maps[0].spots if one.place == str(tooth))

        def out(one: Cross) -> float:
            return abs(one.x - 240)

        assert out(buccal) > out(lingual) + 20
        front = min if jaw == "upper" else max
        assert front(mesial, distal, key=lambda one: one.y) is mesial
        for one in (buccal, lingual, mesial, distal):
            assert 10 < ((one.x - spot.x) ** 2 + (one.y - spot.y) ** 2) ** 0.5 < 45
