"""What of an arch lies beside its row, a bar or struts that hold it in print: cut away before it is measured."""

from dataclasses import replace
from typing import Final

import manifold3d
import numpy as np
from scipy import ndimage
from scipy.sparse.csgraph import minimum_spanning_tree
from scipy.spatial import cKDTree
from scipy.spatial.distance import pdist, squareform

from benchapp.core.teeth import Jaw
from benchapp.core.words import _
from benchapp.seating.clearance import solid_of
from benchapp.seating.curve import CELL, Curve, curve_of
from benchapp.seating.faults import Unusable
from benchapp.seating.mesh import Floats, Mesh
from benchapp.seating.near import strew
from benchapp.seating.pair import Pair, meeting

FAR: Final = 9.0  # mm from all that faces the base: no crown reaches so far out of its socket
CLOSE: Final = 1.0  # mm from it: the row itself
SPACING: Final = 1.0  # mm: cells of the plane, seen along the axis, in which something of the arch lies
ASIDE: Final = 3.0  # mm beyond the sockets' width: crowns are wider than their sockets
NEARER: Final = 4.0  # mm, as `FAR`: where a loop is closed, something is there that is no crown
LITTLE: Final = 1.0  # mm, as `ASIDE`
WIDEST: Final = 9.0  # mm from the middle of a row: no tooth reaches so far
FEW: Final = 8  # cells: less is a corner of a tooth without socket, or no loop
SOME: Final = 1500  # cells over the sockets, evenly chosen, that are joined
PLATE: Final = 0.4  # of the row's cells: so much beside it is no bar
CROWNS: Final = 1.0  # mm beyond a socket that are left of the arch
BETWEEN: Final = 4.0  # mm to either side of a socket that are left towards the next one
LONG: Final = 60.0  # mm that the row is run on straight
LEAST: Final = 0.05  # of the largest piece: what is left of struts, and belongs to no tooth


def without_stray(pair: Pair, turned: Mesh, frame: Floats, jaw: Jaw) -> Pair:
    """Return the pair, its arch without what lies beside the row, which is said; Unusable where that cannot be parted.

    `frame` has the axis as its third row, `turned` is the arch in it. Teeth without socket lie on the row, and stay.
    """
    arch = pair.arch.mesh
    at = turned.vertices[:, :2]
    one, two, three = (at[corner] for corner in arch.triangles.T)
    wide = np.maximum(((one - two) ** 2).sum(axis=1), ((two - three) ** 2).sum(axis=1))
    long = arch.some(wide > (SPACING / 2) ** 2)  # a bar may be of triangles as long as itself
    there = _cells(np.concatenate([at, strew(long, SPACING)[0] @ frame[:2].T]) if len(long) else at)
    faces = _cells(at[arch.triangles[pair.facing.arch, 0]])
    near = cKDTree(faces)
    loop = _closes_a_loop(there)
    from_, aside = (NEARER, LITTLE) if loop else (FAR, ASIDE)
    far = near.query(there, distance_upper_bound=from_)[0] > from_
    if far.sum() < FEW:
        return pair
    points = strew(arch.some(), CELL)[0] @ frame.T
    if not loop and _is_row(points, there, jaw):
        return pair
    row = points[near.query(points[:, :2], distance_upper_bound=CLOSE)[0] <= CLOSE]
    row = np.concatenate([row, _flat(_bridges(faces))])
    curve = _run_on(_curve_of(row, jaw))
    across = curve.straighten(_flat(faces))[:, 1]
    low, high = float(across.min()), float(across.max())
    beside = curve.straighten(_flat(there[far]))[:, 1]
    stray = (beside < low - aside) | (beside > high + aside)
    if stray.sum() < FEW:
        return pair
    reach = f"{max(float((low - beside).max()), float((beside - high).max())):.0f}"
    if stray.sum() > PLATE * (~far).sum():
        raise Unusable(
            _(
                "Much of the arch lies beside its row, up to {reach} mm from the sockets: a plate, or supports for "
                "printing? Export the arch alone, as it is designed.",
                reach=reach,
            )
        )
    mesh = _trimmed(arch, at[arch.triangles[pair.facing.arch].ravel()], frame)
    if mesh is None:
        raise Unusable(
            _(
                "Something of the arch lies beside its row, up to {reach} mm from the sockets (a bar, struts?), and "
                "cannot be cut away, since the surface is not closed. Export the arch without it.",
                reach=reach,
            )
        )
    close, facing = meeting(pair.base.mesh, mesh)
    said = _(
        "Something of the arch lies beside its row, up to {reach} mm from the sockets (a bar, struts?). It was left "
        "out of all that is told, also of whether the arch goes in; a connector beside which it joins a tooth may be "
        "told too large. If it is not to be printed, export the arch without it.",
        reach=reach,
    )
    return replace(
        pair, arch=replace(pair.arch, mesh=mesh), close=close, facing=facing, warnings=(*pair.warnings, said)
    )


