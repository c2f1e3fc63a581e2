"""What a record says of single entries and of the clocks between them, as types."""

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

from benchapp.core.words import N_, _

NO_SUCH_TIME = N_("beyond the calendar")  # stored in English: `plain` of `record_words` says it
Moment = Annotated[str, Field(pattern=rf"^(\d{{4}}-\d\d-\d\dT\d\d:\d\d:\d\d[+-]\d\d:\d\d(:\d\d)?|{NO_SUCH_TIME})$")]
Grade = Literal["note", "deviation", "stop", "refused", ""]
Fate = Literal["counts", "taken back", "not taken", "taken in"]

KINDS = {
    "hold": N_("hold"), "resume": N_("end of hold"), "undo": N_("taking back"), "reason": N_("reason"),
    "resolve": N_("supervisor"), "scrap": N_("scrap"), "dark": N_("light off"), "bright": N_("light on"),
}  # fmt: skip
# Ids that stand on a record as words: grades, fates, states of a jaw, sorts of matters, kinds of entries. They are
# stored and compared in English, and looked up by `_` where they are shown.
SHOWN = (
    N_("note"), N_("deviation"), N_("stop"), N_("refused"),
    N_("counts"), N_("taken back"), N_("not taken"), N_("taken in"),
    N_("not finished"), N_("on hold"), N_("scrapped"), N_("all steps confirmed"), N_("released"),
    N_("mark"), N_("stated"), N_("claimed"), N_("tablet"), N_("hold"), N_("sent back"), N_("again"), N_("scrap"),
    N_("parts"), N_("pick"), N_("dark"), N_("carried over"), N_("server"), N_("finding"),
    N_("undo"), N_("resume"), N_("sendback"), N_("bright"), N_("reason"), N_("resolve"),
)  # fmt: skip


def graded(words: str, grade: str) -> str:
    """Return what was out of the ordinary with its grade in words behind it."""
    return f"{words} ({_(grade)})"


class Said(BaseModel):
    """Base of everything on a record: frozen, and nothing beyond the fields named."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class SourceOf(Said):
    """Where a number comes from."""

    kind: str = Field(description="sort of source, in words")
    title: str = Field(description="the document, or whose rule it is")

    def text(self) -> str:
        """Return the source as it is printed."""
        return f"{self.kind}: {self.title}"


class ValueSaid(Said):
    """A number that was confirmed."""

    title: str = Field(description="what was read off")
    value: str = Field(description="the number as confirmed")
    unit: str = Field(description="its unit; empty for a count")
    least: str = Field(description="least value without a mark; empty when the protocol does not know the value")
    most: str = Field(description="greatest value without a mark; empty when the protocol does not know the value")
    source: SourceOf | None = Field(description="where the limits come from")

    def text(self) -> str:
        """Return the number as it is printed."""
        return f"{self.title} {self.value} {self.unit}".rstrip()

    def limits(self) -> str:
        """Return its limits as they are printed."""
        if not self.least:
            return _("none known")
        return _("{least} to {most}", least=self.least, most=f"{self.most} {self.unit}".rstrip())


class Picked(Said):
    """A part, device, lot or person that was picked."""

    title: str = Field(description="what was asked for")
    words: str = Field(description="what was picked")
    code: str = Field(description="the code that is stored")
    right: bool = Field(description="false for a part that is not one of this jaw, and for a code that is unknown here")


class Done(Said):
    """One entry of the journal about this jaw, in the order in which it was stored."""

    seq: int = Field(description="number of the entry in the journal")
    round: int = Field(description="the round it was said in: each send-back begins another")
    kind: str = Field(description="kind of event, for instance confirm, hold, undo")
    stage: str = Field(description="title of the stage; empty where no step is concerned")
    step: str = Field(description="title of the step; empty where no step is concerned")
    said: str = Field(description="words of the outcome; empty for what is not a confirmation")
    words: str = Field(description="the entry in words: group, how many places, how long viewed, what was said")
    places: list[str] = Field(description="stored names of the places that were named")
    count: int = Field(description="how many single places it covers; 0 for a step without places")
    viewed_ms: int = Field(description="for how long the card was on the screen before, ms")
    named: list[str] = Field(description="exceptions named in this group before the group was confirmed")
    at: Moment = Field(description="recorded time: the tablet's, corrected by the PC's clock")
    stated: Moment | None = Field(description="time that a person named instead, if any")
    who: str = Field(description="by whom")
    how: str = Field(description="how that person was known to the tablet")
    values: list[ValueSaid] = Field(description="numbers confirmed with it")
    picks: list[Picked] = Field(description="what was picked with it")
    fate: Fate = Field(description="counts; taken back; not taken; taken in by a supervisor afterwards")
    fate_words: str = Field(description="the fate in words; empty when the entry simply counts")
    marks: list[str] = Field(description="what was out of the ordinary in it, in words")

    def where(self) -> str:
        """Return stage and step as they are printed."""
        return f"{self.stage}: {self.step}" if self.stage else self.step or _(KINDS.get(self.kind, self.kind))

    def lines(self) -> list[str]:
        """Return what was said as it is printed, line by line; "!" begins what is unusual."""
        named = [_("named here: {places}", places=", ".join(self.named))] if self.named else []
        values = [value.text() for value in self.values]
        picks = [f"{pick.title}: {pick.words}" for pick in self.picks]
        unusual = [*self.marks, *([self.fate_words] if self.fate_words else [])]
        return [self.words, *named, *values, *picks, *(f"! {mark}" for mark in unusual)]


class Clock(Said):
    """One floor or ceiling that ran: what was asked, and the time between the two taps."""

    kind: Literal["floor", "ceiling"] = Field(description="floor: not before; ceiling: not after")
    since: str = Field(description="title of the step whose tap started the clock")
    step: str = Field(description="title of the step that it is about")
    started: Moment = Field(description="the tap that started it")
    ended: Moment | None = Field(description="the tap that ended it; null while it runs")
    asked_ms: int = Field(description="length of the clock, ms")
    asked: str = Field(description="the length in words: not before 30 min")
    grace_ms: int = Field(description="by how much it may be missed without a word, ms")
    between_ms: int | None = Field(description="time between the two taps, ms; null while it runs")
    between: str = Field(description="the time between the two taps in words; empty while it runs")
    kept: bool | None = Field(description="whether it was kept; null while it runs")
    words: str = Field(description="kept, missed and by how much, or running until when")
    stated: bool = Field(description="whether one of the two times was stated by a person")
    grade: Grade = Field(description="what a breach means")
    source: SourceOf | None = Field(description="where the number comes from")

    def outcome(self) -> str:
        """Return how it ended, as it is printed."""
        return graded(self.words, self.grade) if self.kept is False else self.words
