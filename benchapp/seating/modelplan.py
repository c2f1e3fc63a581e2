"""What a 3MF's model says of itself, read without its meshes: unit, counts, components and build items.

Names, units and types: the schema of the 3MF Core Specification 1.2.2 (`core 1_2_2.xsd`), read in a stored copy; what
they mean is from memory.
"""

from io import BytesIO
from typing import Any, Final

import numpy as np
from lxml import etree
from numpy.typing import NDArray

from benchapp.core.words import _
from benchapp.seating.faults import Unusable

Matrix = NDArray[np.float64]
SIZES: Final = {"micron": 0.001, "millimeter": 1.0, "centimeter": 10.0, "inch": 25.4, "foot": 304.8, "meter": 1000.0}
# No entities, no network, no DTD; the parser's own limits of depth and length stay.
XML: Final[dict[str, Any]] = {"resolve_entities": False, "no_network": True, "load_dtd": False, "huge_tree": False}
# Extensions that a file may require without changing the shape: numbers of parts, colours, names of sets of triangles.
HARMLESS: Final = ("/production/", "/material/", "/trianglesets/")

# Types of objects that are the part itself; supports of its print and whatever else is built beside it are not.
OF_THE_PART: Final = ("model", "surface")


class Plan:
    """A target of lxml's parser: `counts` (vertices, triangles) by object, `inside` its components, `items` to build.

    `size` is the unit in mm; `meshed` are the objects with a mesh, in the model's order; `beside` those that are no
    part of the shape, such as supports.
    """

    def __init__(self, part: str) -> None:
        self.part = part
        self.size = 1.0
        self.counts: dict[str, tuple[int, int]] = {}
        self.inside: dict[str, list[tuple[str, Matrix]]] = {}
        self.items: list[tuple[str, Matrix]] = []
        self.meshed: list[str] = []
        self.beside: set[str] = set()
        self.at = ""
        self.vertices = self.triangles = 0

    def start(self, tag: str, attributes: dict[str, str], spaces: dict[str, str] | None = None) -> None:
        """Take the beginning of an element."""
        name = tag.rpartition("}")[2]
        if name == "vertex":
            self.vertices += 1
        elif name == "triangle":
            self.triangles += 1
        elif name == "object":
            self.at, self.vertices, self.triangles = attributes["id"], 0, 0
            if self.at in self.counts:
                raise self._twice()
            if attributes.get("type", "model") not in OF_THE_PART:
                self.beside.add(self.at)
        elif name == "mesh":
            self.meshed.append(self.at)
        elif name in ("component", "item"):
            self._place(name, attributes)
        elif name == "model":
            self._model(attributes, spaces or {})

    def end(self, tag: str) -> None:
        """Take the end of an element."""
        if tag.endswith("}object") or tag == "object":
            self.counts[self.at] = self.vertices, self.triangles

    def doctype(self, *_about: Any) -> None:
        """Take a document type, which a 3MF must not have: its entities could grow without end."""
        raise Unusable(
            _(
                "The 3MF file of the {part} holds declarations (DTD) that a 3MF must not have. "
                "Export it from CAD again.",
                part=self.part,
            )
        )

    def close(self) -> "Plan":
        """Return the plan at the end of the model."""
        return self

    def _model(self, attributes: dict[str, str], spaces: dict[str, str]) -> None:
        unit = attributes.get("unit", "millimeter")
        if unit not in SIZES:
            raise Unusable(
                _(
                    "The 3MF file of the {part} states a unit that there is not: {unit}. Export it in millimeter.",
                    part=self.part,
                    unit=repr(unit[:40]),
                )
            )
        self.size = SIZES[unit]
        for prefix in attributes.get("requiredextensions", "").split():
            if not any(known in spaces.get(prefix, "") for known in HARMLESS):
                raise self._beyond(spaces.get(prefix, prefix))

    def _place(self, name: str, attributes: dict[str, str]) -> None:
        if any(key.rpartition("}")[2] == "path" for key in attributes):
            raise self._beyond("path")
        placed = attributes["objectid"], self._matrix(attributes.get("transform"))
        if name == "item":
            self.items.append(placed)
        else:
            self.inside.setdefault(self.at, []).append(placed)

    def _matrix(self, written: str | None) -> Matrix:
        found = np.eye(4)
        if written is not None:
            try:
                found[:, :3] = np.array(written.split(), dtype=np.float64).reshape(4, 3)
            except ValueError:
                found[0, 0] = np.nan
            if not np.isfinite(found).all():
                raise Unusable(
                    _(
                        "The 3MF file of the {part} has a transform that is no twelve numbers: {words}. "
                        "Export it from CAD again.",
                        part=self.part,
                        words=repr(written[:60]),
                    )
                )
        return found

    def _twice(self) -> Unusable:
        return Unusable(
            _(
                "The 3MF file of the {part} holds two objects with the id {name}. Export it from CAD again.",
                part=self.part,
                name=repr(self.at[:40]),
            )
        )

    def _beyond(self, what: str) -> Unusable:
        return Unusable(
            _(
                "The 3MF file of the {part} has its shape in an extension of the format ({what}) that is not read. "
                "Export the part as plain 3MF, or as STL.",
                part=self.part,
                what=what[-60:],
            )
        )


def plan_of(model: bytes, part: str) -> Plan:
    """Return what the XML of a model says of itself; Unusable where it is no XML, or no model that can be built."""
    try:
        found: Plan = etree.parse(BytesIO(model), etree.XMLParser(target=Plan(part), **XML))
    except etree.XMLSyntaxError as error:
        raise Unusable(
            _(
                "The model in the 3MF file of the {part} is damaged: its XML ends or breaks at line {line}. "
                "Copy or export it again.",
                part=part,
                line=error.lineno or 1,
            )
        ) from None
    return found


def wrong_number(model: bytes, part: str) -> Unusable:
    """Return what is wrong with the first vertex or triangle of a model that is not told in three numbers."""
    seen = {"vertex": 0, "triangle": 0}
    for _event, one in etree.iterparse(BytesIO(model), tag=("{*}vertex", "{*}triangle"), **XML):
        name = str(one.tag).rpartition("}")[2]
        seen[name] += 1
        words = [one.get(key, "") for key in (("x", "y", "z") if name == "vertex" else ("v1", "v2", "v3"))]
        try:
            _numbers = [float(word) if name == "vertex" else int(word) for word in words]
        except ValueError:
            said = {"part": part, "number": seen[name], "words": repr(" ".join(words)[:40])}
            if name == "vertex":
                return Unusable(
                    _(
                        "Vertex {number} in the 3MF file of the {part} has no three numbers ({words}). "
                        "Export it from CAD again.",
                        **said,
                    )
                )
            return Unusable(
                _(
                    "Triangle {number} in the 3MF file of the {part} has no three whole numbers ({words}). "
                    "Export it from CAD again.",
                    **said,
                )
            )
    return Unusable(_("The meshes in the 3MF file of the {part} cannot be read. Export it from CAD again.", part=part))
