"""A checked pair as a binary glTF file (GLB, Khronos glTF 2.0) for a viewer: under 1 MB, nothing but the core format.

Nodes: `jaw` turns millimetres and the axis into the format's metres and its y; below it `base` and `arch`, whose
third coordinate is the axis: moved along it by so many mm the arch lifts off. Each vertex has, beside position, normal
and a colour by depth: `_DEPTH` and `_GAP` in mm, and `_TOOTH`, its place in the list `teeth` (-1: none). What is in
which place stands in the extras of `jaw`, all of it in mm in the frame of `base` and `arch`.
"""

import json
import struct
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from benchapp.core.stops import stops
from benchapp.seating.check import Checked
from benchapp.seating.mesh import Floats, Ints
from benchapp.seating.report import Report, as_json
from benchapp.seating.scales import DEPTH, GAP, linear
from benchapp.seating.shown import Shown, Skin, lighter

MOST_BYTES: Final = 1_000_000
BONE: Final = (0.93, 0.90, 0.83)
ROSE: Final = (0.89, 0.72, 0.70)
TINT: Final = 0.55  # how much of a tooth's own depth its crown is coloured with
HALF: Final = 0.5**0.5

FLOAT, SHORT, LONG, BYTE = 5126, 5123, 5125, 5121  # component types of the format
VERTICES, CORNERS = 34962, 34963


def glb_of(found: Checked) -> bytes:
    """Return the GLB of a check, of as many triangles as 1 MB takes."""
    return with_shown(found)[0]


def with_shown(found: Checked) -> tuple[bytes, Shown]:
    """Return the GLB of a check, and the light pair that it holds; over 1 MB only where nothing makes it lighter."""
    for shown in lighter(found):
        for creased in (True, False):
            data = as_glb(shown, found.report, creased)
            if len(data) <= MOST_BYTES:
                return data, shown
    return data, shown


def as_glb(shown: Shown, report: Report, creased: bool = True) -> bytes:
    """Return a light pair as GLB; without `creased` its sharp edges are shaded as round ones."""
    pack = _Pack()
    crowns = [spot.depth for spot in shown.teeth]
    closed = {part: report.meshes[part].closed for part in ("base", "arch")}
    parts = (("base", shown.base, ROSE), ("arch", shown.arch, BONE))
    meshes = [
        {"name": name, "primitives": [pack.primitive(skin, colours(skin, own, crowns, name), number, creased)]}
        for number, (name, skin, own) in enumerate(parts)
    ]
    tree = {
        "asset": {"version": "2.0", "generator": "Seat & Cure"},
        "scene": 0,
        "scenes": [{"nodes": [0]}],
        "nodes": [
            {
                "name": "jaw",
                "children": [1, 2],
                "rotation": [-HALF, 0, 0, HALF],
                "scale": [0.001] * 3,
                "extras": extras(shown, report),
            },
            {"name": "base", "mesh": 0},
            {"name": "arch", "mesh": 1},
        ],
        "meshes": meshes,
        "materials": [
            {
                "name": name,
                "pbrMetallicRoughness": {"metallicFactor": 0, "roughnessFactor": 0.7},
                "doubleSided": not closed[name],
            }
            for name, _skin, _own in parts
        ],
        "accessors": pack.accessors,
        "bufferViews": pack.views,
        "buffers": [{"byteLength": len(pack.data)}],
    }
    head = json.dumps(tree, separators=(",", ":"), allow_nan=False).encode()
    head += b" " * (-len(head) % 4)
    chunks = b"".join(
        struct.pack("<I4s", len(data), kind) + data for kind, data in ((b"JSON", head), (b"BIN\0", bytes(pack.data)))
    )
    return struct.pack("<4sII", b"glTF", 2, 12 + len(chunks)) + chunks


def extras(shown: Shown, report: Report) -> dict[str, Any]:
    """Return what a viewer needs beside the meshes: axis, places, scales, hashes; plain data, lengths in mm."""
    return {
        "jaw": report.jaw,
        "axis": [0, 0, 1],
        "frame": _rounded(shown.frame, 6),
        "origin": _rounded(shown.origin, 3),
        "teeth": [
            {"tooth": one.tooth, "point": _rounded(one.point, 3), "depth_median_mm": _maybe(one.depth)}
            for one in shown.teeth
        ],
        "connectors": [
            {
                "between": list(one.between),
                "point": _rounded(one.point, 3),
                "normal": _rounded(one.normal, 4),
                "area_mm2": round(float(one.area), 2),
                "cut_depth_mm": round(float(one.cut_depth), 3),
            }
            for one in shown.connectors
        ],
        "stops": [
            {
                "kind": one.kind,
                "tooth": one.tooth,
                "side": one.side,
                "size_mm": one.mm,
                "point": _rounded(shown.here(one.point), 3),
            }
            for one in stops(as_json(report))
        ],
        "legend": {"_DEPTH": DEPTH.as_json(), "_GAP": GAP.as_json()},
        "meshes": {name: one.sha256 for name, one in report.meshes.items()},
        "definitions_version": report.definitions_version,
    }


