"""What a made-up pair's numbers are: summed up over its smooth description, never over a mesh."""

from dataclasses import dataclass

import numpy as np

from tests.seating.pairs import Pair
from tests.seating.shapes import Floats, Tooth, side

AROUND, WITHIN, TURNED, REACH = 240, 0.35, 0.8, 0.3


@dataclass(frozen=True)
class Known:
    """One tooth's numbers: mm, mm2, mm3; sides as in the report."""

    tooth: int
    depth_median: float
    depth_max: float
    sides: dict[str, float]
    crest_median: float
    bond: float
    volume: float
    gap: float


class Fine:
    """One tooth and its socket, finely sampled in the frame of the axis (rows along u, columns around)."""

    def __init__(self, pair: Pair, tooth: Tooth) -> None:
        angle = np.linspace(0, 2 * np.pi, AROUND, endpoint=False)
        margin = pair.margin(tooth, angle)
        start = side(tooth, np.full(AROUND, -99.0))
        rows = [np.full(AROUND, u) for u in np.concatenate([np.linspace(0, 1, 16), np.linspace(1, 2, 30)[1:]])]
        foot = side(tooth, margin - tooth.rim - 0.06)
        rows += [start + (foot - start) * part for part in np.linspace(0, 1, 30)[1:]]
        rows += [side(tooth, margin - tooth.rim - 0.06 * part) for part in np.linspace(1, 0, 20)[1:]]
        rows += [side(tooth, margin - tooth.rim * part) for part in np.linspace(1, 0, 50)[1:] if tooth.rim]
        rows += [side(tooth, margin + part) for part in np.linspace(0, 0.1, 40)[1:]]
        u = np.stack(rows)
        angle, margin = np.broadcast_to(angle, u.shape), np.broadcast_to(margin, u.shape)
        self.away = tooth.distance(u, angle, margin)
        self.tooth = tooth.world(tooth.surface(u, angle))
        self.socket = tooth.world(tooth.socket(u, angle, margin))
        self.over = self.socket[..., 2] - pair.gum(self.socket[..., :2].reshape(-1, 2)).reshape(u.shape)
        self.tooth_normal = _normals(self.tooth)
        self.socket_normal = -_normals(self.socket)
        self.turned = np.einsum("...k,...k", self.tooth_normal, self.socket_normal)
        rise = np.cumsum(self.over > 1e-6, axis=0) == 0
        self.wall = (self.away <= WITHIN) & (self.turned <= -TURNED) & rise
        self.below_gum = rise

    def margin(self) -> Floats:
        """Return the highest wall by column (n, 3): from the last row that is wall up to where the first of the wall's
        three limits is passed, straight between the rows (which are up to 0.004 mm apart there)."""
        columns = np.arange(AROUND)
        row = np.where(self.wall, self.socket[..., 2], -np.inf).argmax(axis=0)
        beyond = np.minimum(row + 1, len(self.over) - 1)
        part = np.ones(AROUND)
        for values, limit in ((self.over, 0.0), (self.away, WITHIN), (self.turned, -TURNED)):
            here, there = values[row, columns], values[beyond, columns]
            passed = there > limit
            part[passed] = np.minimum(part, (limit - here) / np.maximum(there - here, 1e-12))[passed]
        low, high = self.socket[row, columns], self.socket[beyond, columns]
        return np.asarray(low + np.clip(part, 0, 1)[:, None] * (high - low))


