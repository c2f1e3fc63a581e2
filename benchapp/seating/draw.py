"""Draws meshes without a screen: seen along the third axis, the nearest point in every dot, shaded, with outlines."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from benchapp.seating.mesh import Floats, Ints
from benchapp.seating.shown import Skin

CHUNK: Final = 3_000_000  # dots that are looked at together
LIGHT: Final = np.array([-0.45, 0.5, 0.74])
STEP: Final = 1.2  # mm between heights beside each other that make an outline
SHADE_MM: Final = 2.2  # mm around a point in which what stands higher takes its light


@dataclass(frozen=True)
class Window:
    """What of the plane is drawn: its upper left corner in mm, dots per mm, width and height in dots."""

    left: float
    top: float
    per_mm: float
    width: int
    height: int

    def dots(self, points: Floats) -> Floats:
        """Return the dots (n, 2), right and down, of points (n, 2 or 3) in mm."""
        return np.column_stack([(points[:, 0] - self.left), (self.top - points[:, 1])]) * self.per_mm


@dataclass(frozen=True)
class Seen:
    """What is seen in each dot (h, w): which part (-1: nothing), its height (mm), normal, depth, gap, tooth."""

    part: Ints
    height: Floats
    normal: Floats
    depth: Floats
    gap: Floats
    piece: Ints


def seen(skins: list[Skin], window: Window) -> Seen:
    """Return what is seen of parts from above."""
    size = window.width * window.height
    height = np.full(size, -np.inf)
    part = np.full(size, -1, dtype=np.int64)
    triangle = np.zeros(size, dtype=np.int64)
    weight = np.zeros((size, 3))
    for number, skin in enumerate(skins):
        corners = skin.vertices[skin.triangles]
        flat = window.dots(corners.reshape(-1, 3)).reshape(-1, 3, 2) - 0.5
        for dot, owner, weights in _fragments(flat, window):
            level = np.einsum("ij,ij->i", weights, corners[owner, :, 2])
            nearer = level > height[dot]
            dot, owner, weights, level = dot[nearer], owner[nearer], weights[nearer], level[nearer]
            order = np.argsort(level, kind="stable")  # of dots that occur twice the last one stays
            dot, owner, weights = dot[order], owner[order], weights[order]
            height[dot], part[dot], triangle[dot], weight[dot] = level[order], number, owner, weights
    shape = (window.height, window.width)
    normal, depth, gap = np.zeros((size, 3)), np.full(size, -1.0), np.ones(size)
    piece = np.full(size, -1, dtype=np.int64)
    for number, skin in enumerate(skins):
        here = part == number
        owner, weights = triangle[here], weight[here]
        normal[here] = np.einsum("ij,ijk->ik", weights, skin.shade[owner])
        depth[here] = np.einsum("ij,ij->i", weights, skin.depth[skin.triangles[owner]])
        gap[here] = np.einsum("ij,ij->i", weights, skin.gap[skin.triangles[owner]])
        piece[here] = skin.piece[skin.triangles[owner, weights.argmax(axis=1)]]
    normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-12)
    return Seen(
        part.reshape(shape),
        height.reshape(shape),
        normal.reshape(*shape, 3),
        depth.reshape(shape),
        gap.reshape(shape),
        piece.reshape(shape),
    )


def _fragments(flat: Floats, window: Window) -> list[tuple[Ints, Ints, Floats]]:
    """Return the dots whose middles lie in triangles that look up (n, 3, 2), their triangles and weights, in chunks."""
    a, b, c = flat[:, 0], flat[:, 1], flat[:, 2]
    double = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
    low = np.ceil(flat.min(axis=1) - 1e-6)
    span = np.floor(flat.max(axis=1) + 1e-6) - low + 1
    most = span.max(axis=1)
    up = np.flatnonzero((double < -1e-9) & (most >= 1))  # anticlockwise, but the picture's y runs down
    found = []
    for size in (2 ** np.arange(0, 12)).tolist():
        group = up[(most[up] <= size) & (most[up] > size // 2)] if size > 1 else up[most[up] <= 1]
        step = max(1, CHUNK // (size * size))
        for start in range(0, len(group), step):
            chosen = group[start : start + step]
            found.append(_inside(flat[chosen], low[chosen], double[chosen], size, chosen, window))
    return found


def _inside(
    flat: Floats, low: Floats, double: Floats, size: int, chosen: Ints, window: Window
) -> tuple[Ints, Ints, Floats]:
    x = low[:, :1] + np.arange(size)
    y = low[:, 1:] + np.arange(size)
    weights = []
    for k in range(3):
        p, q = flat[:, (k + 1) % 3], flat[:, (k + 2) % 3]
        along = (q[:, 0] - p[:, 0])[:, None, None] * (y[:, :, None] - p[:, 1][:, None, None])
        across = (q[:, 1] - p[:, 1])[:, None, None] * (x[:, None, :] - p[:, 0][:, None, None])
        weights.append((along - across) / double[:, None, None])
    inside = (weights[0] >= -1e-9) & (weights[1] >= -1e-9) & (weights[2] >= -1e-9)
    inside &= ((x >= 0) & (x < window.width))[:, None, :] & ((y >= 0) & (y < window.height))[:, :, None]
    which, row, column = np.nonzero(inside)
    dot = (y[which, row] * window.width + x[which, column]).astype(np.int64)
    return dot, chosen[which], np.column_stack([one[which, row, column] for one in weights])


def shaded(found: Seen, colours: Floats, lines: NDArray[np.bool_], per_mm: float, paper: float = 1.0) -> Floats:
    """Return a picture (h, w, 3) of 0 to 1: colours (h, w, 3) in light and shade, outlines, lines; else paper."""
    there = found.part >= 0
    lit = np.clip(found.normal @ (LIGHT / np.linalg.norm(LIGHT)), 0, 1)
    sky = 0.5 + 0.5 * found.normal[..., 2]
    shine = np.clip(found.normal @ _half(), 0, 1) ** 40
    light = (0.34 + 0.30 * sky + 0.46 * lit) * _open(found.height, there, per_mm)
    picture = colours * light[..., None] + 0.10 * shine[..., None]
    picture[lines & there] *= 0.45
    picture[_edges(found.height, there)] *= 0.35
    return np.asarray(np.where(there[..., None], np.clip(picture, 0, 1), paper))


def _half() -> Floats:
    way = LIGHT / np.linalg.norm(LIGHT) + np.array([0.0, 0.0, 1.0])
    return np.asarray(way / np.linalg.norm(way))


def _open(height: Floats, there: NDArray[np.bool_], per_mm: float) -> Floats:
    """Return how much of the sky each dot sees, roughly: less where its surroundings stand higher."""
    floor = float(height[there].min()) if there.any() else 0.0
    filled = np.where(there, height, floor)
    around = ndimage.gaussian_filter(filled, SHADE_MM * per_mm / 2)
    return np.asarray(np.clip(1 - 0.16 * np.maximum(around - filled, 0), 0.55, 1.0))


def _edges(height: Floats, there: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return the dots at which the height jumps, on the higher side."""
    filled = np.where(there, height, -1e3)
    jump = np.zeros(height.shape, dtype=bool)
    for axis in (0, 1):
        for step in (-1, 1):
            jump |= filled - np.roll(filled, step, axis=axis) > STEP
    return jump & there


def lines_of(values: Floats, step: float, inside: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return the dots inside where values pass a multiple of `step`, and those at the border of `inside`."""
    band = np.where(inside, np.floor(values / step), -9).astype(np.int64)
    found = np.zeros(values.shape, dtype=bool)
    for axis in (0, 1):
        for way in (-1, 1):
            other = np.roll(band, way, axis=axis)
            found |= (band > other) & inside
    return found
