"""Outlines for the arch map as SVG path data: teeth (schematic, of our own drawing), connectors, collars."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

Point = tuple[float, float]
Move = Callable[[Point], Point]


@dataclass(frozen=True)
class Look:
    """Half a tooth from the chewing side (x 0 middle to 0.5 contact, y 0 buccal to 1 inner), lines on it."""

    half: tuple[Point, ...]
    lines: tuple[tuple[Point, ...], ...]


MOLAR: Final = Look(
    ((0, 0.05), (0.22, 0), (0.42, 0.08), (0.5, 0.27), (0.48, 0.6), (0.41, 0.88), (0.2, 1), (0, 0.96)),
    (((-0.3, 0.4), (-0.12, 0.47), (0.1, 0.43), (0.3, 0.49)), ((-0.03, 0.45), (0, 0.3), (0, 0.14))),
)
PREMOLAR: Final = Look(
    ((0, 0), (0.33, 0.08), (0.47, 0.27), (0.43, 0.62), (0.28, 0.92), (0, 1)),
    (((-0.22, 0.38), (-0.1, 0.45), (0.1, 0.45), (0.22, 0.38)),),
)
CANINE: Final = Look(
    ((0, 0), (0.27, 0.08), (0.46, 0.27), (0.36, 0.62), (0.19, 0.9), (0, 0.97)),
    (
        ((-0.32, 0.34), (-0.16, 0.24), (0, 0.18), (0.16, 0.24), (0.32, 0.34)),
        ((0, 0.18), (0, 0.32), (0, 0.46)),
    ),
)
INCISOR: Final = Look(
    ((0, 0.02), (0.34, 0.06), (0.48, 0.26), (0.37, 0.6), (0.2, 0.87), (0, 0.94)),
    (((-0.36, 0.27), (-0.15, 0.21), (0.15, 0.21), (0.36, 0.27)), ((-0.14, 0.42), (0, 0.48), (0.14, 0.42))),
)
LOOKS: Final = (INCISOR, INCISOR, CANINE, PREMOLAR, PREMOLAR, MOLAR, MOLAR, MOLAR)


def tooth(number: int, move: Move) -> tuple[str, str]:
    """Outline and inner lines of an ISO 3950 tooth, each point moved from tooth units to the picture."""
    look = LOOKS[number % 10 - 1]
    left = [(-x, y) for x, y in reversed(look.half[1:-1])]
    lines = (smooth([move(p) for p in line], closed=False) for line in look.lines)
    return smooth([move(p) for p in (*look.half, *left)]), " ".join(lines)


def half_tooth(number: int, side: int, move: Move) -> str:
    """The half of a tooth that looks left (side -1) or right (side 1), open at its middle."""
    return smooth([move((side * x, y)) for x, y in LOOKS[number % 10 - 1].half], closed=False)


def waist(x: float, y: float, width: float, height: float) -> str:
    """A connector about (x, y): a bar with round corners, drawn in at its middle."""
    left, right, top, low = x - width / 2, x + width / 2, y - height / 2, y + height / 2
    turn, draw = 12, height / 4
    corners = (
        ((left, top), (left + turn, top)),
        ((x, top + draw), (right - turn, top)),
        ((right, top), (right, top + turn)),
        ((right, y), (right, low - turn)),
        ((right, low), (right - turn, low)),
        ((x, low - draw), (left + turn, low)),
        ((left, low), (left, low - turn)),
    )
    return drawn((left, top + turn), (("q", corner) for corner in corners), closed=True)


def collar(x: float, y: float, width: float, rise: float, thick: float) -> str:
    """A crescent of gum along a tooth: ends at height y, its middle `rise` px further (negative is up)."""
    half, more = width / 2, thick if rise > 0 else -thick
    outer = [
        (-half, 0.0),
        (-half * 0.55, rise * 0.75 + more),
        (0, rise + more),
        (half * 0.55, rise * 0.75 + more),
    ]
    inner = [(half, 0.0), (half * 0.5, rise * 0.7), (0, rise), (-half * 0.5, rise * 0.7)]
    return smooth([(x + dx, y + dy) for dx, dy in (*outer, *inner)])


def smooth(points: Sequence[Point], closed: bool = True) -> str:
    """Path data of a smooth curve through the points (Catmull-Rom spline as cubic Bezier pieces)."""
    count = len(points)
    ring = [points[-1], *points, points[0], points[1]] if closed else [points[0], *points, points[-1]]
    pieces: list[tuple[str, tuple[Point, ...]]] = []
    for i, (here, there) in enumerate(pairwise(ring[1 : count + 2] if closed else points), start=1):
        before, after = ring[i - 1], ring[i + 2]
        first = here[0] + (there[0] - before[0]) / 6, here[1] + (there[1] - before[1]) / 6
        second = there[0] - (after[0] - here[0]) / 6, there[1] - (after[1] - here[1]) / 6
        pieces.append(("c", (first, second, there)))
    return drawn(ring[1], pieces, closed)


def drawn(start: Point, pieces: Iterable[tuple[str, Sequence[Point]]], closed: bool) -> str:
    """Path data of pieces ("l", "q" or "c" with their points, px), to half a px and from end to end.

    Written from end to end the same shape is the same text wherever it lies: a page of many travels much smaller.
    """
    x, y = _halves(start)
    parts = [f"M{_plain(x)},{_plain(y)}"]
    for letter, points in pieces:
        ends = [_halves(point) for point in points]
        parts.append(letter + " ".join(f"{_plain(px - x)},{_plain(py - y)}" for px, py in ends))
        x, y = ends[-1]
    return "".join(parts) + ("Z" if closed else "")


def _halves(point: Point) -> tuple[int, int]:
    return round(point[0] * 2), round(point[1] * 2)


def _plain(halves: int) -> str:
    return f"{halves / 2:g}"


def short(value: float) -> float:
    """A length to a tenth of a px."""
    return round(value, 1)
