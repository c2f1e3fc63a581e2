"""Whether the arch goes in along the axis: where base lies above arch, seen along it."""

from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from benchapp.seating.mesh import Floats, bounds

COLUMN: Final = 0.05  # mm
COARSE: Final = 0.15  # mm: cells in which it is looked first whether anything may cross
FINE: Final = 0.01  # mm, about the widest places
HIGHER: Final = 0.002  # mm: less is rounding
PLACES: Final = 6
CHUNK: Final = 3_000_000
MOST_DRAWN: Final = 20_000_000  # cells under all triangles: the demo's jaws have 4 million, a tangled mesh any number
MOST_FINE: Final = 2_000_000  # the same about one place: there they have up to 170,000


def undercut_width(base: Floats, arch: Floats) -> float:
    """Return the widest inscribed width of where base lies above arch, in mm; 0 where it nowhere does.

    Triangles (n, 3, 3) of both in the frame of the axis. Columns of 0.05 mm find the places, columns of 0.01 mm measure
    the widest of them.
    """
    roofs = base[_seen(base) > 0]
    floors = arch[_seen(arch) < 0]
    if not len(roofs) or not len(floors):
        return 0.0
    roofs = roofs[bounds(roofs)[1][:, 2] > floors[..., 2].min()]
    floors = floors[bounds(floors)[0][:, 2] < roofs[..., 2].max(initial=-np.inf)]
    if not len(roofs) or not len(floors):
        return 0.0
    low, high = floors[..., :2].min(axis=(0, 1)), floors[..., :2].max(axis=(0, 1))
    roofs, floors = _crossing(roofs, floors, low, high)
    if not len(roofs) or not len(floors):
        return 0.0
    column = _bearable(roofs, floors, low, high, COLUMN, MOST_DRAWN)
    blocked = _blocked(roofs, floors, low, high, column)
    if not blocked.any():
        return 0.0
    depth = ndimage.distance_transform_edt(np.pad(blocked, 1))[1:-1, 1:-1]
    widest = 0.0
    for _place in range(PLACES):
        at = np.unravel_index(int(np.argmax(depth)), depth.shape)
        size = float(depth[at])
        if size <= 0:
            break
        reach = (size + 3) * column
        middle = low + (np.array(at) + 0.5) * column
        cell = _bearable(roofs, floors, middle - 2 * reach, middle + 2 * reach, FINE, MOST_FINE)
        fine = _blocked(roofs, floors, middle - 2 * reach, middle + 2 * reach, cell)
        if fine.any():
            inner = ndimage.distance_transform_edt(np.pad(fine, 1))
            widest = max(widest, (2 * float(inner.max()) - 1) * cell)
        far = int(size) + 20
        depth[max(0, at[0] - far) : at[0] + far, max(0, at[1] - far) : at[1] + far] = 0
    return widest


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


def _seen(corners: Floats) -> Floats:
    """Return twice the area of triangles seen along the axis: positive when they look out of the sockets."""
    a, b = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    return np.asarray(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])


def _blocked(roofs: Floats, floors: Floats, low: Floats, high: Floats, cell: float) -> NDArray[np.bool_]:
    """Return the columns of a window in which the base's highest point lies above the arch's lowest."""
    shape = tuple(int(n) for n in np.ceil((high - low) / cell) + 1)
    top = height_map(roofs, low, shape, cell)
    bottom = -height_map(floors * [1.0, 1.0, -1.0], low, shape, cell)
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
