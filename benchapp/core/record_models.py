"""The assembly record as types: what a record says, each field explained; its JSON Schema documents it."""

from typing import Literal

from pydantic import Field

from benchapp.core.numbers import SystemWords, system_of, system_words, teeth_words
from benchapp.core.protocol import ROLE_WORDS
from benchapp.core.record_after import After, PairCheck
from benchapp.core.record_changes import Changes
from benchapp.core.record_deviations import Deviation
from benchapp.core.record_entries import NO_SUCH_TIME, Clock, Done, Grade, Moment, Said, SourceOf
from benchapp.core.record_identity import PART_TITLES, Identity, Laboratory, Part
from benchapp.core.record_seating import SeatingCheck
from benchapp.core.record_statement import Statement
from benchapp.core.record_used import OldPart, Repair, Used
from benchapp.core.record_words import plain, quoted, span
from benchapp.core.words import _, n_

__all__ = [
    "Check",
    "Checkpoint",
    "Counts",
    "Identity",
    "Item",
    "Laboratory",
    "NotOrdinary",
    "Part",
    "PlaceStory",
    "ProtocolOf",
    "Record",
    "Saying",
    "Standing",
    "Way",
    "Who",
]


class Standing(Said):
    """What state the jaw is in at the moment of printing."""

    state: Literal["not finished", "on hold", "scrapped", "all steps confirmed", "released"] = Field(
        description="the state in a word"
    )
    words: str = Field(description="the state in a sentence, printed at the top")
    step: str = Field(description="title of the step that is on; empty when none is")
    round: int = Field(description="round of the jaw: counts each send-back, and each one taken back")
    lit: bool = Field(description="whether first light has been: from then on there is no way back")
    left: list[str] = Field(description="titles of the steps that still ask or wait")
    open_matters: list[str] = Field(description="what somebody still has to look at, in words")


class Saying(Said):
    """One thing that was said of one place."""

    at: Moment = Field(description="when; the stated time if a person named one")
    step: str = Field(description="title of the step")
    said: str = Field(description="what was said")
    who: str = Field(description="by whom")


class PlaceStory(Said):
    """What was said of one place from the first time it was named on."""

    number: int = Field(description="number of the place on the picture and in the list")
    place: str = Field(description="stored name of the place, for instance 11-21")
    words: str = Field(description="the place in words")
    loop: bool = Field(description="whether it was sent back to an earlier step, or named more than once")
    open: bool = Field(description="whether something is still asked of it")
    story: list[Saying] = Field(description="what was said, in order")

    def title(self) -> str:
        """Return the place as it is printed: its words, and what is special about its story."""
        more = [word for word, so in ((_("loop"), self.loop), (_("STILL OPEN"), self.open)) if so]
        return self.words + (f" ({', '.join(more)})" if more else "")


class Item(Said):
    """One matter that was not ordinary and does not belong to one place."""

    kind: Literal[
        "mark",
        "stated",
        "claimed",
        "tablet",
        "hold",
        "sent back",
        "again",
        "taken back",
        "refused",
        "scrap",
        "parts",
        "pick",
        "dark",
        "carried over",
        "finding",
        "server",
    ] = Field(description="what sort of matter")
    grade: Grade = Field(
        description="note: printed; deviation: asks for a reason; stop: held; refused: not taken; or empty"
    )
    at: Moment | None = Field(description="when; null when it is not of one moment")
    step: str = Field(description="title of the step; empty where none is concerned")
    words: str = Field(description="what it was")
    reason: str = Field(description="words of the reason tile; empty when none was given")
    who: str = Field(description="whose tap it was")
    lasted_ms: int | None = Field(description="how long it lasted, ms; null when it did not last or still lasts")
    open: bool = Field(description="whether somebody still has to look at it")

    def text(self) -> str:
        """Return the matter as it is printed."""
        reason = [_("Reason: {reason}.", reason=self.reason)] if self.reason else []
        return " ".join([f"{self.words}.", *reason, *([_("Still to be looked at.")] if self.open else [])])

    def sort(self) -> str:
        """Return its grade, or else what sort of matter it is, as it is printed."""
        return _(self.grade or self.kind)


