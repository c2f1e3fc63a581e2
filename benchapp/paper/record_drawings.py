"""Drawings on a record: the arch with its marks, and the QR symbol of the checkpoint."""

import io

import qrcode
from fpdf import FPDF
from fpdf.drawing_primitives import Transform
from fpdf.svg import svg_path_converter
from PIL import Image
from qrcode.image.pil import PilImage

from benchapp.core.pictures import ArchPicture
from benchapp.core.record_arch import MarkedArch
from benchapp.core.record_models import Record

QUIET = 4  # modules of white all round, ISO/IEC 18004
MODULE_MM = 0.8
MARK = 11.0  # radius of a mark in view box px
NUMBER = 18.0  # em of the numbers of teeth in view box px


def checkpoint_symbol(record: Record) -> list[list[bool]]:
    """Return the modules of the checkpoint's QR symbol, True is dark: level M, no quiet zone."""
    code = _code(record)
    code.border = 0
    return [[bool(module) for module in row] for row in code.get_matrix()]


def checkpoint_png(record: Record) -> bytes:
    """Return the checkpoint's QR symbol with its quiet zone as PNG, 6 px a module."""
    file = io.BytesIO()
    picture: Image.Image = _code(record).make_image(image_factory=PilImage).get_image()
    picture.convert("1").save(file, "PNG")
    return file.getvalue()


def _code(record: Record) -> qrcode.QRCode:
    code = qrcode.QRCode(error_correction=qrcode.ERROR_CORRECT_M, border=QUIET, box_size=6)
    code.add_data(record.checkpoint.text)
    code.make(fit=True)
    return code


def draw_symbol(paper: FPDF, modules: list[list[bool]], left: float, top: float) -> float:
    """Draw a QR symbol with its upper left module at (left, top) mm; return its width in mm."""
    # One path for all modules: rectangles filled one by one show hairlines where they meet.
    with paper.new_path() as path:
        path.style.fill_color = "#000000"
        path.style.stroke_color = None
        for y, row in enumerate(modules):
            for x, dark in enumerate(row):
                if dark:
                    path.rectangle(left + x * MODULE_MM, top + y * MODULE_MM, MODULE_MM, MODULE_MM)
    return len(modules) * MODULE_MM


def draw_arch(paper: FPDF, arch: MarkedArch, left: float, top: float, width: float) -> float:
    """Draw the arch at (left, top) mm, `width` mm wide; return its height in mm."""
    scale = width / arch.picture.width
    _outlines(paper, arch.picture, left, top, scale)
    paper.set_font("record", "", NUMBER * scale * 72 / 25.4)
    for tooth in arch.picture.teeth:
        _middle(paper, str(tooth.tooth), left + tooth.x * scale, top + tooth.y * scale)
    for caption in arch.picture.captions:
        _middle(paper, caption.text, left + caption.x * scale, top + caption.y * scale)
    paper.set_font("record", "B", paper.font_size_pt)
    paper.set_text_color(255)
    for mark in arch.marks:
        x, y, r = left + mark.x * scale, top + mark.y * scale, MARK * scale
        paper.set_fill_color(0)
        paper.circle(x, y, r, style="F")
        _middle(paper, str(mark.number), x, y)
    paper.set_text_color(0)
    return arch.picture.height * scale


def _outlines(paper: FPDF, picture: ArchPicture, left: float, top: float, scale: float) -> None:
    with paper.local_context():
        for path, width, fill in (
            (picture.base, 0.2, None),
            *((tooth.path, 0.25, "#ffffff") for tooth in picture.teeth),
        ):
            with paper.new_path() as line:
                line.style.fill_color = fill
                line.style.stroke_color = "#000000"
                line.style.stroke_width = width / scale
                line.transform = Transform.scaling(scale).translate(left, top)
                svg_path_converter(line, path)


def _middle(paper: FPDF, text: str, x: float, y: float) -> None:
    height = float(paper.font_size)
    paper.set_xy(x - 10, y - height / 2)
    paper.cell(20, height, text, align="C")
