"""The sections of a record beside its steps: what went in, what was mended and changed, release and afterwards."""

from benchapp.core.record import Record
from benchapp.core.record_after import Release
from benchapp.core.record_words import plain
from benchapp.paper.record_sheet import SMALL, TEXT, RecordSheet

PHOTOS_MM = 58.0


def release(sheet: RecordSheet, record: Record) -> None:
    """Write the release: printed name, date and time, and what the signature means; or that there is none."""
    found = record.after.release
    if found is None:
        sheet.heading("Release", "Not released.")
        _earlier(sheet, record)
        return
    sheet.heading("Release", need=40)
    sheet.facts(_signature(found), sheet.epw)
    _earlier(sheet, record)


def _signature(found: Release) -> list[tuple[str, str]]:
    passed = "; ".join(one.what + (f": {one.reason}" if one.reason else "") for one in found.passed)
    pairs = [
        ("Printed name", f"{found.who} ({', '.join(found.roles)}), {found.how}"),
        ("Date and time", f"{plain(found.at)} (UTC{found.at[19:]})"),
        ("Meaning", found.meaning),
        ("Note", found.own_words()),
        ("Read before", ", ".join(found.read) or "nothing was out of the ordinary"),
        ("Passed over", passed),
        ("Together with", found.together),
        ("Entry before", f"number {found.checkpoint_seq}, hash {found.checkpoint_hash}"),
    ]
    return [(name, words) for name, words in pairs if words]


def _earlier(sheet: RecordSheet, record: Record) -> None:
    for one in record.after.earlier:
        sheet.words(f"{one.text()}; the jaw was changed after that, so this release stands no longer.")


def more(sheet: RecordSheet, record: Record) -> None:
    """Write every section that follows steps, clocks and values."""
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
    sheet.heading("Materials, devices and parts picked", "" if record.used else "Nothing was picked yet.", 30)
    if record.used:
        rows = [
            (str(u.seq), f"{u.step}: {u.title}", u.text(), u.lot_words() or "–", u.code, record.shown(u.at), u.who)
            for u in record.used
        ]
        head = ("entry", "step: what for", "what", "lot, use by", "code", "time", "who")
        sheet.rows(head, (11, 36, 40, 31, 21, 16, 25), rows)


def _parts(sheet: RecordSheet, record: Record) -> None:
    if record.old_parts:
        sheet.heading("Parts made again", "The scrapped parts stay on the record; the jaw holds their later makes.", 30)
        rows = [
            (
                part.part, part.text(), f"make {part.next_make}" if part.next_make else "not known", part.why(),
                plain(part.at) if part.at else "", part.who,
            )
            for part in record.old_parts
        ]  # fmt: skip
        sheet.rows(("part", "scrapped", "replaced by", "why", "when", "who"), (13, 58, 19, 42, 22, 26), rows)


def _repairs(sheet: RecordSheet, record: Record) -> None:
    if record.repairs:
        sheet.heading("Repairs", "Places that were opened again, from the finding to the end.", 30)
        rows = [
            (
                one.words + (" (STILL OPEN)" if one.open else ""),
                "\n".join(f"{record.shown(s.at)} {s.step}: {s.said} ({s.who})" for s in one.story),
            )
            for one in record.repairs
        ]
        sheet.rows(("place", "finding and mending"), (45, 135), rows)


def _deviations(sheet: RecordSheet, record: Record) -> None:
    if record.deviations:
        sheet.heading("Deviations", "Breaches of the protocol that a supervisor reads and closes.", 30)
        rows = [
            (
                record.shown(d.at), d.grade, d.words, d.reason or "none given", d.who,
                "\n".join(w for w in (d.closing(), d.closed_by, plain(d.closed_at) if d.closed_at else "") if w),
            )
            for d in record.deviations
        ]  # fmt: skip
        sheet.rows(("time", "grade", "what", "reason", "who", "closed"), (16, 17, 59, 27, 26, 35), rows)


def _changes(sheet: RecordSheet, record: Record) -> None:
    changes = record.changes
    rows = [
        (plain(c.at), c.title + (" (after the release)" if c.late else ""), f"{c.earlier} → {c.new}", c.who)
        for c in changes.corrections
    ]
    rows += [(plain(a.at), "Decision on the allergy", a.text(), a.who) for a in changes.allergy]
    rows += [(plain(t.at), "Case", t.what + (f": {t.reason}" if t.reason else ""), t.who) for t in changes.turns]
    if rows:
        sheet.heading("Changes of the order", "Each with what stood there before; nothing is overwritten.", 30)
        sheet.rows(("time", "what", "before → since", "who"), (32, 45, 70, 33), sorted(rows, key=lambda row: row[0]))


def _pair(sheet: RecordSheet, record: Record) -> None:
    if record.pair_checks:
        sheet.heading("Pair check", "Both jaws of the case together; the last check counts.", 24)
        sheet.rows(("time", "found", "who"), (32, 108, 40), [(plain(p.at), p.said, p.who) for p in record.pair_checks])


def _after(sheet: RecordSheet, record: Record) -> None:
    after = record.after
    rows = [(plain(s.at), f"sent out on {s.on}", s.means, s.who) for s in after.sent]
    rows += [
        (plain(b.at), f"came back on {b.on}: {b.reason}", ": ".join(w for w in (b.place_words, b.words) if w), b.who)
        for b in after.back
    ]
    rows += [(plain(a.at), "amendment", a.words, a.who) for a in after.amendments]
    if rows:
        sheet.heading("After the release", "Dated additions; what stands above stays as it was released.", 30)
        sheet.rows(("entered", "what", "words", "who"), (32, 45, 70, 33), sorted(rows, key=lambda row: row[0]))


def _photos(sheet: RecordSheet) -> None:
    sheet.heading("Photos", "Room for photos of this jaw; none are kept with this record.", PHOTOS_MM + 18)
    sheet.rect(sheet.l_margin, sheet.y, sheet.epw, PHOTOS_MM)
    sheet.set_y(sheet.y + PHOTOS_MM + 2)


def _statement(sheet: RecordSheet, record: Record) -> None:
    sheet.heading("Data for the statement on a custom-made device", need=50)
    sheet.style(SMALL)
    sheet.words(record.statement.about)
    sheet.ln(1)
    sheet.style(TEXT)
    sheet.facts([(one.title, one.words) for one in record.statement.data], sheet.epw, 62.0)
