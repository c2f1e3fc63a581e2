"""The whole arch as a line: where each tooth stands on it and how it looks there, and the outline of the base.

Half an ellipse from the last tooth of one side to that of the other, lips at the top, in px of a picture of
WIDE x HIGH; a lower jaw is turned over by `flip`.
"""

from itertools import accumulate, pairwise
from math import cos, dist, hypot, pi, sin
from typing import Final

from benchapp.core import outlines
from benchapp.core import teeth as t
from benchapp.core.outlines import Move, Point, short
from benchapp.core.pictures import ToothShape
from benchapp.core.teeth import Jaw

WIDE, HIGH = 480, 480
_TOP, _ACROSS, _DEEP = 60, 168, 350
WIDTHS: Final[dict[Jaw, tuple[float, ...]]] = {
    "upper": (8.5, 6.8, 7.6, 7.0, 7.0, 10.0, 9.5, 8.5),
    "lower": (6.6, 6.8, 7.6, 7.2, 7.4, 10.5, 10.0, 9.0),
}
_DEPTHS: Final = (46, 44, 50, 53, 53, 62, 62, 58)


def flip(jaw: Jaw, height: float) -> Move:
    """Lower jaws are drawn like upper ones and turned over, so that the lips are at the bottom."""
    return (lambda p: p) if jaw == "upper" else (lambda p: (p[0], height - p[1]))


def on_arch(angle: float, inward: float = 0) -> Point:
    """Point of the arch line at an angle (-pi/2 patient's right .. pi/2 left), moved inwards by px."""
    along_x, along_y = _ACROSS * cos(angle), _DEEP * sin(angle)
    size = hypot(along_x, along_y)
    x, y = WIDE / 2 + _ACROSS * sin(angle), _TOP + _DEEP * (1 - cos(angle))
    return x - along_y / size * inward, y + along_x / size * inward


def angles(start: float, end: float, steps: int) -> list[float]:
    """Angles in equal steps from start to end, both among them."""
    return [start + (end - start) * i / steps for i in range(steps + 1)]


def slot_ends(jaw: Jaw) -> dict[int, tuple[float, float]]:
    """Angles at which each of the sixteen tooth slots begins and ends, by width along the arch."""
    steps = angles(-pi / 2, pi / 2, 720)
    run = list(accumulate((dist(on_arch(a), on_arch(b)) for a, b in pairwise(steps)), initial=0.0))
    widths = [WIDTHS[jaw][tooth % 10 - 1] for tooth in t.ROW[jaw]]
    edges = [run[-1] * part / sum(widths) for part in accumulate(widths, initial=0.0)]
    found = [min(zip(run, steps, strict=True), key=lambda at: abs(at[0] - edge))[1] for edge in edges]
    return dict(zip(t.ROW[jaw], pairwise(found), strict=True))


def curved_tooth(tooth: int, start: float, end: float, over: Move) -> ToothShape:
    """A tooth in its slot between two angles; `over` turns the picture for a lower jaw."""
    middle, depth = (start + end) / 2, _DEPTHS[tooth % 10 - 1]

    def move(p: Point) -> Point:
        return over(on_arch(middle + p[0] * (end - start) * 0.98, (p[1] - 0.5) * depth))

    x, y = move((0, 0.62))
    return ToothShape(tooth, *outlines.tooth(tooth, move), short(x), short(y))


def base_outline(jaw: Jaw, over: Move) -> str:
    """Outline of the base: filled palate above, horseshoe below."""
    around = angles(-pi / 2, pi / 2, 12)
    outer = [on_arch(a, -46) for a in around]
    low = _TOP + _DEEP + 24
    palate = [(WIDE / 2 + 130, low), (WIDE / 2 + 60, low - 14), (WIDE / 2 - 60, low - 14), (WIDE / 2 - 130, low)]
    inner = palate if jaw == "upper" else [on_arch(a, 50) for a in reversed(around)]
    return outlines.smooth([over(p) for p in (*outer, *inner)])


def depth_of(tooth: int) -> int:
    """How far a tooth reaches across the arch line, in px; half of it lies outwards."""
    return _DEPTHS[tooth % 10 - 1]


def further(angle: float, px: float) -> float:
    """The angle that lies so many px further along the arch line, as far as that is straight there."""
    return angle + px / hypot(_ACROSS * cos(angle), _DEEP * sin(angle))