def _cells(points: Floats) -> Floats:
    """Return the middles (n, 2) of the cells that points (m, 2) lie in."""
    low = np.floor(points.min(axis=0) / SPACING)
    at = (points / SPACING - low).astype(np.int64)
    seen = np.zeros(at.max(axis=0) + 1, dtype=bool)
    seen[at[:, 0], at[:, 1]] = True
    return np.asarray((np.argwhere(seen) + low + 0.5) * SPACING)


def _flat(points: Floats) -> Floats:
    """Return points (n, 2) of the plane at height 0: (n, 3)."""
    return np.column_stack([points, np.zeros(len(points))])


def _curve_of(points: Floats, jaw: Jaw) -> Curve:
    return curve_of(np.repeat(points[:, None], 3, axis=1), jaw)


def _closes_a_loop(cells: Floats) -> bool:
    """Tell whether an arch, seen along the axis, leaves something open within: no row of teeth does."""
    at = ((cells - cells.min(axis=0)) / SPACING).astype(np.int64) + 2
    mask = np.zeros(at.max(axis=0) + 3, dtype=bool)
    mask[at[:, 0], at[:, 1]] = True
    mask = ndimage.binary_closing(mask)
    label, count = ndimage.label(ndimage.binary_fill_holes(mask) & ~mask)
    return bool(count and np.bincount(label.ravel())[1:].max() > FEW)


def _is_row(points: Floats, cells: Floats, jaw: Jaw) -> bool:
    """Tell whether an arch's points lie along one curve, as those of a row of teeth do, some without sockets."""
    try:
        return bool(np.abs(_curve_of(points, jaw).straighten(_flat(cells))[:, 1]).max() <= WIDEST)
    except Unusable:
        return False


def _bridges(cells: Floats) -> Floats:
    """Return points (n, 2) from socket to socket, also where some teeth in a row have none: along a spanning tree."""
    cells = cells[:: 1 + len(cells) // SOME]
    tree = minimum_spanning_tree(squareform(pdist(cells))).tocoo()
    part = np.linspace(0, 1, int(tree.data.max(initial=1.0) / CELL) + 2)[:, None, None]
    return np.asarray((cells[tree.row] * (1 - part) + cells[tree.col] * part).reshape(-1, 2))


def _run_on(curve: Curve) -> Curve:
    """Return a curve whose ends run on straight for longer."""
    steps = np.arange(0.5, LONG, 0.5)[:, None]
    points = [
        curve.points[0] - steps[::-1] * curve.along[0], curve.points, curve.points[-1] + steps * curve.along[-1],
    ]  # fmt: skip
    many = len(steps)

    def ends(ways: Floats) -> Floats:
        return np.concatenate([np.repeat(ways[:1], many, axis=0), ways, np.repeat(ways[-1:], many, axis=0)])

    s = np.concatenate([curve.s[0] - steps[::-1, 0], curve.s, curve.s[-1] + steps[:, 0]])
    return Curve(np.concatenate(points), s, ends(curve.along), ends(curve.buccal), ends(curve.ways), curve.bowed)


def _trimmed(arch: Mesh, faces: Floats, frame: Floats) -> Mesh | None:
    """Return what of an arch stands over its sockets and between them; None where it is no solid.

    `faces` (n, 2) are points across the axis that face the base.
    """
    solid = solid_of(arch)
    if solid is None:
        return None
    square = np.array([[0, 0], [1, 0], [1, 1], [0, 1]]) * CELL
    corners = np.unique(np.floor(faces / CELL), axis=0) * CELL
    over = manifold3d.CrossSection(list(corners[:, None] + square), manifold3d.FillRule.NonZero)
    over = over.offset(BETWEEN, manifold3d.JoinType.Round).offset(CROWNS - BETWEEN, manifold3d.JoinType.Round)
    heights = arch.vertices @ frame[2]
    prism = over.extrude(float(np.ptp(heights)) + 2).translate((0, 0, float(heights.min()) - 1))
    pieces = (solid ^ prism.transform(np.column_stack([frame.T, np.zeros(3)]))).decompose()
    most = max((piece.volume() for piece in pieces), default=0.0)
    kept = [piece for piece in pieces if piece.volume() >= LEAST * most]
    if not kept:
        return None
    mesh = manifold3d.Manifold.compose(kept).to_mesh64()
    vertices = np.array(mesh.vert_properties[:, :3], order="C")  # the library's own arrays cannot be written to
    return Mesh(vertices, np.array(mesh.tri_verts, dtype=np.int64, order="C"))
