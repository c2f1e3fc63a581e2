"""What the numbers of a blended pair are: by contours of its fields in half planes, never over a mesh.

Written apart from the check: every surface point is found on the field itself, walls by the nearest point of the arch's
field, areas and volumes by sums over angles, connectors by a search of their own over sections of the field.
"""

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from skimage.measure import find_contours

from tests.seating.blended import BlendedPair
from tests.seating.fields import Crown, Field, Floats, onto, slope_of
from tests.seating.least import Plane, least_section
from tests.seating.truth import Known

AROUND, CELL = 72, 0.1
FINER = 64  # parts of a segment in which its wall may end: 0.0016 mm
Over = Callable[["Trace", Floats], Floats]
WITHIN, TURNED, REACH, OUT = 0.35, 0.8, 0.3, 6.6


@dataclass(frozen=True)
class Trace:
    """Contours of one field in half planes about a centre: segments with their angle's number; ends are (n, 3)."""

    angle: np.ndarray
    first: Floats
    second: Floats


class About:
    """One tooth and what lies about it, looked at in half planes about a centre."""

    def __init__(self, pair: BlendedPair, tooth: Crown, planes: list[Plane], around: int, cell: float) -> None:
        self.pair, self.tooth, self.around, self.cell = pair, tooth, around, cell
        self.arch = pair.arch.near(tooth.at, 1.0)
        self.along, self.buccal = pair.ways(tooth.number)
        self.sides = []
        for plane, (a, b) in zip(planes, pairwise(pair.crowns), strict=True):
            if tooth.number in (a.number, b.number):
                toward = (tooth.at - plane.point) @ plane.normal
                self.sides.append((plane.point, plane.normal * np.sign(toward)))

    def base(self, points: Floats) -> Floats:
        """Return the base's field near this tooth."""
        return self.pair.base(points, self.arch)

    def own(self, points: Floats) -> np.ndarray:
        """Tell which points lie on this tooth's side of its connectors' planes."""
        found = np.ones(len(points), dtype=bool)
        for point, normal in self.sides:
            found &= (points - point) @ normal > 0
        return found

    def cut(self, centre: Floats) -> tuple[Trace, Trace]:
        """Return the contours of base and arch about a centre (2,), all points on the surfaces themselves."""
        angles = np.arange(self.around) * 2 * np.pi / self.around
        ways = np.cos(angles)[:, None] * self.along + np.sin(angles)[:, None] * self.buccal
        r = np.arange(0.02, OUT, self.cell)
        z = np.arange(-self.tooth.deep - 0.5, 2.6, self.cell)
        flat = centre + r[None, :, None] * ways[:, None]
        s, v = self.pair.beside(flat.reshape(-1, 2))
        shape = (self.around, len(r), len(z))
        points = np.concatenate(
            [np.broadcast_to(flat[:, :, None], (*shape, 2)), np.broadcast_to(z[:, None], (*shape, 1))], -1
        ).reshape(-1, 3)
        plane = (np.repeat(s, len(z)), np.repeat(v, len(z)))
        low, high = self.tooth.box()
        near = ((points > low) & (points < high)).all(axis=1)
        found = []
        for values in (
            self._on(points, near, lambda p: self.pair.base(p, self.arch, (plane[0][near], plane[1][near]))),
            self._on(points, near, self.arch.value),
        ):
            parts, count = [], 0
            for k, image in enumerate(values.reshape(shape)):
                for loop in find_contours(image, 0.0):
                    at = np.arange(count, count + len(loop) - 1)
                    parts.append((np.full(len(loop), k), loop * self.cell + [0.02, z[0]], at))
                    count += len(loop)
            found.append(tuple(np.concatenate([part[i] for part in parts]) for i in range(3)))
        fields = (self.base, self.arch.value)
        base, arch = (self._exact(field, centre, *one, ways) for field, one in zip(fields, found, strict=True))
        return base, arch

    def _on(self, points: Floats, near: np.ndarray, value: Field) -> Floats:
        found = np.full(len(points), 2.0)
        found[near] = value(points[near])
        return found

    def _exact(self, value: Field, centre: Floats, k: np.ndarray, rz: Floats, at: np.ndarray, ways: Floats) -> Trace:
        """Return contour segments near this tooth, their ends moved within their half plane onto the surface.

        Segment i lies between the points i and i + 1 of `rz` (radius, height), where `at` lists i.
        """
        points = np.column_stack([centre + rz[:, :1] * ways[k], rz[:, 1]])
        near = self.arch.value(points) < 0.6
        for point, normal in self.sides:
            near &= (points - point) @ normal > -0.3
        at = at[near[at] & near[at + 1]]
        used = np.flatnonzero(near)
        rz, way = rz[used].copy(), ways[k[used]]
        for _turn in range(3):
            here = np.column_stack([centre + rz[:, :1] * way, rz[:, 1]])
            slope = slope_of(value, here)
            flat = np.column_stack([np.einsum("ij,ij->i", slope[:, :2], way), slope[:, 2]])
            move = -(value(here) / np.maximum((flat**2).sum(axis=1), 1e-4))[:, None] * flat
            rz += np.clip(move, -self.cell / 2, self.cell / 2)
        points[used] = np.column_stack([centre + rz[:, :1] * way, rz[:, 1]])
        return Trace(k[at], points[at], points[at + 1])

    def wall(self, points: Floats) -> tuple[np.ndarray, Floats]:
        """Tell which points of the base are wall, and how far each lies from the arch."""
        foot = onto(self.arch.value, points, 0.3, 2)
        for _turn in range(2):
            normal = _unit(slope_of(self.arch.value, foot))
            off = points - foot
            foot = onto(self.arch.value, foot + off - np.einsum("ij,ij->i", off, normal)[:, None] * normal, 0.3, 1)
        normal = _unit(slope_of(self.arch.value, foot))
        own = _unit(slope_of(self.base, points))
        away = np.einsum("ij,ij->i", points - foot, normal)
        facing = np.einsum("ij,ij->i", normal, own) <= -TURNED
        return facing & (np.abs(away) <= WITHIN) & self.own(points), away