def known_of(pair: Pair, tooth: Tooth, buccal: Floats, mesial: Floats) -> Known:
    """Return one tooth's numbers; `buccal` and `mesial` are unit directions (2,)."""
    fine = Fine(pair, tooth)
    area = np.linalg.norm(_vectors(fine.socket), axis=-1)
    wall = fine.wall[:-1] & fine.wall[1:]
    middle = _cells(fine.socket)
    centre = np.average(middle[wall][:, :2], axis=0, weights=area[wall])
    margin = fine.margin()
    off = margin[:, :2] - centre
    angle = np.degrees(np.arctan2(off @ buccal, off @ mesial))
    order = np.argsort(angle)
    every = np.arange(0, 360, 0.5)
    lid = np.interp(every, angle[order], margin[order, 2], period=360)
    crest = np.interp(every, angle[order], _crests(pair, fine, margin, centre)[order], period=360)
    off_margin = margin[order, :2] - centre
    lowest = float(fine.tooth[..., 2].min())
    depth = lid - lowest

    def near(at: float, pick: "np.ufunc") -> float:
        return float(pick.reduce(depth[np.abs((every - at + 180) % 360 - 180) <= 30]))

    def over(points: Floats) -> Floats:
        off = points[..., :2] - centre
        at = np.degrees(np.arctan2(off @ buccal, off @ mesial))
        height = np.interp(at, every, lid, period=360)
        radius = np.interp(at, angle[order], np.linalg.norm(off_margin, axis=1), period=360)
        inner = np.clip(np.linalg.norm(off, axis=-1) / (0.8 * radius), 0, 1) ** 2
        return points[..., 2] - (lid.mean() + (height - lid.mean()) * inner)

    return Known(
        tooth.number,
        float(np.median(depth)),
        float(depth.max()),
        {
            "mesial": near(0, np.maximum),
            "distal": near(180, np.maximum),
            "buccal": near(90, np.minimum),
            "lingual": near(-90, np.minimum),
        },
        float(np.median(crest - lowest)),
        _below(fine.tooth, over(fine.tooth))[0],
        _below(fine.tooth, over(fine.tooth))[1] * -1 + _below(fine.socket, over(fine.socket), fine.below_gum)[1],
        _median(fine, area, wall),
    )


def _crests(pair: Pair, fine: Fine, margin: Floats, centre: Floats) -> Floats:
    """Return the highest point of the base within REACH outwards of each margin point."""
    way = margin[:, :2] - centre
    way /= np.linalg.norm(way, axis=1, keepdims=True)
    highest = margin[:, 2].copy()
    for part in np.linspace(0, REACH, 31):
        here = margin[:, :2] + way * part
        ground = pair.gum(here)
        at = np.linalg.norm(here - centre, axis=1)
        r = np.linalg.norm(fine.socket[..., :2] - centre, axis=-1)
        lip = np.where(fine.below_gum & (r <= at + 1e-9), fine.socket[..., 2], -np.inf).max(axis=0)
        edge = np.where(fine.below_gum, r, -np.inf).max(axis=0)
        highest = np.maximum(highest, np.where(at >= edge, ground, lip))
    return highest


def _median(fine: Fine, area: Floats, wall: Floats) -> float:
    away = _cells(fine.away[..., None])[..., 0][wall]
    order = np.argsort(away)
    gone = np.cumsum(area[wall][order])
    return float(away[order][np.searchsorted(gone, gone[-1] / 2)])


def _cells(grid: Floats) -> Floats:
    right = np.roll(grid, -1, axis=1)
    return (grid[:-1] + grid[1:] + right[:-1] + right[1:]) / 4


def _vectors(points: Floats) -> Floats:
    """Return the area vector of each cell of a grid, outwards."""
    right = np.roll(points, -1, axis=1)
    return np.cross(right[1:] - points[:-1], points[1:] - right[:-1]) / 2


def _normals(points: Floats) -> Floats:
    along = np.gradient(points, axis=0)
    around = (np.roll(points, -1, axis=1) - np.roll(points, 1, axis=1)) / 2
    normal = np.cross(around, along)
    normal[0] = normal[1]
    size = np.linalg.norm(normal, axis=-1, keepdims=True)
    normal = normal / np.maximum(size, 1e-300)
    # outwards, whichever hand the tooth's frame has: away from its middle
    middle = points.mean(axis=(0, 1))
    sign = np.sign(np.einsum("...k,...k", normal, points - middle)[50:].mean())
    return normal * sign


def _below(points: Floats, over: Floats, there: Floats | None = None) -> tuple[float, float]:
    """Return area and volume below the lid of a grid of points with heights over it."""
    height = _cells(over[..., None])[..., 0]
    keep = height < 0
    if there is not None:
        keep &= there[:-1]
    vector = _vectors(points)
    sign = np.sign(vector[:12, :, 2].sum())  # the floor looks down
    volume = float((height * -sign * vector[..., 2])[keep].sum())
    return float(np.linalg.norm(vector, axis=-1)[keep].sum()), abs(volume)


def all_known(pair: Pair) -> dict[int, Known]:
    """Return every tooth's numbers by its ISO 3950 number."""
    found = {}
    for tooth in pair.teeth:
        s = np.array(pair.s[tooth.number])
        way = pair.curve.along(s)
        buccal = np.array([way[1], -way[0]])
        later = tooth.number // 10 in ((3,) if pair.plan.jaw == "lower" else (1,))
        found[tooth.number] = known_of(pair, tooth, buccal, -way if later else way)
    return found
