"""Meshes as Wavefront OBJ and as 3MF: written here by what the formats say, and by trimesh's own exporter.

OBJ: the Wavefront OBJ description (`v`, `f`, numbers from 1, or from -1 backwards). 3MF: 3MF Core Specification 1.3.
Both from memory; that lib3mf 2.5, the consortium's own library, reads the packages alike was seen once by hand.
"""

import zipfile
from io import BytesIO

import numpy as np
import trimesh

from benchapp.seating.mesh import weld
from tests.seating.shapes import Floats

CORE = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"
# A tetrahedron of the volume 1/6, outside seen anticlockwise.
POINTS = np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1]], dtype=np.float64)
TETRA = POINTS[np.array([[0, 2, 1], [0, 1, 3], [0, 3, 2], [1, 2, 3]])]
RELATIONS = (
    '<?xml version="1.0"?><Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'
    '<Relationship Id="rel0" Target="/{target}" '
    'Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>'
)
TYPES = (
    '<?xml version="1.0"?><Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
    '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
    '<Default Extension="model" ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/></Types>'
)


def shared(triangles: Floats) -> tuple[Floats, Floats]:
    """Return vertices (n, 3) and triangles (m, 3) of their numbers."""
    mesh = weld(triangles.astype(np.float32))
    return mesh.vertices, mesh.triangles


def by_trimesh(triangles: Floats, kind: str) -> bytes:
    """Return a file as trimesh writes it."""
    mesh = trimesh.Trimesh(*shared(triangles), process=False)
    options = {"digits": 9, "include_normals": False} if kind == "obj" else {}
    written = mesh.export(file_type=kind, **options)
    return written.encode() if isinstance(written, str) else written


def obj(triangles: Floats, corner: str = "{0}", relative: bool = False) -> bytes:
    """Return an OBJ whose faces name their corners so: `{0}`, `{0}/{0}/{0}`.

    Where `relative`, each face stands behind its own three vertices and counts backwards from there.
    """
    if relative:
        lines = [f"v {x!r} {y!r} {z!r}\n" for x, y, z in triangles.astype(np.float32).reshape(-1, 3).tolist()]
        faces = ["f " + " ".join(corner.format(at) for at in (-3, -2, -1)) + "\n"] * len(triangles)
        return "".join("".join(lines[3 * at : 3 * at + 3]) + face for at, face in enumerate(faces)).encode()
    vertices, faces = shared(triangles)
    text = "# a part\nmtllib nowhere.mtl\no part\nusemtl pink\n"
    text += "".join(f"v {x!r} {y!r} {z!r}\nvt 0 0\nvn 0 0 1\n" for x, y, z in vertices.tolist())
    return (text + "".join("f " + " ".join(corner.format(at + 1) for at in face) + "\n" for face in faces)).encode()


def mesh_xml(triangles: Floats) -> str:
    """Return the element `mesh` of a 3MF."""
    vertices, faces = shared(triangles)
    points = "".join(f'<vertex x="{x!r}" y="{y!r}" z="{z!r}"/>' for x, y, z in vertices.tolist())
    corners = "".join(f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in faces.tolist())
    return f"<mesh><vertices>{points}</vertices><triangles>{corners}</triangles></mesh>"


def model(resources: str, build: str, unit: str = "", more: str = "") -> bytes:
    """Return the XML of a 3MF's model."""
    stated = f' unit="{unit}"' if unit else ""
    return (
        f'<?xml version="1.0" encoding="UTF-8"?>\n<model{stated} xmlns="{CORE}"{more}>\n'
        f"<resources>{resources}</resources>\n<build>{build}</build>\n</model>"
    ).encode()


def package(data: bytes, name: str = "3D/3dmodel.model") -> bytes:
    """Return a 3MF package around the XML of its model."""
    found = BytesIO()
    with zipfile.ZipFile(found, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("[Content_Types].xml", TYPES)
        archive.writestr("_rels/.rels", RELATIONS.format(target=name))
        archive.writestr(name, data)
    return found.getvalue()


def threemf(triangles: Floats, unit: str = "", size: float = 1.0) -> bytes:
    """Return a plain 3MF of one object; `size` is its unit in mm."""
    return package(
        model(f'<object id="1" type="model">{mesh_xml(triangles / size)}</object>', '<item objectid="1"/>', unit)
    )


def in_components(triangles: Floats) -> bytes:
    """Return a 3MF in two halves: one built plainly, one as a component that was turned and moved, and is put back.

    A point is a row before its matrix: the component turns (x, y) to (-y, x) and moves by (3, 0, 0), the item by
    (-3, 0, -5).
    """
    half = len(triangles) // 2
    astray = (triangles[half:] + np.array([0, 0, 5]))[..., [1, 0, 2]] * [1, -1, 1]  # what the two transforms below undo
    return package(
        model(
            f'<object id="1" type="model">{mesh_xml(triangles[:half])}</object>'
            f'<object id="4" type="model">{mesh_xml(astray)}</object>'
            '<object id="7"><components><component objectid="4" transform="0 1 0 -1 0 0 0 0 1 3 0 0"/>'
            "</components></object>",
            '<item objectid="1" partnumber="a"/>'
            '<item objectid="7" partnumber="a" transform="1 0 0 0 1 0 0 0 1 -3 0 -5"/>',
        )
    )
