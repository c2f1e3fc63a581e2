"""Sheets of labels: the bar is 100 mm measured in the PDF, labels are 50 x 25 mm, read back and never cut off."""

import io
import random
from datetime import UTC, datetime

import pypdfium2
import pytest
import zxingcpp
from PIL import Image
from pypdf import PdfReader

from benchapp.core.codes import make_code, spaced
from benchapp.paper.label import DPI, Label
from benchapp.paper.label_files import TEST_CODE, files_of, trial_label
from benchapp.paper.label_sheet import COLUMNS, HELP, SIZES, Paper, rows_on, sheet_pdf

# ISO 216 and ANSI/ASME Y14.1, in points of 1/72 inch.
POINTS: dict[Paper, tuple[float, float]] = {"A4": (595.276, 841.890), "Letter": (612.0, 792.0)}
MM = 72 / 25.4
MADE = datetime(2031, 3, 5, tzinfo=UTC)


def labels(count: int) -> list[Label]:
    """Labels with different codes."""
    source = random.Random(7)
    return [Label(make_code("1", source.choice), "upper jaw", ("Żuraw 17", "due 2031-03-05")) for _ in range(count)]


def dark_runs(picture: Image.Image, row: int) -> list[int]:
    """Lengths of the runs of dark dots in a row of a picture."""
    cells = [picture.getpixel((x, row)) for x in range(picture.width)]
    runs, length = [], 0
    for cell in [*cells, 255]:
        if cell < 128:
            length += 1
        elif length:
            runs.append(length)
            length = 0
    return runs


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_bar_is_100_mm(paper: Paper) -> None:
    """Drawn by pdfium at 20 dots a mm, the longest dark run above the labels is 2000 dots, on every page."""
    document = pypdfium2.PdfDocument(sheet_pdf(labels(COLUMNS * rows_on(paper) + 1), paper, "Labels"))
    assert len(document) == 2
    for page in document:
        assert page.get_size() == pytest.approx(POINTS[paper], abs=0.1)
        drawn = page.render(scale=20 / MM).to_pil().convert("L")
        longest = max(max(dark_runs(drawn, row), default=0) for row in range(300, 440, 4))
        assert longest == pytest.approx(2000, abs=2)
        assert HELP[:20] in page.get_textpage().get_text_bounded()


@pytest.mark.parametrize("dpi", DPI)
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_every_label_is_read_back_with_its_words(paper: Paper, dpi: int) -> None:
    """All symbols of a full sheet are read at both resolutions; codes, titles and lines stand there as text."""
    asked = labels(COLUMNS * rows_on(paper))
    (page,) = pypdfium2.PdfDocument(sheet_pdf(asked, paper, "Labels of a case"))
    seen = zxingcpp.read_barcodes(page.render(scale=dpi / 72).to_pil().convert("L"))
    assert sorted(one.text for one in seen) == sorted(one.code for one in asked)
    text = " ".join(page.get_textpage().get_text_bounded().split())
    assert text.startswith("Labels of a case") and text.count("Żuraw 17") == len(asked)
    assert all(spaced(one.code) in text for one in asked)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_labels_are_as_large_as_the_stock_and_apart(paper: Paper) -> None:
    """Each hairline frame is 50 x 25 mm; frames keep 5 mm from each other and 10 mm from the edges of the paper."""
    document = pypdfium2.PdfDocument(sheet_pdf(labels(COLUMNS * rows_on(paper)), paper, "Labels"))
    boxes = [one.get_bounds() for one in document[0].get_objects(filter=[pypdfium2.raw.FPDF_PAGEOBJ_PATH])]
    frames = [box for box in boxes if (box[2] - box[0], box[3] - box[1]) == pytest.approx((50 * MM, 25 * MM), abs=0.6)]
    assert len(frames) == COLUMNS * rows_on(paper)
    wide, high = POINTS[paper]
    for at, (left, bottom, right, top) in enumerate(frames):
        assert left >= 10 * MM and right <= wide - 10 * MM and bottom >= 10 * MM and top <= high - 10 * MM
        for other in frames[at + 1:]:
            across = max(other[0] - right, left - other[2])
            down = max(other[1] - top, bottom - other[3])
            assert max(across, down) >= 5 * MM


def test_a_viewer_is_asked_not_to_scale() -> None:
    """Sheets and labels name `PrintScaling None` (ISO 32000-1, table 150), read by a second library."""
    for kind in ("sheet", "labels"):
        (made,) = files_of(labels(2), kind, "A4", "Labels", "x", MADE)  # type: ignore[arg-type]
        reader = PdfReader(io.BytesIO(made.data))
        assert reader.viewer_preferences is not None
        assert reader.viewer_preferences.print_scaling == "/None"


def test_files_for_each_sort_of_printer() -> None:
    """One PDF, or a picture for each label at the resolution asked for; names say what they are of."""
    asked = labels(3)
    for kind, dpi in (("png-203", 203), ("png-300", 300)):
        made = files_of(asked, kind, "A4", "Labels", "x", MADE)  # type: ignore[arg-type]
        assert [(one.of, one.ending) for one in made] == [(one.code, "png") for one in asked]
        for one, label in zip(made, asked, strict=True):
            with Image.open(io.BytesIO(one.data)) as picture:
                assert picture.size == (round(50 / 25.4 * dpi), round(25 / 25.4 * dpi))
                assert [seen.text for seen in zxingcpp.read_barcodes(picture.convert("L"))] == [label.code]
    for kind, pages in (("labels", 3), ("sheet", 1)):
        (one,) = files_of(asked, kind, "A4", "Labels", "x", MADE)  # type: ignore[arg-type]
        assert (one.of, one.ending, len(PdfReader(io.BytesIO(one.data)).pages)) == ("x", "pdf", pages)


def test_the_test_label_is_nobodys() -> None:
    """Its symbol is read, and its code is that of no case that could be drawn by chance in a lab's life."""
    (made,) = files_of([trial_label("Bench", "2031-03-05")], "png-203", "A4", "", "test", MADE)
    with Image.open(io.BytesIO(made.data)) as picture:
        assert [seen.text for seen in zxingcpp.read_barcodes(picture.convert("L"))] == [TEST_CODE]


def test_a_long_title_stays_on_the_page() -> None:
    """However long the title is, nothing is drawn within 10 mm of the page's sides."""
    (page,) = pypdfium2.PdfDocument(sheet_pdf(labels(1), "A4", "Labels of " + "W" * 300))
    drawn = page.render(scale=4 / MM).to_pil().convert("L")
    side = drawn.crop((drawn.width - 40, 0, drawn.width, drawn.height))
    assert side.getextrema() == (255, 255)
    assert SIZES["A4"] == (210.0, 297.0)


def test_no_label_no_sheet() -> None:
    """A sheet of nothing is refused in words."""
    with pytest.raises(ValueError, match="choose at least one"):
        sheet_pdf([], "A4")
