"""How far each number may be off, from what was seen: facets, noise, rounded margins, the axis.

The factors were fitted to half of two families of made-up pairs (`python -m tests.seating fit`); RESULTS.md tells what
they hold of the other half. No other source.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from benchapp.seating.report import Interval
from benchapp.seating.sockets import Socket

KEYS: Final = ("depth", "deepest", "crest", "on", "back", "buccal", "lingual", "gap", "bond", "volume")


@dataclass(frozen=True)
class Off:
    """The true number is likely what was told, moved by `shift`, give or take `half`."""

    shift: float
    half: float

    def about(self, value: float | None, least: float = -np.inf) -> Interval | None:
        """Return the interval for a told value, which lies in it, cut at the least that the number can be; None where
        there is no value."""
        if value is None or not np.isfinite(value):
            return None
        low, high = min(0.0, self.shift - self.half), max(0.0, self.shift + self.half)
        return max(float(value + low), least), max(float(value + high), least)


@dataclass(frozen=True)
class Causes:
    """What may move a number, in its unit: how much facets likely take from it, what else moves it, parts that widen
    its interval, each with a factor of its own, and what is `known` to widen it, as an axis that is not sure."""

    shift: float
    moves: tuple[float, ...]
    parts: tuple[float, ...]
    known: float = 0.0

    def off(self, name: str) -> Off:
        """Return what a number may be off by."""
        shifts, halves = FACTORS[name]
        half = sum(factor * part for factor, part in zip(halves, self.parts, strict=True)) + self.known
        return Off(sum(factor * move for factor, move in zip(shifts, self.shifts, strict=True)), half)

    @property
    def shifts(self) -> tuple[float, ...]:
        """All that moves the number: what facets take from it, what they add to it, and the other moves."""
        return max(self.shift, 0.0), min(self.shift, 0.0), *self.moves


# By number: how much is believed of what facets likely take from it and add to it, and of other moves (lengths: noise,
# a margin that climbs; bond: noise that makes facets rough); then factors of its size (1 mm for lengths), of facets, of
# noise, of a margin rounder than its facets, of noise that tilts facets, of a margin that is uneven and that climbs; a
# connector's of its size, of what facets may bridge, of noise.
FACTORS: Final[dict[str, tuple[tuple[float, ...], tuple[float, ...]]]] = {
    "depth": ((0.0, 0.0, -1.6, -0.011), (0.0023, 0.0099, 0.5, 0.094, 13.0, 4.7, 0.0)),
    "deepest": ((0.0, 0.0, -2.7, 0.52), (0.002, 0.13, 0.86, 0.0, 0.0, 11.0, 0.68)),
    "crest": ((0.0, 0.0, -1.9, 0.18), (0.002, 0.093, 0.82, 0.055, 2.0, 1.6, 0.018)),
    "side": ((0.0, 0.0, -1.9, 0.25), (0.002, 0.09, 0.44, 0.31, 13.0, 7.1, 0.11)),
    "face": ((0.0, 0.0, -1.2, 0.66), (0.002, 0.23, 1.2, 0.28, 0.0, 5.9, 0.84)),
    "gap": ((0.4, 1.2, 0.088), (0.0005, 0.24, 0.0, 0.022, 1.4)),
    "bond": ((2.0, 0.0, -1.2), (0.0014, 0.67, 0.27, 0.029, 0.36, 2.4)),
    "volume": ((1.4, 3.0), (0.003, 0.13, 0.0, 0.0, 11.0)),
    "area": ((1.1, 0.65), (0.0012, 0.92, 0.35)),
}
NAMES: Final = {"on": "side", "back": "side", "buccal": "face", "lingual": "face"}
OVERHANG: Final = 6.0  # times the noise, or how far facets lie off: so wide an undercut may be of it alone
HIDES: Final = 0.3  # mm: facets of this edge show nothing of a rounded margin
TURNS: Final = 0.25  # of the margin's length times the axis's lean: so much bond may move (from the fit)


def of_sockets(sockets: Sequence[Socket | None], noise: float, spread: float) -> list[dict[str, Off]]:
    """Return what each tooth's numbers may be off by: mm, mm2, mm3; `spread` is how sure the axis is, in degrees."""
    return [
        {name: causes_of(socket, name, noise, spread).off(NAMES.get(name, name)) for name in KEYS} if socket else {}
        for socket in sockets
    ]


def causes_of(socket: Socket, name: str, noise: float, spread: float) -> Causes:
    """Return what may move one of a tooth's numbers, by its name in KEYS: facets, noise (mm), an axis (degrees)."""
    rise = max(0.0, socket.crest_median - socket.depth_median) * min(1.0, socket.edge / HIDES)
    shift, facets, around = socket.facets.get(name, 0.0), socket.facets["rise"], socket.around
    if name not in ("bond", "volume"):
        tilts = noise * min(1.0, noise / max(socket.edge, 1e-6))
        size = (1.0, facets, noise, rise, tilts)
        if name == "gap":
            return Causes(shift, (noise,), size)
        uneven, climbs = socket.uneven[name]
        return Causes(shift, (noise, climbs), (*size, uneven, climbs), socket.leaning[name] * spread if spread else 0.0)
    gap, bond, uneven = abs(socket.gap), socket.bond, socket.uneven["depth"][0]
    turned = around**2 / (2 * np.pi) * float(np.tan(np.radians(spread))) * TURNS
    if name == "bond":
        rough = bond * min(0.3, noise**2 * socket.facets["slim"])
        size = (bond, facets * around, noise * around, rise * around, rough)
        return Causes(shift, (rough,), (*size, uneven * around), turned)
    size = (socket.volume, facets * bond, noise * bond, rise * around * gap, uneven * around * gap)
    return Causes(shift, (), size, turned * gap)


def of_connector(area: float, more: float, less: float, noise: float, around: float) -> dict[str, Off]:
    """Return what a connector's numbers may be off by: mm2 and mm; `more` and `less` as in `Connector`, `around` its
    outline."""
    off = causes_of_connector(area, more, less, noise, around).off("area")
    across = Off(0.0, 2 * off.half / around + 0.002)
    return {"area": off, "height": across, "thickness": across}


def causes_of_connector(area: float, more: float, less: float, noise: float, around: float) -> Causes:
    """Return what may move a connector's area, as `of_connector`."""
    return Causes(more - less / 2, (), (area, less / 2, noise * around))


def of_all(seen: list[Off]) -> Off:
    """Return what the sum of a row's volumes may be off by: facets and noise move all of them alike."""
    return Off(sum(one.shift for one in seen), sum(one.half for one in seen))
