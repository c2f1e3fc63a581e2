"""Lists of orders: how cells are read, that each fault names row, column and remedy, and that any bytes are answered.

How a CSV file looks is RFC 4180 (delimiters other than the comma: common practice, no source); days are ISO 8601 or
the day.month.year of many countries; tooth numbers are those of ISO 3950.
"""

import csv
import io
from datetime import date

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from benchapp.core.faults import FileFaults
from benchapp.core.orders import COLUMNS, MOST_BYTES, MOST_ROWS, Row, guess, read_rows, read_table
from benchapp.core.orders_words import CHOICES, choice_words, day_of, teeth_of
from benchapp.core.words import Catalogue, using

HEADINGS = ("Order no", "Patient", "Clinic", "Due date", "Shade", "Base tint", "Jaw", "Teeth")
SOUND = ("T-1", "P-1", "Practice", "2031-01-15", "light", "rose", "upper", "17-27")
UPPER14 = [17, 16, 15, 14, 13, 12, 11, 21, 22, 23, 24, 25, 26, 27]
LOWER14 = [47, 46, 45, 44, 43, 42, 41, 31, 32, 33, 34, 35, 36, 37]


def rows(*lines: tuple[str, ...], headings: tuple[str, ...] = HEADINGS) -> list[Row]:
    """Read lines of cells as a list with its guessed columns."""
    text = io.StringIO(newline="")
    csv.writer(text).writerows([headings, *lines])
    table = read_table("list.csv", text.getvalue().encode())
    return read_rows(table, guess(table.headings), ("mark",))


def changed(**cells: str) -> Row:
    """Read one sound row in which some cells are others."""
    kept = dict(zip(HEADINGS, SOUND, strict=True)) | {key.replace("_", " "): cell for key, cell in cells.items()}
    return rows(tuple(kept.values()), headings=tuple(kept))[0]


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("bom", [b"", b"\xef\xbb\xbf"])
def test_each_delimiter_is_found_with_and_without_a_mark_of_the_encoding(delimiter: str, bom: bytes) -> None:
    """Comma, semicolon and tab, UTF-8 with and without BOM, a quoted cell with the delimiter in it: one sound row."""
    text = io.StringIO(newline="")
    csv.writer(text, delimiter=delimiter).writerows([HEADINGS, ("T-1", f"Ż{delimiter} 1", *SOUND[2:])])
    table = read_table("list.csv", bom + text.getvalue().encode())
    (row,) = read_rows(table, guess(table.headings))
    assert row.faults == () and row.sheet is not None
    assert row.sheet.case.patient == " ".join(f"Ż{delimiter} 1".split())
    assert row.sheet.case.due == date(2031, 1, 15) and row.sheet.jaws[0].teeth == UPPER14


def test_a_row_is_numbered_as_in_a_spreadsheet() -> None:
    """Blank rows count, and a cell that spans two lines is one row."""
    text = 'Order;Patient\n\n"a\nb";P-1\nT-2;P-2\n'
    assert [number for number, _ in read_table("x", text.encode()).rows] == [3, 4]


@pytest.mark.parametrize(("data", "words"), [
    (b"", "nothing stands in it"),
    (b" ; ;\n", "nothing stands in it"),
    (b"Order,Patient\n", "no row stands below"),
    ("Żółw;x\n1;2\n".encode("utf-16"), "not UTF-8"),
    ("Żółw;x\n1;2\n".encode("cp1250"), "not UTF-8"),
    (b"a,b\n1,\x00\n", "no text has"),
    (b"x" * (MOST_BYTES + 1), "larger than 1 MB"),
    (b"a,a\n1,2\n", "stands twice"),
    (b"a,b\n" + b"1,2\n" * (MOST_ROWS + 1), "more than"),
    (",".join(f"h{n}" for n in range(61)).encode() + b"\n1\n", "more than"),
    (b'a,b\n1,"' + b"x" * 140_000 + b'"\n', "not readable as CSV"),
])
def test_a_file_that_is_no_list_says_why(data: bytes, words: str) -> None:
    """A wrong encoding, an empty file, too much of anything: one sentence with a remedy."""
    with pytest.raises(FileFaults) as caught:
        read_table("list.csv", data)
    assert any(words in fault.what and len(fault.mend) > 8 for fault in caught.value.faults), caught.value.faults


