"""What a record says of breaches that a supervisor has to read: the limit, the reason, and who closed it when."""

from collections.abc import Mapping, Sequence
from typing import Any

from pydantic import Field

from benchapp.core.events import FOLDED, fold_event
from benchapp.core.matters import Mark, Matter, matters
from benchapp.core.record_entries import Grade, Moment, Said
from benchapp.core.record_trail import Entry, Trail
from benchapp.core.record_words import WHY, Names, apart, quoted
from benchapp.core.words import N_, _

ERASED = N_("(erased)")
CLOSED = {"accepted": N_("accepted as it is"), "followed-up": N_("followed up"), "read": N_("read")}


class Deviation(Said):
    """One entry whose breach a supervisor has to read and to close."""

    at: Moment = Field(description="when; the stated time if a person named one")
    step: str = Field(description="title of the step")
    words: str = Field(description="what was out of the ordinary, with the limit that was missed")
    grade: Grade = Field(description="deviation, or stop; the gravest where there are several")
    reason: str = Field(description="words of the reason tile; empty when none was given")
    who: str = Field(description="whose tap it was")
    closed: str = Field(description="what the supervisor made of it; empty while it is open")
    closed_words: str = Field(description="the supervisor's own words; empty when there are none")
    closed_by: str = Field(description="which supervisor; empty while it is open")
    closed_at: Moment | None = Field(description="when it was closed; null while it is open")

    def closing(self) -> str:
        """Return how it was closed, as it is printed."""
        if not self.closed_by:
            return _("not closed yet")
        return self.closed + (f": {self.closed_words}" if self.closed_words else "")


def matters_of(table: dict[str, Any], trail: Trail, entries: Sequence[Entry]) -> list[Matter]:
    """Return what of a jaw waits for a supervisor, open and closed (see `core.matters`)."""
    bodies = [body for _, _, body in entries]
    folded = [fold_event(body) for body in bodies if body["event"]["kind"] in FOLDED]
    return matters(table, trail.state, folded, bodies)


def deviations(names: Names, found: Sequence[Matter], texts: Mapping[str, str]) -> list[Deviation]:
    """Return the breaches among the matters of a jaw."""
    return [_deviation(names, matter, texts) for matter in found if matter.kind == "breach"]


def _deviation(names: Names, matter: Matter, texts: Mapping[str, str]) -> Deviation:
    closing = matter.closed
    words = texts.get(closing.words, _(ERASED)) if closing and closing.words else ""
    return Deviation(
        at=names.at(matter.t),
        step=names.step(matter.step),
        words=matter_words(names, matter),
        grade="stop" if any(mark.grade == "stop" for mark in matter.marks) else "deviation",
        reason=names.reason(matter.reason),
        who=names.person(matter.person),
        closed=_(CLOSED.get(closing.outcome, closing.outcome)) if closing else "",
        closed_words=words,
        closed_by=names.person(closing.person) if closing else "",
        closed_at=names.at(closing.at) if closing else None,
    )


def matter_words(names: Names, matter: Matter) -> str:
    """Return a matter in words: step, what was said, and each mark with its limit."""
    said = names.said(matter.step, matter.outcome) if matter.what == "confirm" else _(matter.what)
    marks = "; ".join(mark_words(names, matter.step, mark) for mark in matter.marks)
    return f"{quoted(names.step(matter.step))} {said}: {marks}" if matter.step else f"{said}: {marks}"


def mark_words(names: Names, step: str, mark: Mark) -> str:
    """Return one mark of a matter in words: what was missed, with the clock or the value and its limit."""
    why = _(WHY.get(mark.why, mark.why))
    if mark.since:
        return f"{why}: {apart(mark.why == 'early', mark.took, names.step(mark.since), mark.asked)}"
    if mark.name:
        found = names.of_step(step)
        title = next((v.title for v in found.values if v.name == mark.name), mark.name) if found else mark.name
        return _("{why}: {value} {number}, asked {least} to {most}", why=why, value=title, number=mark.said,
                 least=mark.least, most=mark.most)
    return why
