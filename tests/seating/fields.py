"""Smooth bodies of the second family of made-up pairs: fields whose zero is the surface, negative inside.

Unlike `shapes`, nothing here has parameters along its surface: crowns, blended connectors and gum are numbers in space.
"""

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Field = Callable[[Floats], Floats]
FAR = 2.0  # mm: what a field says where nothing of it is near
STEP = 1e-4


def greater(a: Floats, b: Floats, k: float) -> Floats:
    """Return the greater of two fields, rounded where they come within k of each other (cubic, twice smooth)."""
    h = np.maximum(k - np.abs(a - b), 0) / k
    return np.maximum(a, b) + h**3 * k / 6


def lesser(a: Floats, b: Floats, k: float) -> Floats:
    """Return the lesser of two fields, rounded alike."""
    return -greater(-a, -b, k)


def rising(x: Floats) -> Floats:
    """Return a smooth step from 0 at 0 to 1 at 1."""
    x = np.clip(x, 0, 1)
    return x**3 * (x * (6 * x - 15) + 10)


@dataclass(frozen=True)
class Crown:
    """One tooth: where it stands (3,), its frame as rows (on, buccal, up), and its measures in mm.

    Half widths at the height of contour; `neck` is the part of them at the gum; `waves` are (size, phase) of one, two
    and three lobes; `shift` moves the crown over its neck; `dome` is how far the floor rises from middle to edge.
    """

    number: int
    at: Floats
    frame: Floats
    wide: float
    through: float
    deep: float
    neck: float
    draft: float
    power: float
    waves: tuple[tuple[float, float], ...]
    shift: tuple[float, float]
    height: float
    cusps: float
    dome: float
    corner: float

    def local(self, points: Floats) -> Floats:
        """Return points of the pair's frame in the tooth's own."""
        return (points - self.at) @ self.frame.T

    def _radius(self, angle: Floats, z: Floats) -> Floats:
        c, s = np.abs(np.cos(angle)) + 1e-12, np.abs(np.sin(angle)) + 1e-12
        size = ((c / self.wide) ** self.power + (s / self.through) ** self.power) ** (-1 / self.power)
        lobes = 1 + sum(a * np.cos((k + 1) * (angle - at)) for k, (a, at) in enumerate(self.waves))
        high = self.neck + (1 - self.neck) * rising((z + 0.8) / 3.8)
        high = high - 0.25 * rising((z - 3.0) / 3.5)
        return size * lobes * high + np.tan(np.radians(self.draft)) * np.minimum(z, 2.0)

    def value(self, points: Floats) -> Floats:
        """Return the field at points (n, 3); near the surface about the distance."""
        x, y, z = self.local(points).T
        move = rising((z - 0.5) / 4.0)
        x, y = x - self.shift[0] * move, y - self.shift[1] * move
        angle, rho = np.arctan2(y, x), np.hypot(x, y)
        radius = self._radius(angle, z)
        by_angle = (self._radius(angle + STEP, z) - radius) / STEP / np.maximum(radius, 0.3)
        by_z = (self._radius(angle, z + STEP) - radius) / STEP
        sides = (rho - radius) / np.sqrt(1 + by_angle**2 + by_z**2)
        hills = self.cusps * np.cos(2.2 * x / self.wide) * np.cos(2.6 * y / self.through)
        top = (z - self.height + hills) * 0.85
        floor = -z - self.deep + self.dome * ((x / self.wide) ** 2 + (y / self.through) ** 2)
        return greater(greater(sides, top, 1.0), floor, self.corner)

    def box(self) -> tuple[Floats, Floats]:
        """Return the two corners of a box that holds all points where the field is under about 1."""
        reach = np.array([max(self.wide, self.through) * 1.15 + 1.6] * 2 + [0.0])
        return self.at - reach - [0, 0, self.deep + 1.6], self.at + reach + [0, 0, self.height + 1.8]


@dataclass(frozen=True)
class Bar:
    """A connector: an elliptic bar that leans, narrowest near its middle, thicker above than below by `draft`."""

    between: tuple[int, int]
    at: Floats
    frame: Floats
    half: tuple[float, float]
    long: float
    grow: float
    draft: float

    def value(self, points: Floats) -> Floats:
        """Return the field at points (n, 3)."""
        t, across, up = ((points - self.at) @ self.frame.T).T
        grow = 1 + self.grow * t**2
        b = across / (self.half[0] * grow * (1 + self.draft * np.tanh(up)))
        c = up / (self.half[1] * grow)
        slope = np.hypot(b / (self.half[0] * grow), c / (self.half[1] * grow))
        r = np.hypot(b, c)
        round_ = np.where(r > 0.3, (r - 1) * r / np.maximum(slope, 1e-9), -0.7 * min(self.half))
        return greater(round_, np.abs(t) - self.long, 0.5)

    def box(self) -> tuple[Floats, Floats]:
        """Return the two corners of a box that holds all points where the field is under about 1."""
        reach = np.array([self.long + self.half[0] + 1.8] * 2 + [self.half[1] * 1.6 + 1.6])
        return self.at - reach, self.at + reach


@dataclass(frozen=True)
class Blend:
    """Crowns and bars run into one: where two come within `k` of each other the hollow between them is filled."""

    parts: tuple[Crown | Bar, ...]
    k: float
    boxes: list[tuple[Floats, Floats]] = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "boxes", [part.box() for part in self.parts])

    def value(self, points: Floats) -> Floats:
        """Return the field at points (n, 3)."""
        found = np.full(len(points), FAR)
        for part, (low, high) in zip(self.parts, self.boxes, strict=True):
            here = np.flatnonzero(((points > low) & (points < high)).all(axis=1))
            if len(here):
                found[here] = lesser(found[here], part.value(points[here]), self.k)
        return found

    def near(self, at: Floats, within: float) -> "Blend":
        """Return the blend of what comes within a distance of a point only."""
        chosen = [part for part, (low, high) in zip(self.parts, self.boxes, strict=True)
                  if (at > low - within).all() and (at < high + within).all()]  # fmt: skip
        return Blend(tuple(chosen), self.k)


def slope_of(value: Field, points: Floats, step: float = STEP) -> Floats:
    """Return the gradient (n, 3) of a field, by central differences."""
    moves = np.concatenate([np.eye(3), -np.eye(3)]) * step
    every = value((points[None] + moves[:, None]).reshape(-1, 3)).reshape(6, -1)
    return ((every[:3] - every[3:]) / (2 * step)).T


def onto(value: Field, points: Floats, most: float, turns: int = 3) -> Floats:
    """Return points moved along the gradient until the field is zero, no farther than `most` in each turn."""
    for _turn in range(turns):
        slope = slope_of(value, points)
        size = np.maximum((slope**2).sum(axis=1), 1e-6)
        move = -(value(points) / size)[:, None] * slope
        far = np.linalg.norm(move, axis=1)
        points = points + move * np.minimum(1, most / np.maximum(far, 1e-12))[:, None]
    return points
