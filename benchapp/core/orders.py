"""Lists of orders (CSV) and forms: cells in words become case sheets, each fault with its row, column and remedy."""

import csv
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Literal

from pydantic import ValidationError

from benchapp.core.faults import Fault, FileFaults
from benchapp.core.orders_words import (
    COLUMNS,
    GUESSES,
    NOT_STATED,
    PART_WORDS,
    PARTS,
    TeethFault,
    day_of,
    in_words,
    teeth_of,
)
from benchapp.core.sheet import Sheet
from benchapp.core.teeth import JAW_WORDS, JAWS, Jaw
from benchapp.core.words import N_, _

__all__ = ["COLUMNS", "MOST_BYTES", "MOST_ROWS", "Row", "Table", "guess", "read_rows", "read_table", "sheet_of"]

MOST_BYTES = 1_000_000
MOST_ROWS = 500
MOST_COLUMNS = 60
MOST_CELL = 1000
DELIMITERS = (",", ";", "\t")
_LINE = re.compile(r"[^\r\n]*(?:\r\n|\r|\n)|[^\r\n]+")

Cells = Mapping[str, str]


@dataclass(frozen=True)
class Table:
    """A list as it was read: its headings, and its rows as (number as in a spreadsheet, cells by heading)."""

    headings: tuple[str, ...]
    rows: tuple[tuple[int, Cells], ...]
    ragged: frozenset[int] = frozenset()  # numbers of rows with more cells than there are headings


@dataclass(frozen=True)
class Row:
    """One row of a list: its number, its cells by column of ours, the sheet that it makes or its faults."""

    number: int
    cells: Cells
    sheet: Sheet | None
    faults: tuple[Fault, ...]


def read_table(name: str, data: bytes) -> Table:
    """Read a CSV file of UTF-8 text with a row of headings; FileFaults says what is wrong with the file as a whole."""
    if len(data) > MOST_BYTES:
        raise _file(name, _("larger than 1 MB"), _("Split the list and bring the parts in one by one"))
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise _file(
            name, _("byte {number} is not UTF-8 text", number=error.start + 1),
            _("Save it as CSV with the encoding UTF-8, then choose it"),
        ) from None
    if "\x00" in text:
        raise _file(name, _("holds signs that no text has"), _("Save the list as CSV with the encoding UTF-8"))
    lines = _cells(name, text)
    heads = next((at for at, cells in enumerate(lines) if any(cell.strip() for cell in cells)), None)
    if heads is None:
        raise _file(name, _("nothing stands in it"), _("Choose a list with a row of headings and a row for each order"))
    headings = _headings(name, lines[heads])
    below = [(at + 1, line) for at, line in enumerate(lines) if at > heads and any(cell.strip() for cell in line)]
    if not below:
        raise _file(name, _("no row stands below the headings"), _("Add a row for each order"))
    if len(below) > MOST_ROWS:
        what = _("more than {most} rows", most=MOST_ROWS)
        raise _file(name, what, _("Split the list and bring the parts in one by one"))
    rows = tuple(
        (number, {head: " ".join(cell.split()) for head, cell in zip(headings, line, strict=False)})
        for number, line in below
    )
    ragged = frozenset(number for number, line in below if any(cell.strip() for cell in line[len(headings):]))
    return Table(headings, rows, ragged)


def _file(name: str, what: str, mend: str) -> FileFaults:
    return FileFaults(name, [Fault(_("file"), what, mend)])


def _cells(name: str, text: str) -> list[list[str]]:
    """Split text into cells by the delimiter that gives the first row the most of them."""
    lines = _LINE.findall(text)  # not str.splitlines, which also breaks at signs that may stand inside a cell
    try:
        first = {
            mark: next((len(row) for row in csv.reader(lines, delimiter=mark) if any(row)), 0) for mark in DELIMITERS
        }
        best = max(DELIMITERS, key=lambda mark: first[mark])
        return list(csv.reader(lines, delimiter=best))
    except csv.Error as error:
        raise _file(name, _("not readable as CSV: {why}", why=error), _("Save the list as CSV once more")) from None


def _headings(name: str, line: list[str]) -> tuple[str, ...]:
    cells = ["".join(sign for sign in " ".join(cell.split()) if sign.isprintable()) for cell in line]
    while cells and not cells[-1]:
        cells.pop()
    # A heading is kept as a key in the lab's settings, so this one is the same in every language.
    headings = tuple(cell[:80] or f"column {at + 1}" for at, cell in enumerate(cells))
    if len(headings) > MOST_COLUMNS:
        what = _("more than {most} columns", most=MOST_COLUMNS)
        raise _file(name, what, _("Take out the columns that no order needs"))
    twice = sorted({head for head in headings if headings.count(head) > 1})
    if twice:
        raise FileFaults(name, [
            Fault(_("heading {heading}", heading=head), _("stands twice"), _("Rename one of the two")) for head in twice
        ])
    return headings


