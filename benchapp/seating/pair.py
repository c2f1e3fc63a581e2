"""Two files become a pair: their unit, their roles, whether they meet, and the axis along which the arch lifts off."""

import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, Literal, TypeVar

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from benchapp.core.words import _
from benchapp.seating.abreast import abreast
from benchapp.seating.faults import Unusable, joined
from benchapp.seating.formats import read_mesh
from benchapp.seating.mesh import Floats, Mesh, box_of, middles_of, normals_and_areas
from benchapp.seating.near import Close, Facing, close_parts, facing_sets
from benchapp.seating.rim import TURNED, WITHIN
from benchapp.seating.sound import holds, sound

Found = TypeVar("Found")
Unit = Literal["mm", "cm", "m", "inch"]
AxisSource = Literal["given", "floors", "margins"]
SIZES: Final[dict[Unit, float]] = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "inch": 25.4}
JAW_LEAST, JAW_MOST = 45.0, 125.0  # mm: diagonal of a part of a jaw
ROW_LEAST = 13.0  # mm: diagonal of the parts of two teeth
NEAR: Final = 1.0  # mm about the other part that are looked at
MEETS: Final = 4.0  # mm2 of base that faces the arch: less is no pair
AROUND: Final = 3.5  # mm in which a facing surface shows whether it bulges or is hollow
SOME: Final = 1500  # facing triangles, evenly chosen, that show it
OUT: Final = 45.0  # degrees that an axis may lie from where the sockets open
FLOOR: Final = 25.0  # degrees from where the sockets open: what may be a floor
FLOOR_LIKE: Final = 2.0  # degrees in which flat floors agree
FLOOR_PART: Final = 0.6
MARGINS_SPREAD: Final = 4.5  # degrees: 2 of 79 axes from margins were farther off on blended shapes
LEAST_SPREAD: Final = 0.05  # degrees
LEANS: Final = 1.4  # times what margins that all lean alike would turn the axis by


@dataclass(frozen=True)
class Axis:
    """The way out of the sockets: unit vector in the files' frame, where it comes from, how sure (degrees)."""

    way: Floats
    source: AxisSource
    spread: float


@dataclass(frozen=True)
class Part:
    """One sound part in mm, whether its surface is closed, and its file: SHA-256 and count of triangles."""

    mesh: Mesh
    closed: bool
    sha256: str
    count: int


@dataclass(frozen=True)
class Pair:
    """A sound pair in the files' own frame, where each faces the other, and what is to be warned of."""

    base: Part
    arch: Part
    close: tuple[Close, Close]
    facing: Facing
    unit: Unit
    warnings: tuple[str, ...]

    @property
    def triangles(self) -> int:
        """How many triangles both parts have."""
        return len(self.base.mesh.triangles) + len(self.arch.mesh.triangles)


def pair_of(base: bytes, arch: bytes, unit: Unit | None) -> Pair:
    """Return the pair of two files; Unusable with a sentence for every fault that can be told at once.

    `unit` is what the person says the files are in, whatever a 3MF states; left out, a 3MF is in the unit that it
    states, and all must look like mm.
    """
    if base == arch:
        raise Unusable(_("Base and arch are the same file. Choose the file of the base and the file of the arch."))
    names = {"base": _("base"), "arch": _("arch")}
    data = {"base": base, "arch": arch}
    # one after the other: the tree of a 3MF takes far more memory than its triangles
    read = _both(lambda part: read_mesh(data[part], names[part], own_unit=unit is None), 0)
    taken = unit or "mm"
    warnings = _units({part: _diagonal(corners) for part, corners in read.items()}, taken, unit is not None)

    def made(part: str) -> tuple[Part, list[str]]:
        mesh, closed, said = sound(read[part], names[part], SIZES[taken])
        return Part(mesh, closed, hashlib.sha256(data[part]).hexdigest(), len(read[part])), said

    parts = {}
    for part, (one, said) in _both(made, sum(map(len, read.values()))).items():
        parts[part] = one
        warnings += said
    _told_apart(parts["base"].mesh, parts["arch"].mesh)
    close, facing = meeting(parts["base"].mesh, parts["arch"].mesh)
    return Pair(parts["base"], parts["arch"], close, facing, taken, tuple(warnings))