@pytest.mark.parametrize(("cell", "day"), [
    ("2031-01-15", date(2031, 1, 15)), ("15.01.2031", date(2031, 1, 15)), ("5.1.2031", date(2031, 1, 5)),
    (" 2031-1-5 ", date(2031, 1, 5)), ("2031-01-15 00:00:00", date(2031, 1, 15)), ("30.02.2031", None),
    ("01/15/2031", None), ("15.01.31", None), ("", None), ("٢٠٣١-٠١-١٥", None), ("2031-13-01", None),
])
def test_days(cell: str, day: date | None) -> None:
    """ISO 8601 and day.month.year are read; a day that is not in the calendar, or could be two, is not."""
    assert day_of(cell) == day


@pytest.mark.parametrize(("cell", "teeth"), [
    ("17-27", {"upper": UPPER14}), ("27-17", {"upper": UPPER14}), ("17 – 27", {"upper": UPPER14}),
    ("17 to 27", {"upper": UPPER14}), ("17-27 47-37", {"upper": UPPER14, "lower": LOWER14}),
    ("21, 11;12/13", {"upper": [13, 12, 11, 21]}), ("11.0 21.0", {"upper": [11, 21]}), ("", {}),
    ("18-16, 41 31", {"upper": [18, 17, 16], "lower": [41, 31]}),
])
def test_teeth(cell: str, teeth: dict[str, list[int]]) -> None:
    """Numbers and ranges of ISO 3950 are put into row order, for each jaw."""
    assert teeth_of(cell) == teeth


@pytest.mark.parametrize("cell", ["17-37", "17-19", "17 17", "17-16 16", "x", "-", "1-1", "0", "17,5", "999", "１７"])
def test_teeth_that_cannot_be_are_refused_in_words(cell: str) -> None:
    """A range over both jaws, a number of no tooth, one twice: a sentence with what to write."""
    with pytest.raises(ValueError, match=r"\. [A-Z]"):
        teeth_of(cell)


def test_empty_cells_mean_the_usual() -> None:
    """No teeth: the usual 14 of each jaw; no kind: new; no allergy: none stated; parts: not stated yet."""
    row = changed(Jaw="BOTH", Teeth="")
    assert row.sheet is not None
    assert [(jaw.jaw, jaw.teeth) for jaw in row.sheet.jaws] == [("upper", UPPER14), ("lower", LOWER14)]
    assert row.sheet.case.kind == "new" and row.sheet.case.allergy == "none stated" and not row.sheet.case.training
    assert {(p.revision, p.print_job) for jaw in row.sheet.jaws for p in jaw.parts} == {("not stated", "not stated")}
    assert changed(Jaw="").sheet is not None  # the teeth say which jaw


@pytest.mark.parametrize(("cells", "where", "what"), [
    ({"Order_no": ""}, "Order no", "nothing stands here"),
    ({"Patient": "x" * 81}, "Patient", "longer than 80"),
    ({"Patient": "a\u0007b"}, "Patient", "cannot be printed"),
    ({"Clinic": "x" * 1001}, "Clinic", "longer than 1000"),
    ({"Due_date": ""}, "Due date", "nothing stands here"),
    ({"Due_date": "31.02.2031"}, "Due date", "'31.02.2031' is no day"),
    ({"Due_date": "1931-01-15"}, "Due date", "is no day from 2000 on"),
    ({"Jaw": "top"}, "Jaw", "'top' is none of upper, lower, both"),
    ({"Jaw": "", "Teeth": ""}, "Jaw", "nothing stands here"),
    ({"Jaw": "lower"}, "Teeth", "upper jaw, which is not ordered"),
    ({"Jaw": "both"}, "Teeth", "no tooth of the lower jaw"),
    ({"Teeth": "17-19"}, "Teeth", "no tooth of ISO 3950"),
    ({"Teeth": "17"}, "Teeth", "at least two teeth"),
    ({"Kind": "old"}, "Kind", "'old' is none of the words"),
    ({"Allergy": "perhaps"}, "Allergy", "none of the words"),
    ({"Training": "maybe"}, "Training", "neither yes nor no"),
    ({"Options": "mark glow"}, "Options", "'glow' is no option"),
    ({"Opposing_jaw": "rock"}, "Opposing jaw", "none of the words"),
])
def test_a_faulty_row_says_which_column_what_and_how_to_mend_it(cells: dict[str, str], where: str, what: str) -> None:
    """Each fault stands at the lab's own heading, in words, with a remedy; no sheet comes of the row."""
    row = changed(**cells)
    assert row.sheet is None
    assert any(f.where == where and what in f.what and len(f.mend) > 8 for f in row.faults), row.faults
    assert len({f.where for f in row.faults}) == len(row.faults) == 1


