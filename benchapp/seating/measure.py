"""Measures a sound pair in the frame of its axis: connectors, and each tooth in its socket."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchapp.core.teeth import Jaw
from benchapp.seating.connectors import Connector, connector_at, narrow_places
from benchapp.seating.curve import Curve, curve_of
from benchapp.seating.mesh import Floats, Ints, Mesh
from benchapp.seating.near import Facing, in_box
from benchapp.seating.pieces import Row, trace_of
from benchapp.seating.sockets import Near, Socket, socket_of

Progress = Callable[[str, float], None]
Mask = NDArray[np.bool_]
BESIDE = 0.8  # mm about a socket's wall that are looked at


@dataclass(frozen=True)
class Measured:
    """What the row tells: its curve, its connectors in order, a socket per tooth (None where no wall is seen)."""

    curve: Curve
    row: Row
    connectors: tuple[Connector, ...]
    sockets: tuple[Socket | None, ...]


def measure(
    base: Mesh, arch: Mesh, facing: Facing, jaw: Jaw, kerf: float, leave: float, progress: Progress
) -> Measured:
    """Measure a pair whose axis is the third coordinate; `facing` are masks over the triangles of both."""
    progress("row", 0.0)
    curve = curve_of(arch.corners, jaw)
    straight = Mesh(curve.straighten(arch.vertices), arch.triangles)
    places, _ends = narrow_places(straight)
    connectors = []
    for number, s in enumerate(places):
        progress("connectors", number / len(places))
        connectors.append(connector_at(arch, straight, curve, float(s), kerf, leave))
    row = _parted(base, arch, straight, facing, curve, connectors)
    sockets = []
    pieces = _Pieces(base, arch, facing, row)
    for number in range(len(connectors) + 1):
        progress("sockets", number / (len(connectors) + 1))
        near = pieces.near(number)
        sockets.append(socket_of(near, row.cutter(number)) if near else None)
    return Measured(curve, row, tuple(connectors), tuple(sockets))


def _parted(base: Mesh, arch: Mesh, straight: Mesh, facing: Facing, curve: Curve, connectors: list[Connector]) -> Row:
    """Return the row with its teeth parted at the height of the margins beside each connector."""
    wall = base.corners[facing.base].mean(axis=1)
    at = curve.straighten(wall)[:, 0]
    corners, middles = arch.corners, straight.corners[:, :, 0].mean(axis=1)
    traces = []
    for connector in connectors:
        near = wall[np.abs(at - connector.s) < 6.0, 2]
        level = float(np.percentile(near, 90)) if len(near) else float(wall[:, 2].max())
        traces.append(trace_of(connector, corners, middles, level))
    return Row(curve, tuple(traces))


class _Pieces:
    """Hands out what lies about each tooth."""

    def __init__(self, base: Mesh, arch: Mesh, facing: Facing, row: Row) -> None:
        self.base, self.arch, self.facing, self.row = base, arch, facing, row
        low = base.vertices[base.triangles[facing.base]].reshape(-1, 3).min(axis=0) - BESIDE
        high = base.vertices[base.triangles[facing.base]].reshape(-1, 3).max(axis=0) + BESIDE
        self.of_base = self._pieces(base, low, high)
        self.of_arch = self._pieces(arch, low, high)

    def _pieces(self, mesh: Mesh, low: Floats, high: Floats) -> Ints:
        """Return for each triangle its three corners' tooth numbers; -1 out of the sockets' reach."""
        inside = ((mesh.vertices >= low) & (mesh.vertices <= high)).all(axis=1)
        found = np.full(len(mesh.vertices), -1, dtype=np.int64)
        if inside.any():
            found[inside] = self.row.piece_of(mesh.vertices[inside])
        return found[mesh.triangles]

    def near(self, number: int) -> Near | None:
        """Return what lies about one tooth; None where nothing of the base faces it."""
        touches = (self.of_base == number).any(axis=1)
        wall = self.base.corners[touches & self.facing.base]
        if len(wall) < 4:
            return None
        low, high = wall.min(axis=(0, 1)) - BESIDE, wall.max(axis=(0, 1)) + BESIDE
        keep = touches & in_box(self.base.corners, low, high)
        arch = self.arch.part(in_box(self.arch.corners, low, high))
        own = (self.of_base[keep] == number).sum(axis=1) >= 2
        if not (self.facing.base[keep] & own).any():
            return None
        middle = wall.mean(axis=(0, 1))
        at = int(np.argmin(np.linalg.norm(self.row.curve.points - middle[:2], axis=1)))
        return Near(
            self.base.part(keep),
            self.facing.base[keep] & own,
            arch,
            self.row.curve.along[at],
            self.row.curve.buccal[at],
        )
