"""Tooth numbers as people read them: ISO 3950 or US universal; what is stored is always ISO 3950."""

from collections.abc import Iterable
from dataclasses import replace
from typing import Final, Literal, get_args

from benchapp.core.teeth import Place, universal
from benchapp.core.words import _

Numbers = Literal["fdi", "universal"]
SystemWords = Literal["ISO 3950", "US universal numbers"]

# The names of the two systems, as records name them in every language; pages say `system_words`.
SYSTEM: Final[dict[Numbers, SystemWords]] = {"fdi": "ISO 3950", "universal": "US universal numbers"}
_NUMBERED = ("tooth", "margin", "connector")


def numbers_of(value: str) -> Numbers:
    """Return the system that the value of the setting `numbers` names; ISO 3950 for a value that is not known."""
    return next((one for one in get_args(Numbers) if one == value), "fdi")


def system_of(words: SystemWords) -> Numbers:
    """Return the system of that printed name."""
    return "universal" if words == SYSTEM["universal"] else "fdi"


def system_words(numbers: Numbers) -> str:
    """Return the name of a system in the language in use, as it stands beside the numbers."""
    return _("US universal numbers") if numbers == "universal" else _("ISO 3950")


def number(tooth: int, numbers: Numbers) -> int:
    """Return the number to show for an ISO 3950 tooth; ValueError for a number that no tooth has."""
    return universal(tooth) if numbers == "universal" else tooth


def teeth_words(teeth: Iterable[int], numbers: Numbers) -> str:
    """Return ISO 3950 teeth in row order as they are printed, with a bar at the midline: `12 11 | 21 22`."""
    listed = tuple(teeth)
    sides = [[tooth for tooth in listed if tooth // 10 in quadrants] for quadrants in ((1, 4), (2, 3))]
    return " | ".join(" ".join(str(number(tooth, numbers)) for tooth in side) for side in sides)


def place_number(place: Place, numbers: Numbers) -> str:
    """Return what stands on the map for a place: a tooth's number, both of a connector's, "" for any other place."""
    if place.kind not in _NUMBERED:
        return ""
    return "-".join(str(number(int(tooth), numbers)) for tooth in _bare(place).split("-"))


def renamed(place: Place, numbers: Numbers) -> Place:
    """Return a place with its words in the numbers chosen; its stored name stays."""
    if place.kind not in _NUMBERED or numbers == "fdi":
        return place
    return replace(place, words=place.words.replace(_bare(place), place_number(place, numbers)))


def _bare(place: Place) -> str:
    """Return the number or numbers within a stored name: `11` of `m11b`."""
    return place.name[1:-1] if place.kind == "margin" else place.name
