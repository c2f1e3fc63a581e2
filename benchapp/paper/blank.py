"""The blank step sheet of a jaw: every step to be filled in by hand, for a day without a PC."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from benchapp.actions.bench import Bench
from benchapp.actions.jaws import line, protocol_of, texts_of
from benchapp.actions.lab import lab_of
from benchapp.actions.settings import setting
from benchapp.core import archmap
from benchapp.core.codes import spaced
from benchapp.core.course import with_its_outcomes
from benchapp.core.numbers import Numbers, numbers_of, system_words
from benchapp.core.protocol import Protocol, Step
from benchapp.core.record_arch import MarkedArch
from benchapp.core.record_words import length, quoted
from benchapp.core.teeth import JAW_WORDS, SEXTANT_WORDS, SEXTANTS, in_row
from benchapp.core.ways import clocks_of, kind_words, leads
from benchapp.core.words import N_, _, language
from benchapp.paper.record_drawings import draw_arch
from benchapp.paper.record_sheet import SMALL, TEXT, Paper, RecordSheet

BOX = "\N{BALLOT BOX}"
LEFT, BOXES, APART = 66.0, 30.0, 3.0  # mm: words of the step, time and initials, between the columns
MAP = 44.0  # mm; the numbers of teeth are 4.7 pt then, read in the hand
LINE_MM = 6.5  # a line to write on
INTRO = N_(
    "For a day without the PC. Fill it in at the jaw as the work goes, never beforehand: time of the clock on the "
    "wall, initials, what was exceptional and where. When the PC is back, every entry is made at the bench page with "
    "“Other time”, as a stated time with its reason: the record then says that the time was stated, not recorded. "
    "Nothing on this sheet counts before that. Keep it with the jaw until the record is printed, then file it."
)
CARE = N_(
    "The instructions for use of the resin, the lamp and the chamber stand above this sheet. Clocks are not watched "
    "on paper: write down when each one ends, and set a timer."
)
LEADS = {
    "opens": N_("{outcome} (to {step})"), "wakes": N_("{outcome} (then {step})"),
    "back": N_("{outcome} (back to {step})"),
}
CLOCKS = {
    "floor": N_("not before {length} after {step}: earliest {time}"),
    "ceiling": N_("at the latest {length} after {step}: by {time}"),
}
PICKS = {"material": N_("{what}, name and lot"), "device": N_("{what}, name"), "part": N_("{what}, tag")}


@dataclass(frozen=True)
class Blank:
    """What a blank sheet is made from: the jaw's protocol and table, whose it is in words, and when it is made (ms)."""

    protocol: Protocol
    table: Mapping[str, Any]
    jaw: str
    teeth: tuple[int, ...]
    code: str
    case: str
    patient: str
    order: str
    due: str
    lab: str
    training: bool
    made: int
    numbers: Numbers = "fdi"


def sheet_of(bench: Bench, code: str) -> Blank:
    """Return what the blank sheet of a jaw is made from; Unknown where no case has that jaw."""
    found = line(bench, code)
    texts = texts_of(bench, [found.case["texts"][name] for name in ("patient", "order")])
    return Blank(
        protocol_of(bench, found), found.table, found.jaw["jaw"], in_row(found.jaw["jaw"], found.jaw["teeth"]), code,
        found.case["code"], texts[found.case["texts"]["patient"]], texts[found.case["texts"]["order"]],
        found.case["due"], lab_of(bench).name, bool(found.case["training"]), bench.clock(),
        numbers_of(setting(bench, "numbers")),
    )


def pdf(blank: Blank, paper: Paper = "A4") -> bytes:
    """Return the sheet as PDF on A4 or Letter, the same bytes for the same jaw and moment."""
    top = " · ".join([
        _("Blank step sheet"), _("{jaw} {code}", jaw=_(JAW_WORDS[blank.jaw]), code=spaced(blank.code)),
        _("case {code}", code=spaced(blank.case)), _("patient {patient}", patient=blank.patient),
        _("order {number}", number=blank.order), _("due {day}", day=blank.due),
    ])
    protocol = _("protocol {id}, edition {edition}", id=blank.protocol.id, edition=blank.protocol.edition)
    warning = _("TRAINING: this is an exercise.") if blank.training else ""
    made = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(milliseconds=blank.made)
    sheet = RecordSheet(paper, made, top, warning, f"{protocol} · {blank.lab}")
    sheet.set_title(_("Blank step sheet {code}", code=spaced(blank.code)))
    sheet.set_lang(language())
    sheet.add_page()
    sheet.heading(_("Blank step sheet: {title}", title=blank.protocol.title))
    sheet.style(TEXT)
    sheet.words(_(INTRO))
    sheet.ln(1)
    sheet.words(_(CARE))
    sheet.ln(1)
    sheet.words(_("Teeth are numbered by {system}.", system=system_words(blank.numbers)))
    sheet.ln(1)
    sheet.words(f"{_('Date')} ____________________     {_('Worked by (name, initials)')} "
                "______________________________________________")
    sheet.ln(2)
    stage = ""
    for card in blank.table["cards"]:
        step = next(s for s in blank.protocol.steps if s.id == card["step"])
        _step(sheet, blank, card, step, stage)
        stage = step.stage
    return bytes(sheet.output())


