"""The two sheets a lab writes for us (TOML): a case sheet, and the lab's own sheet of people, devices and lots."""

import datetime
from functools import cache
from typing import Annotated, Literal
from zoneinfo import available_timezones

from pydantic import AfterValidator, Field, StringConstraints, field_validator, model_validator

from benchapp.core.faults import Fault, FileFaults, Format, Written, read_toml
from benchapp.core.protocol import Id, Role
from benchapp.core.teeth import check_teeth
from benchapp.core.words import _

Line = Annotated[str, StringConstraints(min_length=1, max_length=80, strip_whitespace=True, pattern=r"^[^\x00-\x1f]*$")]
Words = Annotated[str, StringConstraints(max_length=80, strip_whitespace=True, pattern=r"^[^\x00-\x1f]*$")]
JawName = Literal["upper", "lower"]
_NM = "whole nanometres from 200 to 1100"


def _plain(day: datetime.date) -> datetime.date:
    if type(day) is not datetime.date or not 2000 <= day.year <= 2200:
        raise ValueError(_("not a day from 2000 to 2200. Write YYYY-MM-DD without a time"))
    return day


def _band(band: list[int]) -> list[int]:
    if len(band) != 2 or not 200 <= band[0] <= band[1] <= 1100:
        raise ValueError(_("not a band of light. Write the lowest and the highest nm, from 200 to 1100: [385, 405]"))
    return band


@cache
def _zones() -> set[str]:
    return available_timezones()  # it looks through every file of the zone database


Day = Annotated[datetime.date, AfterValidator(_plain)]
Band = Annotated[list[int], AfterValidator(_band)]
Opposing = Literal["", "natural teeth", "partial denture", "denture", "implants", "no teeth", "not known"]
Bite = Literal["", "scanned", "on wax or silicone", "from the old denture", "none came"]
Mounting = Literal["", "mounted", "mounted on screen only", "not mounted"]
TryIn = Literal["", "to do", "done", "not planned"]
YesNo = Literal["", "yes", "no"]


class PartSheet(Written):
    """One printed part of a jaw."""

    part: Literal["base", "arch"] = Field(description="which of the two")
    revision: Line = Field(description="revision of the design that it was printed from")
    print_job: Line = Field(description="the print job that made it")
    mesh: Line | None = Field(
        default=None, description="its design file (STL, OBJ, 3MF) beside the sheet; attached by `benchapp add` alone")


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
            raise ValueError(_("a jaw has one base and one arch. List both in `parts`, each once"))
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
    pan: Words = Field(default="", description="number of the pan or tray that the work lies in, the lab's own")
    surgery: datetime.date | None = Field(
        default=None, description="day of a surgery that is fixed and that the work must be there for")
    opposing: Opposing = Field(
        default="", description="what stands in the other jaw: natural teeth, partial denture, denture, implants, "
        "no teeth, not known")
    bite: Bite = Field(
        default="", description="how the bite came: scanned, on wax or silicone, from the old denture, none came")
    mounting: Mounting = Field(
        default="", description="on the articulator: mounted, mounted on screen only, not mounted")
    tryin: TryIn = Field(default="", description="try-in in the mouth: to do, done, not planned")
    marking: YesNo = Field(default="", description="identification mark in the base: yes, no")
    marking_words: Words = Field(default="", description="what the mark says; kept apart, since it may be personal")

    @field_validator("due", "surgery")
    @classmethod
    def _plain_day(cls, day: datetime.date | None) -> datetime.date | None:
        if day is not None and (type(day) is not datetime.date or day.year < 2000):
            raise ValueError(_("not a day. Write YYYY-MM-DD without a time"))
        return day

    @model_validator(mode="after")
    def _marked(self) -> "CaseSheet":
        if self.marking_words and self.marking != "yes":
            raise ValueError(_('`marking_words` without a mark. Set `marking = "yes"`, or leave the words out'))
        return self


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
    band: Band | None = Field(default=None, description=f"light that it gives, [lowest, highest]: {_NM}")
    checked: Day | None = Field(default=None, description="day of its last check")
    due: Day | None = Field(default=None, description="day by which it must be checked again; still good on that day")
    blocked: Words = Field(default="", description="why it may not be used; left out: it may")
    spent: bool = Field(default=False, description="taken out of use for good")

    @model_validator(mode="after")
    def _in_order(self) -> "DeviceSheet":
        if self.checked and self.due and self.due < self.checked:
            raise ValueError(_("the next check is due before the last one. Put the two days in order"))
        return self


class MaterialSheet(Written):
    """A lot of a material."""

    name: Line = Field(description="as shown on the tile")
    kind: Id = Field(description="kind that a pick of the protocol asks for: bonding-resin, solvent, barrier …")
    lot: Line = Field(description="the maker's lot number")
    expiry: Day = Field(description="last day of use; still good on that day")
    opened: Day | None = Field(default=None, description="day on which it was opened")
    after_opening: Annotated[int, Field(ge=0, le=3660)] = Field(
        default=0, description="days that it keeps once opened, the day of opening not counted; 0: not said")
    tint: Words = Field(default="", description="tint, where it has one; a bonding resin's must be the base's")
    shade: Words = Field(default="", description="tooth shade, where it has one")
    band: Band | None = Field(default=None, description=f"light that it cures at, [lowest, highest]: {_NM}")
    blocked: Words = Field(default="", description="why it may not be used; left out: it may")
    spent: bool = Field(default=False, description="nothing of it is left")


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
        if zone not in _zones():
            raise ValueError(_("no such time zone. Use an IANA name such as Europe/Madrid"))
        return zone


def read_sheet(name: str, text: str) -> Sheet:
    """Read a case sheet; raise FileFaults with every fault at once."""
    sheet = read_toml(name, text, Sheet)
    jaws = [jaw.jaw for jaw in sheet.jaws]
    if len(set(jaws)) < len(jaws):
        raise FileFaults(name, [Fault("jaws", _("one jaw stands twice"), _("List upper and lower once each"))])
    return sheet


def read_lab(name: str, text: str) -> LabSheet:
    """Read a lab sheet; raise FileFaults with every fault at once."""
    sheet = read_toml(name, text, LabSheet)
    names = [person.name for person in sheet.people]
    twice = sorted({n for n in names if names.count(n) > 1})
    if twice:
        mend = _("Tell the two apart by name")
        raise FileFaults(name, [Fault(f"people[{n}]", _("stands twice"), mend) for n in twice])
    return sheet
