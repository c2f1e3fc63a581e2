"""The seating check: two files of meshes and what is asked of them become a report."""

from dataclasses import dataclass

import numpy as np

from benchapp.core.teeth import in_row
from benchapp.core.words import _
from benchapp.seating.abreast import abreast, beside, brisk
from benchapp.seating.astray import without_stray
from benchapp.seating.curve import frame_of
from benchapp.seating.faults import Unusable
from benchapp.seating.measure import Given, Measured, Progress, measure
from benchapp.seating.mesh import Floats
from benchapp.seating.noise import noise_of
from benchapp.seating.numbers import numbered
from benchapp.seating.pair import Pair, axis_of, pair_of, surer
from benchapp.seating.places import places_of
from benchapp.seating.report import Report
from benchapp.seating.seat import seat_of
from benchapp.seating.tell import Asked, told

STRANGERS = 1 / 3  # of the teeth without a socket: base and arch are no pair


@dataclass(frozen=True)
class Checked:
    """A report with what pictures are drawn from: the pair and its measures in the frame of the axis."""

    report: Report
    pair: Pair
    frame: Floats
    measured: Measured


def silent(stage: str, part: float) -> None:
    """Take progress and say nothing."""


@brisk()
def check(base: bytes, arch: bytes, asked: Asked, progress: Progress = silent) -> Checked:
    """Return the report of two files (STL, OBJ or 3MF); Unusable with one sentence for every fault.

    `progress` is told the stage (read, row, connectors, sockets, clearance) and the part of it that is done.
    """
    if asked.teeth is not None:
        in_row(asked.jaw, asked.teeth)
    progress("read", 0.0)
    pair = pair_of(base, arch, asked.unit)
    axis = axis_of(pair, asked.axis, asked.axis_is_line)
    frame = frame_of(axis.way)
    bases, arches = pair.base.mesh.turned(frame), pair.arch.mesh.turned(frame)
    trimmed = without_stray(pair, arches, frame, asked.jaw)
    if trimmed is not pair:
        pair, arches = trimmed, trimmed.arch.mesh.turned(frame)
    parts = [(bases, pair.facing.base), (arches, pair.facing.arch)]
    noises = abreast(lambda part: noise_of(*part), parts, pair.triangles)
    given = Given(bases, arches, pair.close, pair.facing, frame, max(noises), pair.base.closed)
    with beside(lambda: seat_of(pair, given)) as seat:
        measured = measure(given, asked.jaw, asked.kerf, asked.leave, progress)
        _are_a_pair(measured)
        progress("clearance", 0.0)
        row = numbered(measured, asked.jaw, asked.teeth)
        found, said = seat()
    rims = [socket.rim for socket in measured.sockets if socket]
    axis = surer(axis, np.stack([rim.opening for rim in rims]), np.stack([rim.out for rim in rims]))
    places = places_of(found, measured, row.teeth, frame)
    report = told(asked, pair, axis, measured, row, found, places, [*pair.warnings, *row.warnings, *said])
    progress("clearance", 1.0)
    return Checked(report, pair, frame, measured)


def _are_a_pair(measured: Measured) -> None:
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