def _step(sheet: RecordSheet, blank: Blank, card: Mapping[str, Any], step: Step, stage: str) -> None:
    left, right = _left(blank, card, step), _right(blank, card, step)
    head = 6.0 if step.stage != stage else 0.0
    places = bool(step.places)
    arch = MAP + 2 if places else 0.0
    wide = sheet.epw - LEFT - BOXES - 2 * APART
    high = max(_height(sheet, left, LEFT), 15.0, arch, _lines(sheet, right, wide - arch) + (14 if places else 0)) + 3
    if sheet.room < high + head:
        sheet.add_page()
    if head:
        sheet.style(9.5, True)
        sheet.words(next(s.title for s in blank.protocol.stages if s.id == step.stage))
    top = sheet.y
    sheet.line(sheet.l_margin, top, sheet.w - sheet.r_margin, top)
    top += 1
    _write(sheet, left, sheet.l_margin, top, LEFT)
    _boxes(sheet, sheet.l_margin + LEFT + APART, top)
    x = sheet.l_margin + LEFT + BOXES + 2 * APART
    if places:
        picture = archmap.whole(blank.jaw, blank.teeth, blank.numbers)  # type: ignore[arg-type]
        draw_arch(sheet, MarkedArch(picture, ()), x, top, MAP)
        sheet.style(SMALL)
        sheet.set_xy(x + arch, top)
        sheet.one_line(wide - arch, 4, _("Where, and what"))
        for at in range(5 if not right else 3):
            sheet.line(x + arch, top + 4 + LINE_MM * (at + 1), x + wide, top + 4 + LINE_MM * (at + 1))
        _write_lines(sheet, right, x + arch, top + 4 + LINE_MM * 3 + 2, wide - arch)
    else:
        _write_lines(sheet, right, x, top, wide)
    sheet.set_xy(sheet.l_margin, top + high - 1)


def _left(blank: Blank, card: Mapping[str, Any], step: Step) -> list[tuple[str, float, bool]]:
    """Return what is said of a step, each with its size in points and whether it is bold."""
    table, titles = blank.table, {s.id: quoted(s.title) for s in blank.protocol.steps}
    kind = kind_words(blank.protocol, table, card)
    said = [(step.title, 9.0, True)]
    said += [(kind, SMALL, True)] if kind else []
    for outcome in with_its_outcomes(step, table).outcomes:
        way = leads(table, step.id, outcome.id)
        words = _(LEADS[way.how], outcome=outcome.title, step=titles[way.to]) if way.to else outcome.title
        said.append((f"{BOX} {words}", TEXT, False))
    for clock in clocks_of(blank.protocol, table, step.id):
        words = _(CLOCKS[clock.kind], length=length(clock.ms), step=titles[clock.since], time="____ : ____")
        said.append((words, TEXT, True))
    cautions = {c.id: c.title for c in blank.protocol.cautions}
    if step.cautions:
        said.append((_("Care: {cautions}", cautions=", ".join(cautions[c] for c in step.cautions)), SMALL, False))
    return said


def _right(blank: Blank, card: Mapping[str, Any], step: Step) -> list[str]:
    """Return what is filled in beside the step: groups, values with their limits, lots and devices."""
    said = []
    if step.by == "sextant":
        said += ["   ".join(f"{BOX} {_(SEXTANT_WORDS[s])}" for s in SEXTANTS if s in card["places"])]
    for value in step.values:
        unit = f" {value.unit}" if value.unit else ""
        said.append(_("{value} {line} ({least} to {most})", value=value.title, line=f"________{unit}",
                      least=f"{value.min:f}", most=f"{value.max:f}"))
    for pick in step.picks:
        words = _(PICKS[pick.of], what=pick.title) if pick.of in PICKS else pick.title
        said.append(f"{words} ____________________")
    return said


def _boxes(sheet: RecordSheet, x: float, top: float) -> None:
    sheet.style(SMALL)
    for at, word in enumerate((_("time"), _("initials"))):
        left, wide = x + at * (BOXES / 2 + 0.5), BOXES / 2 - 0.5
        sheet.set_xy(left, top)
        sheet.one_line(wide, 3.5, word)
        sheet.rect(left, top + 3.8, wide, 9)


def _height(sheet: RecordSheet, said: Sequence[tuple[str, float, bool]], wide: float) -> float:
    high = 0.0
    for text, size, bold in said:
        sheet.style(size, bold)
        lines = sheet.multi_cell(wide, sheet.line_mm, text, dry_run=True, output="LINES", align="L")
        assert isinstance(lines, list)
        high += sheet.line_mm * len(lines) + 0.6
    return high


def _write(sheet: RecordSheet, said: Sequence[tuple[str, float, bool]], x: float, top: float, wide: float) -> None:
    for text, size, bold in said:
        sheet.style(size, bold)
        sheet.set_xy(x, top)
        sheet.words(text, wide)
        top = sheet.y + 0.6


def _lines(sheet: RecordSheet, said: Sequence[str], wide: float) -> float:
    return _height(sheet, [(text, TEXT, False) for text in said], wide) + 3 * len(said)


def _write_lines(sheet: RecordSheet, said: Sequence[str], x: float, top: float, wide: float) -> None:
    for text in said:
        sheet.style(TEXT)
        sheet.set_xy(x, top)
        sheet.words(text, wide)
        top = sheet.y + 3
