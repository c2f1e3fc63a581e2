"""Teeth and places of a jaw: ISO 3950 numbers, sextants, connectors, margin sides, areas of the base."""

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise
from typing import Final, Literal

from benchapp.core.words import N_, _

Jaw = Literal["upper", "lower"]
Sextant = Literal["s1", "s2", "s3"]
PlaceKind = Literal["tooth", "margin", "connector", "base", "sextant", "jaw"]

JAWS: Final[tuple[Jaw, ...]] = ("upper", "lower")
JAW_WORDS = {"upper": N_("upper jaw"), "lower": N_("lower jaw")}  # as in the middle of a sentence
SEXTANTS: Final[tuple[Sextant, ...]] = ("s1", "s2", "s3")
PLACE_KINDS: Final[tuple[PlaceKind, ...]] = ("tooth", "margin", "connector", "base", "sextant", "jaw")

# Order seen by someone who faces the patient, from the patient's right to the patient's left (ISO 3950).
ROW: Final[dict[Jaw, tuple[int, ...]]] = {
    "upper": (18, 17, 16, 15, 14, 13, 12, 11, 21, 22, 23, 24, 25, 26, 27, 28),
    "lower": (48, 47, 46, 45, 44, 43, 42, 41, 31, 32, 33, 34, 35, 36, 37, 38),
}

SEXTANT_WORDS: Final[dict[Sextant, str]] = {"s1": N_("right back"), "s2": N_("front"), "s3": N_("left back")}

_INNER_BASE: Final[dict[Jaw, tuple[str, str]]] = {
    "upper": ("b-palate", N_("palate")),
    "lower": ("b-lingual", N_("lingual bar")),
}
_OUTER_BASE: Final = (
    ("b-flange-right", "s1", N_("buccal flange, right")),
    ("b-flange-front", "s2", N_("labial flange, front")),
    ("b-flange-left", "s3", N_("buccal flange, left")),
    ("b-ridge-right", "", N_("ridge, right")),
    ("b-ridge-left", "", N_("ridge, left")),
    ("b-fitting", "", N_("fitting surface")),
)


@dataclass(frozen=True)
class Place:
    """One named place of a jaw: its stored name, its kind, its sextant ("" where it spans), and its words."""

    name: str
    kind: PlaceKind
    sextant: str
    words: str


def jaw_of(tooth: int) -> Jaw:
    """The jaw a tooth stands in; ValueError for a number that ISO 3950 does not give to a permanent tooth."""
    for jaw in JAWS:
        if tooth in ROW[jaw]:
            return jaw
    raise ValueError(_unknown(tooth))


def universal(tooth: int) -> int:
    """US universal number of an ISO 3950 tooth, 1..16 upper, 32..17 lower; for display, never stored."""
    jaw = jaw_of(tooth)
    at = ROW[jaw].index(tooth)
    return at + 1 if jaw == "upper" else 32 - at


def sextant(tooth: int) -> Sextant:
    """Sextant of a tooth: canines and incisors are the front, the rest right back or left back."""
    jaw_of(tooth)
    if tooth % 10 <= 3:
        return "s2"
    return "s1" if tooth // 10 in (1, 4) else "s3"


def in_row(jaw: Jaw, teeth: Iterable[int]) -> tuple[int, ...]:
    """The teeth in row order; ValueError with every fault of `check_teeth`."""
    listed = tuple(teeth)
    if faults := check_teeth(jaw, listed):
        raise ValueError(" ".join(faults))
    return tuple(tooth for tooth in ROW[jaw] if tooth in listed)


def connectors(jaw: Jaw, teeth: Iterable[int]) -> tuple[tuple[int, int], ...]:
    """Neighbours that hold each other, in row order; across a missing tooth the next one present counts."""
    row = in_row(jaw, teeth)
    return tuple(pairwise(row))


def connector_name(left: int, right: int) -> str:
    """Stored name of the connector between two teeth, whichever is given first: `11-21`, `15-13`."""
    row = ROW[jaw_of(left)]
    if right not in row or left == right:
        raise ValueError(f"No connector joins {left} and {right}: give two different teeth of one jaw.")
    first, second = sorted((left, right), key=row.index)
    return f"{first}-{second}"


