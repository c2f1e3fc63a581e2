"""A checked pair made light for eyes: fewer triangles, depth and gap at every corner, and where things are.

Lies in a frame of its own, in mm: x to the patient's left, z the axis (out of the sockets), so that somebody who looks
at the chewing side sees it as on a tooth chart, the patient's right at the left.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import fast_simplification
import numpy as np

from benchapp.seating.check import Checked
from benchapp.seating.halved import refined
from benchapp.seating.mesh import Floats, Ints, Mesh, normals_and_areas, weld
from benchapp.seating.near import Surface
from benchapp.seating.normals import corner_normals
from benchapp.seating.sockets import Socket

TRIANGLES: Final = 24_000  # of both parts together; more are made in the sockets
MANY: Final = 120_000  # triangles of a part that is first thinned by a grid
GRID: Final = 0.12  # mm
HARDNESS: Final = (3.0, 4.0)  # of the simplifier, one after the other: 5 and more tear thin triangles apart
ROUNDS: Final = 8  # in which a pair that is too large is made lighter
CREASE: Final = 40.0  # degrees: faces that turn more stay apart when they are shaded
FINE: Final = 0.9  # mm: sides of triangles in the sockets, so that depths between their corners are right
NEAR: Final = (0.03, 0.15)  # mm outside a margin that still count as in the socket: of the base, of teeth that bulge
LEAST_DEPTH: Final = -40.0  # mm: steep beyond margins too, or the lines there smear along slender triangles
LEAST_GAP, MOST_GAP = -0.5, 1.0
BELOW: Final = 0.6  # mm that a socket's floor may lie deeper than its tooth


@dataclass(frozen=True)
class Skin:
    """One part: vertices (n, 3), triangles (m, 3), and what is known at each vertex.

    `depth` is how far below the margin a point lies (mm; less than 0: in no socket), `gap` the signed distance to what
    faces it in the other part (mm; cut at 1: nothing faces it; negative: it lies in the other part), `piece` the place
    in the row of the tooth that it belongs to (-1: none). `shade` are normals of the triangles' corners (m, 3, 3).
    """

    vertices: Floats
    triangles: Ints
    shade: Floats
    depth: Floats
    gap: Floats
    piece: Ints


@dataclass(frozen=True)
class ToothSpot:
    """A tooth of the row: its number (None where it cannot be told), centre of its margin, median depth in mm."""

    tooth: int | None
    point: Floats
    depth: float | None


@dataclass(frozen=True)
class ConnectorSpot:
    """A connector: its neighbours, middle of its section, unit normal, section, what a cut to `leave` takes (mm)."""

    between: tuple[int | None, int | None]
    point: Floats
    normal: Floats
    area: float
    cut_depth: float


@dataclass(frozen=True)
class Shown:
    """Both parts and their places in one frame; `frame` are its directions in the files' frame, `origin` its zero."""

    base: Skin
    arch: Skin
    teeth: tuple[ToothSpot, ...]
    connectors: tuple[ConnectorSpot, ...]
    frame: Floats
    origin: Floats

    def here(self, point: Sequence[float]) -> Floats:
        """Return a point of the files in this frame."""
        return np.asarray(self.frame @ (np.asarray(point) - self.origin))


def shown_of(found: Checked, triangles: int = TRIANGLES) -> Shown:
    """Return what pictures are made from, of about so many triangles in all and some more in the sockets."""
    return _shown(found, light_of(found, triangles))