def guess(headings: Iterable[str]) -> dict[str, str]:
    """Return a first guess of which heading holds which column of ours, as {column: heading}."""
    plain = {heading: _plain(heading) for heading in headings}
    found: dict[str, str] = {}
    for column in COLUMNS:
        words = (column.name.replace("_", " "), *GUESSES.get(column.name, ()), _plain(_(column.title)))
        for heading in (head for word in words for head, said in plain.items() if said == word):
            if heading not in found.values():
                found.setdefault(column.name, heading)
    return found


def _plain(heading: str) -> str:
    return re.sub(r"[\W_]+", " ", heading.casefold()).strip()


def read_rows(table: Table, mapping: Mapping[str, str], options: Iterable[str] = ()) -> list[Row]:
    """Return every row of a list with its sheet or its faults.

    `mapping` is {column of ours: heading}; `options` are those that the protocol in force knows.
    """
    known = tuple(options)
    used = {column: heading for column, heading in mapping.items() if heading in table.headings}
    rows: list[Row] = []
    seen: dict[tuple[str, str], int] = {}
    for number, found in table.rows:
        cells = {column: found.get(heading, "") for column, heading in used.items()}
        faults: list[Fault] = []
        if number in table.ragged:
            faults.append(Fault(_("row"), _("more cells than there are headings"),
                                _("A cell with the delimiter in it goes into quotation marks")))
        sheet = _row(cells, used, faults)
        strange = [option for option in sheet.case.options if option not in known] if sheet else []
        if strange:
            what = _("{option} is no option of the protocol", option=repr(strange[0][:40]))
            mend = _("Write some of: {options}", options=", ".join(known)) if known else _("Leave the cell empty")
            faults.append(Fault(used["options"], what, mend))
        if sheet is not None:
            first = seen.setdefault((sheet.case.order, sheet.case.patient), number)
            if first != number:
                what = _("the order stands in row {number} too", number=first)
                faults.append(Fault(used["order"], what, _("Take one of the two out")))
        rows.append(Row(number, cells, None if faults else sheet, tuple(faults)))
    return rows


def _row(cells: Cells, used: Mapping[str, str], faults: list[Fault]) -> Sheet | None:
    names = {column.name: used.get(column.name) or _(column.title) for column in COLUMNS}
    long = [column for column, cell in cells.items() if len(cell) > MOST_CELL]
    if long:
        what = _("longer than {most} signs", most=MOST_CELL)
        faults += [Fault(names[column], what, _("Shorten it")) for column in long]
        return None
    tree = _tree(cells, names, faults)
    return sheet_of(tree, names, faults)


def _tree(cells: Cells, names: Mapping[str, str], faults: list[Fault]) -> dict[str, Any]:
    """Return the cells of a row as the plain tree of a sheet; what cannot be read is told and left as it stands."""
    case: dict[str, Any] = {}
    for column in COLUMNS:
        cell = cells.get(column.name, "")
        if column.of == "text":
            case[column.name] = cell
        elif column.of == "words":
            case[column.name] = in_words(cell, column.words, column.default)
        elif column.of == "day":
            case[column.name] = (day_of(cell) or cell) if cell else None
    case["options"] = [word for word in re.split(r"[\s,;]+", cells.get("options", "").casefold()) if word]
    case["training"] = in_words(cells.get("training", ""), ("yes", "no"), "no") == "yes"
    if in_words(cells.get("training", ""), ("yes", "no"), "no") not in ("yes", "no"):
        faults.append(Fault(names["training"], _("neither yes nor no"), _("Write yes, no, or nothing")))
    parts = [
        {"part": part, "revision": cells.get("revision", "") or NOT_STATED,
         "print_job": cells.get(f"print_job_{part}", "") or NOT_STATED}
        for part in PARTS
    ]
    return {"format": 1, "case": case, "jaws": [
        {"jaw": jaw, "teeth": teeth, "parts": parts} for jaw, teeth in _jaws(cells, names, faults)
    ]}


