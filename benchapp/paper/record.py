"""The assembly record on paper: a summary first, then every step, the clocks, and what the record is."""

from collections.abc import Iterator
from datetime import datetime

from benchapp.core.record import Record
from benchapp.core.record_entries import Clock
from benchapp.core.record_words import plain
from benchapp.core.teeth import JAW_WORDS
from benchapp.core.words import _, language
from benchapp.paper.record_drawings import (
    MODULE_MM,
    QUIET,
    checkpoint_png,
    checkpoint_symbol,
    draw_symbol,
)
from benchapp.paper.record_sections import more
from benchapp.paper.record_sheet import SMALL, TEXT, Paper, RecordSheet
from benchapp.paper.record_summary import summary

__all__ = ["Paper", "checkpoint_png", "pdf"]


def pdf(
    record: Record, paper: Paper = "A4", made: datetime | None = None, picture: bytes | None = None
) -> bytes:
    """Return the record as PDF on A4 or Letter, the same bytes for the same record.

    `made` dates the document; left out, it is the moment at which the record was made. `picture` is the still picture
    (PNG) of the seating check.
    """
    sheet = RecordSheet(paper, made or datetime.fromisoformat(record.made), _top(record), record.warning, _foot(record))
    sheet.set_title(_("Assembly record {code}", code=record.identity.code))
    sheet.set_lang(language())
    sheet.add_page()
    summary(sheet, record)
    sheet.add_page()
    _steps(sheet, record)
    _clocks(sheet, record)
    more(sheet, record, picture)
    _about(sheet, record)
    return bytes(sheet.output())


def _top(record: Record) -> str:
    who = record.identity
    state = [] if record.standing.state == "all steps confirmed" else [_(record.standing.state)]
    return " · ".join([
        _("Assembly record"), _("{jaw} {code}", jaw=_(JAW_WORDS[who.jaw]), code=who.code),
        _("case {code}", code=who.case), _("patient {patient}", patient=who.patient), *state,
    ])


def _foot(record: Record) -> str:
    made = _("made {moment} ({zone}) with version {version}", moment=plain(record.made), zone=record.lab.zone,
             version=record.software)
    return f"{made} · {record.lab.name}"


def _steps(sheet: RecordSheet, record: Record) -> None:
    about = _(
        "Every entry about this jaw in the order in which it was stored. Times are in {zone} ({offsets}).",
        zone=record.lab.zone, offsets=record.lab.offset_words(),
    )
    sheet.heading(_("Steps"), about)
    head = (_("entry"), _("time"), _("stage: step"), _("what was said"), _("who"))
    sheet.rows(head, (10, 18, 47, 72, 33), _step_rows(record))


def _step_rows(record: Record) -> Iterator[tuple[str, ...]]:
    day, turn = "", 0
    for step in record.steps:
        if step.at[:10] != day:
            day = step.at[:10]
            yield (day,)
        if step.round > turn:
            turn = step.round
            yield (_("round {number}: the jaw was sent back", number=turn + 1),)
        stated = "\n" + _("stated {time}", time=record.shown(step.stated)) if step.stated else ""
        yield str(step.seq), record.shown(step.at) + stated, step.where(), "\n".join(step.lines()), step.who


def _clocks(sheet: RecordSheet, record: Record) -> None:
    if record.clocks:
        about = _("A clock runs from the tap of one step to the tap of another; measured is the time between the two.")
        sheet.heading(_("Clocks"), about, 40)
        head = (
            _("from"), _("to"), _("asked"), _("time between the two taps"), _("outcome"), _("source of the limit"),
        )
        sheet.rows(head, (29, 29, 25, 31, 22, 44), [_clock(record, clock) for clock in record.clocks])
    values = [(s, v) for s in record.steps for v in s.values]
    if values:
        about = _("Numbers that were confirmed, with the limits between which they bear no mark.")
        sheet.heading(_("Values"), about, 40)
        rows = [
            (
                str(s.seq), s.step, v.text(), v.limits(),
                v.source.text() if v.source else _("none named"), _(s.fate),
            )
            for s, v in values
        ]  # fmt: skip
        sheet.rows(
            (_("entry"), _("step"), _("value"), _("limits"), _("source of the limits"), _("fate")),
            (12, 36, 26, 26, 64, 16),
            rows,
        )


def _clock(record: Record, clock: Clock) -> tuple[str, ...]:
    between = [clock.between]
    if clock.ended:
        between.append(_("{first} to {last}", first=record.shown(clock.started), last=record.shown(clock.ended)))
    if clock.stated:
        between.append(_("one of them stated"))
    source = clock.source.text() if clock.source else _("none named")
    return clock.since, clock.step, clock.asked, "\n".join(between), clock.outcome(), source


def _about(sheet: RecordSheet, record: Record) -> None:
    sheet.heading(_("Where the numbers come from"))
    for source in record.protocol.sources:
        sheet.words(f"· {source.text()}")
    of = record.protocol
    sheet.words(_("Protocol {id}, edition {edition}, SHA-256 {hash}", id=of.id, edition=of.edition, hash=of.hash))
    sheet.heading(_("What this record is, and what it is not"))
    for note in record.notes:
        sheet.words(f"· {note}")
    _checkpoint(sheet, record)


def _checkpoint(sheet: RecordSheet, record: Record) -> None:
    modules = checkpoint_symbol(record)
    size, quiet = len(modules) * MODULE_MM, QUIET * MODULE_MM
    sheet.heading(_("Checkpoint"), need=size + 2 * quiet + 9)
    top = sheet.y + quiet
    draw_symbol(sheet, modules, sheet.l_margin + quiet, top)
    sheet.set_y(top)
    left = sheet.l_margin + size + 2 * quiet + 3
    point = record.checkpoint
    for text, bold, small in (
        (_("Last entry of the journal when this was made: number {number}, with the hash", number=point.seq),
         False, False),
        (point.hash, True, False),
        (_("The symbol holds: {words}", words=point.text), False, True),
        (_("Made {moment}, format {format}, software version {version}.", moment=record.made, format=record.format,
           version=record.software), False, True),
    ):
        sheet.style(SMALL if small else TEXT, bold)
        sheet.set_xy(left, sheet.y + (1 if small else 0))
        sheet.words(text, sheet.w - sheet.r_margin - left)
    sheet.set_xy(sheet.l_margin, max(sheet.y, top + size + quiet))
