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
    """What may move a number, in its unit: how much facets likely take from it, parts that widen its interval, each
    with a factor of its own, what is `known` to widen it, as an axis that is not sure, and to move it: noise makes
    facets rough, and their area more."""

    shift: float
    parts: tuple[float, ...]
    known: float
    rough: float = 0.0

    def off(self, name: str) -> Off:
        """Return what a number may be off by."""
        more, less, *factors = FACTORS[name]
        half = sum(factor * part for factor, part in zip(factors, self.parts, strict=True)) + self.known
        return Off((more if self.shift > 0 else less) * self.shift - self.rough, half)


# By number: how much of what facets likely take from it, or add to it, is believed; then factors of its size (1 mm for
# lengths), of facets, of noise, of a margin rounder than its facets, of noise that tilts facets; a connector's of its
# size, of what facets may bridge, of noise.
FACTORS: Final[dict[str, tuple[float, ...]]] = {
    "depth": (0.0, 0.0, 0.011, 0.0, 1.2, 1.5, 4.7),
    "deepest": (0.0, 0.0, 0.002, 0.43, 4.6, 2.1, 0.0),
    "crest": (0.0, 0.0, 0.0099, 0.49, 0.91, 0.41, 15.0),
    "side": (0.0, 0.0, 0.0023, 0.0057, 2.8, 2.2, 6.5),
    "face": (0.0, 0.0, 0.048, 0.89, 0.0, 0.22, 0.0),
    "gap": (0.0, 0.82, 0.0005, 0.23, 0.0, 0.02, 2.3),
    "bond": (1.5, 0.0, 0.002, 0.57, 0.59, 0.36, 0.0),
    "volume": (1.26, 3.0, 0.0056, 0.12, 0.0054, 1.2),
    "area": (1.02, 0.68, 0.00056, 1.1, 0.4),
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
    shift, facets = socket.facets.get(name, 0.0), socket.facets["rise"]
    if name not in ("bond", "volume"):
        tilts = noise * min(1.0, noise / max(socket.edge, 1e-6))
        return Causes(shift, (1.0, facets, noise, rise, tilts), socket.leaning.get(name, 0.0) * spread)
    turned = socket.around**2 / (2 * np.pi) * float(np.tan(np.radians(spread))) * TURNS
    if name == "bond":
        rough = socket.bond * min(0.3, noise**2 * socket.facets["slim"])
        around = socket.around
        return Causes(shift, (socket.bond, facets * around, noise * around, rise * around, rough), turned, rough)
    gap, bond = abs(socket.gap), socket.bond
    return Causes(shift, (socket.volume, facets * bond, noise * bond, rise * socket.around * gap), turned * gap)


def of_connector(area: float, more: float, less: float, noise: float, around: float) -> dict[str, Off]:
    """Return what a connector's numbers may be off by: mm2 and mm; `more` and `less` as in `Connector`, `around` its
    outline."""
    off = causes_of_connector(area, more, less, noise, around).off("area")
    across = Off(0.0, 2 * off.half / around + 0.002)
    return {"area": off, "height": across, "thickness": across}


def causes_of_connector(area: float, more: float, less: float, noise: float, around: float) -> Causes:
    """Return what may move a connector's area, as `of_connector`."""
    return Causes(more - less / 2, (area, less / 2, noise * around), 0.0)


def of_all(seen: list[Off]) -> Off:
    """Return what the sum of a row's volumes may be off by: facets and noise move all of them alike."""
    return Off(sum(one.shift for one in seen), sum(one.half for one in seen))
