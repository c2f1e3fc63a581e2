"""Reads 3MF: trimesh reads the meshes, the model's plan (unit, build items, components) is ours.

The format: 3MF Core Specification 1.3, from memory: package, components, build items, transforms (names: `modelplan`).
Placing is ours because trimesh 5.2 leaves out an item that has another's part number, and some of the components that
are used again and again.
"""

import zipfile
from collections.abc import Iterator
from io import BytesIO
from typing import Final

import numpy as np
from lxml import etree
from numpy.typing import NDArray
from trimesh.exchange.threemf import load_3MF

from benchapp.core.words import _
from benchapp.seating.faults import Unusable
from benchapp.seating.modelplan import XML, Matrix, Plan, plan_of, wrong_number

MOST_UNPACKED: Final = 100_000_000  # bytes: as XML tree they are twenty times as much in memory
MOST_NAMED: Final = 10_000  # parts that a zip may list
MOST_PLACED: Final = 500
MOST_DEEP: Final = 8  # components of components: trimesh takes ever longer for each
MOST_TRIANGLES: Final = 4_000_000  # as an STL of 200 MB holds
MODEL: Final = "3D/3dmodel.model"


def read_3mf(data: bytes, part: str, own_unit: bool) -> NDArray[np.float64]:
    """Return the corners (n, 3, 3) of all that a 3MF builds, in mm, or in its own unit when `own_unit` is not set."""
    model = _model(data, part)
    plan = plan_of(model, part)
    placed = list(_placed(plan, part))
    if not placed:
        return np.empty((0, 3, 3))
    meshes = _meshes(model, plan, part)
    with np.errstate(over="ignore", invalid="ignore"):
        found = [_moved(meshes[name], matrix) for name, matrix in placed]
        return np.concatenate(found) * (plan.size if own_unit else 1.0)


def _model(data: bytes, part: str) -> bytes:
    """Return the XML of a package's model, unpacked no further than may be."""
    listed = data.count(b"PK\1\2")  # each listed part costs memory, before anything can be asked
    if listed > MOST_NAMED:
        raise Unusable(
            _(
                "The 3MF file of the {part} lists {count} parts; at most {most} are read. Export the part alone.",
                part=part,
                count=listed,
                most=MOST_NAMED,
            )
        )
    try:
        with zipfile.ZipFile(BytesIO(data)) as package:
            name = _start(package)
            if name is None:
                raise Unusable(
                    _(
                        "The file of the {part} is a zip file without a 3D model. "
                        "Export the part from CAD as 3MF, OBJ or STL.",
                        part=part,
                    )
                )
            return _unpacked(package, name, part)
    except (Unusable, MemoryError):
        raise
    except Exception:  # zipfile and what unpacks raise many kinds
        raise Unusable(
            _("The 3MF file of the {part} is cut off or damaged. Copy or export it again.", part=part)
        ) from None


def _start(package: zipfile.ZipFile) -> str | None:
    """Return the name of the part that the package says is its model, else of the one that is named like one."""
    names = {name.lower().strip("/"): name for name in package.namelist()}  # names of parts are equal in any case
    if (relations := names.get("_rels/.rels")) and package.getinfo(relations).file_size < 1_000_000:
        root = etree.fromstring(package.read(relations), etree.XMLParser(**XML))
        for one in root.iter("{*}Relationship"):
            if one.get("Type", "").endswith("/3dmodel"):
                return names.get(one.get("Target", "").lower().strip("/"))
    return names.get(MODEL.lower()) or next((name for low, name in names.items() if low.endswith(".model")), None)