class NotOrdinary(Said):
    """Everything that was out of the ordinary."""

    places: list[PlaceStory] = Field(description="by place: exceptions and loops")
    items: list[Item] = Field(description="everything else, in order of time")


class Check(Said):
    """One check of the jaw: a step asked of it as a whole, one of three or more of its stage."""

    step: str = Field(description="title of the check")
    answered: bool = Field(description="whether it stands confirmed now")
    said: str = Field(description="the answer; empty when there is none yet")
    at: Moment | None = Field(description="when it was answered last")
    who: str = Field(description="by whom")

    def lacking(self) -> str:
        """Return what is printed where a check does not stand confirmed."""
        if self.answered:
            return ""
        return _("open again") if self.said else _("not answered yet")


class Way(Said):
    """How a person was known to the tablet, and how often."""

    how: str = Field(description="by PIN, by badge, at the PC, or claimed without a PIN")
    confirmations: int = Field(description="confirmations made that way")


class Who(Said):
    """One person on this record."""

    name: str = Field(description="printed name")
    roles: list[str] = Field(description="roles at the last entry")
    ways: list[Way] = Field(description="how they were known")
    confirmations: int = Field(description="confirmations of theirs in the journal, whatever became of them")
    first: Moment = Field(description="their first entry for this jaw")
    last: Moment = Field(description="their last entry for this jaw")

    def role_words(self) -> str:
        """Return the roles as they are printed."""
        return ", ".join(_(ROLE_WORDS.get(role, role)) for role in self.roles) or _("none known")

    def known(self) -> str:
        """Return how they were known to the tablet, as it is printed."""
        return ", ".join(f"{way.how} {way.confirmations}" for way in self.ways) or _("no confirmation")

    def when(self) -> str:
        """Return from when to when, as it is printed."""
        return span(self.first, self.last)


class Counts(Said):
    """Confirmations of this jaw in the journal, counted by what became of them."""

    stored: int = Field(description="all of them; the sum of the three others")
    count: int = Field(description="those that count, with the ones a supervisor took in")
    taken_back: int = Field(description="those that were taken back")
    not_taken: int = Field(description="those that could not be taken when they came and were not taken in since")

    def text(self) -> str:
        """Return the counts as they are printed."""
        return _(
            "Confirmations in the journal: {stored}. Of these count {count}; taken back: {taken_back}; "
            "not taken: {not_taken}.", stored=self.stored, count=self.count, taken_back=self.taken_back,
            not_taken=self.not_taken,
        )


class ProtocolOf(Said):
    """By which protocol the jaw was worked."""

    id: str = Field(description="name of the protocol")
    title: str = Field(description="what it is for")
    edition: str = Field(description="its edition")
    hash: str = Field(description="SHA-256 of the protocol file, hexadecimal")
    table: str = Field(description="SHA-256 of the table compiled from it for this jaw, hexadecimal")
    sources: list[SourceOf] = Field(description="the sources that its numbers name")


class Checkpoint(Said):
    """The last entry of the laboratory's journal when the record was made."""

    seq: int = Field(description="number of the entry")
    hash: str = Field(description="its hash, SHA-256, hexadecimal")
    text: str = Field(description="what the QR symbol holds: SC1, code of the jaw, number, hash, with single blanks")


