"""The first page of a record: state, order, what was not ordinary, checks, who."""

from benchapp.core.record import Record
from benchapp.core.record_arch import marked
from benchapp.core.record_models import PlaceStory
from benchapp.core.record_words import span
from benchapp.core.teeth import JAW_WORDS
from benchapp.core.words import _
from benchapp.paper.record_drawings import draw_arch
from benchapp.paper.record_sections import release
from benchapp.paper.record_sheet import TEXT, TITLE, RecordSheet, fit

ARCH_MM = 62.0


def summary(sheet: RecordSheet, record: Record) -> None:
    """Write the summary from the top of the page on."""
    who = record.identity
    sheet.style(TITLE, True)
    sheet.start_section(_("Summary"))
    sheet.words(_("Assembly record of the {jaw} {code}", jaw=_(JAW_WORDS[who.jaw]), code=who.code))
    sheet.ln(1.5)
    sheet.style(TEXT + 1, True)
    sheet.multi_cell(
        0,
        sheet.line_mm + 1.4,
        fit(record.standing.words),
        border=1,
        align="L",
        padding=1,
        new_x="LMARGIN",
        new_y="NEXT",
    )
    sheet.ln(2)
    top = sheet.y
    below = top + draw_arch(sheet, marked(record), sheet.w - sheet.r_margin - ARCH_MM, top, ARCH_MM)
    sheet.style(TEXT)
    sheet.set_xy(sheet.l_margin, top)
    sheet.facts(record.facts(), sheet.epw - ARCH_MM - 5)
    sheet.set_xy(sheet.l_margin, max(sheet.y, below))
    sheet.style(TEXT, True)
    sheet.words(who.sole_use)
    _unusual(sheet, record)
    _checks(sheet, record)
    release(sheet, record)
    _who(sheet, record)


def _unusual(sheet: RecordSheet, record: Record) -> None:
    places, items = record.not_ordinary.places, record.not_ordinary.items
    about = "" if places or items else _("Nothing out of the ordinary is recorded.")
    sheet.heading(_("What was not ordinary"), about)
    if places:
        rows = [(str(p.number), p.title(), _story(record, p)) for p in places]
        sheet.rows((_("no."), _("place"), _("what was said of it, in order")), (9, 36, 135), rows)
        sheet.ln(2)
    if items:
        rows_ = [(record.shown(i.at), i.sort(), i.text(), i.who) for i in items]
        sheet.rows((_("time"), _("sort"), _("what"), _("who")), (19, 18, 109, 34), rows_)


def _story(record: Record, place: PlaceStory) -> str:
    return " → ".join(f"{record.shown(s.at)} {s.step}: {s.said}" for s in place.story)


def _checks(sheet: RecordSheet, record: Record) -> None:
    if not record.checks:
        return
    sheet.heading(_("Checks of the jaw as a whole"))
    said = [
        (c.step, " · ".join(w for w in (c.said, record.shown(c.at), c.who, c.lacking()) if w)) for c in record.checks
    ]
    half = -(-len(said) // 2)
    right = said[half:] + [("", "")] * (2 * half - len(said))
    rows = [(*one, *other) for one, other in zip(said[:half], right, strict=True)]
    sheet.rows((_("check"), _("answer"), _("check"), _("answer")), (36, 54, 36, 54), rows)


def _who(sheet: RecordSheet, record: Record) -> None:
    sheet.heading(_("Who"), record.confirmations.text())
    rows = [
        (
            w.name, w.role_words(), str(w.confirmations),
            w.known(),
            span(w.first, w.last),
        )
        for w in record.who
    ]  # fmt: skip
    if rows:
        head = (
            _("printed name"), _("roles"), _("confirmed"), _("how known to the tablet"), _("first to last entry"),
        )
        sheet.rows(head, (40, 34, 20, 40, 46), rows)
