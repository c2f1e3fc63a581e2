"""The sections of a record beside its steps: what went in, what was mended and changed, release and afterwards."""

from benchapp.core.record import Record
from benchapp.core.record_after import Release
from benchapp.core.record_words import plain
from benchapp.core.words import _
from benchapp.paper.record_seating import seating
from benchapp.paper.record_sheet import SMALL, TEXT, RecordSheet

PHOTOS_MM = 58.0


def release(sheet: RecordSheet, record: Record) -> None:
    """Write the release: printed name, date and time, and what the signature means; or that there is none."""
    found = record.after.release
    if found is None:
        sheet.heading(_("Release"), _("Not released."))
        _earlier(sheet, record)
        return
    sheet.heading(_("Release"), need=40)
    sheet.facts(_signature(found), sheet.epw)
    _earlier(sheet, record)


def _signature(found: Release) -> list[tuple[str, str]]:
    passed = "; ".join(one.what + (f": {one.reason}" if one.reason else "") for one in found.passed)
    pairs = [
        (_("Printed name"), f"{found.who} ({found.role_words()}), {found.how}"),
        (_("Date and time"), found.signed()),
        (_("Meaning"), found.meaning),
        (_("Note"), found.own_words()),
        (_("Read before"), ", ".join(found.read) or _("nothing was out of the ordinary")),
        (_("Passed over"), passed),
        (_("Together with"), found.together),
        (_("Entry before"), _("number {number}, hash {hash}", number=found.checkpoint_seq, hash=found.checkpoint_hash)),
    ]
    return [(name, words) for name, words in pairs if words]


def _earlier(sheet: RecordSheet, record: Record) -> None:
    for one in record.after.earlier:
        sheet.words(_("{release}; the jaw was changed after that, so this release stands no longer.",
                      release=one.text()))


def more(sheet: RecordSheet, record: Record, picture: bytes | None) -> None:
    """Write every section that follows steps, clocks and values."""
    seating(sheet, record, picture)
    _used(sheet, record)
    _parts(sheet, record)
    _repairs(sheet, record)
    _deviations(sheet, record)
    _changes(sheet, record)
    _pair(sheet, record)
    _after(sheet, record)
    _photos(sheet)
    _statement(sheet, record)


def _used(sheet: RecordSheet, record: Record) -> None:
    sheet.heading(_("Materials, devices and parts picked"), "" if record.used else _("Nothing was picked yet."), 30)
    if record.used:
        rows = [
            (str(u.seq), f"{u.step}: {u.title}", u.text(), u.lot_words() or "–", u.code, record.shown(u.at), u.who)
            for u in record.used
        ]
        head = (_("entry"), _("step: what for"), _("what"), _("lot, use by"), _("code"), _("time"), _("who"))
        sheet.rows(head, (11, 36, 40, 31, 21, 16, 25), rows)


def _parts(sheet: RecordSheet, record: Record) -> None:
    if record.old_parts:
        about = _("The scrapped parts stay on the record; the jaw holds their later makes.")
        sheet.heading(_("Parts made again"), about, 30)
        rows = [
            (
                part.part_words(), part.text(), part.next_words(), part.why(),
                plain(part.at) if part.at else "", part.who,
            )
            for part in record.old_parts
        ]  # fmt: skip
        head = (_("part"), _("scrapped"), _("replaced by"), _("why"), _("when"), _("who"))
        sheet.rows(head, (13, 58, 19, 42, 22, 26), rows)


def _repairs(sheet: RecordSheet, record: Record) -> None:
    if record.repairs:
        sheet.heading(_("Repairs"), _("Places that were opened again, from the finding to the end."), 30)
        rows = [
            (
                one.words + (f" ({_('STILL OPEN')})" if one.open else ""),
                "\n".join(f"{record.shown(s.at)} {s.step}: {s.said} ({s.who})" for s in one.story),
            )
            for one in record.repairs
        ]
        sheet.rows((_("place"), _("finding and mending")), (45, 135), rows)


def _deviations(sheet: RecordSheet, record: Record) -> None:
    if record.deviations:
        sheet.heading(_("Deviations"), _("Breaches of the protocol that a supervisor reads and closes."), 30)
        rows = [
            (
                record.shown(d.at), _(d.grade), d.words, d.reason or _("none given"), d.who,
                "\n".join(w for w in (d.closing(), d.closed_by, plain(d.closed_at) if d.closed_at else "") if w),
            )
            for d in record.deviations
        ]  # fmt: skip
        head = (_("time"), _("grade"), _("what"), _("reason"), _("who"), _("closed"))
        sheet.rows(head, (16, 17, 59, 27, 26, 35), rows)


def _changes(sheet: RecordSheet, record: Record) -> None:
    changes = record.changes
    rows = [
        (plain(c.at), c.what(), f"{c.earlier} → {c.new}", c.who)
        for c in changes.corrections
    ]
    rows += [(plain(a.at), _("Decision on the allergy"), a.text(), a.who) for a in changes.allergy]
    rows += [(plain(t.at), _("Case"), t.what + (f": {t.reason}" if t.reason else ""), t.who) for t in changes.turns]
    if rows:
        sheet.heading(_("Changes of the order"), _("Each with what stood there before; nothing is overwritten."), 30)
        head = (_("time"), _("what"), _("before → since"), _("who"))
        sheet.rows(head, (32, 45, 70, 33), sorted(rows, key=lambda row: row[0]))


def _pair(sheet: RecordSheet, record: Record) -> None:
    if record.pair_checks:
        sheet.heading(_("Pair check"), _("Both jaws of the case together; the last check counts."), 24)
        rows = [(plain(p.at), p.said, p.who) for p in record.pair_checks]
        sheet.rows((_("time"), _("found"), _("who")), (32, 108, 40), rows)


def _after(sheet: RecordSheet, record: Record) -> None:
    after = record.after
    rows = [(plain(s.at), _("sent out on {day}", day=s.on), s.means, s.who) for s in after.sent]
    rows += [
        (plain(b.at), _("came back on {day}: {reason}", day=b.on, reason=b.reason), b.more(), b.who)
        for b in after.back
    ]
    rows += [(plain(a.at), _("amendment"), a.words, a.who) for a in after.amendments]
    if rows:
        sheet.heading(_("After the release"), _("Dated additions; what stands above stays as it was released."), 30)
        head = (_("entered"), _("what"), _("words"), _("who"))
        sheet.rows(head, (32, 45, 70, 33), sorted(rows, key=lambda row: row[0]))


def _photos(sheet: RecordSheet) -> None:
    sheet.heading(_("Photos"), _("Room for photos of this jaw; none are kept with this record."), PHOTOS_MM + 18)
    sheet.rect(sheet.l_margin, sheet.y, sheet.epw, PHOTOS_MM)
    sheet.set_y(sheet.y + PHOTOS_MM + 2)


def _statement(sheet: RecordSheet, record: Record) -> None:
    sheet.heading(_("Data for the statement on a custom-made device"), need=50)
    sheet.style(SMALL)
    sheet.words(record.statement.about)
    sheet.ln(1)
    sheet.style(TEXT)
    sheet.facts([(one.title, one.words) for one in record.statement.data], sheet.epw, 62.0)