def _told_apart(base: Mesh, arch: Mesh) -> None:
    """Unusable where one of the files holds the other part too."""
    in_base, in_arch = holds(base, arch), holds(arch, base)
    if in_base and in_arch:
        raise Unusable(_("Both files hold the same surfaces. Export the base into one file and the arch into another."))
    if in_base:
        raise Unusable(_("The file of the base holds the arch too. Export each part into a file of its own."))
    if in_arch:
        raise Unusable(_("The file of the arch holds the base too. Export each part into a file of its own."))


def _both(work: Callable[[str], Found], triangles: int) -> dict[str, Found]:
    """Return what `work` makes of the words base and arch, of so many triangles; Unusable with the faults of both."""

    def tried(part: str) -> Found | Unusable:
        try:
            return work(part)
        except Unusable as fault:
            return fault

    found: dict[str, Found] = {}
    faults = []
    for part, one in zip(("base", "arch"), abreast(tried, ("base", "arch"), triangles), strict=True):
        if isinstance(one, Unusable):
            faults.append(one)
        else:
            found[part] = one
    if both := joined(faults):
        raise both
    return found


def _diagonal(corners: NDArray[np.float32]) -> float:
    low, high = box_of(corners)
    return float(np.linalg.norm(high.astype(np.float64) - low))


def _units(diagonals: dict[str, float], unit: Unit, said: bool) -> list[str]:
    """Check that both parts are of a jaw's size; return warnings."""
    likely = {
        part: [name for name, size in SIZES.items() if JAW_LEAST <= diagonal * size <= JAW_MOST]
        for part, diagonal in diagonals.items()
    }
    sizes = {part: f"{diagonal:.4g}" for part, diagonal in diagonals.items()}
    mm = {part: diagonal * SIZES[unit] for part, diagonal in diagonals.items()}
    if all(ROW_LEAST <= size <= JAW_MOST for size in mm.values()):
        if min(mm.values()) >= JAW_LEAST:
            return []
        return [
            _(
                "The parts are small for a whole jaw (diagonals {base} and {arch}): are they of a few teeth only?",
                **sizes,
            )
        ]
    if likely["base"] and likely["arch"] and not set(likely["base"]) & set(likely["arch"]):
        raise Unusable(
            _(
                "Base and arch are in two units: the base looks like {one}, the arch like {other} (diagonals {base} "
                "and {arch}). Export both in mm.",
                one=likely["base"][0],
                other=likely["arch"][0],
                **sizes,
            )
        )
    both = [name for name in likely["base"] if name in likely["arch"]]
    if both:
        raise Unusable(
            _(
                "The files are not in {unit}: with diagonals of {base} and {arch} they look like {likely}. "
                "Export them in mm, or say which unit they are in.",
                unit=unit,
                likely=both[0],
                **sizes,
            )
        )
    raise Unusable(
        _(
            "Base and arch have diagonals of {base} and {arch}; parts of one jaw measure 45 to 125 mm. "
            "Export base and arch of one jaw in mm.",
            **sizes,
        )
    )


def meeting(base: Mesh, arch: Mesh) -> tuple[tuple[Close, Close], Facing]:
    """Return where the parts come near and face each other; Unusable when they do not meet, or are swapped."""
    (low, high), (lower, higher) = box_of(base.vertices), box_of(arch.vertices)
    apart = (low > higher + WITHIN) | (lower > high + WITHIN)
    close = None if apart.any() else close_parts(base, arch, NEAR)
    facing = facing_sets(close, WITHIN, TURNED) if close else None
    if close is None or facing is None or normals_and_areas(base.some(facing.base))[1].sum() < MEETS:
        raise Unusable(
            _(
                "Base and arch do not meet. Export both in the assembled position, from one scene, neither mirrored "
                "nor turned over."
            )
        )
    if _bulges(base.some(facing.base)) and not _bulges(arch.some(facing.arch)):
        raise Unusable(
            _("Base and arch are swapped: the file given as base has the teeth. Give them the other way round.")
        )
    return close, facing