def _jaws(cells: Cells, names: Mapping[str, str], faults: list[Fault]) -> list[tuple[Jaw, list[int]]]:
    said = in_words(cells.get("jaws", ""), ("upper", "lower", "both"), "")
    try:
        by_jaw = teeth_of(cells.get("teeth", ""))
    except TeethFault as error:
        faults.append(Fault(names["teeth"], error.what, error.mend))
        return []
    ordered: list[Jaw] = [jaw for jaw in JAWS if said in (jaw, "both") or (not said and jaw in by_jaw)]
    if not ordered:
        what = _("{word} is none of upper, lower, both", word=repr(said)) if said else _("nothing stands here")
        faults.append(Fault(names["jaws"], what, _("Write upper, lower or both")))
        return []
    strange = [jaw for jaw in by_jaw if jaw not in ordered]
    silent = [jaw for jaw in ordered if by_jaw and jaw not in by_jaw]
    if strange:
        what = _("teeth of the {jaw}, which is not ordered", jaw=_(JAW_WORDS[strange[0]]))
        faults.append(Fault(names["teeth"], what, _("Take them out, or change the jaw")))
        return []
    if silent:
        what = _("no tooth of the {jaw} stands here", jaw=_(JAW_WORDS[silent[0]]))
        mend = _("List both jaws, or leave the cell empty for the usual 14 of each")
        faults.append(Fault(names["teeth"], what, mend))
        return []
    usual = teeth_of("17-27 47-37")
    return [(jaw, by_jaw.get(jaw) or usual[jaw]) for jaw in ordered]


def sheet_of(tree: Mapping[str, Any], names: Mapping[str, str], faults: list[Fault]) -> Sheet | None:
    """Return the sheet that a tree makes, None where there is a fault; faults are added with `names` as places."""
    before = len(faults)
    try:
        sheet = Sheet.model_validate(tree)
    except ValidationError as error:
        jaws = tree.get("jaws") or []
        told = {fault.where for fault in faults}
        # No jaws at all: what was wrong with them was told when they were read.
        items = [item for item in error.errors() if jaws or not before or item["loc"][0] != "jaws"]
        found = [_fault(item, names, jaws) for item in items]
        faults += [one for one in dict.fromkeys(found) if one.where not in told]
        return None
    return sheet if len(faults) == before == 0 else None


_SAID = {
    "string_too_long": (N_("longer than 80 signs"), N_("Shorten it")),
    "string_pattern_mismatch": (N_("holds a sign that cannot be printed"), N_("Type it again")),
}


def _fault(item: Any, names: Mapping[str, str], jaws: list[Mapping[str, Any]]) -> Fault:
    """Return one finding of pydantic in the words of a form: no quotation marks, keys or tables."""
    path = [str(step) for step in item["loc"]]
    message = str(item["msg"]).removeprefix("Value error, ").rstrip(".")
    what, _dot, mend = message.partition(". ")
    where = _where(item["loc"], names, jaws)
    if item["type"] == "string_too_short" or item["input"] in ("", None) or item["type"] in ("too_short", "missing"):
        return Fault(where, _("nothing stands here"), _("Fill it in"))
    if item["type"] in _SAID:
        return Fault(where, *map(_, _SAID[item["type"]]))
    if item["type"] == "literal_error":
        words = ", ".join(sorted(re.findall(r"'([^']+)'", str(item["ctx"]["expected"]))))
        what = _("{word} is none of the words known here", word=repr(str(item["input"])[:80]))
        return Fault(where, what, _("Write one of: {words}", words=words))
    if path[-1] in ("due", "surgery"):
        what = _("{word} is no day from 2000 on", word=repr(str(item["input"])[:40]))
        return Fault(where, what, _("Write 2026-12-01 or 01.12.2026"))
    return Fault(where, what, mend or _("Mend this entry"))


def _where(path: tuple[Any, ...], names: Mapping[str, str], jaws: list[Mapping[str, Any]]) -> str:
    kind: Literal["case", "jaws"] | str = str(path[0])
    if kind == "case" and len(path) > 1:
        return names.get(str(path[1]), str(path[1]))
    if kind == "jaws" and len(path) > 1 and isinstance(path[1], int) and path[1] < len(jaws):
        jaw = jaws[path[1]]
        key = str(path[-1])
        if key in ("revision", "print_job") and len(path) > 3 and isinstance(path[3], int):
            part = jaw["parts"][path[3]]["part"]
            named = names.get(f"{jaw['jaw']}_{key}_{part}") or names.get(f"{key}_{part}") or names.get(key)
            return named or f"{_(JAW_WORDS[jaw['jaw']])}, {_(PART_WORDS[part])}"
        return names.get(f"{jaw['jaw']}_teeth") or names.get("teeth") or _(JAW_WORDS[jaw["jaw"]])
    return names.get("jaws") or _("jaws") if kind == "jaws" else names.get("case") or _("order")
