"""How far each number may be off, from what was seen: facets, noise, rounded margins, the axis.

The factors were fitted to half of two families of made-up pairs (`python -m tests.seating fit`); RESULTS.md tells what
they hold of the other half. No other source.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from benchapp.seating.evenness import HIGHEST
from benchapp.seating.report import Interval
from benchapp.seating.sockets import Socket

KEYS: Final = ("depth", "deepest", "crest", "on", "back", "buccal", "lingual", "gap", "bond", "volume")


@dataclass(frozen=True)
class Off:
    """The true number is likely what was told, moved by `shift`, give or take `half`; less or more by `aside` where a
    side of the tooth may end elsewhere."""

    shift: float
    half: float
    aside: tuple[float, float] = (0.0, 0.0)

    def about(self, value: float | None, least: float = -np.inf) -> Interval | None:
        """Return the interval for a told value, which lies in it, cut at the least that the number can be; None where
        there is no value."""
        if value is None or not np.isfinite(value):
            return None
        low = min(0.0, self.shift - self.half) - self.aside[0]
        high = max(0.0, self.shift + self.half) + self.aside[1]
        return max(float(value + low), least), max(float(value + high), least)


@dataclass(frozen=True)
class Causes:
    """What may move a number, in its unit: how much facets likely take from it, what else moves it, and parts that
    widen its interval, each with a factor of its own."""

    shift: float
    moves: tuple[float, ...]
    parts: tuple[float, ...]
    aside: tuple[float, float] = (0.0, 0.0)

    def off(self, name: str) -> Off:
        """Return what a number may be off by."""
        shifts, halves = FACTORS[name]
        return Off(_sum(shifts, self.shifts), _sum(halves, self.parts), self.aside)

    @property
    def shifts(self) -> tuple[float, ...]:
        """All that moves the number: what facets take from it, what they add to it, and the other moves."""
        return max(self.shift, 0.0), min(self.shift, 0.0), *self.moves


def _sum(factors: tuple[float, ...], parts: tuple[float, ...]) -> float:
    return sum(factor * part for factor, part in zip(factors, parts, strict=True))


# By number, first how much is believed of what moves it: what facets likely take from it, what they likely add to it,
# then of lengths noise and an uneven margin, of bond noise that makes facets rough and noise, of volume noise.
# Then what widens it: its size (1 mm for lengths), facets, noise, a margin rounder than its facets, noise that tilts
# facets (volume: none); then of lengths and of bond and volume an uneven margin, of lengths alone one that climbs and
# one that hangs on a few directions; last an axis that is not sure. The gap's last is facets where it varies; a
# connector's are its size, what facets may bridge, noise.
FACTORS: Final[dict[str, tuple[tuple[float, ...], tuple[float, ...]]]] = {
    "depth": ((0.0, 0.0, 0.456, -0.345), (0.0005, 0.0852, 0.029, 0.172, 34.0, 1.6, 0.0, 0.0, 1.0)),
    "deepest": ((0.0, 0.0, 0.341, 0.0), (0.0005, 0.0486, 1.28, 0.0, 47.7, 0.742, 1.27, 0.574, 1.0)),
    "crest": ((0.0, 0.0, -0.0953, -0.311), (0.0005, 0.0463, 0.973, 0.115, 2.79, 0.559, 0.0928, 0.0, 1.0)),
    "side": ((0.0, 0.0, 0.341, 0.0), (0.0005, 0.0638, 0.865, 0.328, 36.7, 1.1, 0.371, 0.659, 1.0)),
    "face": ((0.0, 0.0, 0.609, -0.172), (0.0005, 0.0744, 2.03, 0.44, 0.0, 0.231, 1.25, 0.0423, 1.0)),
    "gap": ((0.0, 0.0, 0.0192), (0.0005, 0.00753, 0.0942, 0.0116, 0.0, 3.12)),
    "bond": ((1.49, 0.0, -1.09, 0.991), (0.0, 1.14, 0.0, 0.112, 0.751, 0.535, 0.00547)),
    "volume": ((1.56, 3.0, -0.366), (0.0, 0.168, 0.118, 0.586, 4.81, 0.0257)),
    "area": ((1.04, 0.651), (0.00037, 1.13, 0.406)),
}
NAMES: Final = {"on": "side", "back": "side", "buccal": "face", "lingual": "face"}
OVERHANG: Final = 6.0  # times the noise, or how far facets lie off: so wide an undercut may be of it alone
STRAYS: Final = 0.0045  # mm: of coarse facets alone as much may be seen as noise
HIDES: Final = 0.3  # mm: facets of this edge show nothing of a rounded margin


def of_sockets(sockets: Sequence[Socket | None], noise: float, spread: float) -> list[dict[str, Off]]:
    """Return what each tooth's numbers may be off by: mm, mm2, mm3; `spread` is how sure the axis is, in degrees."""
    return [
        {name: causes_of(socket, name, noise, spread).off(NAMES.get(name, name)) for name in KEYS} if socket else {}
        for socket in sockets
    ]


