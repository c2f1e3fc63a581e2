"""Made-up pairs of base and arch whose numbers are known by construction: what they are made of, and their meshes."""

from dataclasses import dataclass, field
from itertools import pairwise

import manifold3d as m3
import numpy as np
from scipy.spatial import cKDTree

from benchapp.core.teeth import ROW, Jaw
from tests.seating.shapes import Floats, Tooth, closed_grid, side

WIDTHS = {1: 8.6, 2: 7.2, 3: 7.8, 4: 7.4, 5: 7.2, 6: 10.0, 7: 9.4, 8: 8.6}
THROUGH = {1: 2.2, 2: 2.1, 3: 2.6, 4: 3.0, 5: 3.0, 6: 3.7, 7: 3.6, 8: 3.3}
FULL = {"upper": ROW["upper"][1:-1], "lower": ROW["lower"][1:-1]}


@dataclass(frozen=True)
class Plan:
    """What a pair shall be; `fine` is the number of points around a tooth, all lengths in mm, angles in degrees.

    Each feature is off at its default; `chance` is a seed for what differs from tooth to tooth.
    """

    jaw: Jaw = "lower"
    teeth: tuple[int, ...] = ()
    fine: int = 48
    deep: float = 0.5
    deep_by: dict[int, float] = field(default_factory=dict)
    gap: float = 0.1
    uneven: float = 0.0
    rim: float = 0.0
    scallop: float = 0.0
    fillet: float = 0.0
    taper: float = 0.0
    lean: float = 0.0
    lopsided: float = 0.0
    crowded: float = 0.0
    tilted: float = 0.0
    hug: float = 0.0
    tight: float = 0.0
    bulge: float = 0.0
    bulge_by: dict[int, float] = field(default_factory=dict)
    rod: tuple[float, float] = (1.3, 1.1)
    rod_by: dict[tuple[int, int], float] = field(default_factory=dict)
    draft: float = 7.0
    chance: int = 1

    @property
    def row(self) -> tuple[int, ...]:
        """The teeth from the patient's right to the left."""
        wanted = self.teeth or FULL[self.jaw]
        return tuple(tooth for tooth in ROW[self.jaw] if tooth in wanted)


class Curve:
    """The arch as a curve in the plane across the axis, by its length s; it runs on straight beyond its ends."""

    def __init__(self, length: float, lopsided: float) -> None:
        t = np.linspace(-1.45, 1.45, 4001)
        half = np.where(t < 0, 1 - lopsided, 1 + lopsided)
        points = np.stack([-np.sin(t) * half, 1.25 * np.cos(t) * (1 + 0.3 * lopsided * np.sin(t))], -1)
        size = length / np.linalg.norm(np.diff(points, axis=0), axis=1).sum()
        points *= size
        first, last = points[0] - points[1], points[-1] - points[-2]
        reach = np.linspace(12, 0.01, 800)[:, None]
        points = np.concatenate(
            [
                points[0] + first / np.linalg.norm(first) * reach,
                points,
                points[-1] + last / np.linalg.norm(last) * reach[::-1],
            ]
        )
        gone = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
        self.s = gone - gone[800]
        self.points = points
        self._near = cKDTree(points)

    def at(self, s: Floats) -> Floats:
        """Return the points (n, 2) at these lengths."""
        return np.stack([np.interp(s, self.s, self.points[:, k]) for k in (0, 1)], -1)

    def along(self, s: Floats) -> Floats:
        """Return the unit directions of growing s."""
        way = self.at(np.asarray(s) + 0.05) - self.at(np.asarray(s) - 0.05)
        return way / np.linalg.norm(way, axis=-1, keepdims=True)

    def length_at(self, xy: Floats) -> Floats:
        """Return the s of the nearest point of the curve."""
        return self.s[self._near.query(xy)[1]]


