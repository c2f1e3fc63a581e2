"""The forms of the shelf: what is asked of a lot and of a device, and how typed words become a sheet."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from pydantic import ValidationError

from benchapp.core.faults import shape_faults
from benchapp.core.sheet import DeviceSheet, MaterialSheet
from benchapp.core.stock import Of, Thing

NAME = "Name"
LOW, HIGH = "band_low", "band_high"


@dataclass(frozen=True)
class Field:
    """One field of a form: its name, its label, its sort (text, date, number), whether it must be filled, a hint."""

    name: str
    label: str
    sort: str = "text"
    must: bool = False
    hint: str = ""


@dataclass(frozen=True)
class Shelf:
    """A shelf of the desk: what stands on it, its words, its fields, the kinds that are offered."""

    at: str
    of: Of
    title: str
    one: str
    sheet: type[DeviceSheet] | type[MaterialSheet]
    fields: tuple[Field, ...]
    kinds: tuple[str, ...]


_BAND_OF_LAMP = "nm, 200 to 1100, from its maker; both or neither"
_BAND_OF_RESIN = "nm, 200 to 1100, from its instructions for use; both or neither"
MATERIALS = Shelf(
    "materials", "material", "Materials", "lot", MaterialSheet,
    (
        Field("name", NAME, must=True, hint="as the tile at the bench shows it"),
        Field("kind", "Kind", must=True, hint="what a step asks for"),
        Field("lot", "Lot", must=True, hint="the maker's lot number"),
        Field("expiry", "Last day of use", "date", True, "still good on that day"),
        Field("opened", "Opened on", "date", hint="leave empty while it is closed"),
        Field("after_opening", "Keeps once opened", "number", hint="days, the day of opening not counted"),
        Field("tint", "Tint", hint="a bonding resin's must be the base's"),
        Field("shade", "Shade"),
        Field(LOW, "Cures from", "number", hint=_BAND_OF_RESIN),
        Field(HIGH, "Cures to", "number", hint=_BAND_OF_RESIN),
    ),
    ("bonding-resin", "base-resin", "tooth-resin", "solvent", "barrier", "stain", "glaze"),
)
DEVICES = Shelf(
    "devices", "device", "Devices", "device", DeviceSheet,
    (
        Field("name", NAME, must=True, hint="as the tile at the bench shows it"),
        Field("kind", "Kind", must=True, hint="what a step asks for"),
        Field(LOW, "Light from", "number", hint=_BAND_OF_LAMP),
        Field(HIGH, "Light to", "number", hint=_BAND_OF_LAMP),
        Field("checked", "Last checked on", "date"),
        Field("due", "Next check due on", "date", hint="still good on that day"),
    ),
    ("lamp", "chamber", "meter", "handpiece"),
)
SHELVES = {shelf.at: shelf for shelf in (MATERIALS, DEVICES)}


def typed(thing: Thing, shelf: Shelf) -> dict[str, str]:
    """Return what stands in the fields of a form for a thing that is known."""
    band = {LOW: thing.band[0], HIGH: thing.band[1]} if thing.band else {}
    values = {field.name: band.get(field.name, getattr(thing, field.name, "")) for field in shelf.fields}
    return {name: str(value or "") for name, value in values.items()}


def read_day(text: str, label: str, faults: list[str]) -> date | None:
    """Return a typed day, None for an empty field; a fault is added where it is no day."""
    try:
        return date.fromisoformat(text.strip()) if text.strip() else None
    except ValueError:
        faults.append(f"{label}: {text.strip()!r} is not a day. Write it as 2026-11-25.")
        return None


def read_form(shelf: Shelf, form: Mapping[str, str]) -> tuple[DeviceSheet | MaterialSheet | None, list[str]]:
    """Return the sheet that a form means, or None with every fault at once."""
    faults: list[str] = []
    told: dict[str, Any] = {}
    for field in shelf.fields:
        value = form.get(field.name, "").strip()
        if not value and field.must:
            faults.append(f"{field.label}: nothing stands there. Fill it in.")
        elif value:
            told[field.name] = _read(field, value, faults)
    told = {name: value for name, value in told.items() if value is not None}
    band = [told.pop(name) for name in (LOW, HIGH) if name in told]
    if band:
        told["band"] = band
    if "kind" in told:
        told["kind"] = "-".join(told["kind"].lower().split())
    try:
        sheet = shelf.sheet.model_validate(told)
    except ValidationError as error:
        faults += [_words(shelf, fault.where, fault.what, fault.mend) for fault in shape_faults(told, error)
                   if fault.where in told or fault.where == "file"]
        return None, faults or ["This cannot be read. Compare every field with its hint."]
    return (None, faults) if faults else (sheet, [])


def _read(field: Field, value: str, faults: list[str]) -> Any:
    if field.sort == "date":
        return read_day(value, field.label, faults)
    if field.sort == "number":
        if not (value.isascii() and value.isdigit() and len(value) <= 6):
            faults.append(f"{field.label}: {value!r} is no whole number. Write digits only.")
            return None
        return int(value)
    return value


def _words(shelf: Shelf, where: str, what: str, mend: str) -> str:
    label = next((field.label for field in shelf.fields if field.name == where), "Light" if where == "band" else "")
    if where == "kind":
        what, mend = "this is no kind", "Write small letters, digits and hyphens, such as bonding-resin"
    return f"{label}: {what}. {mend}." if label else f"{what[:1].upper()}{what[1:]}. {mend}."