def _unit(vectors: Floats) -> Floats:
    return vectors / np.maximum(np.linalg.norm(vectors, axis=1, keepdims=True), 1e-12)


def known_of(pair: BlendedPair, tooth: Crown, planes: list[Plane]) -> Known:
    """Return one tooth's numbers."""
    rough = About(pair, tooth, planes, 24, 0.2)
    centre = tooth.at[:2]
    for _turn in range(2):
        cut = rough.cut(centre)[0]
        middle, size = _weights(cut, centre, 2 * np.pi / 24, rough.base)
        wall = rough.wall(middle)[0]
        centre = np.average(middle[wall][:, :2], axis=0, weights=size[wall])
    about = About(pair, tooth, planes, AROUND, CELL)
    return _summed(about, centre)


def _weights(cut: Trace, centre: Floats, step: float, value: Field) -> tuple[Floats, Floats]:
    """Return the middles of contour segments and the surface that each stands for: r ds dphi over the slant."""
    middle = (cut.first + cut.second) / 2
    off = middle[:, :2] - centre
    r = np.linalg.norm(off, axis=1)
    normal = _unit(slope_of(value, middle))
    round_ = np.column_stack([-off[:, 1], off[:, 0]]) / np.maximum(r, 1e-9)[:, None]
    across = np.einsum("ij,ij->i", normal[:, :2], round_)
    length = np.linalg.norm(cut.second - cut.first, axis=1)
    return middle, r * length * step / np.sqrt(np.maximum(1 - across**2, 0.05))


