"""Labels on a sheet of A4 or Letter, for a printer of the office: cut them out along the hairlines.

At the top stands a bar of 100 mm. A printer that fits pages to its paper makes the symbols smaller without a
word; a ruler at the bar shows it.
"""

from collections.abc import Sequence
from datetime import datetime
from typing import Literal

from fpdf import FPDF

from benchapp.core.words import N_, _
from benchapp.paper.fonts import printable
from benchapp.paper.label import HEIGHT_MM, MM_PER_INCH, UNDATED, WIDTH_MM, Label, new_paper, put

Paper = Literal["A4", "Letter"]
SIZES: dict[Paper, tuple[float, float]] = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}  # ISO 216, ANSI/ASME Y14.1

BAR_MM = 100.0
COLUMNS = 3
EDGE_MM = 12.0  # office printers leave up to 6 mm white at the edges (common practice, no source)
APART_MM = 6.0  # between two labels, so that a slip of the scissors cuts no quiet zone
HEAD_MM = 34.0
HELP = N_("Print at 100 %, never “fit to page”. This bar must measure 100 mm; if it does not, print again.")


def rows_on(paper: Paper) -> int:
    """Return how many rows of labels a page holds."""
    return int((SIZES[paper][1] - HEAD_MM - EDGE_MM + APART_MM) // (HEIGHT_MM + APART_MM))


def sheet_pdf(labels: Sequence[Label], paper: Paper = "A4", title: str = "", made: datetime = UNDATED) -> bytes:
    """Return labels on pages of `paper`, each page with a bar of 100 mm; ValueError for no label.

    `title` says in print whose labels they are; `made` dates the document.
    """
    if not labels:
        raise ValueError("there is no label to print; choose at least one")
    wide = SIZES[paper][0]
    sheet = new_paper(SIZES[paper], made)
    rows = rows_on(paper)
    left = (wide - COLUMNS * WIDTH_MM - (COLUMNS - 1) * APART_MM) / 2
    pages = -(-len(labels) // (COLUMNS * rows))
    for at, label in enumerate(labels):
        page, cell = divmod(at, COLUMNS * rows)
        if cell == 0:
            sheet.add_page()
            number = _("page {page} of {pages}", page=page + 1, pages=pages)
            _head(sheet, left, f"{title} · {number}" if pages > 1 else title)
        row, column = divmod(cell, COLUMNS)
        x, y = left + column * (WIDTH_MM + APART_MM), HEAD_MM + row * (HEIGHT_MM + APART_MM)
        put(sheet, label, x, y)
        _hairline(sheet, x, y)
    return bytes(sheet.output())


def _head(sheet: FPDF, left: float, title: str) -> None:
    style = 9.0
    sheet.set_font("label", "B", style)
    sheet.text(left, EDGE_MM + 2, _fitted(sheet, printable(title), sheet.w - 2 * left))
    ruler(sheet, left, EDGE_MM + 6)
    _help(sheet, left, EDGE_MM + 17)


def _help(sheet: FPDF, left: float, y: float) -> None:
    """Say how to print, on at most two rows above the labels: in smaller print where a language needs more words."""
    rows: list[str] = []
    for size in (8, 7, 6, 5):
        sheet.set_font("label", "", size)
        found = sheet.multi_cell(sheet.w - 2 * left, 3, printable(_(HELP)), dry_run=True, output="LINES", align="L")
        assert isinstance(found, list)
        rows = found
        if len(rows) <= 2:
            break
    for at, row in enumerate(rows[:2]):
        sheet.text(left, y + at * 3.1, row)


def _fitted(sheet: FPDF, text: str, wide: float) -> str:
    """Return text, cut at its end where it is wider than the page."""
    while text and sheet.get_string_width(text) > wide:
        text = text[:-2].rstrip() + "…" if len(text) > 2 else ""
    return text


def ruler(sheet: FPDF, x: float, y: float) -> None:
    """Draw a bar of exactly 100 mm from (x, y) mm, marked every 10 mm below it."""
    sheet.set_fill_color(0)
    sheet.rect(x, y, BAR_MM, 0.8, style="F")
    sheet.set_font("label", "", 2.0 * 72 / MM_PER_INCH)
    for ten in range(11):
        at = min(x + ten * 10, x + BAR_MM - 0.2) if ten else x
        sheet.rect(at, y, 0.2, 3.0 if ten % 5 == 0 else 2.0, style="F")
        if ten % 5 == 0:
            words = f"{ten * 10} mm"
            sheet.text(x + ten * 10 - sheet.get_string_width(words) / 2, y + 5.4, words)


def _hairline(sheet: FPDF, x: float, y: float) -> None:
    """Draw where to cut: a thin grey line, 4 modules of white away from the symbol at its side."""
    sheet.set_draw_color(150)
    sheet.set_line_width(0.1)
    sheet.rect(x, y, WIDTH_MM, HEIGHT_MM)
