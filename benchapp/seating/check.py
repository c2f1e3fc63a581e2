"""The seating check: two STL files and what is asked of them become a report."""

from dataclasses import dataclass
from typing import Final

from benchapp.core.findings import MOST_OVERLAP
from benchapp.core.teeth import in_row
from benchapp.core.words import _
from benchapp.seating.clearance import least_clearance, overlap_of, shallow_overlap
from benchapp.seating.curve import frame_of
from benchapp.seating.faults import Unusable
from benchapp.seating.finer import finer, round_about, unevenness
from benchapp.seating.measure import Given, Measured, Progress, edge_of, measure
from benchapp.seating.mesh import Floats, Mesh
from benchapp.seating.near import Facing
from benchapp.seating.noise import calmed, noise_of
from benchapp.seating.numbers import numbered
from benchapp.seating.pair import Pair, axis_of, pair_of
from benchapp.seating.report import Report
from benchapp.seating.tell import Asked, Seat, told
from benchapp.seating.wayin import undercut_width

STRANGERS = 1 / 3  # of the teeth without a socket: base and arch are no pair

ABOVE: Final = 4.5  # mm above the highest wall: up to there connectors are looked for
UNEVEN: Final = 2.0  # of `unevenness`: meshes that were thinned to a tolerance show 2.6 and more, others up to 1.3
LIP: Final = 0.8  # mm about the walls in which a rounded edge is looked at


@dataclass(frozen=True)
class Checked:
    """A report with what pictures are drawn from: the pair and its measures in the frame of the axis."""

    report: Report
    pair: Pair
    frame: Floats
    measured: Measured


def silent(stage: str, part: float) -> None:
    """Take progress and say nothing."""


def check(base: bytes, arch: bytes, asked: Asked, progress: Progress = silent) -> Checked:
    """Return the report of two STL files; Unusable with one sentence for every fault.

    `progress` is told the stage (read, row, connectors, sockets, clearance) and the part of it that is done.
    """
    if asked.teeth is not None:
        in_row(asked.jaw, asked.teeth)
    progress("read", 0.0)
    pair = pair_of(base, arch, asked.unit)
    axis = axis_of(pair, asked.axis, asked.axis_is_line)
    frame = frame_of(axis.way)
    bases, arches = pair.base.mesh.turned(frame), pair.arch.mesh.turned(frame)
    smooth = _smooth(bases, arches, pair.facing)
    told_of, other = (smooth.fine, smooth.plain) if smooth.even else (smooth.plain, smooth.fine)
    edge = edge_of(smooth.plain.base, smooth.plain.facing.base)
    measured = measure(told_of, other, edge, smooth.noise, asked.jaw, asked.kerf, asked.leave, progress)
    missing = sum(socket is None for socket in measured.sockets)
    if missing > STRANGERS * len(measured.sockets):
        raise Unusable(
            _(
                "Base and arch do not belong together: of the arch's {teeth} teeth {missing} stand in no socket of "
                "this base. Export both from the same design, in the assembled position.",
                teeth=len(measured.sockets),
                missing=missing,
            )
        )
    progress("clearance", 0.0)
    row = numbered(measured, asked.jaw, asked.teeth)
    warnings = [*pair.warnings, *row.warnings]
    overlap = _overlap(pair, warnings)
    seat = Seat(
        overlap,
        least_clearance(bases, arches) if overlap == 0 else 0.0,
        undercut_width(smooth.plain.base.corners, smooth.plain.arch.corners) if overlap <= MOST_OVERLAP else None,
    )
    report = told(asked, pair, axis, measured, row, seat, warnings)
    progress("clearance", 1.0)
    return Checked(report, pair, frame, measured)


@dataclass(frozen=True)
class _Smooth:
    """Both parts as the smooth surfaces that their triangles stand for, and only freed of noise (mm).

    Only of `even` triangles the smooth surface is believed; of others it tells how much facets may matter.
    """

    fine: Given
    plain: Given
    noise: float
    even: bool


def _smooth(base: Mesh, arch: Mesh, facing: Facing) -> _Smooth:
    """Return both parts freed of noise and with finer triangles near what is measured."""
    noise = noise_of(base, facing.base), noise_of(arch, facing.arch)
    lips = round_about(base, facing.base, LIP)
    top = float(base.corners[facing.base][:, :, 2].max()) + ABOVE
    low = arch.corners[:, :, 2].min(axis=1) < top
    calm = calmed(base, noise[0], lips), calmed(arch, noise[1], low)
    fine, of_base = finer(calm[0], noise[0], lips)
    other, of_arch = finer(calm[1], noise[1], low)
    given = Given(fine, other, Facing(facing.base[of_base], facing.arch[of_arch]))
    even = max(unevenness(base.part(lips)), unevenness(arch.part(low))) < UNEVEN
    return _Smooth(given, Given(*calm, facing), max(noise), even)


def _overlap(pair: Pair, warnings: list[str]) -> float:
    """Return the volume in both parts: by a boolean of closed meshes, else by the facing surfaces."""
    whole = overlap_of(pair.base.mesh, pair.arch.mesh) if pair.base.closed and pair.arch.closed else None
    if whole is not None:
        return 0.0 if whole < 1e-6 else whole
    warnings.append(_("The overlap is told from the facing surfaces alone, since a part is not closed."))
    found = shallow_overlap(pair.base.mesh.corners[pair.facing.base], pair.arch.mesh.corners)
    return 0.0 if found < 1e-6 else found
