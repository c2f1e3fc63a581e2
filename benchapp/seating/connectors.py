"""Connectors: where the arch is narrow, the plane of least area there, and what a cut would take."""

from dataclasses import dataclass
from itertools import product
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.signal import find_peaks

from benchapp.seating.curve import Curve
from benchapp.seating.faults import torn
from benchapp.seating.mesh import Floats, Mesh, any_of, even_edge, lengths, normals_and_areas
from benchapp.seating.sagitta import bends_of
from benchapp.seating.sections import Cut, Slab, areas_along, cut_depth

PROMINENCE: Final = 0.12  # of the section beside it, for a narrow place to part two teeth
REACH: Final = 0.8  # mm that the plane may lie from the narrowest section across the curve
LEAN: Final = np.tan(np.radians(28.0))  # how far it may lean from that section, as a slope
FLAT: Final = 1.02  # sections within this of the least are one run
RUN: Final = 3.0  # mm to either side that a run is followed
STEP: Final = 0.05  # mm between the sections of such a run
BEHIND: Final = 1.02  # times the least area so far: a search that is still so far behind is given up
SCAN: Final = 0.1  # mm between sections along the curve
SLAB: Final = REACH + LEAN * 5.0
HOLLOW: Final = 12.0  # times what facets bridge by their own turn
OPENS: Final = 0.4  # of what a section grows by over an edge
NECK: Final = 110.0  # degrees between facets that may still be a narrow neck's bend
BEND: Final = 0.6  # mm beside a section whose facets tell how the surface bends there


@dataclass(frozen=True)
class Connector:
    """One connector: its plane (point, unit normal along the row), its section, and what is taken from it.

    Lengths in mm, areas in mm2, volume in mm3; `outline` are the ends (n, 2, 3) of its loop's segments; `more`
    and `less` are by how much the smooth surface's section may differ from that of its facets (mm2). Where pieces of
    the arch stand apart there is no section: all is 0, and the plane leads through the gap.
    """

    s: float
    point: Floats
    normal: Floats
    area: float
    height: float
    thickness: float
    islands: tuple[float, ...]
    at_limit: bool
    cut_depth: float
    relief: float
    outline: Floats
    more: float
    less: float


def narrow_places(straight: Mesh) -> Floats:
    """Return the s of each narrow place between two teeth.

    `straight` is the arch in straightened coordinates. A place counts when its section is 12 % less than the lesser of
    the greatest ones to either side, also where there is none since the arch is in pieces.
    """
    s, area = areas_along(straight, SCAN)
    found, _how = find_peaks(
        -np.log(np.maximum(area, 1e-3)), prominence=-np.log(1 - PROMINENCE), plateau_size=(1, None)
    )
    return np.asarray(s[found])


def connector_at(
    mesh: Mesh, straight: Mesh, curve: Curve, s: float, kerf: float, leave: float, apart: bool = False
) -> Connector:
    """Return the connector near s: of all planes within 0.8 mm and 28 degrees, the one of least area.

    The largest loop of a section counts, less its holes; other loops are islands. Where the area hardly changes along
    the plane's normal (2 %), the plane stands in the middle of that run. Where pieces of the arch stand `apart`, all
    is 0, and the plane parts them.
    """
    near = np.abs(straight.vertices[:, 0] - s) < SLAB
    slab = Slab(mesh.part(any_of(near, mesh.triangles)))
    point, along, buccal = curve.place(s)
    cut = slab.cut(np.append(along, 0.0)[None], np.array([float(along @ point)]))
    level = (
        float((cut.first[:, 2].max() + cut.first[:, 2].min()) / 2)
        if len(cut.plane)
        else float(mesh.vertices[:, 2].mean())
    )
    search = _Search(slab, np.append(point, level), np.append(along, 0.0), np.append(buccal, 0.0))
    if apart or len(search.free):
        gap = search.gap()
        return _no_connector(s, search.centre + gap[0] * REACH * search.along, search.normal(gap))
    best = search.least()
    normal = search.normal(best)
    at = float(normal @ (search.centre + best[0] * REACH * search.along))
    least = float(search.area(best[None])[0])
    middle = _middle_of_run(slab, normal, at, least * FLAT)
    tilted = np.hypot(best[1], best[2])
    inner = search.area((best * [1, 0.95, 0.95])[None])[0] if tilted > 0.98 else 0.0
    edge = search.area((best * [0.9, 1, 1])[None])[0] if abs(best[0]) > 0.98 else 0.0
    return _measured(slab, normal, middle, least, bool(max(inner, edge) > 1.001 * least), s, kerf, leave)


def _no_connector(s: float, point: Floats, normal: Floats) -> Connector:
    """Return what stands for a connector between two pieces of the arch."""
    return Connector(s, point, normal, 0.0, 0.0, 0.0, (), False, 0.0, 0.0, np.stack([point, point])[None], 0.0, 0.0)


