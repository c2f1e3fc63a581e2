"""Tooth numbers, sextants and places against ISO 3950 and the counts of the trade."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.core import teeth
from benchapp.core.teeth import JAWS, PLACE_KINDS, ROW, SEXTANTS, Jaw, Place, places

UPPER_14 = (17, 16, 15, 14, 13, 12, 11, 21, 22, 23, 24, 25, 26, 27)
LOWER_14 = (47, 46, 45, 44, 43, 42, 41, 31, 32, 33, 34, 35, 36, 37)


def some_teeth() -> st.SearchStrategy[tuple[Jaw, list[int]]]:
    """Any jaw with any 2 to 16 of its teeth, in any order."""
    return st.sampled_from(JAWS).flatmap(
        lambda jaw: st.tuples(
            st.just(jaw), st.lists(st.sampled_from(ROW[jaw]), min_size=2, max_size=16, unique=True)
        )
    )


def test_rows_are_those_of_the_standard() -> None:
    """ISO 3950: 18..11 21..28 above, 48..41 31..38 below, quadrant digit then position from the midline."""
    assert ROW["upper"] == (*range(18, 10, -1), *range(21, 29))
    assert ROW["lower"] == (*range(48, 40, -1), *range(31, 39))


def test_universal_numbers_follow_the_rows() -> None:
    """US universal numbers are 1..16 and 32..17 in the order of the ISO 3950 rows."""
    assert [teeth.universal(tooth) for tooth in ROW["upper"]] == list(range(1, 17))
    assert [teeth.universal(tooth) for tooth in ROW["lower"]] == list(range(32, 16, -1))


@pytest.mark.parametrize(
    "iso, us", [(11, 8), (21, 9), (36, 19), (46, 30), (13, 6), (33, 22), (28, 16), (48, 32)]
)
def test_universal_numbers_that_every_dentist_knows(iso: int, us: int) -> None:
    """Single pairs of ISO 3950 and US universal numbers, from memory."""
    assert teeth.universal(iso) == us


@pytest.mark.parametrize("jaw, row", [("upper", UPPER_14), ("lower", LOWER_14)])
def test_fourteen_teeth_give_41_places_in_12_17_12(jaw: Jaw, row: tuple[int, ...]) -> None:
    """Fourteen teeth have 13 connectors and 28 margin sides, 12 + 17 + 12 by sextant (common practice)."""
    assert len(places(jaw, row, ["connector"])) == 13
    assert len(places(jaw, row, ["margin"])) == 28
    both = places(jaw, row, ["connector", "margin"])
    assert [sum(place.sextant == which for place in both) for which in SEXTANTS] == [12, 17, 12]


@pytest.mark.parametrize(
    "pair, which", [((14, 13), "s1"), ((23, 24), "s3"), ((44, 43), "s1"), ((33, 34), "s3")]
)
def test_connectors_at_the_canines_belong_to_the_back(pair: tuple[int, int], which: str) -> None:
    """The connectors 13-14, 23-24, 43-44 and 33-34 belong to the back sextants (common practice)."""
    assert teeth.connector_sextant(*pair) == teeth.connector_sextant(*reversed(pair)) == which


def test_connector_across_a_missing_tooth_names_its_real_neighbours() -> None:
    """With 14 missing, 15 and 13 are held by the connector 15-13, which is a back one."""
    row = [tooth for tooth in UPPER_14 if tooth != 14]
    found = {place.name: place for place in places("upper", row, ["connector"])}
    assert "15-13" in found and "15-14" not in found and "14-13" not in found
    assert found["15-13"] == Place("15-13", "connector", "s1", "connector 15-13")


def test_connector_across_missing_front_teeth_has_one_back_sextant() -> None:
    """Without front teeth the connector 14-24 belongs to the right back, and only there."""
    assert teeth.connectors("upper", [24, 14]) == ((14, 24),)
    assert teeth.connector_sextant(24, 14) == "s1"


def test_connector_name_does_not_depend_on_the_order_given() -> None:
    """A connector is always named in row order."""
    assert teeth.connector_name(21, 11) == teeth.connector_name(11, 21) == "11-21"
    with pytest.raises(ValueError, match="two different teeth of one jaw"):
        teeth.connector_name(11, 41)
    with pytest.raises(ValueError, match="two different teeth of one jaw"):
        teeth.connector_name(11, 11)


def test_places_walk_the_row_then_base_sextants_and_jaw() -> None:
    """Places come in the order of the row, tooth, margins, connector; the jaw is last."""
    names = [place.name for place in places("upper", [21, 11], PLACE_KINDS)]
    assert names[:7] == ["11", "m11b", "m11l", "11-21", "21", "m21b", "m21l"]
    assert names[7] == "b-palate" and names[-4:] == ["s1", "s2", "s3", "-"]


def test_inner_margin_side_is_palatal_above_and_lingual_below() -> None:
    """The inner margin side is called palatal in the upper jaw and lingual in the lower."""
    assert teeth.place_of("upper", UPPER_14, "m11l") == Place(
        "m11l", "margin", "s2", "margin of 11, palatal side"
    )
    assert teeth.place_of("lower", LOWER_14, "m31l") == Place(
        "m31l", "margin", "s2", "margin of 31, lingual side"
    )
    assert teeth.place_of("lower", LOWER_14, "m31b") == Place(
        "m31b", "margin", "s2", "margin of 31, buccal side"
    )


def test_a_place_the_jaw_does_not_have_is_none() -> None:
    """A place of a missing tooth or of the other jaw is not found."""
    assert teeth.place_of("upper", UPPER_14, "m18b") is None
    assert teeth.place_of("upper", UPPER_14, "31") is None


@given(some_teeth())
def test_every_place_has_one_short_name(jaw_and_teeth: tuple[Jaw, list[int]]) -> None:
    """Names of a jaw's places are unique and use only small letters, digits and hyphens."""
    jaw, row = jaw_and_teeth
    found = places(jaw, row, PLACE_KINDS)
    names = [place.name for place in found]
    assert len(set(names)) == len(names)
    assert all(re.fullmatch(r"[a-z0-9-]+", name) for name in names)
    assert all(place.name.startswith("b-") for place in found if place.kind == "base")
    assert all(place.sextant in SEXTANTS for place in found if place.kind not in ("base", "jaw"))


