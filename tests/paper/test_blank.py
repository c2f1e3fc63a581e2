"""The blank step sheet: every step with its boxes, nothing outside the page, the same bytes each time."""

import io
from pathlib import Path

import pypdfium2 as pdfium
import pytest
from pypdf import PdfReader

from benchapp.actions.jaws import protocol_of
from benchapp.paper import blank
from benchapp.paper.record_sheet import Paper
from tests.actions.worked import CASE, Worked, worked


def words(data: bytes) -> str:
    """Return the text of a PDF, its lines joined."""
    return " ".join(" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(data)).pages)


def sheet(jaw: Worked, paper: Paper = "A4") -> bytes:
    """Return the blank sheet of a jaw."""
    return blank.pdf(blank.sheet_of(jaw.bench, jaw.code), paper)


def test_every_step_is_on_it_in_order(tmp_path: Path) -> None:
    """Each step of the jaw's table stands there in order, with time and initials, and each of its outcomes."""
    with worked(tmp_path / "data") as jaw:
        text = words(sheet(jaw))
        known = {card["step"] for card in jaw.line.table["cards"]}
        steps = [step for step in protocol_of(jaw.bench, jaw.line).steps if step.id in known]
    at = 0
    for step in steps:
        at = text.index(step.title, at)
        for outcome in step.outcomes:
            assert f"\N{BALLOT BOX} {outcome.title}" in text[at:]
    assert text.count("initials") >= len(steps) and text.count("Where, and what") == sum(bool(s.places) for s in steps)


def test_it_says_whose_it_is_and_that_entries_come_afterwards(tmp_path: Path) -> None:
    """Code, patient, order and protocol stand on every page; the first says that entries are made as stated times."""
    with worked(tmp_path / "data") as jaw:
        pages = [" ".join(p.extract_text().split()) for p in PdfReader(io.BytesIO(sheet(jaw))).pages]
    for page in pages:
        assert "Żuraw 17" in page and "T-2026-0017" in page and "green-splinted, edition" in page
    assert "stated time" in pages[0] and "“Other time”" in pages[0]
    assert "instructions for use" in pages[0]


def test_clocks_values_and_lots_have_lines(tmp_path: Path) -> None:
    """A floor says not before, a ceiling at the latest; values name their limits, picks ask for name and lot."""
    with worked(tmp_path / "data") as jaw:
        text = words(sheet(jaw))
    for said in ("not before 30 min after “Into the chamber, first side”: earliest", "Bonding resin, name and lot",
                 "at the latest 20 min after “Wet every socket”: by", "Positions ________ (6 to 20)",
                 "Program of the chamber ________ (0 to 99)",
                 "Care: Curing light", "FIRST LIGHT", "Arch, tag", "right back", "left back"):
        assert said in text, said


@pytest.mark.parametrize(("paper", "width", "height"), [("A4", 595.28, 841.89), ("Letter", 612.0, 792.0)])
def test_nothing_is_printed_in_the_margins(paper: Paper, width: float, height: float, tmp_path: Path) -> None:
    """On both papers (ISO 216 A4; ANSI/ASME Y14.1 A size) every page is white within 9 mm of its sides."""
    with worked(tmp_path / "data", jaw="lower") as jaw:
        data = sheet(jaw, paper)
    document = pdfium.PdfDocument(data)
    assert 3 <= len(document) <= 7
    for page in document:
        assert (page.get_width(), page.get_height()) == (pytest.approx(width, abs=0.1), pytest.approx(height, abs=0.1))
        picture = page.render(scale=2).to_pil().convert("L")
        edge = round(9 / 25.4 * 72 * 2)
        for box in ((0, 0, edge, picture.height), (picture.width - edge, 0, picture.width, picture.height)):
            assert picture.crop(box).getextrema() == (255, 255)
        assert picture.getextrema()[0] < 100


def test_the_same_moment_gives_the_same_bytes(tmp_path: Path) -> None:
    """Two prints of one jaw at one moment are equal, and another jaw's differs."""
    with worked(tmp_path / "one") as jaw:
        assert sheet(jaw) == sheet(jaw)
        first = sheet(jaw)
    with worked(tmp_path / "two", jaw="lower") as other:
        assert sheet(other) != first


def test_training_is_printed_on_it(tmp_path: Path) -> None:
    """The sheet of an exercise says so on every page."""
    with worked(tmp_path / "data", training=True) as jaw:
        for page in PdfReader(io.BytesIO(sheet(jaw))).pages:
            assert "TRAINING" in page.extract_text()


def test_long_and_strange_words_break_nothing(tmp_path: Path) -> None:
    """Names as long as a sheet allows, with marks that look like code, are printed and not obeyed."""
    case = CASE.replace("Żuraw 17", "<script>" + "W" * 60).replace("T-2026-0017", "{{7*7}} &amp;")
    with worked(tmp_path / "data", case=case.replace("{{7*7}}", "{{{{7*7}}}}")) as jaw:
        text = words(sheet(jaw))
    assert "<script>" in text.replace(" ", "") and "{{7*7}} &amp;" in text