def colours(skin: Skin, own: tuple[float, float, float], crowns: list[float | None], part: str) -> Floats:
    """Return sRGB colours (n, 3): below the margin by depth there, a crown tinted by its tooth's median depth."""
    found = np.tile(np.array(own), (len(skin.vertices), 1))
    if part == "arch":
        for number, depth in enumerate(crowns):
            if depth is not None:
                here = skin.piece == number
                found[here] = (1 - TINT) * found[here] + TINT * DEPTH.colour(np.array([depth]))
    inside = skin.depth >= 0
    found[inside] = DEPTH.colour(skin.depth[inside])
    return found


class _Pack:
    """Gathers arrays as buffer views and accessors, each at a multiple of four bytes."""

    def __init__(self) -> None:
        self.data = bytearray()
        self.views: list[dict[str, Any]] = []
        self.accessors: list[dict[str, Any]] = []

    def primitive(self, skin: Skin, colour: Floats, material: int, creased: bool) -> dict[str, Any]:
        """Add a part's arrays; return its primitive."""
        vertex, corner, normal = _split(skin, creased)
        points = skin.vertices[vertex].astype(np.float32)
        rgba = np.full((len(vertex), 4), 255, dtype=np.uint8)
        rgba[:, :3] = np.round(linear(colour[vertex]) * 255)
        attributes = {
            "POSITION": self.add(points, FLOAT, "VEC3", bounds=True),
            "NORMAL": self.add(normal.astype(np.float32), FLOAT, "VEC3"),
            "COLOR_0": self.add(rgba, BYTE, "VEC4", normalized=True),
            "_DEPTH": self.add(skin.depth[vertex].astype(np.float32), FLOAT, "SCALAR", bounds=True),
            "_GAP": self.add(skin.gap[vertex].astype(np.float32), FLOAT, "SCALAR", bounds=True),
            "_TOOTH": self.add(skin.piece[vertex].astype(np.float32), FLOAT, "SCALAR"),
        }
        small = len(vertex) < 65_535  # the greatest number of a type may not be used
        ends = corner.ravel().astype(np.uint16 if small else np.uint32)
        indices = self.add(ends, SHORT if small else LONG, "SCALAR", target=CORNERS)
        return {"attributes": attributes, "indices": indices, "material": material, "mode": 4}

    def add(
        self,
        values: NDArray[Any],
        component: int,
        kind: str,
        target: int = VERTICES,
        bounds: bool = False,
        normalized: bool = False,
    ) -> int:
        """Add an array; return the number of its accessor."""
        raw = np.ascontiguousarray(values).tobytes()
        self.views.append(
            {"buffer": 0, "byteOffset": len(self.data), "byteLength": len(raw), "target": target}
        )
        self.data += raw + b"\0" * (-len(raw) % 4)
        accessor: dict[str, Any] = {
            "bufferView": len(self.views) - 1,
            "componentType": component,
            "count": len(values),
            "type": kind,
        }
        if normalized:
            accessor["normalized"] = True
        if bounds:
            flat = values.reshape(len(values), -1)
            accessor |= {"min": flat.min(axis=0).tolist(), "max": flat.max(axis=0).tolist()}
        self.accessors.append(accessor)
        return len(self.accessors) - 1


def _split(skin: Skin, creased: bool) -> tuple[Ints, Ints, Floats]:
    """Return for each corner to be written its vertex, for each triangle (m, 3) its corners, and their normals."""
    corner = skin.triangles.ravel()
    if creased:
        keys = np.column_stack([corner, np.round(skin.shade.reshape(-1, 3) * 127).astype(np.int64) + 128])
        flat = ((keys[:, 0] * 256 + keys[:, 1]) * 256 + keys[:, 2]) * 256 + keys[:, 3]
    else:
        flat = corner
    _values, first, number = np.unique(flat, return_index=True, return_inverse=True)
    total = np.stack(
        [np.bincount(number, weights=skin.shade.reshape(-1, 3)[:, k], minlength=len(first)) for k in range(3)], axis=1
    )
    size = np.linalg.norm(total, axis=1, keepdims=True)
    normal = np.where(size > 1e-9, total / np.maximum(size, 1e-9), [0.0, 0.0, 1.0])
    return corner[first], number.reshape(-1, 3).astype(np.int64), normal


def _rounded(values: Floats, digits: int) -> list[Any]:
    found: list[Any] = (np.round(values, digits) + 0.0).tolist()
    return found


def _maybe(value: float | None) -> float | None:
    return None if value is None else round(float(value), 3)
