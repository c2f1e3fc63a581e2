"""Measures a sound pair in the frame of its axis: connectors, and each tooth in its socket."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from benchapp.core.teeth import Jaw
from benchapp.seating.connectors import Connector, area_of, connector_at, narrow_places
from benchapp.seating.curve import Curve, curve_of
from benchapp.seating.mesh import Floats, Ints, Mesh, normals_and_areas
from benchapp.seating.near import Facing, in_box
from benchapp.seating.pieces import Row, trace_of
from benchapp.seating.rim import Near
from benchapp.seating.sockets import Socket, socket_of

Progress = Callable[[str, float], None]
Mask = NDArray[np.bool_]
BESIDE = 0.8  # mm about a socket's wall that are looked at


@dataclass(frozen=True)
class Measured:
    """What the row tells: its curve, its connectors in order, a socket per tooth (None where no wall is seen).

    `noise` is how far the files' corners stray, in mm.
    """

    curve: Curve
    row: Row
    connectors: tuple[Connector, ...]
    sockets: tuple[Socket | None, ...]
    noise: float


@dataclass(frozen=True)
class Given:
    """What is measured, in the frame of the axis: both meshes, and masks of the triangles that face each other."""

    base: Mesh
    arch: Mesh
    facing: Facing


def measure(
    given: Given, other: Given, edge: float, noise: float, jaw: Jaw, kerf: float, leave: float, progress: Progress
) -> Measured:
    """Measure a pair whose axis is the third coordinate: `given` for the numbers, `other` for what facets moved.

    `other` are the same surfaces with other triangles; `edge` is the length of the file's edges in the sockets and
    `noise` how far its corners stray, both in mm.
    """
    progress("row", 0.0)
    base, arch = given.base, given.arch
    curve = curve_of(arch.corners, jaw)
    straight = Mesh(curve.straighten(arch.vertices), arch.triangles)
    places, _ends = narrow_places(straight)
    connectors = []
    for number, s in enumerate(places):
        progress("connectors", number / len(places))
        one = connector_at(arch, straight, curve, float(s), kerf, leave)
        connectors.append(replace(one, moved=one.area - area_of(other.arch, one)))
    row = _parted(base, arch, straight, given.facing, curve, connectors)
    sockets = []
    pieces, others = (_Pieces(one, row, noise, edge) for one in (given, other))
    for number in range(len(connectors) + 1):
        progress("sockets", number / (len(connectors) + 1))
        near, again = pieces.near(number), others.near(number)
        socket = socket_of(near, row.cutter(number)) if near else None
        second = socket_of(again, row.cutter(number)) if socket and again else None
        sockets.append(socket and replace(socket, moved=socket.apart_from(second)))
    return Measured(curve, row, tuple(connectors), tuple(sockets), noise)


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


def edge_of(base: Mesh, facing: Mask) -> float:
    """Return the edge in mm of an even triangle as large as most of those that face the arch."""
    areas = normals_and_areas(base.corners[facing])[1]
    return float(np.sqrt(np.median(areas) * 4 / np.sqrt(3)))


class _Pieces:
    """Hands out what lies about each tooth."""

    def __init__(self, given: Given, row: Row, noise: float, edge: float) -> None:
        base, arch, facing = given.base, given.arch, given.facing
        self.base, self.arch, self.facing, self.row, self.noise, self.edge = base, arch, facing, row, noise, edge
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
            self.noise,
            self.edge,
        )