def _middle_of_run(slab: Slab, normal: Floats, at: float, most: float) -> float:
    """Return the offset in the middle of the run about `at` of sections that are no more than `most`."""
    for reach in (RUN / 6, RUN):
        steps = np.arange(-round(reach / STEP), round(reach / STEP) + 1, dtype=np.float64)
        offsets = at + steps * STEP
        near = slab.beside(normal, at, reach + STEP)
        areas = near.cut(np.repeat(normal[None], len(offsets), axis=0), offsets).areas().main
        low, high = _run(areas, len(offsets) // 2, most)
        if low > 0 and high < len(offsets) - 1:
            break
    return float(offsets[low] + offsets[high]) / 2 if high - low > 4 else at


def _run(areas: Floats, start: int, most: float) -> tuple[int, int]:
    """Return the first and last index about `start` of the run of sections that are there and not above `most`."""
    fine = (areas <= most) & (areas > 0)
    low = high = start
    while low > 0 and fine[low - 1]:
        low -= 1
    while high < len(areas) - 1 and fine[high + 1]:
        high += 1
    return low, high


def _measured(
    slab: Slab, normal: Floats, middle: float, least: float, at_limit: bool, s: float, kerf: float, leave: float
) -> Connector:
    slab = slab.beside(normal, middle, kerf / 2 + BEND)
    cut = slab.cut(normal[None], np.array([middle]))
    if not len(cut.plane):
        raise torn()
    loop = cut.loops()
    main = loop == int(np.argmax(np.bincount(loop, weights=cut.signed())))
    first, second = cut.first[main], cut.second[main]
    across = np.cross([0.0, 0.0, 1.0], normal)
    across /= np.linalg.norm(across)
    flat = [np.column_stack([ends @ across, ends[:, 2]]) for ends in (first, second)]
    every = np.concatenate(flat)
    slope = max(1e-6, float(np.sqrt(1 - normal[2] ** 2)))  # heights in the plane, seen along the axis
    islands = tuple(float(area) for area in cut.areas().islands(0) if area > 0.01)
    kerfs = middle + np.linspace(-kerf / 2, kerf / 2, 21)
    over = np.maximum(slab.cut(np.repeat(normal[None], 21, axis=0), kerfs).areas().main - leave, 0)
    point = first.mean(axis=0)
    return Connector(
        s,
        point,
        normal,
        least,
        float(np.ptp(every[:, 1])),
        float(np.ptp(every[:, 0])),
        islands,
        at_limit,
        cut_depth(flat[0], flat[1], least * slope, leave * slope),
        float(np.trapezoid(over, kerfs)),
        np.stack([first, second], axis=1),
        *_of_facets(slab, cut, main, normal, middle),
    )


def _of_facets(slab: Slab, cut: Cut, main: NDArray[np.bool_], normal: Floats, middle: float) -> tuple[float, float]:
    """Return by how much the smooth surface's section may be more, and less, than that of the facets, in mm2.

    More where it bulges over them. Where it is hollow along the row, facets bridge a neck or a cleft; then the section
    is less by no more than a part of what it grows by over one facet's edge (the parts: from pairs of known truth).
    """
    triangle = cut.triangle[main]
    facing, areas = normals_and_areas(slab.mesh.corners[triangle])
    slant = np.sqrt(np.maximum(1 - (facing @ normal) ** 2, 0.1))
    length = lengths(cut.second[main] - cut.first[main])
    grown = bends_of(slab.mesh, NECK).rise[triangle] / slant * length
    edge = even_edge(areas)
    beside = slab.cut(np.repeat(normal[None], 3, axis=0), middle + np.array([-edge, 0, edge])).areas().main
    opens = max(0.0, float((beside[0] + beside[2]) / 2 - beside[1]))
    bulge = float(grown[grown > 0].sum())
    hollow = -float(grown[grown < 0].sum())
    return bulge, min(HOLLOW * max(0.0, hollow - bulge), OPENS * opens)


class _Search:
    """Looks for the plane of least area: (offset, lean buccally, lean along the axis), each 1 at its bound."""

    def __init__(self, slab: Slab, centre: Floats, along: Floats, buccal: Floats) -> None:
        self.slab, self.centre, self.along, self.buccal = slab, centre, along, buccal
        self.axis = np.array([0.0, 0.0, 1.0])
        cut = self.cut(_NET, slab)
        self.areas = _or_endless(cut)
        self.free = _NET[np.bincount(cut.plane, minlength=len(_NET)) == 0]  # planes that cut nothing

    def normal(self, at: Floats) -> Floats:
        """Return the unit normal of a plane."""
        way = self.along + LEAN * (at[1] * self.buccal + at[2] * self.axis)
        return np.asarray(way / np.linalg.norm(way))

    def cut(self, at: Floats, slab: Slab) -> Cut:
        """Return what planes (p, 3) cut of a slab."""
        way = self.along + LEAN * (at[:, 1:2] * self.buccal + at[:, 2:] * self.axis)
        normals = way / np.linalg.norm(way, axis=1, keepdims=True)
        return slab.cut(normals, normals @ self.centre + at[:, 0] * REACH * (normals @ self.along))

    def area(self, at: Floats, slab: Slab | None = None) -> Floats:
        """Return the areas of planes (p, 3), cut from a slab; a plane that misses the arch counts as endless."""
        return _or_endless(self.cut(at, slab or self.slab))

    def beside(self, at: Floats, radius: float) -> Slab:
        """Return what planes that differ from one by no more than a radius may cut."""
        normal = self.normal(at)
        away = lengths(self.slab.mesh.vertices - self.centre)
        reach = 1.1 * radius * (REACH + np.sqrt(2) * LEAN * (away + REACH))
        return self.slab.beside(normal, float(normal @ (self.centre + at[0] * REACH * self.along)), reach)

    def gap(self) -> Floats:
        """Return the plane in the middle of those that cut nothing; where all cut something, the one of least area."""
        if not len(self.free):
            return self.least()
        return np.asarray(self.free[int(np.argmin(np.abs(self.free - self.free.mean(axis=0)).sum(axis=1)))])

    def least(self) -> Floats:
        """Return the plane of least area: a coarse net, then a quadric laid through ever closer planes, twice."""
        areas = self.areas
        best = int(np.argmin(areas))
        far = np.flatnonzero(np.abs(_NET - _NET[best]).max(axis=1) > 0.5)
        other = far[int(np.argmin(areas[far]))]
        end, least = self._closer(_NET[best], float(areas[best]), np.inf)
        another, area = self._closer(_NET[other], float(areas[other]), least)
        return another if area < least else end

    def _closer(self, at: Floats, value: float, beat: float) -> tuple[Floats, float]:
        """Return the plane of least area near one of area `value`, and its area; less closely where that will not beat
        another."""
        radius = 0.4
        while radius > (0.02 if value < BEHIND * beat else 0.2):
            slab = self.beside(at, radius)
            tried = _bounded(at + radius * _STAR)
            areas = self.area(tried, slab)
            guess = _bounded((at + radius * _lowest(areas))[None])
            candidates = np.concatenate([tried, guess])
            areas = np.append(areas, self.area(guess, slab))
            k = int(np.argmin(areas))
            if areas[k] < value * (1 - 1e-5):
                moved = float(np.abs(candidates[k] - at).max())
                at, value = candidates[k], float(areas[k])
                radius *= 0.9 if moved > 0.8 * radius else 0.4
            else:
                radius *= 0.4
        return at, value


def _or_endless(cut: Cut) -> Floats:
    found = cut.areas().main
    return np.where(found > 1e-6, found, np.inf)


def _bounded(at: Floats) -> Floats:
    """Return planes moved back within their bounds."""
    at = np.clip(at, -1, 1)
    size = np.maximum(np.hypot(at[:, 1], at[:, 2]), 1e-12)
    at[:, 1:] *= np.minimum(1, 1 / size)[:, None]
    return at


_LEANS: Final = (-0.9, -0.45, 0, 0.45, 0.9)
_NET: Final = np.array(
    [p for p in product((-1, -0.5, 0, 0.5, 1), _LEANS, _LEANS) if np.hypot(p[1], p[2]) <= 1], dtype=float
)
_STAR: Final = np.array([p for p in product((-1, 0, 1), repeat=3) if sum(map(abs, p)) in (1, 2)], dtype=float)
_BASIS: Final = np.column_stack(
    [
        np.ones(len(_STAR)),
        _STAR,
        _STAR**2,
        _STAR[:, 0] * _STAR[:, 1],
        _STAR[:, 0] * _STAR[:, 2],
        _STAR[:, 1] * _STAR[:, 2],
    ]
)
_FIT: Final = np.linalg.pinv(_BASIS)


def _lowest(areas: Floats) -> Floats:
    """Return where a quadric through the star's areas is lowest, within the star; else its best point."""
    if not np.isfinite(areas).all():
        return np.asarray(_STAR[int(np.argmin(areas))])
    k = _FIT @ areas
    hessian = np.array([[2 * k[4], k[7], k[8]], [k[7], 2 * k[5], k[9]], [k[8], k[9], 2 * k[6]]])
    values, vectors = np.linalg.eigh(hessian)
    if values[0] <= 1e-9:
        values = np.maximum(values, max(1e-9, 0.05 * values[-1]))
    step = -vectors @ ((vectors.T @ k[1:4]) / values)
    return np.asarray(np.clip(step, -1, 1))
