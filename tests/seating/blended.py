"""Pairs of the second family: a plan by chance, base and arch as fields, and their meshes by marching cubes."""

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import Any

import manifold3d as m3
import numpy as np
from skimage.measure import marching_cubes

from benchapp.core.teeth import Jaw
from tests.seating.fields import Bar, Blend, Crown, Floats, greater, onto
from tests.seating.pairs import FULL, THROUGH, WIDTHS, Curve

BELOW, WIDE = 5.0, 5.6  # mm: the base's underside, and half its width


@dataclass(frozen=True)
class Shape:
    """What a pair of the second family shall be; lengths in mm, `cell` is the edge of the cubes, `thin` how far
    triangles may be merged (0: not at all)."""

    seed: int
    jaw: Jaw
    row: tuple[int, ...]
    cell: float
    thin: float
    gap: float
    uneven: float
    rim: float
    papilla: float
    lean: float
    tilted: float
    crowded: float
    lopsided: float
    blend: float


def shape_of(seed: int, cell: float | None = None, count: int | None = None) -> Shape:
    """Return the shape of a seed."""
    rng = np.random.default_rng(10_000 + seed)
    jaw: Jaw = "upper" if rng.random() < 0.5 else "lower"
    full = FULL[jaw]
    many = int(rng.integers(4, 8))
    first = int(rng.integers(0, len(full) - many + 1))
    if count:
        first, many = 0, count
    any_of = rng.uniform
    chosen = float(rng.choice([0.45, 0.32, 0.24]))
    thin = float(rng.choice([0.0, 0.0, 0.003]))
    return Shape(
        seed, jaw, tuple(full[first : first + many]), cell or chosen, thin,
        gap=any_of(0.08, 0.16), uneven=any_of(0, 0.25), rim=any_of(0.05, 0.35), papilla=any_of(0.3, 1.5),
        lean=any_of(3, 9), tilted=any_of(0, 4), crowded=any_of(0, 0.8), lopsided=any_of(-0.1, 0.1),
        blend=any_of(0.15, 0.6),
    )  # fmt: skip


def _turned(axis: int, degrees: float) -> Floats:
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    found = np.eye(3)
    i, j = [k for k in range(3) if k != axis]
    found[i, i], found[j, j], found[i, j], found[j, i] = c, c, -s, s
    return found


