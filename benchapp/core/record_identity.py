"""Whose jaw a record is about, and who made it: the laboratory, the order, the parts."""

from typing import Literal

from pydantic import Field

from benchapp.core.record_changes import Detail
from benchapp.core.record_entries import Moment, Said
from benchapp.core.words import N_, _

PART_TITLES = {"base": N_("Base"), "arch": N_("Arch")}


class Laboratory(Said):
    """Who made the jaw, and whose clock and calendar the times are in."""

    name: str = Field(description="name of the laboratory")
    address: str = Field(description="its address; empty when none was entered")
    zone: str = Field(description="IANA time zone of all times on the record")
    offsets: list[str] = Field(
        description="offsets from UTC that occur on this record; two when a clock change lies within"
    )

    def offset_words(self) -> str:
        """Return the offsets as they are printed."""
        return ", ".join(f"UTC{offset}" for offset in self.offsets)


class Part(Said):
    """One printed part that went into the jaw."""

    part: str = Field(description="base or arch")
    make: int = Field(description="1 for the first print, one more with each remake")
    revision: str = Field(description="revision of the design that it was printed from")
    print_job: str = Field(description="the print job that made it")
    code: str = Field(description="code on its tag, in groups")

    def text(self) -> str:
        """Return the part as it is printed."""
        return _(
            "make {make}, design revision {revision}, print job {print_job}, tag {code}", make=self.make,
            revision=self.revision, print_job=self.print_job, code=self.code,
        )


class Identity(Said):
    """Whose jaw this is, and what was ordered."""

    case: str = Field(description="code of the case, in groups")
    code: str = Field(description="code of the jaw, in groups")
    jaw: Literal["upper", "lower"] = Field(description="which jaw")
    follows: str = Field(description="code of the scrapped jaw that it takes the place of; empty for a first make")
    followed_by: str = Field(description="code of the jaw that was made in its place; empty when none was")
    patient: str = Field(description="the laboratory's code for the patient, not a name")
    prescriber: str = Field(description="who ordered it")
    order: str = Field(description="number of the order")
    kind: str = Field(description="kind of order, in words")
    due: str = Field(description="day on which it is due, YYYY-MM-DD")
    accepted: Moment | None = Field(description="when the case was entered")
    shade: str = Field(description="tooth shade as ordered")
    tint: str = Field(description="base tint as ordered")
    allergy: str = Field(description="answer to the question about allergies")
    further: list[Detail] = Field(description="what else the order says")
    options: list[str] = Field(description="options of the protocol that the order asks for")
    teeth: list[int] = Field(description="teeth of the arch, ISO 3950 numbers in row order")
    parts: list[Part] = Field(description="the printed parts")
    sole_use: str = Field(description="that the jaw is meant for one patient only, in words")

    def made_again(self) -> str:
        """Return which jaw it takes the place of, and which one took its place, as it is printed."""
        first = _("takes the place of the scrapped jaw {code}", code=self.follows) if self.follows else ""
        second = _("its place is taken by jaw {code}", code=self.followed_by) if self.followed_by else ""
        return _("{first} and {second}", first=first, second=second) if first and second else first or second
