"""Smooth bodies of the made-up pairs, as functions of two parameters: a tooth, its socket, and grids of them."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
STEP = 1e-5


@dataclass(frozen=True)
class Tooth:
    """One tooth: where it stands, how it is turned, and its measures in mm (its own w = 0 is the margin's plane).

    `across` and `through` are its half widths at the socket's floor, along the arch and across it.
    """

    number: int
    at: Floats
    along: Floats
    width: float
    through: float
    deep: float = 0.5
    draft: float = 7.0
    tilt: tuple[float, float] = (0.0, 0.0)
    turn: float = 0.0
    corner: float = 0.3
    height: float = 5.0
    power: float = 2.2
    gap: float = 0.1
    uneven: float = 0.0
    rim: float = 0.0
    bulge: float = 0.0
    phase: float = 0.0
    frame: Floats = field(init=False)

    def __post_init__(self) -> None:
        turned = _about(np.array([0.0, 0.0, 1.0]), self.turn) @ np.append(self.along, 0.0)
        buccal = np.array([turned[1], -turned[0], 0.0])
        tilted = _about(turned, self.tilt[0]) @ _about(buccal, self.tilt[1])
        object.__setattr__(self, "frame", np.stack([tilted @ turned, tilted @ buccal, tilted @ [0.0, 0.0, 1.0]]))

    def world(self, local: Floats) -> Floats:
        """Return points of the tooth's own frame in the pair's."""
        return local @ self.frame + np.array([*self.at, 0.0])

    def surface(self, u: Floats, angle: Floats) -> Floats:
        """Return points (…, 3) of the tooth in its own frame; u: 0 floor, 1 corner, 2 side, 3 top."""
        slope = np.tan(np.radians(self.draft))
        turn = np.clip(u - 1, 0, 1) * np.radians(90 - self.draft)
        low = -self.deep + self.corner * (1 - np.cos(turn))
        rise = np.clip(u - 2, 0, 1) * (self.height - low)
        level = low + rise
        over = self.corner * (np.sin(turn) - 1) + rise * slope - self.bulge * _smooth(rise / 0.3)
        top = np.clip(u - 3, 0, 1) * np.pi / 2
        shrink = np.clip(u, 0, 1) * np.cos(top)
        cosine, sine = _superellipse(angle, self.power)
        return np.stack(
            [(self.width + over) * shrink * cosine, (self.through + over) * shrink * sine, level + 2.0 * np.sin(top)],
            axis=-1,
        )

    def outward(self, u: Floats, angle: Floats) -> Floats:
        """Return the unit normals of `surface`, out of the tooth."""
        flat = u < 1e-3
        u = np.where(flat, 1e-3, u)
        du = self.surface(u + STEP, angle) - self.surface(u - STEP, angle)
        da = self.surface(u, angle + STEP) - self.surface(u, angle - STEP)
        normal = np.cross(da, du)
        return normal / np.linalg.norm(normal, axis=-1, keepdims=True)

    def distance(self, u: Floats, angle: Floats, margin: Floats) -> Floats:
        """Return how far the socket lies from the tooth along its normal; `margin`: the gum's height at that angle."""
        even = self.gap * (1 + self.uneven * np.cos(angle + self.phase) * np.cos(1.3 * u))
        if not self.rim:
            return even
        level = self.surface(u, angle)[..., 2] - margin
        over = np.clip(level / self.rim + 1, 0, 1)
        return even + self.rim * (1 - np.sqrt(1 - over**2))

    def socket(self, u: Floats, angle: Floats, margin: Floats) -> Floats:
        """Return points of the socket in the tooth's own frame."""
        return self.surface(u, angle) + self.distance(u, angle, margin)[..., None] * self.outward(u, angle)


def side(tooth: Tooth, level: Floats) -> Floats:
    """Return the u at which the tooth's side has this height in its own frame."""
    low = -tooth.deep + tooth.corner * (1 - np.cos(np.radians(90 - tooth.draft)))
    return 2 + np.clip((level - low) / (tooth.height - low), 0, 0.999)


def closed_grid(points: Floats) -> tuple[Floats, NDArray[np.int64]]:
    """Return vertices and triangles of rows of rings (rows, around, 3), closed at both ends by a fan."""
    rows, around = points.shape[:2]
    at = np.arange(rows * around).reshape(rows, around)
    one, two = at[:-1], at[1:]
    nxt = np.roll(at, -1, axis=1)
    a, b, c, d = one, nxt[:-1], nxt[1:], two
    sides = np.concatenate([np.stack([a, b, c], -1).reshape(-1, 3), np.stack([a, c, d], -1).reshape(-1, 3)])
    low, high = rows * around, rows * around + 1
    floor = np.stack([np.full(around, low), nxt[0], at[0]], -1)
    roof = np.stack([np.full(around, high), at[-1], nxt[-1]], -1)
    vertices = np.concatenate([points.reshape(-1, 3), points[:1].mean(axis=1), points[-1:].mean(axis=1)])
    return vertices, np.concatenate([sides, floor, roof])


def _about(axis: Floats, degrees: float) -> Floats:
    """Return the rotation about a unit axis (Rodrigues)."""
    k = np.cross(np.eye(3), -axis)
    angle = np.radians(degrees)
    return np.eye(3) + np.sin(angle) * k + (1 - np.cos(angle)) * (k @ k)


def _superellipse(angle: Floats, power: float) -> tuple[Floats, Floats]:
    cosine, sine = np.cos(angle), np.sin(angle)
    size = (np.abs(cosine) ** power + np.abs(sine) ** power) ** (-1 / power)
    return cosine * size, sine * size


def _smooth(x: Floats) -> Floats:
    x = np.clip(x, 0, 1)
    return x * x * (3 - 2 * x)