class Record(Said):
    """The assembly record of one jaw, as it stands at one moment."""

    format: Literal[3] = Field(description="format of this document: 3")
    made: Moment = Field(description="when the record was made")
    software: str = Field(description="version of the software that made it")
    numbers: SystemWords = Field(
        default="ISO 3950", description="numbers of teeth in the words of this document; ISO 3950 in every JSON, and "
        "names of places are always ISO 3950",
    )
    training: bool = Field(description="an exercise: not the record of a denture")
    speed: int = Field(description="by what every duration was divided; 1 at the bench")
    warning: str = Field(description="printed on every page of an exercise; empty otherwise")
    lab: Laboratory = Field(description="the laboratory")
    identity: Identity = Field(description="whose jaw, and what was ordered")
    standing: Standing = Field(description="the state it is in")
    not_ordinary: NotOrdinary = Field(description="what was not ordinary")
    checks: list[Check] = Field(description="checks of the jaw as a whole")
    who: list[Who] = Field(description="everybody whose entries are on it")
    confirmations: Counts = Field(description="how many confirmations there are")
    steps: list[Done] = Field(description="every entry in order")
    clocks: list[Clock] = Field(description="floors and ceilings that ran")
    used: list[Used] = Field(description="materials, devices, parts and loads as they were picked")
    old_parts: list[OldPart] = Field(description="parts that were scrapped and made again")
    repairs: list[Repair] = Field(description="places that were opened again and mended")
    changes: Changes = Field(description="what changed about the case since it was accepted")
    deviations: list[Deviation] = Field(description="breaches that a supervisor has to read and to close")
    pair_checks: list[PairCheck] = Field(description="checks of both jaws together; the last one counts")
    after: After = Field(description="release, and what came after it")
    seating: SeatingCheck | None = Field(
        description="the seating check of base and arch; null where their files were not attached")
    photos: list[str] = Field(description="place kept for names of photos; none are kept by this version")
    statement: Statement = Field(description="data for the statement on a custom-made device")
    protocol: ProtocolOf = Field(description="by which protocol")
    checkpoint: Checkpoint = Field(description="where in the journal it was made")
    notes: list[str] = Field(description="what the record is and is not")

    def shown(self, at: str | None) -> str:
        """Return a moment as time of day: with the day where the work took several, with its offset where the
        clocks were changed meanwhile."""
        if at is None or at == NO_SUCH_TIME:
            return plain(at) if at else ""
        day = f"{at[5:10]} " if len({step.at[:10] for step in self.steps}) > 1 else ""
        return day + at[11:19] + (at[19:] if len(self.lab.offsets) > 1 else "")

    def facts(self) -> list[tuple[str, str]]:
        """Return names and values of the order and of what was made, as they are printed."""
        who, left, system = self.identity, self.standing.left, system_of(self.numbers)
        steps = n_("{n} step, from {step} on", "{n} steps, from {step} on", len(left), step=quoted([*left, ""][0]))
        entered = _("{case}, entered {moment}", case=who.case, moment=plain(who.accepted or ""))
        found = [
            (_("Patient"), who.patient),
            (_("Prescriber"), who.prescriber),
            (_("Order"), _("{order}, {kind}, due {day}", order=who.order, kind=who.kind, day=who.due)),
            (_("Shade, base tint"), f"{who.shade}; {who.tint}"),
            (_("Allergy asked"), self.allergy_words()),
            (_("Teeth, {system}", system=system_words(system)),
             f"{teeth_words(who.teeth, system)} ({len(who.teeth)})"),
            *((_(PART_TITLES[part.part]), part.text()) for part in who.parts),
            (_("Made again"), who.made_again()),
            *((detail.title, detail.words) for detail in who.further),
            (_("Options"), ", ".join(who.options)),
            (_("Pair check"), self.pair_checks[-1].said if self.pair_checks else ""),
            (_("Still to do"), steps if left else ""),
            (_("Case"), entered if who.accepted else who.case),
            (_("Laboratory"), ", ".join(words for words in (self.lab.name, self.lab.address) if words)),
            (_("Protocol"), _("{title}; {id}, edition {edition}", title=self.protocol.title, id=self.protocol.id,
                              edition=self.protocol.edition)),
        ]
        return [(name, value) for name, value in found if value]

    def allergy_words(self) -> str:
        """Return the answer about allergies with the decision on it, as it is printed."""
        decided = self.changes.allergy[-1:]
        return "; ".join([self.identity.allergy, *(_("decided: {decision}", decision=one.text()) for one in decided)])
