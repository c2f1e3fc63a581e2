"""How far each number may be off, from what was seen: how much finer triangles moved it, noise, rounded margins, axis.

The factors were fitted to both families of made-up pairs (`python -m tests.seating table` tells what they reach); no
other source.
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


# By number: a floor (mm, or a part of the number); how much of what finer triangles moved it; of the noise (mm); of how
# far the crest stands above the wall on coarse facets (mm). For bond and volume noise and crest count along the margin
# or over the bond.
FACTORS: Final = {
    "depth": (0.0015, 0.4, 2.8, 0.5),
    "deepest": (0.002, 1.2, 3.8, 0.6),
    "crest": (0.001, 0.9, 3.3, 0.2),
    "side": (0.002, 0.8, 3.8, 0.65),
    "face": (0.002, 0.8, 1.5, 1.5),
    "gap": (0.0003, 1.0, 0.3, 0.02),
    "bond": (0.0005, 0.4, 0.5, 0.5),
    "volume": (0.001, 0.75, 0.35, 0.6),
    "area": (0.001, 2.5, 0.1, 0.0),
}
NAMES: Final = {"on": "side", "back": "side", "buccal": "face", "lingual": "face"}
OVERHANG: Final = 6.0  # times the noise: so wide an undercut may be of it alone
COARSE: Final = 0.3  # mm: facets of this edge show nothing of a rounded margin
TURNS: Final = 0.25  # of the margin's length times the axis's lean: so much bond may move (from the fit)


def of_sockets(sockets: Sequence[Socket | None], noise: float, spread: float) -> list[dict[str, Off]]:
    """Return what each tooth's numbers may be off by: mm, mm2, mm3; `spread` is how sure the axis is, in degrees."""
    seen = [socket for socket in sockets if socket]
    usual = {name: float(np.median([abs(one.moved.get(name, 0.0)) for one in seen])) for name in KEYS} if seen else {}
    return [{name: _off(socket, name, usual[name], noise, spread) for name in KEYS} if socket else {}
            for socket in sockets]  # fmt: skip


def _off(socket: Socket, name: str, usual: float, noise: float, spread: float) -> Off:
    """Return what one number may be off by: what facets moved it, here and at the other teeth, noise, axis."""
    floor, moved, noisy, rounded = FACTORS[NAMES.get(name, name)]
    size = {"bond": socket.bond, "volume": socket.volume}.get(name, 1.0)
    noise *= {"bond": socket.around, "volume": socket.bond}.get(name, 1.0)
    rise = max(0.0, socket.crest_median - socket.depth_median) * min(1.0, socket.edge / COARSE)
    rise *= {"bond": socket.around, "volume": socket.around * abs(socket.gap)}.get(name, 1.0)
    leaning = socket.leaning.get(name, 0.0) * spread
    if name in ("bond", "volume"):
        turned = socket.around**2 / (2 * np.pi) * float(np.tan(np.radians(spread))) * TURNS
        leaning = turned * (1.0 if name == "bond" else abs(socket.gap))
    differs = (abs(socket.moved.get(name, 0.0)) + usual) / 2
    return Off(0.0, floor * size + moved * differs + noisy * noise + rounded * rise + leaning)


def of_connector(area: float, moved: float, noise: float, around: float) -> dict[str, Off]:
    """Return what a connector's numbers may be off by: mm2 and mm; `moved` as in `Connector`, `around` its outline."""
    floor, part, noisy, _rounded = FACTORS["area"]
    half = floor * area + part * abs(moved) + noisy * around * noise
    across = Off(0.0, 2 * half / around + 0.002)
    return {"area": Off(0.0, half), "height": across, "thickness": across}


def of_all(seen: list[Off]) -> Off:
    """Return what the sum of a row's volumes may be off by: facets and noise move all of them alike."""
    return Off(sum(one.shift for one in seen), sum(one.half for one in seen))