def connector_sextant(left: int, right: int) -> Sextant:
    """Sextant of a connector: a back one as soon as one of its teeth is a back tooth (the first of two)."""
    back = [s for s in (sextant(left), sextant(right)) if s != "s2"]
    return min(back) if back else "s2"


def base_places(jaw: Jaw) -> tuple[Place, ...]:
    """The areas of the base of a jaw; "" as sextant where an area spans several."""
    name, words = _INNER_BASE[jaw]
    return (Place(name, "base", "", _(words)), *(Place(n, "base", s, _(w)) for n, s, w in _OUTER_BASE))


def places(jaw: Jaw, teeth: Iterable[int], kinds: Iterable[PlaceKind]) -> tuple[Place, ...]:
    """Places of the wanted kinds, walking the row from the patient's right; then base, sextants, jaw.

    ValueError for faulty teeth (see `check_teeth`) or a kind that is none of PLACE_KINDS.
    """
    wanted = frozenset(kinds)
    if strange := wanted - set(PLACE_KINDS):
        raise ValueError(
            f"No such kind of place: {', '.join(sorted(strange))}; use {', '.join(PLACE_KINDS)}."
        )
    return tuple(place for place in _every_place(jaw, in_row(jaw, teeth)) if place.kind in wanted)


def place_of(jaw: Jaw, teeth: Iterable[int], name: str) -> Place | None:
    """The place of that name in this jaw, or None when the jaw has no such place."""
    return next((place for place in places(jaw, teeth, PLACE_KINDS) if place.name == name), None)


def check_teeth(jaw: Jaw, teeth: Iterable[int]) -> list[str]:
    """Every fault of a list of teeth, each a sentence that says how to mend it; an empty list when sound."""
    listed = tuple(teeth)
    faults = [
        fault for at, tooth in enumerate(listed) if (fault := _tooth_fault(jaw, tooth, tooth in listed[:at]))
    ]
    sound = {tooth for tooth in listed if tooth in ROW[jaw]}
    if len(sound) < 2:
        faults.append(_(
            "An arch has at least two teeth of the {jaw}, this one has {count}: list every tooth of the arch.",
            jaw=_(JAW_WORDS[jaw]), count=len(sound),
        ))
    return faults


def _tooth_fault(jaw: Jaw, tooth: int, seen: bool) -> str:
    other: Jaw = "lower" if jaw == "upper" else "upper"
    if tooth in ROW[other]:
        return _(
            "Tooth {tooth} belongs to the {jaw}: take it out, or change the jaw of this list.",
            tooth=tooth, jaw=_(JAW_WORDS[other]),
        )
    if tooth not in ROW[jaw]:
        return _unknown(tooth)
    return _("Tooth {tooth} is listed twice: take one of the two out.", tooth=tooth) if seen else ""


def _unknown(tooth: int) -> str:
    return _(
        "{tooth} is no tooth number of ISO 3950: use 11 to 18 and 21 to 28 for the upper jaw, "
        "31 to 38 and 41 to 48 for the lower.", tooth=tooth,
    )


def _every_place(jaw: Jaw, row: tuple[int, ...]) -> Iterable[Place]:
    for at, tooth in enumerate(row):
        yield from _tooth_places(jaw, tooth)
        if at + 1 < len(row):
            yield _connector_place(tooth, row[at + 1])
    yield from base_places(jaw)
    for which in SEXTANTS:
        yield Place(which, "sextant", which, _("{which} sextant", which=_(SEXTANT_WORDS[which])))
    yield Place("-", "jaw", "", _(JAW_WORDS[jaw]))


def _tooth_places(jaw: Jaw, tooth: int) -> Iterable[Place]:
    where = sextant(tooth)
    if jaw == "upper":
        inner = _("margin of {tooth}, palatal side", tooth=tooth)
    else:
        inner = _("margin of {tooth}, lingual side", tooth=tooth)
    yield Place(str(tooth), "tooth", where, _("tooth {tooth}", tooth=tooth))
    yield Place(f"m{tooth}b", "margin", where, _("margin of {tooth}, buccal side", tooth=tooth))
    yield Place(f"m{tooth}l", "margin", where, inner)


def _connector_place(left: int, right: int) -> Place:
    name = connector_name(left, right)
    return Place(name, "connector", connector_sextant(left, right), _("connector {name}", name=name))