def causes_of(socket: Socket, name: str, noise: float, spread: float) -> Causes:
    """Return what may move one of a tooth's numbers, by its name in KEYS: facets, noise (mm), an axis (degrees)."""
    noise = noise if noise > STRAYS else 0.0
    rise = max(0.0, socket.crest_median - socket.depth_median - 2 * noise) * min(1.0, socket.edge / HIDES)
    facets, around = socket.facets["rise"], socket.around
    if name not in ("bond", "volume"):
        tilts = noise * min(1.0, noise / max(socket.edge, 1e-6))
        size = (1.0, facets, noise, rise, tilts)
        if name == "gap":
            varies = min(1.0, socket.facets["varies"] / max(abs(socket.gap), 1e-3))
            return Causes(0.0, (noise,), (*size, facets * varies))
        uneven, climbs, hangs = socket.uneven[name]
        leant = socket.leaning[name] * spread if spread else 0.0
        jagged = 0.0 if name in HIGHEST else uneven  # whether it moves the greatest, pairs do not agree on
        aside = socket.aside.get(name, (0.0, 0.0))
        return Causes(0.0, (noise, jagged), (*size, uneven, climbs, hangs, leant), aside)
    shift, gap, bond = socket.facets[name], abs(socket.gap), socket.bond
    uneven = max(0.0, socket.uneven["depth"].uneven - noise)
    turned = around**2 / (2 * np.pi) * float(np.tan(np.radians(spread)))
    if name == "bond":
        rough = bond * min(0.3, noise**2 * socket.facets["slim"])
        size = (bond, facets * around, noise * around, rise * around, rough)
        return Causes(shift, (rough, noise * around), (*size, uneven * around, turned))
    size = (socket.volume, facets * bond, noise * bond, rise * around * gap, uneven * around * gap)
    return Causes(shift, (noise * around * gap,), (*size, turned * gap))


def of_connector(area: float, more: float, less: float, noise: float, around: float) -> dict[str, Off]:
    """Return what a connector's numbers may be off by: mm2 and mm; `more` and `less` as in `Connector`, `around` its
    outline."""
    if not area:
        return dict.fromkeys(("area", "height", "thickness"), Off(0.0, 0.0))  # nothing is there to be unsure of
    off = causes_of_connector(area, more, less, noise, around).off("area")
    across = Off(0.0, 2 * off.half / around + 0.002)
    return {"area": off, "height": across, "thickness": across}


def causes_of_connector(area: float, more: float, less: float, noise: float, around: float) -> Causes:
    """Return what may move a connector's area, as `of_connector`."""
    return Causes(more - less / 2, (), (area, less / 2, noise * around))


def of_all(seen: list[Off]) -> Off:
    """Return what the sum of a row's volumes may be off by: facets and noise move all of them alike."""
    return Off(sum(one.shift for one in seen), sum(one.half for one in seen))
