"""The forms of the shelf: what is asked of a lot and of a device, and how typed words become a sheet."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from pydantic import ValidationError

from benchapp.core.faults import shape_faults
from benchapp.core.sheet import DeviceSheet, MaterialSheet
from benchapp.core.stock import Of, Thing
from benchapp.core.words import N_, _

NAME, KIND = N_("Name"), N_("Kind")
NAME_HINT, KIND_HINT = N_("as the tile at the bench shows it"), N_("what a step asks for")
LOW, HIGH = "band_low", "band_high"
LIGHT = N_("Light")
NOTHING = N_("{field}: nothing stands there. Fill it in.")


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
    """A shelf of the desk: what stands on it, its title, its fields, the kinds that are offered."""

    at: str
    of: Of
    title: str
    sheet: type[DeviceSheet] | type[MaterialSheet]
    fields: tuple[Field, ...]
    kinds: tuple[str, ...]


_BAND_OF_LAMP = N_("nm, 200 to 1100, from its maker; both or neither")
_BAND_OF_RESIN = N_("nm, 200 to 1100, from its instructions for use; both or neither")
MATERIALS = Shelf(
    "materials", "material", N_("Materials"), MaterialSheet,
    (
        Field("name", NAME, must=True, hint=NAME_HINT),
        Field("kind", KIND, must=True, hint=KIND_HINT),
        Field("lot", N_("Lot"), must=True, hint=N_("the maker's lot number")),
        Field("expiry", N_("Last day of use"), "date", True, N_("still good on that day")),
        Field("opened", N_("Opened on"), "date", hint=N_("leave empty while it is closed")),
        Field("after_opening", N_("Keeps once opened"), "number", hint=N_("days, the day of opening not counted")),
        Field("tint", N_("Tint"), hint=N_("a bonding resin's must be the base's")),
        Field("shade", N_("Shade")),
        Field(LOW, N_("Cures from"), "number", hint=_BAND_OF_RESIN),
        Field(HIGH, N_("Cures to"), "number", hint=_BAND_OF_RESIN),
    ),
    ("bonding-resin", "base-resin", "tooth-resin", "solvent", "barrier", "stain", "glaze"),
)
DEVICES = Shelf(
    "devices", "device", N_("Devices"), DeviceSheet,
    (
        Field("name", NAME, must=True, hint=NAME_HINT),
        Field("kind", KIND, must=True, hint=KIND_HINT),
        Field(LOW, N_("Light from"), "number", hint=_BAND_OF_LAMP),
        Field(HIGH, N_("Light to"), "number", hint=_BAND_OF_LAMP),
        Field("checked", N_("Last checked on"), "date"),
        Field("due", N_("Next check due on"), "date", hint=N_("still good on that day")),
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
    """Return a typed day, None for an empty field; a fault is added where it is no day. `label` is a constant."""
    try:
        return date.fromisoformat(text.strip()) if text.strip() else None
    except ValueError:
        typed = repr(text.strip())
        faults.append(_("{field}: {typed} is not a day. Write it as 2026-11-25.", field=_(label), typed=typed))
        return None


def read_form(shelf: Shelf, form: Mapping[str, str]) -> tuple[DeviceSheet | MaterialSheet | None, list[str]]:
    """Return the sheet that a form means, or None with every fault at once."""
    faults: list[str] = []
    told: dict[str, Any] = {}
    for field in shelf.fields:
        value = form.get(field.name, "").strip()
        if not value and field.must:
            faults.append(_(NOTHING, field=_(field.label)))
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
        return None, faults or [_("This cannot be read. Compare every field with its hint.")]
    return (None, faults) if faults else (sheet, [])


def _read(field: Field, value: str, faults: list[str]) -> Any:
    if field.sort == "date":
        return read_day(value, field.label, faults)
    if field.sort == "number":
        if not (value.isascii() and value.isdigit() and len(value) <= 6):
            faults.append(_("{field}: {typed} is no whole number. Write digits only.",
                            field=_(field.label), typed=repr(value)))
            return None
        return int(value)
    return value


def _words(shelf: Shelf, where: str, what: str, mend: str) -> str:
    label = next((field.label for field in shelf.fields if field.name == where), LIGHT if where == "band" else "")
    if where == "kind":
        what = _("this is no kind")
        mend = _("Write small letters, digits and hyphens, such as {example}", example="bonding-resin")
    return f"{_(label)}: {what}. {mend}." if label else f"{what[:1].upper()}{what[1:]}. {mend}."
