"""Scales of five bands for numbers that are drawn: parted where the lab set a limit, else at round numbers."""

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise
from math import floor, log10
from typing import Final, Literal

BANDS: Final = 5
Beyond = Literal["", "under", "over"]
_ROUND: Final = (1.0, 2.0, 2.5, 5.0, 10.0)


@dataclass(frozen=True)
class Limits:
    """What the lab accepts of one kind of number, in its unit; None where it set no limit.

    With `cut` the least is no limit but what a cut leaves: under it nothing is cut.
    """

    least: float | None = None
    most: float | None = None
    cut: bool = False


@dataclass(frozen=True)
class Band:
    """One of five: its number from 1 (the least values) to 5, its ends (None: open), and on which side of a limit."""

    number: int
    low: float | None
    high: float | None
    beyond: Beyond


@dataclass(frozen=True)
class Scale:
    """Five bands of growing numbers; a number that is a limit itself is still accepted."""

    bands: tuple[Band, ...]
    limits: Limits

    def band(self, value: float) -> Band:
        """Return the band of a number."""
        crossed = sum(
            value > band.low or (value == band.low and band.low != self.limits.most)
            for band in self.bands if band.low is not None
        )
        return self.bands[crossed]

    @property
    def bounds(self) -> tuple[float, ...]:
        """The four numbers at which the bands meet."""
        return tuple(band.low for band in self.bands if band.low is not None)


def scale(values: Iterable[float], limits: Limits, decimals: int = 9) -> Scale:
    """Return the bands for these numbers.

    With both limits three bands lie between them, with one limit four on the accepted side, with none the bands
    are equally wide and begin at round numbers. What parts them is rounded to `decimals` where that keeps them apart,
    but never a limit. ValueError where the limits leave nothing between them.
    """
    exact = _bounds(sorted(values), limits)
    rounded = [one if one in (limits.least, limits.most) else round(one, decimals) for one in exact]
    bounds = rounded if all(low < high for low, high in pairwise(rounded)) else exact
    ends: list[float | None] = [None, *(round(bound, 9) for bound in bounds), None]
    bands = tuple(
        Band(at + 1, ends[at], ends[at + 1], _beyond(at, limits)) for at in range(BANDS)
    )
    least, most = (None if one is None else round(one, 9) for one in (limits.least, limits.most))
    return Scale(bands, Limits(least, most, limits.cut))


def _bounds(known: list[float], limits: Limits) -> list[float]:
    least, most = limits.least, limits.most
    if least is not None and most is not None:
        if not least < most:
            raise ValueError(f"the least accepted ({least}) is not below the most ({most})")
        return [least + (most - least) * part / 3 for part in range(4)]
    if most is not None:
        return [most * part / 4 for part in range(1, 5)]
    if least is not None:
        step = round_step((known[-1] - least) / 4 if known and known[-1] > least else least / 2)
        return [least + step * part for part in range(4)]
    low, high = (known[0], known[-1]) if known else (0.0, 1.0)
    step = round_step((high - low) / BANDS or abs(high) / 10 or 1.0)
    start = floor(low / step + 1e-9) * step
    return [start + step * part for part in range(1, BANDS)]


def _beyond(at: int, limits: Limits) -> Beyond:
    if at == 0 and limits.least is not None:
        return "under"
    return "over" if at == BANDS - 1 and limits.most is not None else ""


def round_step(width: float) -> float:
    """Return the least of 1, 2, 2.5 and 5 times a power of ten that is not less than a width; 1 for none."""
    if not width > 0:
        return 1.0
    power = 10.0 ** floor(log10(width) + 1e-9)
    return next((one * power for one in _ROUND if one * power >= width * (1 - 1e-9)), 10 * power)
