"""Labels of 50 x 25 mm for jaws, parts, stock and badges: a QR symbol for scanners, words for people."""

import io
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from math import ceil

import qrcode
from fpdf import FPDF
from fpdf.drawing import PaintedPath
from fpdf.enums import PathPaintRule
from fpdf.prefs import ViewerPreferences
from PIL import Image, ImageDraw
from qrcode.util import MODE_ALPHA_NUM, QRData

from benchapp.core.codes import CodeError, is_whole, spaced
from benchapp.core.words import _, language
from benchapp.paper.fonts import BOLD, REGULAR, face, printable
from benchapp.paper.label_text import Measure, Row, arrange

DPI = (203, 300)
WIDTH_MM, HEIGHT_MM = 50.0, 25.0
MM_PER_INCH = 25.4
MODULES = 21  # QR version 1

# The symbol is at least 20 mm wide, so that a tablet's camera reads it at 10 to 30 cm. With ISO/IEC 18004's
# quiet zone of 4 modules all round it would need 29/21 x 20 = 27.6 mm, and the label is 25 mm high. What
# gives is the zone above and below: left and right it is whole (all words keep 4 modules away), above and
# below it is all that the label has, 2 modules at 203 dpi and in the PDF, 1.75 at 300 dpi, of white stock
# on which nothing is ever printed. A smaller symbol would cost distance in every scan; the short zone could
# matter only on dark ground, and measured it does not: zxing-cpp read all of 2304 pictures turned in steps
# of 15 degrees on black and on striped ground (see the tests), a second reader, OpenCV, all of 576 on
# black. A smear is another matter: version 1 level H mends 8 wrong codewords of 26. All compact smears over
# a twentieth of the symbol were read, but only about three in five over a tenth; over a finder pattern any
# smear may be too much. That is why the code also stands beside the symbol, as large as there is room for.
QUIET = 4
SYMBOL_MM = 20.0
PDF_MODULE_MM = 1.0  # 8 whole dots on a printer of 8 dots a mm (203 dpi)
MARGIN_MM = 1.5

# A PDF must name a moment; a fixed one keeps equal labels equal, byte for byte.
UNDATED = datetime(2000, 1, 1, tzinfo=UTC)


@dataclass(frozen=True)
class Label:
    """What one label says: the bare code as printed, a title, and lines below it; raises CodeError."""

    code: str
    title: str
    lines: tuple[str, ...]

    def __post_init__(self) -> None:
        if not is_whole(self.code):
            raise CodeError(_(
                "{code} is not a whole code; a label carries the ten characters that were made", code=repr(self.code),
            ))


def symbol(code: str) -> list[list[bool]]:
    """Return 21 x 21 modules, True is dark: QR version 1 level H, alphanumeric mode, without quiet zone."""
    qr = qrcode.QRCode(version=1, error_correction=qrcode.ERROR_CORRECT_H, border=0)
    qr.add_data(QRData(code, mode=MODE_ALPHA_NUM))
    qr.make(fit=False)
    return [[bool(module) for module in row] for row in qr.get_matrix()]


def module_dots(dpi: int) -> int:
    """Return the fewest whole printer dots a module that make the symbol at least 20 mm wide."""
    return ceil(SYMBOL_MM * dpi / MM_PER_INCH / MODULES)


