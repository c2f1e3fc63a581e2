"""The two sheets a lab writes for us (TOML): a case sheet, and the lab's own sheet of people, devices and lots."""

import datetime
from typing import Annotated, Literal
from zoneinfo import available_timezones

from pydantic import Field, StringConstraints, field_validator, model_validator

from benchapp.core.faults import Fault, FileFaults, Format, Written, read_toml
from benchapp.core.protocol import Id, Role
from benchapp.core.teeth import check_teeth

Line = Annotated[str, StringConstraints(min_length=1, max_length=80, strip_whitespace=True, pattern=r"^[^\x00-\x1f]*$")]
JawName = Literal["upper", "lower"]


class PartSheet(Written):
    """One printed part of a jaw."""

    part: Literal["base", "arch"] = Field(description="which of the two")
    revision: Line = Field(description="revision of the design that it was printed from")
    print_job: Line = Field(description="the print job that made it")


class JawSheet(Written):
    """One jaw of the order."""

    jaw: JawName = Field(description="upper or lower")
    teeth: list[int] = Field(description="teeth present, ISO 3950 numbers")
    parts: list[PartSheet] = Field(description="its base and its arch")

    @model_validator(mode="after")
    def _sound(self) -> "JawSheet":
        faults = check_teeth(self.jaw, self.teeth)
        if faults:
            raise ValueError(" ".join(faults))
        if sorted(part.part for part in self.parts) != ["arch", "base"]:
            raise ValueError("a jaw has one base and one arch. List both in `parts`, each once")
        return self


class CaseSheet(Written):
    """One order: who for, what, and when."""

    patient: Line = Field(description="the lab's code for the patient, not a name")
    prescriber: Line = Field(description="who ordered it")
    order: Line = Field(description="number of the order")
    kind: Literal["new", "copy", "immediate", "remake"] = Field(description="kind of order")
    due: datetime.date = Field(description="day on which it leaves the lab")
    shade: Line = Field(description="tooth shade as ordered")
    tint: Line = Field(description="base tint as ordered")
    allergy: Literal["none stated", "no", "yes"] = Field(description="answer to the question about allergies")
    options: list[Id] = Field(default=[], description="options of the protocol that this order asks for")
    training: bool = Field(default=False, description="an exercise: marked as such everywhere")

    @field_validator("due")
    @classmethod
    def _plain_day(cls, due: datetime.date) -> datetime.date:
        if type(due) is not datetime.date or due.year < 2000:
            raise ValueError("not a day. Write YYYY-MM-DD without a time")
        return due


class Sheet(Written):
    """A case sheet file."""

    format: Format = Field(description="which format this file is written in: 1")
    case: CaseSheet = Field(description="the order")
    jaws: list[JawSheet] = Field(min_length=1, max_length=2, description="one or two jaws")


class PersonSheet(Written):
    """Somebody who works in the lab."""

    name: Line = Field(description="as shown on the tile and printed on the record")
    roles: list[Role] = Field(min_length=1, description="technician, supervisor, technique-lead")
    pin: Annotated[str, StringConstraints(pattern=r"^[0-9]{4,8}$")] | None = Field(
        default=None, description="four to eight digits; left out: drawn and printed once. For training only")


class DeviceSheet(Written):
    """A lamp, a chamber or another device."""

    name: Line = Field(description="as shown on the tile")
    kind: Id = Field(description="kind that a pick of the protocol asks for: lamp, chamber …")


class MaterialSheet(Written):
    """A lot of a material."""

    name: Line = Field(description="as shown on the tile")
    kind: Id = Field(description="kind that a pick of the protocol asks for: bonding-resin …")
    lot: Line = Field(description="the maker's lot number")
    expiry: datetime.date = Field(description="last day of use")
    tint: Annotated[str, StringConstraints(max_length=80)] = Field(default="", description="tint, where it has one")


class LabSheet(Written):
    """The lab's own sheet."""

    format: Format = Field(description="which format this file is written in: 1")
    name: Line = Field(description="name of the laboratory, as printed on the record")
    address: Line = Field(description="its address, as printed on the record")
    zone: Line = Field(description="IANA time zone, such as Europe/Madrid")
    people: list[PersonSheet] = Field(default=[], description="who works here")
    devices: list[DeviceSheet] = Field(default=[], description="lamps, chambers …")
    materials: list[MaterialSheet] = Field(default=[], description="lots in use")

    @field_validator("zone")
    @classmethod
    def _known_zone(cls, zone: str) -> str:
        if zone not in available_timezones():
            raise ValueError("no such time zone. Use an IANA name such as Europe/Madrid")
        return zone


def read_sheet(name: str, text: str) -> Sheet:
    """Read a case sheet; raise FileFaults with every fault at once."""
    sheet = read_toml(name, text, Sheet)
    jaws = [jaw.jaw for jaw in sheet.jaws]
    if len(set(jaws)) < len(jaws):
        raise FileFaults(name, [Fault("jaws", "one jaw stands twice", "List upper and lower once each")])
    return sheet


def read_lab(name: str, text: str) -> LabSheet:
    """Read a lab sheet; raise FileFaults with every fault at once."""
    sheet = read_toml(name, text, LabSheet)
    names = [person.name for person in sheet.people]
    twice = sorted({n for n in names if names.count(n) > 1})
    if twice:
        raise FileFaults(name, [Fault(f"people[{n}]", "stands twice", "Tell the two apart by name") for n in twice])
    return sheet
