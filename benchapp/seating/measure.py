"""Measures a sound pair in the frame of its axis: connectors, and each tooth in its socket."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from benchapp.core.teeth import Jaw
from benchapp.seating.abreast import abreast
from benchapp.seating.bodies import apart
from benchapp.seating.connectors import Connector, connector_at, narrow_places
from benchapp.seating.curve import Curve, curve_of
from benchapp.seating.hollow import Roofs
from benchapp.seating.mesh import Floats, Mesh, any_of, bounds, box_of, even_edge, middles_of, normals_and_areas
from benchapp.seating.near import Close, Facing, in_bounds
from benchapp.seating.pieces import Row, trace_of
from benchapp.seating.rim import Near
from benchapp.seating.skin import skin_of
from benchapp.seating.sockets import Socket, socket_of

Progress = Callable[[str, float], None]
BESIDE = 0.8  # mm about a socket's wall that are looked at


@dataclass(frozen=True)
class Measured:
    """What the row tells: its curve, its connectors in order, a socket per tooth (None where no wall is seen).

    `hollows` are per tooth what of its hollows from below lies above the margin (mm3).
    `noise` is how far the files' corners stray, `edge` the width of the triangles in the sockets, both in mm.
    """

    curve: Curve
    row: Row
    connectors: tuple[Connector, ...]
    sockets: tuple[Socket | None, ...]
    hollows: tuple[float, ...]
    noise: float
    edge: float


@dataclass(frozen=True)
class Given:
    """What is measured: both meshes in the frame of the axis; where they come near each other, in the files' frame;
    masks of the triangles that face each other; the frame, how far the files' corners stray (mm), and whether the base
    is closed."""

    base: Mesh
    arch: Mesh
    close: tuple[Close, Close]
    facing: Facing
    frame: Floats
    noise: float
    closed: bool = True


def measure(given: Given, jaw: Jaw, kerf: float, leave: float, progress: Progress) -> Measured:
    """Measure a pair whose axis is the third coordinate; kerf in mm, section to leave in mm2."""
    progress("row", 0.0)
    base, arch = given.base, given.arch
    curve = curve_of(arch.some(), jaw)
    straight = Mesh(curve.straighten(arch.vertices), arch.triangles)
    places = narrow_places(straight)
    gaps = apart(arch, straight.vertices[:, 0], places)
    connectors: list[Connector] = []
    many = len(base.triangles) + len(arch.triangles)

    def connector(at: int) -> Connector:
        return connector_at(arch, straight, curve, float(places[at]), kerf, leave, bool(gaps[at]))

    for one in abreast(connector, range(len(places)), many):
        progress("connectors", len(connectors) / len(places))
        connectors.append(one)
    row = _parted(base, arch, straight, given.facing, curve, connectors)
    progress("sockets", 0.0)
    sockets: list[Socket | None] = []
    hollows: list[float] = []
    roofs = Roofs(base, arch)
    pieces = _Pieces(given, row)

    def measured(number: int) -> tuple[Socket | None, float]:
        near = pieces.near(number)
        socket = socket_of(near, row.cutter(number)) if near else None
        return socket, roofs.hollow(socket.rim) if socket else 0.0

    for socket, hollow in abreast(measured, range(len(connectors) + 1), many):
        progress("sockets", len(sockets) / (len(connectors) + 1))
        sockets.append(socket)
        hollows.append(hollow)
    return Measured(curve, row, tuple(connectors), tuple(sockets), tuple(hollows), given.noise, pieces.edge)


def _parted(base: Mesh, arch: Mesh, straight: Mesh, facing: Facing, curve: Curve, connectors: list[Connector]) -> Row:
    """Return the row with its teeth parted at the height of the margins beside each connector."""
    wall = middles_of(base.vertices[base.triangles[facing.base]])
    at = curve.straighten(wall)[:, 0]
    low = arch.vertices[:, 2] < float(wall[:, 2].max())
    part = arch.triangles[any_of(low, arch.triangles)]
    corners, middles = arch.vertices[part], middles_of(straight.vertices[part])[:, 0]
    traces = []
    for connector in connectors:
        near = wall[np.abs(at - connector.s) < 6.0, 2]
        level = float(np.percentile(near, 90)) if len(near) else float(wall[:, 2].max())
        traces.append(trace_of(connector, corners, middles, level))
    return Row(curve, tuple(traces))


class _Pieces:
    """Hands out what lies about each tooth: of the base what its sockets are in, of the arch what reaches into them."""

    def __init__(self, given: Given, row: Row) -> None:
        of_base, of_arch = (one.keep for one in given.close)
        self.base, self.facing = given.base.part(of_base), given.facing.base[of_base]
        self.arch = given.arch.part(of_arch)
        self.boxes = [bounds(mesh.corners) for mesh in (self.base, self.arch)]
        self.row, self.noise, self.closed = row, given.noise, given.closed
        self.edge = even_edge(normals_and_areas(self.base.corners[self.facing])[1])
        skinned = [(self.base, self.facing), (self.arch, given.facing.arch[of_arch])]
        self.skins = list(abreast(lambda one: skin_of(*one, given.noise), skinned, len(given.arch.triangles)))
        self.surface = given.close[1].surface.turned(given.frame, self.arch.corners)
        self.of_base = row.piece_of(self.base.vertices)

    def near(self, number: int) -> Near | None:
        """Return what lies about one tooth; None where nothing of the base faces it."""
        touches = any_of(self.of_base == number, self.base.triangles)
        wall = self.base.corners[touches & self.facing]
        if len(wall) < 4:
            return None
        low, high = box_of(wall)
        low, high = low - BESIDE, high + BESIDE
        keep = touches & in_bounds(*self.boxes[0], low, high)
        of_arch = in_bounds(*self.boxes[1], low, high)
        a, b, c = (self.of_base[self.base.triangles[keep]] == number).T
        own = (a & b) | (b & c) | (c & a)
        if not (self.facing[keep] & own).any():
            return None
        way, out = self.row.curve.turn(wall.mean(axis=(0, 1))[:2])
        return Near(
            self.base.part(keep),
            self.facing[keep] & own,
            self.arch.corners[of_arch],
            self.surface,
            way,
            out,
            self.skins[0].part(keep),
            self.skins[1],
            self.noise,
            self.edge,
            self.closed,
        )
