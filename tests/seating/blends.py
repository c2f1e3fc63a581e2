"""Checks of pairs of the second family: each shape as four pairs of files, coarse to fine and with noise."""

from functools import lru_cache
from typing import Any

import numpy as np

from benchapp.seating.check import check
from benchapp.seating.faults import Unusable
from benchapp.seating.tell import Asked
from tests.seating.blended import BlendedPair, shape_of
from tests.seating.chance import causes_of, errors_of
from tests.seating.integral import all_known
from tests.seating.pairs import stl
from tests.seating.truth import Known

MESHES = ((0.45, 0.0), (0.32, 0.0), (0.24, 0.0), (0.32, 0.012))  # edge of the cubes and noise, mm
SMALL = 0.12  # mm


@lru_cache(maxsize=1)
def _known(number: int) -> tuple[dict[int, Known], dict[frozenset[int], float]]:
    return all_known(BlendedPair(shape_of(number)))


def compared(seed: int, fine: int | None = None) -> dict[str, Any]:
    """Return for one seed every number's error, as `chance.compared`: shape seed // 4, mesh seed % 4; with `fine` the
    shape of that number by cubes that are as small as the aims' meshes ask (100,000 triangles a pair and more)."""
    number, (cell, noise) = (seed, (SMALL, 0.0)) if fine else (seed // 4, MESHES[seed % 4])
    shape = shape_of(number, cell)
    pair = BlendedPair(shape)
    rng = np.random.default_rng(seed)
    base, arch = (stl(pair.triangles(part, noise, rng)) for part in ("base", "arch"))
    known, areas = _known(number)
    given = number % 3 > 0
    name = f"blended fine {seed}" if fine else f"blended {seed}"
    row: dict[str, Any] = {"seed": name, "kind": "blended", "noise": noise, "axis": given, "cell": cell}
    row["features"] = []
    try:
        found = check(base, arch, Asked(shape.jaw, shape.row, (0.0, 0.0, 1.0) if given else None))
    except Unusable as fault:
        return row | {"refused": fault.faults}
    report = found.report
    row["source"], row["warnings"] = report.axis_source, list(report.warnings)
    row["off"] = float(np.degrees(np.arccos(np.clip(report.axis[2], -1, 1))))
    row["goes_in"], row["overlap"] = report.goes_in, report.overlap_mm3
    row["triangles"] = report.meshes["base"].triangles + report.meshes["arch"].triangles
    stands = {crown.number: crown.at for crown in pair.crowns}
    row["numbers_right"] = None
    if all(tooth.tooth for tooth in report.teeth):
        row["numbers_right"] = all(
            socket is None or np.linalg.norm((found.frame @ stands[tooth.tooth or 0])[:2] - socket.rim.centre) < 2.0
            for tooth, socket in zip(report.teeth, found.measured.sockets, strict=True)
        )
    if not row["numbers_right"]:
        return row
    return row | causes_of(found) | {"errors": errors_of(report, known, areas)}
