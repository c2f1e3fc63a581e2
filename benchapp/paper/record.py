"""The assembly record on paper: a summary first, then every step, the clocks, and what the record is."""

from collections.abc import Iterator
from datetime import datetime

from benchapp.core.record import Record
from benchapp.core.record_entries import Clock
from benchapp.core.record_words import plain
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


def pdf(record: Record, paper: Paper = "A4", made: datetime | None = None) -> bytes:
    """Return the record as PDF on A4 or Letter, the same bytes for the same record.

    `made` dates the document; left out, it is the moment at which the record was made.
    """
    sheet = RecordSheet(paper, made or datetime.fromisoformat(record.made), _top(record), record.warning, _foot(record))
    sheet.set_title(f"Assembly record {record.identity.code}")
    sheet.set_lang("en")
    sheet.add_page()
    summary(sheet, record)
    sheet.add_page()
    _steps(sheet, record)
    _clocks(sheet, record)
    more(sheet, record)
    _about(sheet, record)
    return bytes(sheet.output())


def _top(record: Record) -> str:
    who = record.identity
    state = "" if record.standing.state == "all steps confirmed" else f" · {record.standing.state}"
    return f"Assembly record · {who.jaw} jaw {who.code} · case {who.case} · patient {who.patient}{state}"


def _foot(record: Record) -> str:
    made = f"made {plain(record.made)} ({record.lab.zone}) with version {record.software}"
    return f"{made} · {record.lab.name}"


def _steps(sheet: RecordSheet, record: Record) -> None:
    about = (
        f"Every entry about this jaw in the order in which it was stored. Times are in {record.lab.zone} "
        f"({', '.join('UTC' + offset for offset in record.lab.offsets)})."
    )
    sheet.heading("Steps", about)
    head = ("entry", "time", "stage: step", "what was said", "who")
    sheet.rows(head, (10, 18, 47, 72, 33), _step_rows(record))


def _step_rows(record: Record) -> Iterator[tuple[str, ...]]:
    day, turn = "", 0
    for step in record.steps:
        if step.at[:10] != day:
            day = step.at[:10]
            yield (day,)
        if step.round > turn:
            turn = step.round
            yield (f"round {turn + 1}: the jaw was sent back",)
        stated = f"\nstated {record.shown(step.stated)}" if step.stated else ""
        yield str(step.seq), record.shown(step.at) + stated, step.where(), "\n".join(step.lines()), step.who


def _clocks(sheet: RecordSheet, record: Record) -> None:
    about = "A clock runs from the tap of one step to the tap of another; measured is the time between the two."
    if record.clocks:
        sheet.heading("Clocks", about, 40)
        head = ("from", "to", "asked", "time between the two taps", "outcome", "source of the limit")
        sheet.rows(head, (29, 29, 25, 31, 22, 44), [_clock(record, clock) for clock in record.clocks])
    values = [(s, v) for s in record.steps for v in s.values]
    if values:
        sheet.heading("Values", "Numbers that were confirmed, with the limits between which they bear no mark.", 40)
        rows = [
            (
                str(s.seq), s.step, v.text(), v.limits(),
                v.source.text() if v.source else "none named", s.fate,
            )
            for s, v in values
        ]  # fmt: skip
        sheet.rows(
            ("entry", "step", "value", "limits", "source of the limits", "fate"),
            (12, 36, 26, 26, 64, 16),
            rows,
        )


def _clock(record: Record, clock: Clock) -> tuple[str, ...]:
    ends = f"\n{record.shown(clock.started)} to {record.shown(clock.ended)}" if clock.ended else ""
    stated = "\none of them stated" if clock.stated else ""
    source = clock.source.text() if clock.source else "none named"
    return clock.since, clock.step, clock.asked, clock.between + ends + stated, clock.outcome(), source


def _about(sheet: RecordSheet, record: Record) -> None:
    sheet.heading("Where the numbers come from")
    for source in record.protocol.sources:
        sheet.words(f"· {source.text()}")
    sheet.words(f"Protocol {record.protocol.id}, edition {record.protocol.edition}, SHA-256 {record.protocol.hash}")
    sheet.heading("What this record is, and what it is not")
    for note in record.notes:
        sheet.words(f"· {note}")
    _checkpoint(sheet, record)


def _checkpoint(sheet: RecordSheet, record: Record) -> None:
    modules = checkpoint_symbol(record)
    size, quiet = len(modules) * MODULE_MM, QUIET * MODULE_MM
    sheet.heading("Checkpoint", need=size + 2 * quiet + 9)
    top = sheet.y + quiet
    draw_symbol(sheet, modules, sheet.l_margin + quiet, top)
    sheet.set_y(top)
    left = sheet.l_margin + size + 2 * quiet + 3
    point = record.checkpoint
    for text, bold, small in (
        (f"Last entry of the journal when this was made: number {point.seq}, with the hash", False, False),
        (point.hash, True, False),
        (f"The symbol holds: {point.text}", False, True),
        (f"Made {record.made}, format {record.format}, software version {record.software}.", False, True),
    ):
        sheet.style(SMALL if small else TEXT, bold)
        sheet.set_xy(left, sheet.y + (1 if small else 0))
        sheet.words(text, sheet.w - sheet.r_margin - left)
    sheet.set_xy(sheet.l_margin, max(sheet.y, top + size + quiet))
