"""Whether the arch goes in along the axis: where base lies above arch, seen along it."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from benchapp.seating.mesh import Floats, Ints, bounds, box_of, seen_of

COLUMN: Final = 0.05  # mm
COARSE: Final = 0.15  # mm: cells in which it is looked first whether anything may cross
FINE: Final = 0.01  # mm, about the widest places
HIGHER: Final = 0.002  # mm: less is rounding
PLACES: Final = 60  # that are measured at most
ABOUT: Final = 1.5  # columns by which the depth of a place among its columns may be off from its true one
APART: Final = 10  # columns between the rims of two places
CHUNK: Final = 3_000_000
MOST_DRAWN: Final = 20_000_000  # cells under all triangles: the demo's jaws have 4 million, a tangled mesh any number
MOST_FINE: Final = 2_000_000  # the same about one place: there they have up to 170,000


@dataclass(frozen=True)
class Overhang:
    """A place where base lies above arch: the base's highest point there (3,), and the inscribed width in mm."""

    point: Floats
    width: float


@dataclass(frozen=True)
class Overhangs:
    """Where base lies above arch: columns (mm wide) of a grid from `low` on, by their places (n, 2) in it, how many
    columns deep each lies among the others, and the triangles that are looked at there."""

    column: float
    low: Floats
    cells: Ints
    depths: Floats
    roofs: Floats
    floors: Floats

    @property
    def middles(self) -> Floats:
        """The middles (n, 2) of the columns."""
        return np.asarray(self.low + (self.cells + 0.5) * self.column)

    def widest(self, among: Ints, most: int = PLACES) -> Overhang | None:
        """Return the widest place about some columns (one at least), by columns of 0.01 mm; None where they show none.

        Places that lie less deep than the deepest by `ABOUT` columns may be wider still, and are measured too: at most
        so many.
        """
        depths, middles = self.depths[among].copy(), self.middles[among]
        inside = _Inside.of(self.cells[among])
        least = depths.max() - ABOUT
        found: list[Overhang] = []
        for _place in range(most):
            at = int(depths.argmax())
            if depths[at] <= max(least, 0.0):
                break
            apart = (depths[at] + APART) * self.column
            reach = apart + (depths[at] + ABOUT) * self.column
            if place := self._about(middles[at], reach, inside):
                found.append(place)
            depths[np.abs(middles - middles[at]).max(axis=1) < apart] = 0
        return max(found, key=lambda one: one.width, default=None)

    def _about(self, middle: Floats, reach: float, inside: "_Inside") -> Overhang | None:
        """Return the widest place of a window whose middle lies inside, by fine columns; None where they show none."""
        low, high = middle - reach, middle + reach
        cell = _bearable(self.roofs, self.floors, low, high, FINE, MOST_FINE)
        heights = _heights(self.roofs, self.floors, low, high, cell)
        inner = ndimage.distance_transform_edt(np.pad(_blocked(heights), 1))[1:-1, 1:-1]
        fine = [low[k] + (np.arange(inner.shape[k]) + 0.5) * cell for k in range(2)]
        inner = np.where(inside.at(*((fine[k] - self.low[k]) / self.column for k in range(2))), inner, 0)
        at = np.unravel_index(int(np.argmax(inner)), inner.shape)
        if inner[at] <= 0:
            return None
        point = np.append(low + (np.array(at) + 0.5) * cell, heights[0][at])
        return Overhang(point, (2 * float(inner[at]) - 1) * cell)


@dataclass(frozen=True)
class _Inside:
    """Some columns of a grid and those round about them, as a mask that begins at a column."""

    first: Ints
    mask: NDArray[np.bool_]

    @classmethod
    def of(cls, cells: Ints) -> "_Inside":
        first = cells.min(axis=0) - 2
        mask = np.zeros(cells.max(axis=0) - first + 3, dtype=bool)
        mask[tuple((cells - first).T)] = True
        return cls(first, ndimage.binary_dilation(mask, np.ones((3, 3))))  # its edge stays empty

    def at(self, one: Floats, two: Floats) -> NDArray[np.bool_]:
        """Tell which points of a grid (coordinates in columns) are inside."""
        rows = (
            np.clip(np.floor(x).astype(np.int64) - self.first[k], 0, self.mask.shape[k] - 1)
            for k, x in enumerate((one, two))
        )
        return np.asarray(self.mask[np.ix_(*rows)])


def overhangs(base: Floats, arch: Floats) -> Overhangs | None:
    """Return where base lies above arch, of triangles (n, 3, 3) of both in the frame of the axis; None where it nowhere
    does. It is looked for by columns of 0.05 mm."""
    roofs = base[seen_of(base) > 0]
    floors = arch[seen_of(arch) < 0]
    if not len(roofs) or not len(floors):
        return None
    roofs = roofs[bounds(roofs)[1][:, 2] > floors[..., 2].min()]
    floors = floors[bounds(floors)[0][:, 2] < roofs[..., 2].max(initial=-np.inf)]
    if not len(roofs) or not len(floors):
        return None
    low, high = box_of(floors[..., :2])
    roofs, floors = _crossing(roofs, floors, low, high)
    if not len(roofs) or not len(floors):
        return None
    column = _bearable(roofs, floors, low, high, COLUMN, MOST_DRAWN)
    blocked = _blocked(_heights(roofs, floors, low, high, column))
    if not blocked.any():
        return None
    depth = ndimage.distance_transform_edt(np.pad(blocked, 1))[1:-1, 1:-1]
    return Overhangs(column, low, np.argwhere(blocked), depth[blocked], roofs, floors)


