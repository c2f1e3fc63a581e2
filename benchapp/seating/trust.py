"""How far each number may be off: intervals that hold the true one in 95 of 100 made-up pairs.

Facets cut curves short and noise lifts margins and lowers floors, so an interval need not lie evenly about its number.
The factors were fitted once to made-up pairs (`python -m tests.seating table` tells what they reach); no other source.
"""

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from benchapp.seating.report import Interval


class Seen(Protocol):
    """What a socket shows of itself: sag and noise of its surfaces (mm), margin's length, bond (mm2), gap (mm)."""

    @property
    def sag(self) -> float:
        """Sag of the facets in mm."""

    @property
    def rough(self) -> float:
        """Noise in mm."""

    @property
    def around(self) -> float:
        """Length of the margin in mm."""

    @property
    def bond(self) -> float:
        """Bond area in mm2."""

    @property
    def gap(self) -> float:
        """Median gap in mm."""


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


def of_socket(seen: Seen, spread: float) -> dict[str, Off]:
    """Return what a tooth's numbers may be off by: mm, mm2, mm3; `spread` is how sure the axis is, in degrees."""
    sag, noise, around, bond = seen.sag, seen.rough, seen.around, seen.bond
    turned = around / (2 * np.pi) * float(np.tan(np.radians(spread)))
    return {
        "depth": Off(-2.5 * noise, 0.0025 + 0.3 * sag + 1.6 * noise + 0.25 * turned),
        "deepest": Off(-4.3 * noise, 0.003 + 2.5 * sag + 2.5 * noise + 1.2 * turned),
        "crest": Off(-3.0 * noise, 0.005 + 4.0 * sag + 1.5 * noise + 0.25 * turned),
        "side": Off(-3.5 * noise, 0.005 + 3.5 * sag + 2.5 * noise + 1.2 * turned),
        "face": Off(0.0, 0.003 + 0.3 * sag + 2.7 * noise + 1.2 * turned),
        "gap": Off(0.3 * sag, 0.0005 + 0.7 * sag + 0.2 * noise),
        "bond": Off(
            2.4 * bond * sag - 2.5 * around * noise,
            bond * (0.0008 + 1.8 * sag) + around * (1.5 * noise + 0.25 * turned),
        ),
        "volume": Off(
            0.65 * bond * sag,
            bond * (0.55 * sag + 0.15 * noise) + abs(seen.gap) * (0.003 * bond + around * (noise + 0.25 * turned)),
        ),
    }


def of_connector(area: float, sag: float, noise: float, around: float) -> dict[str, Off]:
    """Return what a connector's numbers may be off by: mm2 and mm; `sag` is the area that facets cut off."""
    half = 0.0005 * area + 1.3 * around * noise
    across = Off(sag / around, 2 * (abs(sag) + half) / around + 0.002)
    return {"area": Off(sag + around * noise, half), "height": across, "thickness": across}


def of_all(seen: list[Off]) -> Off:
    """Return what the sum of a row's volumes may be off by: facets and noise move all of them alike."""
    return Off(sum(one.shift for one in seen), sum(one.half for one in seen))
