"""Where signs stand on the map of the whole arch: between two teeth, or beside a tooth on its outer side. Pure."""

from dataclasses import dataclass
from math import hypot
from typing import Final

from benchapp.core.pictures import ArchPicture, ToothShape

_OUT: Final = 62  # px from the number of a tooth to the middle of a word on its outer side


@dataclass(frozen=True)
class Spot:
    """A spot of the map, in px of its picture."""

    x: float
    y: float


def between(arch: ArchPicture) -> tuple[Spot, ...]:
    """Return the spots between the numbers of neighbours, in row order: one fewer than there are teeth."""
    return tuple(_spot((a.x + b.x) / 2, (a.y + b.y) / 2) for a, b in zip(arch.teeth, arch.teeth[1:], strict=False))


def beside(arch: ArchPicture, out: float = _OUT) -> tuple[Spot, ...]:
    """Return for each tooth, in row order, a spot so many px from its number on its outer side, square to the row."""
    return tuple(_beside(arch, at, out) for at in range(len(arch.teeth)))


def _beside(arch: ArchPicture, at: int, out: float) -> Spot:
    shape, row = arch.teeth[at], arch.teeth
    before, after = row[max(0, at - 1)], row[min(len(row) - 1, at + 1)]
    across, along = after.y - before.y, before.x - after.x
    length = hypot(across, along) or 1.0
    middle = _middle(row)
    sign = 1 if (shape.x - middle.x) * across + (shape.y - middle.y) * along >= 0 else -1
    return _spot(shape.x + sign * out * across / length, shape.y + sign * out * along / length)


def _middle(row: tuple[ToothShape, ...]) -> Spot:
    return Spot((row[0].x + row[-1].x) / 2, (row[0].y + row[-1].y) / 2)


def _spot(x: float, y: float) -> Spot:
    return Spot(round(x, 1), round(y, 1))