def test_all_faults_of_a_row_come_at_once() -> None:
    """Three wrong cells are three faults."""
    assert [f.where for f in changed(Patient="", Due_date="soon", Teeth="x").faults] == ["Teeth", "Patient", "Due date"]


def test_the_same_order_twice_in_a_list_is_seen() -> None:
    """The second row of one order and patient is at fault and names the first; another patient's is not."""
    found = rows(SOUND, ("T-1", "P-2", *SOUND[2:]), SOUND)
    assert [bool(row.sheet) for row in found] == [True, True, False]
    assert "row 2" in found[2].faults[0].what


def test_too_many_cells_are_not_lost_silently() -> None:
    """A row with more cells than headings is at fault instead of being cut."""
    assert "more cells" in rows((*SOUND, "and more"))[0].faults[0].what


def test_a_list_with_our_own_titles_needs_no_naming() -> None:
    """Headings that are the titles or names of the columns are guessed, each once."""
    titles = [column.title for column in COLUMNS]
    assert guess(titles) == {column.name: column.title for column in COLUMNS}
    assert guess([column.name for column in COLUMNS]) == {column.name: column.name for column in COLUMNS}


BACKWARDS = Catalogue("x", "backwards", lambda text: text[::-1], lambda one, many, n: many[::-1])


def test_titles_in_the_language_in_use_need_no_naming() -> None:
    """The sample in the lab's language is known again, and so is one in English."""
    with using(BACKWARDS):
        for titles in ([column.title[::-1] for column in COLUMNS], [column.title for column in COLUMNS]):
            assert guess(titles) == dict(zip((column.name for column in COLUMNS), titles, strict=True))


def test_choices_are_stored_in_english_and_shown_in_the_language_in_use() -> None:
    """Every choice that a column has can be shown; its help names the words that a list is read by, as they are."""
    assert {word for column in COLUMNS for word in column.words} <= set(CHOICES)
    with using(BACKWARDS):
        assert choice_words("denture") == "erutned"
        assert choice_words("Żółw") == "Żółw"
        row = changed(Allergy="no")
        assert row.sheet is not None and row.sheet.case.kind == "new"
    assert {column.name: column.help() for column in COLUMNS if column.words} == {
        "kind": "new, copy, immediate or remake; empty: new",
        "jaws": "upper, lower or both; may be empty where teeth are listed",
        "allergy": "none stated, no or yes; empty: none stated",
        "opposing": "natural teeth, partial denture, denture, implants, no teeth, not known",
        "bite": "scanned, on wax or silicone, from the old denture, none came",
        "mounting": "mounted, mounted on screen only, not mounted",
        "tryin": "to do, done, not planned", "marking": "yes or no", "training": "yes for an exercise",
    }


CELL = st.one_of(
    st.sampled_from(["", "upper", "both", "17-27", "17-37", "2031-01-15", "15.01.2031", "yes", "no", "T-1", "new"]),
    st.text(max_size=30),
)


@settings(deadline=None, max_examples=300, suppress_health_check=list(HealthCheck))
@given(st.one_of(
    st.binary(max_size=300),
    st.text(max_size=300).map(lambda text: text.encode("utf-8", "surrogatepass")),
    st.lists(st.lists(CELL, max_size=10), max_size=6).map(
        lambda lines: "\n".join(";".join(line) for line in [list(HEADINGS), *lines]).encode("utf-8", "surrogatepass")
    ),
))
def test_any_bytes_are_read_or_answered(data: bytes) -> None:
    """Any bytes give rows, each with a sheet or faults, or faults of the file; never another exception."""
    try:
        table = read_table("fuzz", data)
    except FileFaults as error:
        assert all(fault.where and fault.what and fault.mend for fault in error.faults)
        return
    for row in read_rows(table, guess(table.headings)):
        assert (row.sheet is None) == bool(row.faults)


@settings(deadline=None, max_examples=200)
@given(st.lists(CELL, min_size=len(COLUMNS), max_size=len(COLUMNS)))
def test_any_cells_are_read_or_answered(cells: list[str]) -> None:
    """Whatever stands under our own headings, a row gives a sheet or faults with a remedy."""
    text = io.StringIO(newline="")
    csv.writer(text).writerows([[column.title for column in COLUMNS], cells])
    try:
        table = read_table("fuzz", text.getvalue().encode("utf-8", "surrogatepass"))
    except FileFaults as error:
        assert error.faults
        return
    for row in read_rows(table, guess(table.headings), ("mark",)):
        assert (row.sheet is None) == bool(row.faults)
        assert all(fault.where and fault.what and fault.mend for fault in row.faults)
