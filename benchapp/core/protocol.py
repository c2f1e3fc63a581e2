"""The lab's protocol file (TOML): its format as types, each key explained.

The keys below are printed into DEVELOPERS.md. Rules that need more than one entry are in `protocol_rules`,
which also reads the file.
"""

from decimal import Decimal
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, StringConstraints, field_validator, model_validator

from benchapp.core.faults import Format, Written
from benchapp.core.protocol_seating import MOST, Id, SeatingLimits, Shows, exact
from benchapp.core.words import N_, _

FORMAT = 1

__all__ = [
    "ROLE_WORDS", "Caution", "Id", "Limit", "Minutes", "Outcome", "Pick", "Protocol", "Reason", "Role", "SeatingLimits",
    "Source", "Stage", "Step", "UndoTimes", "Value",
]

Words = Annotated[str, StringConstraints(min_length=1, max_length=600, strip_whitespace=True)]
Title = Annotated[str, StringConstraints(min_length=1, max_length=80, strip_whitespace=True)]
Number = Annotated[Decimal, BeforeValidator(exact)]
Whole = Annotated[int, Field(ge=0, le=MOST)]

PlaceKind = Literal["tooth", "margin", "connector", "base", "jaw"]
Grade = Literal["note", "deviation", "stop"]
Role = Literal["technician", "supervisor", "technique-lead"]
ROLE_WORDS: dict[str, str] = {
    "technician": N_("technician"), "supervisor": N_("supervisor"), "technique-lead": N_("technique-lead"),
}

RESERVED = ("lots", "light", "plan")


class Source(Written):
    """Where a number comes from; every number of the file names one of these."""

    id: Id = Field(description="name by which numbers refer to it")
    kind: Literal["ifu", "standard", "common-practice", "lab"] = Field(
        description="ifu: the resin's or device's instructions for use; standard: a published standard; "
        "common-practice: done everywhere, published nowhere; lab: this laboratory's own rule")
    title: Words = Field(description="the document, or whose rule it is, as it is printed on the record")


class Caution(Written):
    """A hazard and what to do about it, shown on the steps that name it."""

    id: Id = Field(description="name by which steps refer to it")
    title: Title = Field(description="two or three words")
    words: Words = Field(description="what to do, in one or two sentences")


class Stage(Written):
    """A named stretch of the work; every step belongs to one."""

    id: Id = Field(description="name by which steps refer to it")
    title: Title = Field(description="as shown above the step and on the record")


class Reason(Written):
    """A tile that a person taps to say why."""

    id: Id = Field(description="name of the tile, stored in the event")
    title: Title = Field(description="words on the tile")
    asked: list[Literal["breach", "hold", "send-back", "stated", "scrap", "finding"]] = Field(
        min_length=1, description="on which questions the tile is offered")


class Minutes(Written):
    """How long a step usually takes."""

    is_: Whole = Field(alias="is", description="whole minutes for a practised hand and one jaw")
    source: Id = Field(description="where the number comes from")


class Limit(Written):
    """A floor (not before) or a ceiling (not after) against the last confirmation of another step."""

    since: Id = Field(description="the step whose last confirmation starts the clock")
    minutes: Whole = Field(default=0, description="whole minutes; added to `seconds`")
    seconds: Whole = Field(default=0, description="seconds; added to `minutes`")
    grace: Whole = Field(default=0, description="seconds by which it may be missed without a word")
    breach: Grade = Field(
        description="note: printed; deviation: a reason is asked; stop: a floor refuses the tap, "
        "a ceiling takes it, and the jaw is held")
    source: Id = Field(description="where the numbers come from")

    @model_validator(mode="after")
    def _has_length(self) -> "Limit":
        if self.minutes * 60 + self.seconds == 0:
            raise ValueError(_("the clock has no length. Give `minutes` or `seconds`"))
        return self


class Value(Written):
    """A number that is read off something and confirmed with the step, shown filled in beforehand."""

    name: Id = Field(description="name of the value in the event")
    title: Title = Field(description="words beside it")
    unit: Annotated[str, StringConstraints(max_length=12)] = Field(description="unit as printed; empty for a count")
    usual: Number = Field(description="the number that is filled in beforehand")
    min: Number = Field(description="least value without a mark")
    max: Number = Field(description="greatest value without a mark")
    step: Number = Field(default=Decimal(1), description="how far one tap on + or - moves it")
    breach: Grade = Field(default="deviation", description="grade of a value outside min and max")
    source: Id = Field(description="where the numbers come from")

    @model_validator(mode="after")
    def _in_order(self) -> "Value":
        if not self.min <= self.usual <= self.max:
            raise ValueError(_("`usual` is not between `min` and `max`. Put the three in order"))
        if self.step <= 0:
            raise ValueError(_("`step` does not move the value. Use a number above 0"))
        return self

    @property
    def decimals(self) -> int:
        """How many decimals it is shown with at least: those of `usual` or of `step`, whichever has more."""
        exponents = (number.normalize().as_tuple().exponent for number in (self.usual, self.step))
        return max(0, *(-int(exponent) for exponent in exponents))

    @property
    def filled(self) -> str:
        """The number as it is filled in beforehand, with a point."""
        return f"{self.usual:.{self.decimals}f}"


class Pick(Written):
    """A person, device, material or part that is picked from tiles or scanned with the step."""

    name: Id = Field(description="name of the pick in the event")
    title: Title = Field(description="words above the tiles")
    of: Literal["person", "device", "material", "part"] = Field(description="what is picked")
    kind: Id | None = Field(default=None, description="only devices or materials of this kind; a part: base or arch")


