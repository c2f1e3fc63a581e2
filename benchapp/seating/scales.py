"""The two scales of the pictures: the colour of a depth or a gap, and where lines are drawn so that none is needed."""

from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from benchapp.seating.mesh import Floats

Colour = tuple[int, int, int]


@dataclass(frozen=True)
class Scale:
    """Values in mm and their sRGB colours, each darker than the one before; a line at every multiple of `line`."""

    values: tuple[float, ...]
    colours: tuple[Colour, ...]
    line: float

    def colour(self, values: Floats) -> Floats:
        """Return sRGB colours (n, 3) of 0 to 1; beyond its ends the scale stays as it ends."""
        stops = np.array(self.colours, dtype=np.float64) / 255
        return np.stack([np.interp(values, self.values, stops[:, k]) for k in range(3)], axis=-1)

    def as_json(self) -> dict[str, Any]:
        """Return the scale for a viewer: stops of value and colour, and the step of its lines."""
        stops = [
            [value, "#" + "".join(f"{part:02x}" for part in colour)]
            for value, colour in zip(self.values, self.colours, strict=True)
        ]
        return {"unit": "mm", "stops": stops, "line": self.line}


# Pale to dark, so that they also order in grey; chosen by eye, no source.
DEPTH: Final = Scale(
    (0.0, 0.3, 0.6, 0.9, 1.2),
    ((255, 243, 190), (151, 214, 172), (62, 165, 178), (38, 98, 158), (38, 33, 92)),
    0.2,
)
GAP: Final = Scale(
    (-0.1, 0.0, 0.1, 0.2, 0.35),
    ((90, 0, 40), (190, 40, 50), (246, 160, 90), (250, 214, 160), (244, 240, 232)),
    0.1,
)


def linear(colours: Floats) -> Floats:
    """Return linear light of sRGB colours of 0 to 1 (IEC 61966-2-1; from memory)."""
    return np.where(colours <= 0.04045, colours / 12.92, ((colours + 0.055) / 1.055) ** 2.4)