def _summed(about: About, centre: Floats) -> Known:
    base, arch = about.cut(centre)
    step = 2 * np.pi / about.around
    middle, size = _weights(base, centre, step, about.base)
    wall, away = about.wall(middle)
    margin, height = _margin(about, base, wall)
    radius = np.linalg.norm(margin[:, :2] - centre, axis=1)
    crest = height.copy()
    for ends in (base.first, base.second, _at_reach(base, centre, radius[base.angle] + REACH)):
        r = np.linalg.norm(ends[:, :2] - centre, axis=1)
        here = (r > radius[base.angle] - 0.005) & (r < radius[base.angle] + REACH + 1e-9) & about.own(ends)
        np.maximum.at(crest, base.angle[here], ends[here, 2])
    inside = about.own(arch.first) & (np.linalg.norm(arch.first[:, :2] - centre, axis=1) < radius[arch.angle] + REACH)
    lowest = _lowest(about, arch.first[inside])

    def over(cut: Trace, points: Floats) -> Floats:
        r = np.linalg.norm(points[:, :2] - centre, axis=1)
        inner = np.clip(r / (0.8 * radius[cut.angle]), 0, 1) ** 2
        return points[:, 2] - (height.mean() + (height[cut.angle] - height.mean()) * inner)

    depth = height - lowest
    reach = about.around // 12

    def side(at: int, pick: "np.ufunc") -> float:
        return float(pick.reduce(depth[(at * about.around // 4 + np.arange(-reach, reach + 1)) % about.around]))

    tooth_middle, tooth_size = _weights(arch, centre, step, about.arch.value)
    out = np.linalg.norm(tooth_middle[:, :2] - centre, axis=1) < radius[arch.angle] + REACH
    bond, tooth = _below(arch, over, centre, step, tooth_size, out & about.own(tooth_middle))
    out = np.linalg.norm(middle[:, :2] - centre, axis=1) < radius[base.angle]
    _area, socket = _below(base, over, centre, step, size, out & about.own(middle))
    order = np.argsort(away[wall])
    gone = np.cumsum(size[wall][order])
    later = about.tooth.number // 10 in (2, 3)
    mesial, distal = (side(2, np.maximum), side(0, np.maximum))
    if not later:
        mesial, distal = distal, mesial
    if about.pair.shape.jaw == "upper":
        mesial, distal = distal, mesial
    return Known(
        about.tooth.number, _median(depth), float(depth.max()),
        {"mesial": mesial, "distal": distal, "buccal": side(1, np.minimum), "lingual": side(3, np.minimum)},
        _median(crest - lowest), bond, abs(socket) - abs(tooth),
        float(away[wall][order][np.searchsorted(gone, gone[-1] / 2)]),
    )  # fmt: skip


def _median(heights: Floats) -> float:
    """Return the median over the whole way round, straight between the half planes."""
    around = len(heights)
    return float(np.median(np.interp(np.arange(20 * around) / 20, np.arange(around), heights, period=around)))


def _at_reach(cut: Trace, centre: Floats, reach: Floats) -> Floats:
    """Return where each segment passes so far from the centre; of one that does not, its end that is nearer to it."""
    inner, outer = (np.linalg.norm(ends[:, :2] - centre, axis=1) for ends in (cut.first, cut.second))
    apart = np.where(np.abs(outer - inner) < 1e-12, 1.0, outer - inner)
    return cut.first + np.clip((reach - inner) / apart, 0, 1)[:, None] * (cut.second - cut.first)


def _margin(about: About, base: Trace, wall: np.ndarray) -> tuple[Floats, Floats]:
    """Return the highest wall point in each half plane: where the last wall segment ends, looked at 64 times finer."""
    best: dict[int, list[int]] = {k: [] for k in range(about.around)}
    rows = np.flatnonzero(wall)
    for row in rows[np.argsort(-np.maximum(base.first[rows, 2], base.second[rows, 2]))]:
        if len(best[int(base.angle[row])]) < 2:
            best[int(base.angle[row])].append(int(row))
    chosen = sorted({near for some in best.values() for row in some for near in (row - 1, row, row + 1)
                     if 0 <= near < len(base.angle) and base.angle[near] == base.angle[row]})  # fmt: skip
    part = np.linspace(0, 1, FINER + 1)[:, None, None]
    points = base.first[chosen] * (1 - part) + base.second[chosen] * part
    points = points.reshape(-1, 3)
    owner = np.tile(base.angle[chosen], FINER + 1)
    points = onto(about.base, points, 0.05, 2)
    fine = about.wall(points)[0]
    margin, height = np.zeros((about.around, 3)), np.full(about.around, -np.inf)
    order = np.flatnonzero(fine)[np.argsort(points[fine, 2])]
    margin[owner[order]], height[owner[order]] = points[order], points[order, 2]
    if not np.isfinite(height).all():
        known = np.flatnonzero(np.isfinite(height))
        every = np.arange(about.around)
        height = np.interp(every, known, height[known], period=about.around)
        margin = np.column_stack([np.interp(every, known, margin[known, k], period=about.around) for k in range(3)])
    return margin, height


def _lowest(about: About, points: Floats) -> float:
    """Return the lowest height of the arch near the lowest of these points."""
    at = points[[int(np.argmin(points[:, 2]))]]
    for size in (0.05, 0.05, 0.02, 0.02, 0.01, 0.01, 0.005, 0.005, 0.002):
        moves = np.array([[i, j, 0.0] for i in (-2, -1, 0, 1, 2) for j in (-2, -1, 0, 1, 2)]) * size
        here = onto(about.arch.value, at + moves, 0.05, 3)
        at = here[[int(np.argmin(here[:, 2]))]]
    return float(min(at[0, 2], points[:, 2].min()))


def _below(cut: Trace, over: Over, centre: Floats, step: float, size: Floats, keep: np.ndarray) -> tuple[float, float]:
    """Return surface and volume below the lid: sums over segments, cut where they pass it."""
    heights = [over(cut, ends) for ends in (cut.first, cut.second)]
    low, high = np.minimum(*heights), np.maximum(*heights)
    part = np.clip(-low / np.maximum(high - low, 1e-12), 0, 1)
    r = [np.linalg.norm(ends[:, :2] - centre, axis=1) for ends in (cut.first, cut.second)]
    mean = np.where(high <= 0, (low + high) / 2, low * part / 2)
    flux = -mean * (r[0] + r[1]) / 2 * (r[1] - r[0]) * part * step
    return float(np.sum((size * part)[keep])), float(np.sum(flux[keep]))


def all_known(pair: BlendedPair) -> tuple[dict[int, Known], dict[frozenset[int], float]]:
    """Return every tooth's numbers by its ISO 3950 number, and every connector's least section."""
    planes = [least_section(pair, number) for number in range(len(pair.bars))]
    teeth = {tooth.number: known_of(pair, tooth, planes) for tooth in pair.crowns}
    return teeth, {frozenset(bar.between): plane.area for bar, plane in zip(pair.bars, planes, strict=True)}