class BlendedPair:
    """A pair after a shape: `arch` and `base` are fields, `mesh` cuts triangles from either."""

    def __init__(self, shape: Shape) -> None:
        self.shape = shape
        self.rng = np.random.default_rng(shape.seed)
        row = shape.row if shape.jaw == "lower" else shape.row[::-1]
        every = FULL[shape.jaw] if shape.jaw == "lower" else FULL[shape.jaw][::-1]
        ends = np.concatenate([[0.0], np.cumsum([WIDTHS[tooth % 10] for tooth in every])])
        self.curve = Curve(float(ends[-1]), shape.lopsided)
        middle = dict(zip(every, (ends[1:] + ends[:-1]) / 2, strict=True))
        self.s = {tooth: float(middle[tooth]) for tooth in row}
        self.crowns = [self._crown(tooth) for tooth in row]
        self.bars = [self._bar(one, two) for one, two in pairwise(self.crowns)]
        self.arch = Blend((*self.crowns, *self.bars), shape.blend)
        any_of = self.rng.uniform
        self.papillae = [
            ((self.s[a.number] + self.s[b.number]) / 2 + any_of(-0.4, 0.4), shape.papilla * any_of(0.5, 1.2),
             any_of(1.0, 1.7), any_of(-0.5, 0.5))
            for a, b in pairwise(self.crowns)
        ]  # fmt: skip
        self.ground = (any_of(-0.1, 0.3), any_of(-0.08, 0.08))

    def ways(self, tooth: int) -> tuple[Floats, Floats]:
        """Return the unit ways (2,) along the row and buccal at a tooth."""
        along = self.curve.along(np.array(self.s[tooth]))
        return along, np.array([along[1], -along[0]])

    def _crown(self, number: int) -> Crown:
        shape, kind, any_of = self.shape, number % 10, self.rng.uniform
        along, buccal = self.ways(number)
        at = np.append(self.curve.at(np.array(self.s[number])) + buccal * any_of(-0.6, 0.6) * shape.crowded, 0.0)
        turn = _turned(2, any_of(-9, 9) * shape.crowded)
        tilt = _turned(0, any_of(-1, 1) * shape.tilted) @ _turned(1, any_of(-1, 1) * shape.tilted)
        frame = tilt @ turn @ np.array([[*along, 0.0], [*buccal, 0.0], [0.0, 0.0, 1.0]])
        return Crown(
            number, at, frame,
            wide=WIDTHS[kind] / 2 - any_of(0.15, 0.35), through=THROUGH[kind] * any_of(1.0, 1.15),
            deep=any_of(0.3, 0.9), neck=any_of(0.72, 0.84), draft=any_of(5, 9), power=any_of(2.0, 2.8),
            waves=tuple((any_of(0, most), any_of(0, 6.28)) for most in (0.04, 0.04, 0.03)),
            shift=(any_of(-0.25, 0.25), any_of(-0.3, 0.5)), height=any_of(5.0, 6.5), cusps=any_of(0.1, 0.7),
            dome=any_of(0.0, 0.25), corner=any_of(0.5, 1.1),
        )  # fmt: skip

    def _bar(self, one: Crown, two: Crown) -> Bar:
        any_of = self.rng.uniform
        apart = two.at - one.at
        reach = float(np.linalg.norm(apart))
        middle = one.at + apart * (0.5 + (one.wide - two.wide) / 2 / reach)
        lean, turn = any_of(-1, 1, 2) * self.shape.lean
        flat = np.array([apart / reach, np.cross([0, 0, 1.0], apart / reach), [0, 0, 1.0]])
        half = (any_of(0.9, 1.5), any_of(0.9, 1.3))
        at = middle + np.array([0, 0, any_of(2.6, 3.1)])
        frame = _turned(1, lean) @ _turned(2, turn) @ flat
        return Bar((one.number, two.number), at, frame, half, any_of(1.6, 2.2), any_of(0.05, 0.3), any_of(-0.1, 0.2))

    def beside(self, xy: Floats) -> tuple[Floats, Floats]:
        """Return s and v (buccal) of points (n, 2), smooth: the polyline's nearest point, then along its normal."""
        s = self.curve.length_at(xy)
        for _turn in range(2):
            along = self.curve.along(s)
            s = s + np.einsum("ij,ij->i", xy - self.curve.at(s), along)
        along = self.curve.along(s)
        off = xy - self.curve.at(s)
        return s, off[:, 0] * along[:, 1] - off[:, 1] * along[:, 0]

    def gum(self, s: Floats, v: Floats) -> Floats:
        """Return the gum's height."""
        high = self.ground[0] + self.ground[1] * v
        for at, rise, wide, skew in self.papillae:
            high = high + rise * np.exp(-(((s - at) / wide) ** 2)) * (1 + skew * np.tanh(v / 2.5))
        return high - 0.05 * np.maximum(np.abs(v) - 3.2, 0) ** 2

    def base(self, points: Floats, near: Blend | None = None, plane: tuple[Floats, Floats] | None = None) -> Floats:
        """Return the base's field at points (n, 3); `plane` are s and v of the points where they are known."""
        s, v = plane or self.beside(points[:, :2])
        x, y, z = points.T
        turn = 0.7 * x + 0.4 * y + self.shape.seed
        gap = self.shape.gap * (1 + self.shape.uneven * np.sin(turn) * np.cos(1.1 * z))
        first, last = min(self.s.values()) - 6.5, max(self.s.values()) + 6.5
        outside = greater(greater(np.abs(v) - WIDE, -z - BELOW, 0.8), np.maximum(first - s, s - last), 0.8)
        body = greater(z - self.gum(s, v), outside, 0.8)
        return greater(body, gap - (near or self.arch).value(points), self.shape.rim)

    @cached_property
    def fields(self) -> dict[str, Any]:
        """Return both fields by name."""
        return {"arch": self.arch.value, "base": self.base}

    def mesh(self, part: str) -> tuple[Floats, np.ndarray]:
        """Return vertices and triangles of a part: marching cubes, corners then moved onto the surface."""
        cell = self.shape.cell
        high = 7.8 if part == "arch" else self.ground[0] + 2.4
        low_z = -2.2 if part == "arch" else -BELOW - 0.6
        run = np.linspace(min(self.s.values()) - 8, max(self.s.values()) + 8, 400)
        line = self.curve.at(run)
        low, top = np.append(line.min(axis=0) - 7, low_z), np.append(line.max(axis=0) + 7, high)
        axes = [np.arange(a, b + cell, cell) for a, b in zip(low, top, strict=True)]
        grid = np.stack(np.meshgrid(*axes, indexing="ij"), -1)
        flat = grid[:, :, 0, :2].reshape(-1, 2)
        near = np.flatnonzero(np.abs(self.beside(flat)[1]) < 7.5)
        values = np.full((len(flat), len(axes[2])), 1.0)
        points = grid.reshape(len(flat), -1, 3)[near]
        if part == "base":
            s, v = (np.repeat(one, len(axes[2])) for one in self.beside(flat[near]))
            values[near] = self.base(points.reshape(-1, 3), plane=(s, v)).reshape(len(near), -1)
        else:
            values[near] = self.arch.value(points.reshape(-1, 3)).reshape(len(near), -1)
        values = values.reshape(grid.shape[:3])
        values[[0, -1]], values[:, [0, -1]], values[:, :, [0, -1]] = 1.0, 1.0, 1.0
        vertices, faces, _normals, _values = marching_cubes(values, 0.0, spacing=(cell,) * 3)
        vertices = onto(self.fields[part], vertices.astype(np.float64) + low, cell / 3)
        return vertices, np.asarray(faces, dtype=np.int64)[:, ::-1]

    def triangles(self, part: str, noise: float = 0.0, rng: np.random.Generator | None = None) -> Floats:
        """Return a part's triangles (n, 3, 3), outside seen anticlockwise."""
        vertices, faces = self.mesh(part)
        solid = m3.Manifold(m3.Mesh64(np.ascontiguousarray(vertices), np.ascontiguousarray(faces.astype(np.uint64))))
        if solid.status() == m3.Error.NoError:
            if solid.volume() < 0:
                faces = faces[:, ::-1]
                solid = m3.Manifold(m3.Mesh64(vertices, np.ascontiguousarray(faces.astype(np.uint64))))
            if self.shape.thin:
                made = solid.simplify(self.shape.thin).to_mesh64()
                vertices, faces = np.asarray(made.vert_properties)[:, :3], np.asarray(made.tri_verts).astype(np.int64)
        elif np.einsum("ij,ij->", vertices[faces[:, 0]], np.cross(vertices[faces[:, 1]], vertices[faces[:, 2]])) < 0:
            faces = faces[:, ::-1]
        if noise and rng is not None:
            vertices = vertices + rng.normal(0, noise, vertices.shape)
        return vertices[faces]