def _bulges(corners: Floats) -> bool:
    """Tell whether facing triangles bulge like teeth or are hollow like sockets: by the sum of A n·(c - middle)."""
    normals, areas = normals_and_areas(corners)
    middles = middles_of(corners)
    some = np.arange(0, len(middles), max(1, len(middles) // SOME))
    pairs = cKDTree(middles[some]).query_pairs(AROUND, output_type="ndarray")
    every = np.arange(len(some))
    at, near = np.concatenate([pairs, pairs[:, ::-1], np.column_stack([every, every])]).T
    near = some[near]
    weight = areas[near] + 1e-12
    total = np.bincount(at, weights=weight)
    centre = np.stack([np.bincount(at, weights=weight * middles[near, k]) / total for k in range(3)], axis=1)
    return bool(np.sum(areas[some] * np.einsum("ij,ij->i", normals[some], middles[some] - centre)) > 0)


def axis_of(pair: Pair, given: tuple[float, float, float] | None, is_line: bool = False) -> Axis:
    """Return the axis: what the person gave, else the normal of flat socket floors, else of the sockets' openings.

    Unusable when a given axis does not lead out of the sockets; one that `is_line` is turned round for that.
    """
    normals, areas = normals_and_areas(pair.base.mesh.part(pair.facing.base).corners)
    opening = (normals * areas[:, None]).sum(axis=0)
    opening /= max(float(np.linalg.norm(opening)), 1e-12)
    if given is not None:
        way = np.array(given, dtype=np.float64)
        return _given(-way if is_line and way @ opening < 0 else way, opening)
    floor = normals @ opening > np.cos(np.radians(FLOOR))
    way = opening
    for reach in (12.0, 6.0, 4.0, FLOOR_LIKE, FLOOR_LIKE):
        near = floor & (normals @ way > np.cos(np.radians(reach)))
        if not near.any():
            break
        way = (normals[near] * areas[near, None]).sum(axis=0)
        way /= np.linalg.norm(way)
    alike = floor & (normals @ way > np.cos(np.radians(FLOOR_LIKE)))
    if floor.any() and areas[alike].sum() > FLOOR_PART * areas[floor].sum():
        off = 1 - np.clip(normals[alike] @ way, -1, 1) ** 2
        return Axis(way, "floors", max(LEAST_SPREAD, float(np.degrees(np.sqrt(np.average(off, weights=areas[alike]))))))
    return Axis(opening, "margins", MARGINS_SPREAD)


def surer(axis: Axis, openings: Floats, buccal: Floats) -> Axis:
    """Return an axis from margins with how sure the sockets make it; others as they are.

    Where each socket opens (n, 3) and its buccal way (n, 2), in the frame of the axis. Margins that all lean the same
    way, buccally say, turn the axis, and the more a row bends the more they part its openings: as far off as such a
    lean would make it the axis may be.
    """
    if axis.source != "margins":
        return axis
    apart, of_row = _apart(openings[:, :2] / np.maximum(openings[:, 2:], 1e-9)), _apart(buccal)
    if not of_row > 0:
        return axis
    leant = LEANS * apart * float(np.linalg.norm(buccal.mean(axis=0))) / of_row
    spread = float(np.clip(np.degrees(np.arctan(leant)), LEAST_SPREAD, MARGINS_SPREAD))
    return Axis(axis.way, axis.source, spread)


def _apart(ways: Floats) -> float:
    return float(np.sqrt(((ways - ways.mean(axis=0)) ** 2).sum() / max(len(ways) - 1, 1)))


def _given(axis: Floats, opening: Floats) -> Axis:
    size = float(np.linalg.norm(axis))
    if not np.isfinite(axis).all() or size < 1e-9:
        raise Unusable(_("The axis has no direction. Give three numbers, such as 0,0,1."))
    way = axis / size
    angle = float(np.degrees(np.arccos(np.clip(way @ opening, -1, 1))))
    if angle > 180 - OUT:
        raise Unusable(
            _(
                "The axis points into the sockets ({angle} degrees from where they open), or the base is turned over. "
                "Give the opposite axis: it leads out of the sockets.",
                angle=f"{angle:.0f}",
            )
        )
    if angle > OUT:
        raise Unusable(
            _(
                "The axis lies {angle} degrees from where the sockets open. "
                "Give the way along which the arch lifts off.",
                angle=f"{angle:.0f}",
            )
        )
    return Axis(way, "given", 0.0)
