"""The seating check on paper: what was told of base and arch, the still picture, findings with their answers."""

from io import BytesIO

from benchapp.core.record import Record
from benchapp.core.record_words import plain
from benchapp.core.words import _
from benchapp.paper.record_sheet import SMALL, TEXT, RecordSheet

PICTURE_MM = 85.0  # height: the whole arch is told apart, and half a page stays for words


def seating(sheet: RecordSheet, record: Record, picture: bytes | None) -> None:
    """Write the seating check in force; nothing where the jaw has none."""
    check = record.seating
    if check is None:
        return
    about = _("Base and arch against each other, from their design files, before any resin. Stored {moment}.",
              moment=plain(check.made))
    sheet.heading(_("Seating check"), about, 40)
    for words in check.refused:
        sheet.words(_("No check could be made: {why}", why=words))
    sheet.facts(check.facts(), sheet.epw)
    if check.findings:
        rows = [
            (one.words, one.source or "–", one.said(), plain(one.at) if one.at else "", one.who)
            for one in check.findings
        ]
        head = (_("finding"), _("source of the limit"), _("answer"), _("when"), _("who"))
        sheet.rows(head, (62, 40, 34, 20, 24), rows)
    elif check.report:
        sheet.words(_("Nothing lay outside the limits of the laboratory."))
    if check.limits:
        limits = [(one.title, one.text(), one.source.text() if one.source else "–") for one in check.limits]
        sheet.rows((_("limit"), _("numbers"), _("source")), (46, 54, 80), limits)
    sheet.style(SMALL)
    for words in check.warnings:
        sheet.words(f"· {words}")
    sheet.style(TEXT)
    _still(sheet, picture, bool(check.report))


def _still(sheet: RecordSheet, picture: bytes | None, told: bool) -> None:
    if picture is None:
        if told:
            sheet.words(_("The still picture is not kept with this record."))
        return
    if sheet.y + PICTURE_MM > sheet.h - sheet.b_margin:
        sheet.add_page()
    sheet.ln(2)
    sheet.image(
        BytesIO(picture), x=sheet.l_margin, y=sheet.y, w=sheet.epw, h=PICTURE_MM, keep_aspect_ratio=True,
        alt_text=_("Still picture of the seating check"),
    )
    sheet.set_y(sheet.y + PICTURE_MM + 2)
