"""The report of a seating check: dataclasses, rounded, as JSON with a JSON Schema."""

from dataclasses import dataclass, fields
from typing import Any, Final

from benchapp.core.teeth import Jaw

DEFINITIONS: Final = 6
LEAVE, KERF = 2.0, 0.3  # mm2, mm: where nobody says how connectors are cut (common practice, no source)
DECIMALS: Final = {"mm": 3, "mm2": 2, "mm3": 3, "ml": 4, "deg": 2}
SIDES: Final = ("buccal", "lingual", "mesial", "distal")

Number = float | None
Interval = tuple[float, float]


@dataclass(frozen=True)
class ToothReport:
    """One tooth in its socket; `tooth` is its ISO 3950 number, None where it cannot be told.

    `intervals` holds for each of its numbers the two ends between which the true one lies in 95 of 100 cases.
    """

    tooth: int | None
    depth_median_mm: Number
    depth_max_mm: Number
    depth_by_side_mm: dict[str, Number]
    crest_depth_median_mm: Number
    bond_area_mm2: Number
    gap_volume_ml: Number
    gap_median_mm: Number
    intervals: dict[str, Interval]


@dataclass(frozen=True)
class ConnectorReport:
    """One connector between two neighbours of the row (None where they cannot be told)."""

    between: tuple[int | None, int | None]
    area_mm2: float
    height_mm: float
    thickness_mm: float
    cut_depth_mm: float
    relief_volume_ml: float
    islands_mm2: tuple[float, ...]
    at_limit: bool
    intervals: dict[str, Interval]


@dataclass(frozen=True)
class PlaceReport:
    """A place where the arch is stopped, or the parts come nearest to each other: its tooth and side (None where they
    cannot be told, or it lies beneath the tooth), its point in the files' coordinates, in mm.

    `size_mm` is how wide base stands above arch, how deep the parts lie in each other, or how near they come.
    """

    tooth: int | None
    side: str | None
    point_mm: tuple[float, float, float]
    size_mm: float


@dataclass(frozen=True)
class MeshReport:
    """One of the two files."""

    sha256: str
    triangles: int
    closed: bool


@dataclass(frozen=True)
class Report:
    """What the two meshes tell; what cannot be known is None, with its reason among the warnings."""

    jaw: Jaw
    unit: str
    axis: tuple[float, float, float]
    axis_source: str
    axis_spread_deg: float
    kerf_mm: float
    leave_mm2: float
    teeth: tuple[ToothReport, ...]
    connectors: tuple[ConnectorReport, ...]
    least_clearance_mm: Number
    nearest: PlaceReport | None
    overlap_mm3: Number
    overlaps: tuple[PlaceReport, ...]
    undercut_width_mm: Number
    undercuts: tuple[PlaceReport, ...]
    goes_in: bool | None
    resin_ml: Number
    intervals: dict[str, Interval]
    meshes: dict[str, MeshReport]
    warnings: tuple[str, ...]
    definitions_version: int = DEFINITIONS


def as_json(report: Report) -> dict[str, Any]:
    """Return a report as plain data, every number rounded to the decimals of its unit."""
    found: dict[str, Any] = _plain(report, "")
    return found


def _plain(value: Any, name: str) -> Any:
    if isinstance(value, bool) or value is None or isinstance(value, str | int):
        return value
    if isinstance(value, float):
        rounded = round(value, decimals(name))
        return 0.0 if rounded == 0 else rounded
    if isinstance(value, dict):
        inner = {key: _plain(one, key if key not in ("base", "arch", *SIDES) else name) for key, one in value.items()}
        return inner
    if isinstance(value, list | tuple):
        return [_plain(one, name) for one in value]
    return {field.name: _plain(getattr(value, field.name), field.name) for field in fields(value)}


def decimals(name: str) -> int:
    """Return the decimals that a number of this name is rounded to: by the unit at its end, else 6."""
    return DECIMALS.get(name.rpartition("_")[2], 6)


NUMBER: Final = {"type": "number"}
MAYBE: Final = {"type": ["number", "null"]}
AREA: Final = {"type": "number", "minimum": 0}
TOOTH: Final = {"type": ["integer", "null"], "minimum": 11, "maximum": 48}
INTERVALS: Final = {
    "type": "object",
    "additionalProperties": {"type": "array", "items": NUMBER, "minItems": 2, "maxItems": 2},
}


def schema() -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of a report."""
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", "title": "Seating check"} | _object(
        {
            "jaw": {"enum": ["upper", "lower"]},
            "unit": {"enum": ["mm", "cm", "m", "inch"]},
            "axis": {"type": "array", "items": NUMBER, "minItems": 3, "maxItems": 3},
            "axis_source": {"enum": ["given", "floors", "margins"]},
            "axis_spread_deg": AREA,
            "kerf_mm": AREA,
            "leave_mm2": AREA,
            "teeth": {"type": "array", "items": _tooth()},
            "connectors": {"type": "array", "items": _connector()},
            "least_clearance_mm": MAYBE,
            "nearest": {"anyOf": [_place(), {"type": "null"}]},
            "overlap_mm3": MAYBE,
            "overlaps": {"type": "array", "items": _place()},
            "undercut_width_mm": MAYBE,
            "undercuts": {"type": "array", "items": _place()},
            "goes_in": {"type": ["boolean", "null"]},
            "resin_ml": MAYBE,
            "intervals": INTERVALS,
            "meshes": _object(dict.fromkeys(("base", "arch"), _mesh())),
            "warnings": {"type": "array", "items": {"type": "string"}},
            "definitions_version": {"const": DEFINITIONS},
        }
    )


def _object(properties: dict[str, Any]) -> dict[str, Any]:
    return {"type": "object", "properties": properties, "required": list(properties), "additionalProperties": False}


def _tooth() -> dict[str, Any]:
    return _object(
        {
            "tooth": TOOTH,
            "depth_median_mm": MAYBE,
            "depth_max_mm": MAYBE,
            "depth_by_side_mm": _object(dict.fromkeys(SIDES, MAYBE)),
            "crest_depth_median_mm": MAYBE,
            "bond_area_mm2": MAYBE,
            "gap_volume_ml": MAYBE,
            "gap_median_mm": MAYBE,
            "intervals": INTERVALS,
        }
    )


def _connector() -> dict[str, Any]:
    return _object(
        {
            "between": {"type": "array", "items": TOOTH, "minItems": 2, "maxItems": 2},
            "area_mm2": AREA,
            "height_mm": AREA,
            "thickness_mm": AREA,
            "cut_depth_mm": AREA,
            "relief_volume_ml": AREA,
            "islands_mm2": {"type": "array", "items": AREA},
            "at_limit": {"type": "boolean"},
            "intervals": INTERVALS,
        }
    )


def _place() -> dict[str, Any]:
    return _object(
        {
            "tooth": TOOTH,
            "side": {"enum": [*SIDES, None]},
            "point_mm": {"type": "array", "items": NUMBER, "minItems": 3, "maxItems": 3},
            "size_mm": AREA,
        }
    )


def _mesh() -> dict[str, Any]:
    return _object(
        {
            "sha256": {"type": "string", "pattern": "^[0-9a-f]{64}$"},
            "triangles": {"type": "integer", "minimum": 1},
            "closed": {"type": "boolean"},
        }
    )