@dataclass(frozen=True)
class Rod:
    """A connector: a straight rod between two teeth, narrowest at `waist` of its length."""

    between: tuple[int, int]
    start: Floats
    end: Floats
    half: tuple[float, float]
    fillet: float
    taper: float
    waist: float

    def mesh(self, fine: int) -> tuple[Floats, np.ndarray]:
        """Return its vertices and triangles."""
        way = self.end - self.start
        length = float(np.linalg.norm(way))
        steps = np.linspace(0, 1, fine // 2 + 1) ** 2  # close about the waist, which is one of them
        x = np.concatenate([-self.waist * length * steps[:0:-1], (1 - self.waist) * length * steps])
        angle = np.linspace(0, 2 * np.pi, fine, endpoint=False)
        grow = (1 + self.fillet * np.minimum(x**2, 1.5))[:, None]
        high = self.half[1] * np.sin(angle) * grow
        wide = self.half[0] * np.cos(angle) * grow * (1 + self.taper * np.sin(angle))
        along = way / length
        across = np.cross([0.0, 0.0, 1.0], along)
        across /= np.linalg.norm(across)
        up = np.cross(along, across)
        middle = self.start + self.waist * way
        points = middle + x[:, None, None] * along + wide[..., None] * across + high[..., None] * up
        return closed_grid(points)

    def area(self) -> float:
        """Return the area of its middle section in mm2: an ellipse; the taper adds as much above as it takes below."""
        return np.pi * self.half[0] * self.half[1]


class Pair:
    """A pair built after a plan: the exact description, and the meshes that are cut from it."""

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        self.random = np.random.default_rng(plan.chance)
        row = plan.row if plan.jaw == "lower" else plan.row[::-1]
        every = FULL[plan.jaw] if set(row) <= set(FULL[plan.jaw]) else ROW[plan.jaw]
        every = every if plan.jaw == "lower" else every[::-1]
        ends = np.concatenate([[0.0], np.cumsum([WIDTHS[tooth % 10] for tooth in every])])
        self.curve = Curve(float(ends[-1]), plan.lopsided)
        middle = dict(zip(every, (ends[1:] + ends[:-1]) / 2, strict=True))
        self.s = {tooth: float(middle[tooth]) for tooth in row}
        self.between = {pair: (self.s[pair[0]] + self.s[pair[1]]) / 2 for pair in pairwise(row)}
        self.teeth = [self._tooth(number) for number in row]
        self.rods = [self._rod(one, two) for one, two in pairwise(self.teeth)]

    def _tooth(self, number: int) -> Tooth:
        plan, kind = self.plan, number % 10
        any_of = self.random.uniform
        s = np.array(self.s[number])
        buccal = self.curve.along(s) @ np.array([[0.0, -1.0], [1.0, 0.0]])
        at = self.curve.at(s) + buccal * any_of(-1, 1) * plan.crowded * 0.6
        slope = np.tan(np.radians(plan.draft)) * 5.0
        return Tooth(
            number,
            at,
            self.curve.along(s),
            width=WIDTHS[kind] / 2 - 0.45 - slope + plan.tight,
            through=THROUGH[kind],
            deep=plan.deep_by.get(number, plan.deep),
            draft=plan.draft,
            tilt=(any_of(-1, 1) * plan.tilted, any_of(-1, 1) * plan.tilted),
            turn=any_of(-1, 1) * plan.crowded * 12,
            gap=plan.gap,
            uneven=plan.uneven,
            rim=plan.rim,
            bulge=plan.bulge_by.get(number, plan.bulge),
            phase=any_of(0, 6.28),
        )

    def _rod(self, one: Tooth, two: Tooth) -> Rod:
        plan = self.plan
        pair = (one.number, two.number)
        size = plan.rod_by.get(pair, plan.rod_by.get(pair[::-1], 1.0)) ** 0.5
        level = 3.0 + plan.hug * 0.3
        rise = np.tan(np.radians(plan.lean)) * 4.0 * (1 if one.number % 2 else -1)
        start = one.world(np.array([0.0, 0.0, level])) + np.array([0, 0, rise])
        end = two.world(np.array([0.0, 0.0, level])) - np.array([0, 0, rise])
        reach = float(np.linalg.norm(two.at - one.at))
        waist = 0.5 + (one.width - two.width) / 2 / reach
        return Rod(pair, start, end, (plan.rod[0] * size, plan.rod[1] * size), plan.fillet, plan.taper, waist)

    def bare(self, rod: Rod) -> bool:
        """Tell whether nothing but the rod is cut by its middle plane: else its least section is not the rod's own."""
        way = (rod.end - rod.start) / np.linalg.norm(rod.end - rod.start)
        middle = rod.start + rod.waist * (rod.end - rod.start)
        u, angle = np.meshgrid(np.linspace(1, 3.95, 60), np.linspace(0, 2 * np.pi, 90), indexing="ij")
        sides = [
            (tooth.world(tooth.surface(u, angle)) - middle) @ way for tooth in self.teeth if tooth.number in rod.between
        ]
        return bool(sides[0].max() < -0.05 and sides[1].min() > 0.05)

    def gum(self, xy: Floats) -> Floats:
        """Return the height of the base's upper surface over points of the plane: papillae between the teeth."""
        high = np.full(len(xy), self.plan.hug)
        if not self.plan.scallop:
            return high
        s = self.curve.length_at(xy)
        for at in self.between.values():
            high = high + self.plan.scallop * np.exp(-(((s - at) / 1.4) ** 2))
        return high

    def margin(self, tooth: Tooth, angle: Floats) -> Floats:
        """Return where the gum meets the tooth at these angles, as a height in the tooth's own frame."""
        level = np.zeros(angle.shape)
        for _turn in range(12):
            here = tooth.world(tooth.surface(side(tooth, level), angle))
            level = level + self.gum(here[..., :2]) - here[..., 2]
        return level

    def arch(self) -> m3.Manifold:
        """Return the arch: teeth and rods in one piece."""
        teeth, rods = self.bodies()
        return m3.Manifold.batch_boolean([*teeth, *rods], m3.OpType.Add)

    def bodies(self) -> tuple[list[m3.Manifold], list[m3.Manifold]]:
        """Return the arch's teeth and rods, each a solid of its own that reaches into its neighbours."""
        fine, teeth = self.plan.fine, []
        angle = np.linspace(0, 2 * np.pi, fine, endpoint=False)
        rows = np.concatenate(
            [
                np.linspace(0.15, 1, fine // 8, endpoint=False),
                np.linspace(1, 2, fine // 8, endpoint=False),
                2 + np.linspace(0, 1, fine // 2, endpoint=False) ** 1.6,
                np.linspace(3, 3.95, fine // 6),
            ]
        )
        for tooth in self.teeth:
            u, around = np.meshgrid(rows, angle, indexing="ij")
            teeth.append(solid(*closed_grid(tooth.world(tooth.surface(u, around)))))
        return teeth, [solid(*rod.mesh(fine)) for rod in self.rods]

    def tool(self, tooth: Tooth) -> m3.Manifold:
        """Return what is cut out of the base for one tooth."""
        fine = self.plan.fine
        angle = np.linspace(0, 2 * np.pi, fine, endpoint=False)
        margin = self.margin(tooth, angle)
        start = side(tooth, np.full(angle.shape, -99.0))
        rim = side(tooth, margin - tooth.rim)
        rows = [
            np.full(fine, u)
            for u in np.concatenate(
                [np.linspace(0.15, 1, fine // 8, endpoint=False), np.linspace(1, 2, fine // 8, endpoint=False)]
            )
        ]
        rows += [start + (rim - start) * part for part in np.linspace(0, 1, fine // 5, endpoint=False)]
        if tooth.rim:
            rows += [
                side(tooth, margin - tooth.rim * (1 - part))
                for part in np.sin(np.linspace(0, np.pi / 2, fine // 6))[:-1]
            ]
        rows += [side(tooth, margin), side(tooth, margin + 0.6), side(tooth, margin + 1.5)]
        u = np.stack(rows)
        points = tooth.socket(u, np.broadcast_to(angle, u.shape), np.broadcast_to(margin, u.shape))
        return solid(*closed_grid(tooth.world(points)))

    def base(self) -> m3.Manifold:
        """Return the base: a horseshoe with a flat fitting side, the sockets cut out."""
        fine = self.plan.fine
        s = np.linspace(min(self.s.values()) - 7, max(self.s.values()) + 7, int(fine * len(self.s) * 0.8))
        v = np.linspace(-5.5, 5.5, fine // 2)
        normal = self.curve.along(s) @ np.array([[0.0, -1.0], [1.0, 0.0]])
        top = self.curve.at(s)[:, None] + v[None, :, None] * normal[:, None]
        upper = np.concatenate([top, self.gum(top.reshape(-1, 2)).reshape(*top.shape[:2], 1)], -1)
        low = np.concatenate([top[:, ::-1], np.full((*top.shape[:2], 1), -5.0)], -1)[:, [0, -1]]
        ring = np.concatenate([upper, low], axis=1)
        body = solid(*closed_grid(ring))
        return body - m3.Manifold.batch_boolean([self.tool(tooth) for tooth in self.teeth], m3.OpType.Add)


def solid(vertices: Floats, triangles: np.ndarray) -> m3.Manifold:
    """Return a closed grid as a solid with its outside out; ValueError when it is none."""
    mesh = m3.Mesh64(np.ascontiguousarray(vertices), np.ascontiguousarray(triangles, dtype=np.uint64))
    body = m3.Manifold(mesh)
    if body.volume() < 0:
        body = m3.Manifold(
            m3.Mesh64(np.ascontiguousarray(vertices), np.ascontiguousarray(triangles[:, ::-1], dtype=np.uint64))
        )
    if body.status() != m3.Error.NoError or body.is_empty():
        raise ValueError(f"the grid is no solid: {body.status()}")
    return body


def triangles_of(body: m3.Manifold) -> Floats:
    """Return the corners (n, 3, 3) of a solid's triangles."""
    mesh = body.to_mesh64()
    return np.asarray(mesh.vert_properties)[:, :3][np.asarray(mesh.tri_verts).astype(np.int64)]


def stl(corners: Floats, announced: int | None = None) -> bytes:
    """Return a binary STL of triangles (n, 3, 3)."""
    records = np.zeros(len(corners), dtype=[("n", "<f4", 3), ("v", "<f4", (3, 3)), ("a", "<u2")])
    records["v"] = corners
    count = len(corners) if announced is None else announced
    return b"made up".ljust(80, b" ") + count.to_bytes(4, "little") + records.tobytes()