def draw(label: Label, dpi: int = 300) -> Image.Image:
    """Return the label as a 1-bit picture, one pixel a printer dot; raises ValueError for another dpi."""
    if dpi not in DPI:
        raise ValueError(f"labels are drawn for printers of {DPI[0]} or {DPI[1]} dpi, not {dpi}")
    dots_per_mm = dpi / MM_PER_INCH
    width, height = round(WIDTH_MM * dots_per_mm), round(HEIGHT_MM * dots_per_mm)
    module = module_dots(dpi)
    picture = Image.new("1", (width, height), 1)
    picture.info["dpi"] = (dpi, dpi)
    pen = ImageDraw.Draw(picture)

    left, top = QUIET * module, (height - MODULES * module) // 2
    for y, cells in enumerate(symbol(label.code)):
        for x, dark in enumerate(cells):
            if dark:
                at = (left + x * module, top + y * module)
                pen.rectangle((*at, at[0] + module - 1, at[1] + module - 1), fill=0)

    def dots(em: float) -> int:
        return round(em * dots_per_mm)

    column = left + (MODULES + QUIET) * module
    rows = _rows(
        label,
        WIDTH_MM - column / dots_per_mm - MARGIN_MM,
        lambda text, bold, em: face(bold, dots(em)).getlength(text) / dots_per_mm,
    )
    for row in rows:
        baseline = round((MARGIN_MM + row.baseline) * dots_per_mm)
        pen.text((column, baseline), row.text, font=face(row.bold, dots(row.em)), fill=0, anchor="ls")
    return picture


def png(label: Label, dpi: int = 300) -> bytes:
    """Return the label's picture as PNG, which says its dots per inch; raises ValueError for another dpi."""
    file = io.BytesIO()
    draw(label, dpi).save(file, "PNG", dpi=(dpi, dpi))
    return file.getvalue()


def pdf(labels: Sequence[Label], *, made: datetime = UNDATED) -> bytes:
    """Return a PDF, one page of 50 x 25 mm a label, dated `made`; raises ValueError for no label."""
    if not labels:
        raise ValueError("there is no label to print; choose at least one")
    paper = new_paper((WIDTH_MM, HEIGHT_MM), made)
    for label in labels:
        paper.add_page()
        put(paper, label, 0, 0)
    return bytes(paper.output())


def new_paper(size: tuple[float, float], made: datetime) -> FPDF:
    """Return an empty PDF with the faces of labels, pages of `size` in mm, that asks to be printed unscaled."""
    paper = FPDF(unit="mm", format=size)
    paper.set_creation_date(made)
    paper.set_auto_page_break(False)
    paper.set_margin(0)
    paper.set_title(_("Labels"))
    paper.set_lang(language())
    paper.viewer_preferences = ViewerPreferences(print_scaling="None")
    paper.add_font("label", "", REGULAR)
    paper.add_font("label", "B", BOLD)
    return paper


def put(paper: FPDF, label: Label, x: float, y: float) -> None:
    """Draw a label with its left top corner at (x, y) mm of the page that is open."""
    left, top = x + QUIET * PDF_MODULE_MM, y + (HEIGHT_MM - MODULES * PDF_MODULE_MM) / 2
    # One path for all modules: rectangles filled one by one show hairlines where they meet.
    modules = PaintedPath()
    modules.style.paint_rule = PathPaintRule.AUTO
    modules.style.fill_color = "#000000"
    modules.style.stroke_color = None
    for row_at, cells in enumerate(symbol(label.code)):
        for cell_at, dark in enumerate(cells):
            if dark:
                at = (left + cell_at * PDF_MODULE_MM, top + row_at * PDF_MODULE_MM)
                modules.rectangle(*at, PDF_MODULE_MM, PDF_MODULE_MM)
    with paper.drawing_context() as drawing:
        drawing.add_item(modules, clone=False)  # to copy it takes longer than to draw it

    def style(bold: bool, em: float) -> None:
        paper.set_font("label", "B" if bold else "", em * 72 / MM_PER_INCH)

    def measure(text: str, bold: bool, em: float) -> float:
        style(bold, em)
        return float(paper.get_string_width(text))

    column = (MODULES + 2 * QUIET) * PDF_MODULE_MM
    for row in _rows(label, WIDTH_MM - column - MARGIN_MM, measure):
        style(row.bold, row.em)
        paper.text(x + column, y + MARGIN_MM + row.baseline, row.text)


def _rows(label: Label, width: float, measure: Measure) -> list[Row]:
    lines = [line for line in map(printable, label.lines) if line]
    return arrange(
        spaced(label.code), printable(label.title), lines, width, HEIGHT_MM - 2 * MARGIN_MM, measure
    )