def _unpacked(package: zipfile.ZipFile, name: str, part: str) -> bytes:
    about = package.getinfo(name)
    if about.flag_bits & 1:
        raise Unusable(
            _("The 3MF file of the {part} is locked by a password. Export it from CAD without one.", part=part)
        )
    with package.open(about) as stream:
        model = b"" if about.file_size > MOST_UNPACKED else stream.read(MOST_UNPACKED + 1)
    if about.file_size > MOST_UNPACKED or len(model) > MOST_UNPACKED:
        raise Unusable(
            _(
                "The model in the 3MF file of the {part} unpacks to more than {most} MB. "
                "Export it with fewer triangles, or as STL.",
                part=part,
                most=MOST_UNPACKED // 1_000_000,
            )
        )
    return model


def _placed(plan: Plan, part: str) -> Iterator[tuple[str, Matrix]]:
    """Yield each mesh of the part that the build places, by the id of its object, with the transform (4, 4) of its
    points' rows; what is built beside it, such as supports, is left out."""
    waiting = [(name, matrix, 0) for name, matrix in reversed(plan.items) if name not in plan.beside]
    if plan.items and not waiting:
        raise Unusable(
            _("The 3MF file of the {part} builds supports alone, and no part. Export the part itself.", part=part)
        )
    visited = triangles = 0
    while waiting:
        name, matrix, deep = waiting.pop()
        visited += 1
        if name not in plan.counts:
            raise Unusable(
                _(
                    "The 3MF file of the {part} places object {name}, which it does not hold. "
                    "Export it from CAD again.",
                    part=part,
                    name=repr(name[:40]),
                )
            )
        triangles += plan.counts[name][1]
        if visited + len(waiting) > MOST_PLACED or deep > MOST_DEEP or triangles > MOST_TRIANGLES:
            raise Unusable(
                _(
                    "The 3MF file of the {part} places too much: more than {most} objects, objects in objects more "
                    "than {deep} deep, or more than {triangles} million triangles. Export the part alone, as one body.",
                    part=part,
                    most=MOST_PLACED,
                    deep=MOST_DEEP,
                    triangles=MOST_TRIANGLES // 1_000_000,
                )
            )
        if plan.counts[name][1]:
            yield name, matrix
        waiting += [(inner, own @ matrix, deep + 1) for inner, own in reversed(plan.inside.get(name, []))]


def _meshes(model: bytes, plan: Plan, part: str) -> dict[str, NDArray[np.float64]]:
    """Return the corners (n, 3, 3) of each object's mesh by its id, as trimesh reads them."""
    package = BytesIO()
    with zipfile.ZipFile(package, "w") as alone:
        alone.writestr(MODEL, model)
    package.seek(0)
    try:
        read = load_3MF(package, postprocess=False)["geometry"]  # type: ignore[no-untyped-call]  # in the model's order
    except etree.XMLSyntaxError as error:
        if error.lineno:
            raise
        raise MemoryError from None  # the XML was sound when the plan was read: its tree found no room
    except (KeyError, ValueError):
        raise wrong_number(model, part) from None
    found = {}
    for name, mesh in zip(plan.meshed, read.values(), strict=True):
        vertices, triangles = mesh["vertices"], mesh["faces"]
        if (len(vertices), len(triangles)) != plan.counts[name]:
            raise ValueError("not all of the mesh was read")
        wrong = ((triangles < 0) | (triangles >= len(vertices))).any(axis=1)
        if wrong.any():
            raise Unusable(
                _(
                    "Triangle {number} in the 3MF file of the {part} names a vertex that is not there: object {name} "
                    "has {count}. Export it from CAD again.",
                    number=int(np.argmax(wrong)) + 1,
                    part=part,
                    name=repr(name[:40]),
                    count=len(vertices),
                )
            )
        found[name] = vertices[triangles]
    return found


def _moved(corners: NDArray[np.float64], matrix: Matrix) -> NDArray[np.float64]:
    """Return corners moved by the transform of their rows; what it mirrors keeps its outside outside."""
    moved = corners @ matrix[:3, :3] + matrix[3, :3]
    return moved[:, ::-1] if np.linalg.det(matrix[:3, :3]) < 0 else moved