def undercut_of(found: Overhangs | None) -> Overhang | None:
    """Return the widest place where base lies above arch; None where it nowhere does."""
    return found.widest(np.arange(len(found.depths))) if found else None


def _crossing(roofs: Floats, floors: Floats, low: Floats, high: Floats) -> tuple[Floats, Floats]:
    """Return the triangles that touch a coarse cell in which a roof may reach above a floor: no other is blocked."""
    shape = tuple(int(n) for n in np.ceil((high - low) / COARSE) + 1)
    heights = []
    cells = []
    for corners, sign in ((roofs, 1.0), (floors, -1.0)):
        least, most = bounds(corners[..., :2])
        first = np.clip(np.floor((least - low) / COARSE), 0, shape).astype(np.int64)
        last = np.clip(np.floor((most - low) / COARSE), -1, np.array(shape) - 1).astype(np.int64)
        owner, i, j = _cells(first, last)
        top = np.full(shape[0] * shape[1], -np.inf)
        z = (sign * corners[..., 2]).max(axis=1)
        np.maximum.at(top, i * shape[1] + j, z[owner])
        heights.append(top)
        cells.append((owner, i * shape[1] + j))
    maybe = heights[0] > -heights[1]
    found = []
    for corners, (owner, cell) in zip((roofs, floors), cells, strict=True):
        keep = np.zeros(len(corners), dtype=bool)
        keep[owner[maybe[cell]]] = True
        found.append(corners[keep])
    return found[0], found[1]


def _cells(first: NDArray[np.int64], last: NDArray[np.int64]) -> tuple[NDArray[np.int64], ...]:
    """Return every cell (i, j) of boxes of cells from `first` to `last` (n, 2), and the number of its box."""
    size = np.maximum(last - first + 1, 0)
    many = size[:, 0] * size[:, 1]
    owner = np.repeat(np.arange(len(first)), many)
    within = np.arange(len(owner)) - np.repeat(np.cumsum(many) - many, many)
    return owner, first[owner, 0] + within // size[owner, 1], first[owner, 1] + within % size[owner, 1]


def _heights(roofs: Floats, floors: Floats, low: Floats, high: Floats, cell: float) -> tuple[Floats, Floats]:
    """Return for the columns of a window the base's highest point and the arch's lowest."""
    shape = tuple(int(n) for n in np.ceil((high - low) / cell) + 1)
    return height_map(roofs, low, shape, cell), -height_map(floors * [1.0, 1.0, -1.0], low, shape, cell)


def _blocked(heights: tuple[Floats, Floats]) -> NDArray[np.bool_]:
    """Tell in which columns the base's highest point lies above the arch's lowest."""
    top, bottom = heights
    return np.asarray(top > bottom + HIGHER)


def _bearable(roofs: Floats, floors: Floats, low: Floats, high: Floats, cell: float, cells: int) -> float:
    """Return the cell, wider where triangles are so large (tangled) that their boxes would hold more than `cells`."""
    area = 0.0
    for corners in (roofs, floors):
        least, most = bounds(corners[..., :2])
        area += float(np.clip(np.minimum(most, high) - np.maximum(least, low), 0, None).prod(axis=1).sum())
    return max(cell, float(np.sqrt(area / cells)))


def height_map(corners: Floats, low: Floats, shape: tuple[int, ...], cell: float) -> Floats:
    """Return the greatest height of triangles (n, 3, 3) over the middle of each cell; -inf where there is none."""
    found = np.full(shape[0] * shape[1], -np.inf)
    flat = (corners[..., :2] - low) / cell - 0.5
    least, most = bounds(flat)
    first = np.clip(np.ceil(least - 1e-9), 0, None).astype(np.int64)
    last = np.minimum(np.floor(most + 1e-9), np.array(shape) - 1).astype(np.int64)
    many = np.maximum(last - first + 1, 0).prod(axis=1)
    keep = np.flatnonzero(many)
    gone = np.cumsum(many[keep])
    start = 0
    while start < len(keep):
        end = max(start + 1, int(np.searchsorted(gone, (gone[start - 1] if start else 0) + CHUNK)))
        some = keep[start:end]
        _draw(found, flat[some], corners[some][..., 2], first[some], last[some], shape[1])
        start = end
    return found.reshape(shape[0], shape[1])


def _draw(
    found: Floats, flat: Floats, heights: Floats, first: NDArray[np.int64], last: NDArray[np.int64], columns: int
) -> None:
    """Raise the cells that lie in triangles to their heights."""
    owner, i, j = _cells(first, last)
    a, b, c = flat[:, 0], flat[:, 1] - flat[:, 0], flat[:, 2] - flat[:, 0]
    area = b[:, 0] * c[:, 1] - b[:, 1] * c[:, 0]
    area = np.where(area == 0, np.inf, area)[owner]
    x, y = i - a[owner, 0], j - a[owner, 1]
    v = (x * c[owner, 1] - y * c[owner, 0]) / area
    w = (b[owner, 0] * y - b[owner, 1] * x) / area
    inside = (v >= -1e-9) & (w >= -1e-9) & (v + w <= 1 + 1e-9)
    owner, v, w = owner[inside], v[inside], w[inside]
    z = heights[owner, 0] * (1 - v - w) + heights[owner, 1] * v + heights[owner, 2] * w
    np.maximum.at(found, i[inside] * columns + j[inside], z)