def lighter(found: Checked) -> Iterator[Shown]:
    """Yield what pictures are made from, each time of fewer triangles."""
    most = TRIANGLES
    light = light_of(found, most)
    for turn in range(ROUNDS):
        yield _shown(found, light)
        most = most * 2 // 3
        base, arch = (weld(mesh.corners.astype(np.float32), GRID * (turn + 1)) for mesh in light)
        light = simplified(base, most // 2), simplified(arch, most // 2)


def light_of(found: Checked, triangles: int) -> tuple[Mesh, Mesh]:
    """Return base and arch of about at most so many triangles together, in the frame of the axis."""
    arch = found.pair.arch.mesh.turned(found.frame)
    base = found.pair.base.mesh.turned(found.frame)
    half = triangles // 2
    light_arch = simplified(arch, max(half, triangles - len(base.triangles)))
    return simplified(base, max(half, triangles - len(light_arch.triangles))), light_arch


def _shown(found: Checked, light: tuple[Mesh, Mesh]) -> Shown:
    turn = _upright(found)
    low, high = light[1].vertices.min(axis=0), light[1].vertices.max(axis=0)
    middle = np.append((low + high)[:2] / 2, _margin(found, float(low[2])))
    facing = found.pair.facing
    base, arch = (
        mesh.vertices[mesh.triangles[faces]] @ found.frame.T
        for mesh, faces in ((found.pair.base.mesh, facing.base), (found.pair.arch.mesh, facing.arch))
    )
    skins = [
        _skin(found, light[0], arch, turn, middle, of_arch=False),
        _skin(found, light[1], base, turn, middle, of_arch=True),
    ]
    return Shown(
        skins[0],
        skins[1],
        _teeth(found, turn, middle),
        _connectors(found, turn, middle),
        turn @ found.frame,
        found.frame.T @ middle,
    )


def simplified(mesh: Mesh, most: int) -> Mesh:
    """Return a mesh of about at most so many triangles: quadric simplification in passes, thinned first when huge."""
    if len(mesh.triangles) > MANY:
        mesh = weld(mesh.corners.astype(np.float32), GRID)
    for hardness in HARDNESS:
        while (before := len(mesh.triangles)) > 1.02 * most:
            points, ends = fast_simplification.simplify(
                np.array(mesh.vertices, dtype=np.float64),
                np.array(mesh.triangles, dtype=np.int64),
                target_count=max(most, before // 3),
                agg=hardness,
            )
            mesh = Mesh(np.asarray(points, dtype=np.float64), np.asarray(ends, dtype=np.int64))
            if len(mesh.triangles) > 0.97 * before:
                break
    return mesh.part(normals_and_areas(mesh.corners)[1] > 1e-9)


def shades(mesh: Mesh) -> Floats:
    """Return a unit normal for each corner of each triangle (m, 3, 3): of the faces that bend softly there."""
    return corner_normals(mesh, CREASE)


def _upright(found: Checked) -> Floats:
    """Return the rows (3, 3) that turn the measures' frame so that x leads to the patient's left."""
    points = found.measured.curve.points  # from the patient's right to the left, where the row shows it
    x = np.append(points[-1] - points[0], 0.0)
    x /= np.linalg.norm(x)
    z = np.array([0.0, 0.0, 1.0])
    return np.stack([x, np.cross(z, x), z])


def _margin(found: Checked, otherwise: float) -> float:
    heights = [float(np.nanmedian(socket.rim.wall)) for socket in found.measured.sockets if socket]
    return float(np.median(heights)) if heights else otherwise


def _skin(found: Checked, mesh: Mesh, other: Floats, turn: Floats, middle: Floats, of_arch: bool) -> Skin:
    for _turn in range(4):
        depth = _depths(found, mesh, of_arch)[0]
        finer = refined(mesh, np.asarray((depth[mesh.triangles] > 0).any(axis=1)), FINE)
        if len(finer.triangles) == len(mesh.triangles):
            break
        mesh = finer
    depth, piece = _depths(found, mesh, of_arch)
    gap = _gap(mesh, other)
    if not of_arch:
        piece = np.where(depth >= 0, piece, -1)
    moved = Mesh((mesh.vertices - middle) @ turn.T, mesh.triangles)
    return Skin(moved.vertices, mesh.triangles, shades(moved), depth, gap, piece)


def _depths(found: Checked, mesh: Mesh, of_arch: bool) -> tuple[Floats, Ints]:
    """Return the depth below the margin at each vertex, and the place in the row of its tooth."""
    points = mesh.vertices
    piece = found.measured.row.piece_of(points)
    depth = np.full(len(points), LEAST_DEPTH)
    for number, socket in enumerate(found.measured.sockets):
        if socket:
            here = piece == number
            depth[here] = _depth(socket, points[here], NEAR[of_arch])
            if not of_arch:  # the fitting side lies below the sockets too
                depth[here & (points[:, 2] < socket.lowest - BELOW)] = LEAST_DEPTH
    return depth, piece


def _depth(socket: Socket, points: Floats, near: float) -> Floats:
    """Return how far points lie below the margin; less than 0 above it, and soon so farther than `near` outside it."""
    over, outside = socket.rim.over(points)
    return np.maximum(np.minimum(-over, 4 * (near - outside)), LEAST_DEPTH)


def _gap(mesh: Mesh, other: Floats) -> Floats:
    """Return the signed distance from each vertex to the triangles of the other part that face this one."""
    found = np.full(len(mesh.vertices), MOST_GAP)
    surface = Surface(other)
    near = surface.rough(mesh.vertices, 2 * MOST_GAP)[1] >= 0
    nearest = surface.nearest(mesh.vertices[near])
    away = mesh.vertices[near] - nearest.foot
    size = np.abs(nearest.distance)
    upright = np.abs(np.einsum("ij,ij->i", away, nearest.normal)) > 0.95 * size  # else beside an edge: no side is told
    found[near] = np.where(upright, nearest.distance, size)
    return np.asarray(np.clip(found, LEAST_GAP, MOST_GAP))


def _teeth(found: Checked, turn: Floats, middle: Floats) -> tuple[ToothSpot, ...]:
    spots = []
    for number, (told, socket) in enumerate(zip(found.report.teeth, found.measured.sockets, strict=True)):
        if socket:
            point = np.append(socket.rim.centre, float(np.nanmedian(socket.rim.wall)))
        else:
            point = _between(found, number, middle)
        spots.append(ToothSpot(told.tooth, turn @ (point - middle), told.depth_median_mm))
    return tuple(spots)


def _between(found: Checked, number: int, middle: Floats) -> Floats:
    """Return about where a tooth without a socket stands: between its connectors."""
    curve, connectors = found.measured.curve, found.measured.connectors
    places = [one.s for one in connectors]
    before = places[number - 1] if number else places[0] - 8.0
    after = places[number] if number < len(places) else places[-1] + 8.0
    return np.append(curve.place((before + after) / 2)[0], middle[2])


def _connectors(found: Checked, turn: Floats, middle: Floats) -> tuple[ConnectorSpot, ...]:
    spots = []
    for told, one in zip(found.report.connectors, found.measured.connectors, strict=True):
        centre = one.outline.mean(axis=(0, 1))
        spots.append(
            ConnectorSpot(told.between, turn @ (centre - middle), turn @ one.normal, told.area_mm2, told.cut_depth_mm)
        )
    return tuple(spots)
