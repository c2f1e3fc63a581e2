"""The arch map as plain numbers: the whole jaw with three sextants, and one sextant large with its places.

Both views look at the chewing side as on a tooth chart: the patient's right is at the viewer's left in both
jaws, the lips are at the top for the upper jaw and at the bottom for the lower. Nothing is mirrored: the
upper jaw is seen from below, the lower from above. All lengths are CSS px at the least size at which a
picture is shown: 480 px wide for the whole arch, 720 x 560 px for one sextant. Labels may be 26 px.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

from benchapp.core import outlines
from benchapp.core import teeth as t
from benchapp.core.archline import HIGH, WIDE, WIDTHS, angles, base_outline, curved_tooth, flip, on_arch, slot_ends
from benchapp.core.numbers import Numbers, number, place_number, renamed
from benchapp.core.outlines import Move, Point, short
from benchapp.core.pictures import (
    ArchPicture,
    Caption,
    Rect,
    Region,
    SextantPicture,
    Target,
    ToothShape,
)
from benchapp.core.teeth import Jaw, Place, Sextant
from benchapp.core.words import _

__all__ = [
    "GAP",
    "TARGET",
    "ArchPicture",
    "Caption",
    "Rect",
    "Region",
    "SextantPicture",
    "Target",
    "ToothShape",
    "cheek_words",
    "inner_words",
    "numbered",
    "sextant",
    "whole",
]

TARGET: Final = 80
GAP: Final = 16
_BAND: Final = 40


def whole(jaw: Jaw, teeth: Iterable[int], numbers: Numbers = "fdi") -> ArchPicture:
    """The whole arch with three sextant targets of at least 80 px, 16 px apart, when shown 480 px wide."""
    row = t.in_row(jaw, teeth)
    ends = slot_ends(jaw)
    over = flip(jaw, HIGH)
    shapes = tuple(curved_tooth(tooth, *ends[tooth], over) for tooth in row)
    regions = tuple(_region(jaw, row, which, ends, over) for which in t.SEXTANTS)
    captions = tuple(
        Caption(words, x, over((x, HIGH - 20))[1]) for words, x in ((_("right"), 64), (_("left"), WIDE - 64))
    )
    picture = ArchPicture(jaw, WIDE, HIGH, f"0 0 {WIDE} {HIGH}", base_outline(jaw, over), shapes, regions, captions)
    return numbered(picture, numbers)


def numbered(picture: ArchPicture, numbers: Numbers) -> ArchPicture:
    """The same arch to be drawn with other numbers: `tooth` of each shape is then what is written on it."""
    return replace(picture, teeth=tuple(_numbered(shape, numbers) for shape in picture.teeth))


def _numbered(shape: ToothShape, numbers: Numbers) -> ToothShape:
    return replace(shape, tooth=number(shape.tooth, numbers))


def sextant(jaw: Jaw, teeth: Iterable[int], which: Sextant, numbers: Numbers = "fdi") -> SextantPicture:
    """One sextant with a target for each of its teeth, connectors and margin sides.

    Targets are 80 px or more and 16 px apart wherever the picture gets 720 x 504 px or more; a missing tooth
    leaves its column empty. Names of places stay ISO 3950, their words and labels follow `numbers`.
    """
    row = t.in_row(jaw, teeth)
    frame = _frame(jaw, row, which)
    wanted = (p for p in t.places(jaw, row, ("tooth", "margin", "connector")) if p.sextant == which)
    targets = tuple(frame.target(renamed(place, numbers), place_number(place, numbers)) for place in wanted)
    outer = frame.neighbour(which)
    neighbour = _numbered(outer, numbers) if outer else None
    captions = tuple(
        Caption(text, _SW / 2, frame.flip((0, y))[1])
        for text, y in ((cheek_words(which), _WORDS / 2), (inner_words(jaw), _SH - _WORDS / 2))
    )
    box = f"0 0 {_SW} {_SH}"
    return SextantPicture(jaw, which, _(t.SEXTANT_WORDS[which]), _SW, _SH, box, targets, neighbour, captions)


def cheek_words(which: Sextant) -> str:
    """What lies beyond the buccal margins of a sextant."""
    return _("lip side") if which == "s2" else _("cheek side")


def inner_words(jaw: Jaw) -> str:
    """What lies beyond the palatal or lingual margins of a jaw."""
    return _("palate side") if jaw == "upper" else _("tongue side")


def _region(
    jaw: Jaw, row: tuple[int, ...], which: Sextant, ends: dict[int, tuple[float, float]], over: Move
) -> Region:
    slots = [tooth for tooth in t.ROW[jaw] if t.sextant(tooth) == which]
    own = tuple(tooth for tooth in row if tooth in slots)
    shown = own or slots
    around = angles(ends[shown[0]][0] + 0.012, ends[shown[-1]][1] - 0.012, 8)
    band = [on_arch(a, -_BAND) for a in around] + [on_arch(a, _BAND) for a in reversed(around)]
    first, *others = (over(p) for p in band)
    path = outlines.drawn(first, (("l", (p,)) for p in others), closed=True)
    count = sum(p.sextant == which for p in t.places(jaw, row, ("connector", "margin")))
    border = on_arch(ends[t.ROW[jaw][5]][0])[1]
    rect = _region_rect(which, border, over)
    back = on_arch(ends[slots[2]][0 if which == "s3" else 1], 92)
    x, y = over((WIDE / 2, border - GAP / 2 - 22) if which == "s2" else back)
    return Region(which, _(t.SEXTANT_WORDS[which]), rect, path, short(x), short(y), own, count)


def _region_rect(which: Sextant, border: float, over: Move) -> Rect:
    """The front target ends at the height where canines meet premolars; the back ones begin there."""
    left, right = {"s1": (4, WIDE / 2 - 8), "s2": (32, WIDE - 32), "s3": (WIDE / 2 + 8, WIDE - 4)}[which]
    top, bottom = (4, border - GAP / 2) if which == "s2" else (border + GAP / 2, HIGH - 36)
    upper = min(over((0, top))[1], over((0, bottom))[1])
    return Rect(left, short(upper), right - left, short(bottom - top))


# One sextant: from the top words, buccal margins, connectors, teeth, inner margins, words.

_SW, _SH = 720, 504
_WORDS, _EDGE, _ROW = 36, 112, TARGET
_CONNECTORS, _TEETH, _INNER = _WORDS + _EDGE + GAP, _WORDS + _EDGE + _ROW + 2 * GAP, _SH - _WORDS - _EDGE
_CONNECTOR, _WIDEST = 96, 150


@dataclass(frozen=True)
class _Frame:
    """Where the columns of a sextant stand: middle of each tooth, pitch, outer neighbour."""

    jaw: Jaw
    middle: dict[int, float]
    pitch: float
    outer: int | None

    def flip(self, point: Point) -> Point:
        return flip(self.jaw, _SH)(point)

    def tooth(self, tooth: int, p: Point) -> Point:
        wide = self.pitch * min(1.0, WIDTHS["upper"][tooth % 10 - 1] / 34 + 0.72)
        return self.flip((self.middle[tooth] + p[0] * wide, _CONNECTORS + 4 + p[1] * (2 * _ROW + GAP - 8)))

    def target(self, place: Place, label: str) -> Target:
        if place.kind == "connector":
            return self._connector(place, label)
        if place.kind == "tooth":
            tooth = int(place.name)
            path, detail = outlines.tooth(tooth, lambda p: self.tooth(tooth, p))
            return self._plate(
                place, self.middle[tooth], (_TEETH, _ROW), path, detail, label, _TEETH + 34
            )
        return self._margin(place, self.middle[int(place.name[1:-1])])

    def neighbour(self, which: Sextant) -> ToothShape | None:
        if self.outer is None:
            return None
        outer, side = self.outer, -1 if which == "s1" else 1
        path = outlines.half_tooth(outer, side, lambda p: self.tooth(outer, p))
        x, y = self.tooth(outer, (side * 0.2, 0.68))
        return ToothShape(outer, path, "", short(x), short(y))

    def _connector(self, place: Place, label: str) -> Target:
        left, right = (self.middle[int(tooth)] for tooth in place.name.split("-"))
        x, y, wide = (left + right) / 2, _CONNECTORS + _ROW / 2, right - left - self.pitch + _CONNECTOR
        path = outlines.waist(x, self.flip((x, y))[1], wide - 6, 44)
        return self._plate(place, x, (_CONNECTORS, _ROW), path, "", label, y, wide)

    def _margin(self, place: Place, x: float) -> Target:
        buccal = place.name.endswith("b")
        edge, rise, top = (_WORDS + _EDGE - 6, -24, _WORDS) if buccal else (_INNER + 6, 24, _INNER)
        y = self.flip((x, edge))[1]
        path = outlines.collar(x, y, self.pitch - 24, rise if self.jaw == "upper" else -rise, 26)
        label = _("b") if buccal else _("p") if self.jaw == "upper" else _("l")
        return self._plate(place, x, (top, _EDGE), path, "", label, top + (30 if buccal else _EDGE - 30))

    def _plate(
        self,
        place: Place,
        x: float,
        rows: tuple[float, float],
        path: str,
        detail: str,
        label: str,
        label_y: float,
        width: float = 0,
    ) -> Target:
        top, height = rows
        wide = width or self.pitch - GAP
        upper = min(self.flip((x, top))[1], self.flip((x, top + height))[1])
        return Target(
            place, Rect(x - wide / 2, upper, wide, height), path, detail, label, x, self.flip((x, label_y))[1]
        )


def _frame(jaw: Jaw, row: tuple[int, ...], which: Sextant) -> _Frame:
    columns, outer = _columns(jaw, row, which), _outer(row, which)
    count = len(columns) + (0.0 if which == "s2" else 0.5)
    pitch = float(min(_WIDEST, int(_SW / count / 2) * 2))
    start = (_SW - pitch * count) / 2
    first = start + pitch * (1.0 if which == "s3" else 0.5)
    middle = {tooth: first + pitch * at for at, tooth in enumerate(columns)}
    if outer is not None:
        middle[outer] = start if which == "s3" else start + pitch * count
    return _Frame(jaw, middle, pitch, outer)


def _columns(jaw: Jaw, row: tuple[int, ...], which: Sextant) -> tuple[int, ...]:
    """Teeth that get a column: all of the front; of the back from the first premolar to the last present."""
    slots = tuple(tooth for tooth in t.ROW[jaw] if t.sextant(tooth) == which)
    last = max((tooth % 10 for tooth in row if tooth in slots), default=8)
    return slots if which == "s2" else tuple(tooth for tooth in slots if tooth % 10 <= last)


def _outer(row: tuple[int, ...], which: Sextant) -> int | None:
    """The tooth of another sextant that a connector of this one holds."""
    held = (pair for pair in pairwise(row) if t.connector_sextant(*pair) == which)
    return next((tooth for pair in held for tooth in pair if t.sextant(tooth) != which), None)
