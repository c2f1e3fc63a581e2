"""The picture on a record: the arch in outline, with a numbered mark at each place that was named."""

from dataclasses import dataclass
from itertools import pairwise
from math import hypot
from typing import Final

from benchapp.core import archmap
from benchapp.core.numbers import system_of
from benchapp.core.pictures import ArchPicture, ToothShape
from benchapp.core.record_models import Record

OUT: Final = 44  # px from the middle of a tooth's number to its margins; teeth are 44 to 62 px deep
APART: Final = 24  # px between the middles of two marks at one spot
MIDDLE: Final = 240.0
_BASE: Final[dict[str, tuple[float, float]]] = {
    "b-palate": (240, 250), "b-lingual": (240, 190), "b-flange-right": (40, 330),
    "b-flange-front": (240, 20), "b-flange-left": (440, 330), "b-ridge-right": (130, 440),
    "b-ridge-left": (350, 440), "b-fitting": (240, 330),
}  # fmt: skip


@dataclass(frozen=True)
class PlaceMark:
    """A mark on the picture: number of the place in the record's list, and its middle in view box px."""

    number: int
    x: float
    y: float


@dataclass(frozen=True)
class MarkedArch:
    """The arch and the marks on it."""

    picture: ArchPicture
    marks: tuple[PlaceMark, ...]


def marked(record: Record) -> MarkedArch:
    """Return the arch of a record's jaw with a mark for each place of its list."""
    picture = archmap.whole(record.identity.jaw, record.identity.teeth)
    spots = _spots(picture)
    taken: list[tuple[float, float]] = []
    marks: list[PlaceMark] = []
    for story in record.not_ordinary.places:
        x, y = spots.get(story.place, (MIDDLE, MIDDLE))
        while any(hypot(x - a, y - b) < APART for a, b in taken):
            y += APART
        taken.append((x, y))
        marks.append(PlaceMark(story.number, round(x, 1), round(y, 1)))
    return MarkedArch(archmap.numbered(picture, system_of(record.numbers)), tuple(marks))


def _spots(picture: ArchPicture) -> dict[str, tuple[float, float]]:
    flip = picture.jaw == "lower"
    spots = {name: (x, picture.height - y if flip else y) for name, (x, y) in _BASE.items()}
    for left, right in pairwise(picture.teeth):
        spots[f"{left.tooth}-{right.tooth}"] = ((left.x + right.x) / 2, (left.y + right.y) / 2)
    for tooth in picture.teeth:
        spots[str(tooth.tooth)] = (tooth.x, tooth.y)
        spots[f"m{tooth.tooth}b"], spots[f"m{tooth.tooth}l"] = _margins(tooth, picture)
    return spots


def _margins(tooth: ToothShape, picture: ArchPicture) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return where the outer and the inner margin of a tooth lie, seen from the arch's middle."""
    far, near = MIDDLE, picture.height * (0.55 if picture.jaw == "upper" else 0.45)
    dx, dy = tooth.x - far, tooth.y - near
    size = hypot(dx, dy) or 1.0
    ux, uy = dx / size * OUT, dy / size * OUT
    return (tooth.x + ux, tooth.y + uy), (tooth.x - ux, tooth.y - uy)