@given(some_teeth())
def test_counts_hold_for_any_arch(jaw_and_teeth: tuple[Jaw, list[int]]) -> None:
    """n teeth have n - 1 connectors and 2 n margin sides, whatever is missing or listed out of order."""
    jaw, row = jaw_and_teeth
    assert len(places(jaw, row, ["connector"])) == len(row) - 1
    assert len(places(jaw, row, ["margin"])) == 2 * len(row)
    assert places(jaw, row, PLACE_KINDS) == places(jaw, sorted(row), PLACE_KINDS)


@given(some_teeth())
def test_sextants_are_unbroken_stretches(jaw_and_teeth: tuple[Jaw, list[int]]) -> None:
    """Teeth and margins of the three sextants follow each other without mixing."""
    jaw, row = jaw_and_teeth
    order = [place.sextant for place in places(jaw, row, ["tooth", "margin"])]
    assert order == sorted(order)


@pytest.mark.parametrize(
    "listed, words",
    [
        ((11, 21, 19), "19 is no tooth number of ISO 3950: use 11 to 18"),
        ((11, 21, 31), "Tooth 31 belongs to the lower jaw: take it out"),
        ((11, 21, 11), "Tooth 11 is listed twice: take one of the two out"),
        ((11,), "at least two teeth of the upper jaw, this one has 1: list every tooth"),
        ((), "this one has 0"),
    ],
)
def test_each_fault_says_what_and_how_to_mend(listed: tuple[int, ...], words: str) -> None:
    """A faulty list gives exactly one sentence for its one fault, and building places refuses it alike."""
    faults = teeth.check_teeth("upper", listed)
    assert len(faults) == 1 and words in faults[0]
    with pytest.raises(ValueError, match=re.escape(faults[0])):
        places("upper", listed, ["tooth"])


def test_all_faults_are_told_at_once() -> None:
    """Four faults in one list give four sentences."""
    assert len(teeth.check_teeth("lower", [36, 36, 26, 5])) == 4


@given(some_teeth())
def test_sound_lists_have_no_fault(jaw_and_teeth: tuple[Jaw, list[int]]) -> None:
    """Any two or more different teeth of one jaw are accepted."""
    assert teeth.check_teeth(*jaw_and_teeth) == []


def test_strange_numbers_and_kinds_are_refused_in_words() -> None:
    """A number outside ISO 3950 and an unknown kind of place name themselves and the choices."""
    with pytest.raises(ValueError, match="51 is no tooth number"):
        teeth.sextant(51)
    with pytest.raises(ValueError, match="No such kind of place: socket; use tooth"):
        places("upper", [11, 21], ["socket"])  # type: ignore[list-item]
