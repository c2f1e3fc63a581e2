"""Tooth numbers as they are shown: against the two published rows, and over every jaw that there can be."""

from hypothesis import given
from hypothesis import strategies as st

from benchapp.core import archmap
from benchapp.core.numbers import SYSTEM, number, numbers_of, place_number, renamed, system_of, teeth_words
from benchapp.core.teeth import JAWS, PLACE_KINDS, ROW, SEXTANTS, Jaw, places
from tests.core.test_archmap import some_teeth

# ISO 3950: the rows from the patient's right to the left; US universal numbers 1 to 16 and 32 to 17 in the same order.
ISO_ROWS = {
    "upper": "18 17 16 15 14 13 12 11 21 22 23 24 25 26 27 28",
    "lower": "48 47 46 45 44 43 42 41 31 32 33 34 35 36 37 38",
}
UNIVERSAL_ROWS = {"upper": list(range(1, 17)), "lower": list(range(32, 16, -1))}


def test_the_rows_are_those_of_the_standards() -> None:
    """Each ISO 3950 number shows as itself or as the US universal number at its place in the row."""
    for jaw in JAWS:
        iso = [int(word) for word in ISO_ROWS[jaw].split()]
        assert [number(tooth, "fdi") for tooth in iso] == iso
        assert [number(tooth, "universal") for tooth in iso] == UNIVERSAL_ROWS[jaw]
    assert len({number(tooth, "universal") for jaw in JAWS for tooth in ROW[jaw]}) == 32


def test_the_setting_names_the_system() -> None:
    """Both values of the setting are known, anything else counts as ISO 3950, and each system has its printed name."""
    assert [numbers_of(value) for value in ("fdi", "universal", "", "Universal")] == ["fdi", "universal", "fdi", "fdi"]
    assert {one: system_of(words) for one, words in SYSTEM.items()} == {"fdi": "fdi", "universal": "universal"}


def test_words_of_single_places() -> None:
    """A tooth, its margin sides and a connector are named by the numbers chosen, a connector by both of its teeth."""
    found = {p.name: renamed(p, "universal").words for p in places("upper", (12, 11, 21), PLACE_KINDS)}
    assert found["11"] == "tooth 8"
    assert found["11-21"] == "connector 8-9"
    assert found["m12b"] == "margin of 7, buccal side"
    lower = {p.name: renamed(p, "universal").words for p in places("lower", (41, 31, 33), PLACE_KINDS)}
    assert (lower["31-33"], lower["m41l"]) == ("connector 24-22", "margin of 25, lingual side")
    assert lower["b-lingual"] == "lingual bar" and lower["s2"] == "front sextant" and lower["-"] == "lower jaw"


def test_teeth_are_listed_with_a_bar_at_the_midline() -> None:
    """Right side, bar, left side, in either system and either jaw."""
    assert teeth_words((12, 11, 21, 22), "fdi") == "12 11 | 21 22"
    assert teeth_words((12, 11, 21, 22), "universal") == "7 8 | 9 10"
    assert teeth_words((42, 41, 31, 32), "universal") == "26 25 | 24 23"


@given(some_teeth())
def test_only_numbers_change(asked: tuple[Jaw, list[int]]) -> None:
    """Names, kinds, sextants and the number of places stay; words stay different from each other; ISO is as stored."""
    jaw, teeth = asked
    for place in places(jaw, teeth, PLACE_KINDS):
        shown = renamed(place, "universal")
        assert (shown.name, shown.kind, shown.sextant) == (place.name, place.kind, place.sextant)
        assert renamed(place, "fdi") == place
    words = [renamed(place, "universal").words for place in places(jaw, teeth, PLACE_KINDS)]
    assert len(set(words)) == len(words)


@given(some_teeth(), st.sampled_from(("fdi", "universal")))
def test_the_map_shows_the_numbers(asked: tuple[Jaw, list[int]], numbers: str) -> None:
    """On both maps each tooth and connector bears its number, shapes and targets stay, names stay ISO 3950."""
    jaw, teeth = asked
    chosen = numbers_of(numbers)
    plain, shown = archmap.whole(jaw, teeth), archmap.whole(jaw, teeth, chosen)
    assert [shape.tooth for shape in shown.teeth] == [number(shape.tooth, chosen) for shape in plain.teeth]
    assert [shape.path for shape in shown.teeth] == [shape.path for shape in plain.teeth]
    assert shown.regions == plain.regions
    for which in SEXTANTS:
        before, after = archmap.sextant(jaw, teeth, which), archmap.sextant(jaw, teeth, which, chosen)
        assert [one.place.name for one in after.targets] == [one.place.name for one in before.targets]
        assert [one.rect for one in after.targets] == [one.rect for one in before.targets]
        for one in after.targets:
            if one.place.kind in ("tooth", "connector"):
                assert one.label == place_number(one.place, chosen)
                assert one.label in one.place.words
        if before.neighbour and after.neighbour:
            assert after.neighbour.tooth == number(before.neighbour.tooth, chosen)