class Outcome(Written):
    """What a tap can say, and where it leads."""

    id: Id = Field(description="name of the outcome in the event")
    title: Title = Field(description="words on the button")
    said: Title = Field(description="words on the record")
    of: Literal["group", "place", "each"] = Field(
        default="group", description="group: said of a whole group (sextant or jaw); place: of a single "
        "exception; each: of both")
    leads: Literal["on", "again", "hold", "opens", "wakes", "back"] = Field(
        default="on", description="on: that much is finished; again: tried, asked again; hold: the jaw is held; "
        "opens: `to` asks for this place, and this step asks again when `until` is through; "
        "wakes: finished here, and `to` asks for this place; back: the jaw goes back to `to`")
    to: Id | None = Field(default=None, description="the step that opens, wakes or back leads to")
    until: Id | None = Field(default=None, description="for opens: the step whose finish returns the place here "
                             "(left out: `to` itself)")
    left_out: bool = Field(default=False, description="for an irreversible step, with on: it was not done, so nothing "
                           "was lit, and no clock starts")

    @model_validator(mode="after")
    def _has_target(self) -> "Outcome":
        if (self.leads in ("opens", "wakes", "back")) != (self.to is not None):
            raise ValueError(_("`to` goes with opens, wakes and back, and only with them. Add or remove `to`"))
        if self.until is not None and self.leads != "opens":
            raise ValueError(_("`until` goes with opens only. Remove `until`"))
        if self.left_out and self.leads != "on":
            raise ValueError(_("`left_out` goes with on only. Remove `left_out`"))
        return self


class Step(Written):
    """One card at the bench: what to do, where, how long, and what can come of it."""

    id: Id = Field(description="name of the step in events; stays the same through all editions")
    stage: Id = Field(description="the stage it belongs to")
    title: Title = Field(description="what to do, in a few words")
    words: Words = Field(description="how to do it; shown large")
    picture: Id = Field(description="a drawing of static/pictures, without its ending")
    cautions: list[Id] = Field(default=[], description="cautions shown on this step")
    option: Id | None = Field(default=None, description="only in cases whose sheet lists this option")
    wet: bool = Field(default=False, description="resin is wet: nothing is refused, breaches are explained afterwards")
    irreversible: bool = Field(default=False, description="light that cannot be taken back; the first one that is "
                               "done is first light: from there on there is no way back")
    attended: bool = Field(default=True, description="the step holds the person; false: only the clock runs")
    load: bool = Field(default=False, description="done with all jaws of one chamber run together; a door opened "
                       "meanwhile moves its clock on by the time without light")
    minutes: Minutes = Field(description="how long it usually takes")
    places: list[PlaceKind] = Field(default=[], description="which places of the jaw exceptions can be named at")
    by: Literal["place", "sextant", "jaw"] = Field(
        default="jaw", description="what one confirmation covers: each place, a sextant with its places, the jaw")
    called: bool = Field(default=False, description="asks for nothing until another step opens or wakes a place")
    outcomes: list[Outcome] = Field(min_length=1, description="what can be said; the first one is the main action")
    floors: list[Limit] = Field(default=[], description="not before")
    ceilings: list[Limit] = Field(default=[], description="not after")
    values: list[Value] = Field(default=[], description="numbers confirmed with the step")
    picks: list[Pick] = Field(default=[], description="what is picked with the step")
    lots: None = Field(default=None, description="reserved: materials used up by the step")
    light: None = Field(default=None, description="reserved: light times from lamp readings")
    seating: Shows | None = Field(
        default=None, description="what of the seating check the step shows: answers: its findings, each answered "
        "once; cut: how far each connector is cut; resin: how much the jaw takes; fill: places to watch")
    plan: None = Field(default=None, description="reserved: chamber places and persons for planning")

    @field_validator(*RESERVED, mode="before")
    @classmethod
    def _reserved(cls, value: Any) -> None:
        raise ValueError(_("this key is reserved for a later format. Remove it"))


class UndoTimes(Written):
    """How long a confirmation can be taken back."""

    minutes: Annotated[int, Field(ge=1, le=720)] = Field(description="for an ordinary step")
    light_seconds: Annotated[int, Field(ge=0, le=600)] = Field(
        description="for an irreversible step: only a slip of the finger")
    source: Id = Field(description="where the numbers come from")


class Protocol(Written):
    """A whole protocol file."""

    format: Format = Field(description="which format this file is written in: 1")
    id: Id = Field(description="name of the protocol; stays the same through all editions")
    edition: Annotated[str, StringConstraints(min_length=1, max_length=20)] = Field(
        description="changes with every change that matters; printed on the record")
    title: Title = Field(description="what the protocol is for")
    jaws: list[Literal["upper", "lower"]] = Field(min_length=1, description="the jaws it can be used for")
    options: list[Id] = Field(default=[], description="options that a case sheet may list")
    undo: UndoTimes = Field(description="how long a confirmation can be taken back")
    sources: list[Source] = Field(min_length=1, description="where numbers come from")
    cautions: list[Caution] = Field(default=[], description="hazards")
    stages: list[Stage] = Field(min_length=1, description="stages in order")
    reasons: list[Reason] = Field(min_length=1, description="reason tiles")
    seating: SeatingLimits | None = Field(default=None, description="the lab's limits for the seating check")
    steps: list[Step] = Field(min_length=1, max_length=200, description="steps in order")
