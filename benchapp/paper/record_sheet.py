"""Paper for records: pages that carry their code, headings, facts, tables in which nothing is cut."""

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from datetime import datetime
from typing import Literal

from fpdf import FPDF
from fpdf.enums import XPos, YPos
from fpdf.fonts import FontFace

from benchapp.core.words import N_, _
from benchapp.paper.fonts import BOLD, REGULAR, printable

Paper = Literal["A4", "Letter"]

# The smallest print on a record is 7 pt, 1.8 mm capitals: read in the hand (common practice, no source).
TEXT, SMALL, TITLE, HEAD = 8.0, 7.0, 15.0, 10.5
LEAST = 4.0  # pt; only for the few words that must stay on one line whatever the language
LEADING = 1.28
MM_PER_POINT = 25.4 / 72
MARGIN, FOOT = 15.0, 18.0
# A row may be as high as a page and no higher; what is longer than this stands in the JSON only, and says so.
LONGEST = 900
MORE = N_("{words} … (the rest stands in the record's JSON)")


def fit(text: str) -> str:
    """Return text that the faces can draw, line by line, shortened where it would outgrow a page."""
    lines = "\n".join(printable(line) for line in text.split("\n"))
    return lines if len(lines) <= LONGEST else _(MORE, words=lines[:LONGEST])


class RecordSheet(FPDF):
    """A document whose every page says what it is about, and how many there are."""

    def __init__(self, paper: Paper, made: datetime, top: str, warning: str, foot: str) -> None:
        super().__init__(unit="mm", format=paper)
        self.top_words, self.warning, self.foot_words = fit(top), fit(warning), fit(foot)
        self.set_creation_date(made)
        self.add_font("record", "", REGULAR)
        self.add_font("record", "B", BOLD)
        self.set_margins(MARGIN, 11, MARGIN)
        self.set_auto_page_break(True, FOOT)
        self.set_line_width(0.15)

    def style(self, size: float = TEXT, bold: bool = False) -> None:
        """Set face and size in points."""
        self.set_font("record", "B" if bold else "", size)

    @property
    def line_mm(self) -> float:
        """From line to line at the current size."""
        return float(self.font_size_pt) * MM_PER_POINT * LEADING

    @property
    def room(self) -> float:
        """What is left of the page below here, mm."""
        return float(self.page_break_trigger - self.y)

    def header(self) -> None:
        """Write what the record is about, the warning of an exercise, and a rule."""
        self.style(SMALL)
        self.words(self.top_words)
        if self.warning:
            self.ln(0.8)
            self.style(TEXT, True)
            self.multi_cell(
                0, self.line_mm + 1.6, self.warning, border=1, align="C", new_x=XPos.LMARGIN, new_y=YPos.NEXT
            )
        self.ln(0.8)
        self.line(self.l_margin, self.y, self.w - self.r_margin, self.y)
        self.ln(2.5)

    def footer(self) -> None:
        """Write who made it with what, and the number of the page."""
        self.set_y(-FOOT + 1.2)
        self.line(self.l_margin, self.y, self.w - self.r_margin, self.y)
        self.ln(1)
        self.style(SMALL)
        y = self.y
        # Two lines of room: whatever the name of the laboratory, the number of the page stays where it is.
        number = _("page {page} of {pages}", page=self.page_no(), pages="{nb}")
        wide = max(26, self.get_string_width(fit(number)) + 2)
        foot = self.multi_cell(self.epw - wide, self.line_mm, self.foot_words, dry_run=True, output="LINES")
        assert isinstance(foot, list)
        for at, text in enumerate(foot[:2]):
            self.set_xy(self.l_margin, y + at * self.line_mm)
            self.cell(self.epw - wide, self.line_mm, text)
        self.set_xy(self.w - self.r_margin - wide, y)
        self.cell(wide, self.line_mm, fit(number), align="R")

    def words(self, text: str, width: float = 0.0) -> None:
        """Write a paragraph, wrapped; words longer than a line are broken."""
        self.multi_cell(
            width,
            self.line_mm,
            fit(text),
            align="L",
            new_x=XPos.LEFT if width else XPos.LMARGIN,
            new_y=YPos.NEXT,
        )

    def one_line(self, width: float, height: float, text: str) -> None:
        """Write words on one line of `width` mm, in smaller print where a language needs more room."""
        size, room = self.font_size_pt, width - 2 * self.c_margin
        while self.get_string_width(fit(text)) > room and self.font_size_pt > LEAST:
            self.set_font_size(self.font_size_pt - 0.5)
        self.cell(width, height, fit(text))
        self.set_font_size(size)

    def heading(self, text: str, about: str = "", need: float = 24.0) -> None:
        """Write a heading with a line about it, on a new page when less than `need` mm are left."""
        if self.room < need:
            self.add_page()
        else:
            self.ln(3)
        self.style(HEAD, True)
        self.start_section(text)
        self.words(text)
        if about:
            self.style(SMALL)
            self.words(about)
        self.ln(1)
        self.style()

    def facts(self, pairs: Iterable[tuple[str, str]], width: float, label: float = 28.0) -> None:
        """Write names and values in two columns of together `width` mm."""
        with self._lines(), self.table(
            width=width, col_widths=(label, width - label), align="LEFT", text_align="LEFT",
            first_row_as_headings=False, borders_layout="HORIZONTAL_LINES", padding=(0.5, 1, 0.5, 0),
            line_height=self.line_mm, v_align="TOP",
        ) as table:  # fmt: skip
            for name, value in pairs:
                row = table.row()
                row.cell(fit(name), style=FontFace(size_pt=SMALL))
                row.cell(fit(value))

    def rows(self, head: Sequence[str], widths: Sequence[float], rows: Iterable[Sequence[str]]) -> None:
        """Write a table over the whole width; a row of one text spans all columns as a title."""
        self.style(SMALL)
        with self._lines(), self.table(
            col_widths=tuple(widths), text_align="LEFT", borders_layout="HORIZONTAL_LINES",
            padding=(0.6, 1.2, 0.6, 0), line_height=self.line_mm, v_align="TOP",
            headings_style=FontFace(emphasis="BOLD"),
        ) as table:  # fmt: skip
            table.row([fit(name) for name in head])
            for texts in rows:
                row = table.row()
                if len(texts) == 1:
                    row.cell(fit(texts[0]), colspan=len(head), style=FontFace(emphasis="BOLD"))
                else:
                    for text in texts:
                        row.cell(fit(text))
        self.style()

    @contextmanager
    def _lines(self) -> Iterator[None]:
        with self.local_context(line_width=0.1):
            yield
