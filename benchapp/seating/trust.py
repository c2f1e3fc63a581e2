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
        """Return the interval for a told value, cut at the least that it can be; None where there is no value."""
        if value is None or not np.isfinite(value):
            return None
        low, high = value + self.shift - self.half, value + self.shift + self.half
        return max(float(low), least), max(float(high), least)


@dataclass(frozen=True)
class Causes:
    """What may move a number, each in its unit: its own size (1 mm for lengths), what facets likely take from it, how
    much they matter without sign, noise, a margin rounder than its facets; and what is `known` to move it, as an axis.
    """

    size: float
    shift: float
    facets: float
    noise: float
    rise: float
    known: float

    def off(self, name: str) -> Off:
        """Return what a number may be off by."""
        moved, floor, facets, noise, rise = FACTORS[name]
        half = floor * self.size + facets * self.facets + noise * self.noise + rise * self.rise + self.known
        return Off(moved * self.shift, half)


# By number: how much of what facets likely take from it is believed; then factors of its size, of facets, of noise and
# of a margin rounder than its facets.
FACTORS: Final[dict[str, tuple[float, float, float, float, float]]] = {
    "depth": (0.0, 0.0015, 0.4, 2.8, 0.5),
    "deepest": (0.0, 0.002, 1.2, 3.8, 0.6),
    "crest": (0.0, 0.001, 0.9, 3.3, 0.2),
    "side": (0.0, 0.002, 0.8, 3.8, 0.65),
    "face": (0.0, 0.002, 0.8, 1.5, 1.5),
    "gap": (1.0, 0.0003, 1.0, 0.3, 0.02),
    "bond": (1.0, 0.0005, 0.4, 0.5, 0.5),
    "volume": (1.0, 0.001, 0.75, 0.35, 0.6),
    "area": (1.0, 0.001, 0.3, 0.1, 0.0),
}
NAMES: Final = {"on": "side", "back": "side", "buccal": "face", "lingual": "face"}
OVERHANG: Final = 6.0  # times the noise: so wide an undercut may be of it alone
COARSE: Final = 0.3  # mm: facets of this edge show nothing of a rounded margin
TURNS: Final = 0.25  # of the margin's length times the axis's lean: so much bond may move (from the fit)


def of_sockets(sockets: Sequence[Socket | None], noise: float, spread: float) -> list[dict[str, Off]]:
    """Return what each tooth's numbers may be off by: mm, mm2, mm3; `spread` is how sure the axis is, in degrees."""
    return [
        {name: causes_of(socket, name, noise, spread).off(NAMES.get(name, name)) for name in KEYS} if socket else {}
        for socket in sockets
    ]


def causes_of(socket: Socket, name: str, noise: float, spread: float) -> Causes:
    """Return what may move one of a tooth's numbers, by its name in KEYS: facets, noise (mm), an axis (degrees)."""
    size = {"bond": socket.bond, "volume": socket.volume}.get(name, 1.0)
    noise *= {"bond": socket.around, "volume": socket.bond}.get(name, 1.0)
    rise = max(0.0, socket.crest_median - socket.depth_median) * min(1.0, socket.edge / COARSE)
    rise *= {"bond": socket.around, "volume": socket.around * abs(socket.gap)}.get(name, 1.0)
    known = socket.leaning.get(name, 0.0) * spread
    if name in ("bond", "volume"):
        turned = socket.around**2 / (2 * np.pi) * float(np.tan(np.radians(spread))) * TURNS
        known = turned * (1.0 if name == "bond" else abs(socket.gap))
    shift = socket.facets.get(name, 0.0)
    facets = {"bond": socket.around, "volume": socket.bond}.get(name, 1.0) * socket.facets["rise"]
    return Causes(size, shift, facets, noise, rise, known)


def of_connector(area: float, more: float, less: float, noise: float, around: float) -> dict[str, Off]:
    """Return what a connector's numbers may be off by: mm2 and mm; `more` and `less` as in `Connector`, `around` its
    outline."""
    off = causes_of_connector(area, more, less, noise, around).off("area")
    across = Off(0.0, 2 * off.half / around + 0.002)
    return {"area": off, "height": across, "thickness": across}


def causes_of_connector(area: float, more: float, less: float, noise: float, around: float) -> Causes:
    """Return what may move a connector's area, as `of_connector`."""
    return Causes(area, more - less / 2, more, noise * around, 0.0, less / 2)


def of_all(seen: list[Off]) -> Off:
    """Return what the sum of a row's volumes may be off by: facets and noise move all of them alike."""
    return Off(sum(one.shift for one in seen), sum(one.half for one in seen))
