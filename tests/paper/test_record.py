"""The record as PDF and page: read back by pypdf, pypdfium2, zxing-cpp and an HTML parser."""

import io
import re
from html.parser import HTMLParser
from pathlib import Path

import pypdf
import pypdfium2
import pytest
import zxingcpp
from jinja2 import Environment, FileSystemLoader, StrictUndefined
from PIL import Image

from benchapp.actions.records import record_of
from benchapp.core.record import Record
from benchapp.core.record_arch import marked
from benchapp.paper.record import Paper, checkpoint_png, pdf
from benchapp.paths import TEMPLATES
from benchapp.web.tongue import dress
from tests.actions.worked import CASE, LAB, eventful, worked

PAPERS: dict[Paper, tuple[float, float]] = {"A4": (210, 297), "Letter": (215.9, 279.4)}
# A record tells what was tapped; how long light worked is nothing that it can know.
NEVER = re.compile(r"cure[ -]time|cured[ -]for|curing[ -]time", re.IGNORECASE)


@pytest.fixture(scope="module")
def done(tmp_path_factory: pytest.TempPathFactory) -> Record:
    """The record of a jaw with one of each exception."""
    with worked(tmp_path_factory.mktemp("done") / "lab") as jaw:
        eventful(jaw)
        return record_of(jaw.bench, jaw.code)


@pytest.fixture(scope="module")
def exercise(tmp_path_factory: pytest.TempPathFactory) -> Record:
    """The record of a lower jaw in training, on hold in the wet window."""
    with worked(tmp_path_factory.mktemp("exercise") / "lab", "lower", 60) as jaw:
        jaw.run_to("bubble-check", 0.1)
        jaw.say("bubble-left", ["m45b"], 0.02)
        jaw.fact("hold", 0.02, picks={"reason": "called-away"})
        return record_of(jaw.bench, jaw.code)


def pages(body: bytes) -> list[str]:
    """The words of each page, as pypdf reads them."""
    return [" ".join(page.extract_text().split()) for page in pypdf.PdfReader(io.BytesIO(body)).pages]


def html(record: Record) -> str:
    """The record as a page; an unknown name in the template is an error."""
    environment = Environment(loader=FileSystemLoader(TEMPLATES), autoescape=True, undefined=StrictUndefined)
    dress(environment)
    return environment.get_template("records/record.html").render(
        record=record, arch=marked(record), checkpoint_png="data:,", static=str, standalone=""
    )


class Words(HTMLParser):
    """Collects the words of a page, its headings and what would need a laxer content policy."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.words: list[str] = []
        self.heads: list[int] = []
        self.inline: list[str] = []
        self.bare: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note headings, inline styles and scripts, and table headings without a scope."""
        names = dict(attrs)
        if re.fullmatch("h[1-6]", tag):
            self.heads.append(int(tag[1]))
        runs = tag == "script" and "src" not in names and names.get("type") != "application/json"
        if runs or tag == "style" or any(n == "style" or n.startswith("on") for n in names):
            self.inline.append(tag)
        if tag == "th" and "scope" not in names:
            self.bare.append(tag)

    def handle_data(self, data: str) -> None:
        """Note words."""
        self.words.append(data)

    @property
    def text(self) -> str:
        """All words with single blanks."""
        return " ".join(" ".join(self.words).split())


@pytest.mark.parametrize("paper", PAPERS)
def test_words_of_the_world_are_printed(done: Record, paper: Paper) -> None:
    """Polish, Cyrillic and mathematical signs stand in the PDF as text, none as a missing character."""
    text = " ".join(pages(pdf(done, paper)))
    for word in ("Łukasz Wiśniewski", "Зоя Ким", "Практика на набережной", "film ≤ 0.1 mm", "Pracownia Żółw"):
        assert word in text
    assert "\ufffd" not in text


@pytest.mark.parametrize("paper", PAPERS)
def test_pages_have_the_size_of_the_paper(done: Record, paper: Paper) -> None:
    """A4 is 210 x 297 mm (ISO 216), Letter 8.5 x 11 in (ANSI/ASME Y14.1); both from memory."""
    for page in pypdf.PdfReader(io.BytesIO(pdf(done, paper))).pages:
        size = (float(page.mediabox.width) * 25.4 / 72, float(page.mediabox.height) * 25.4 / 72)
        assert size == pytest.approx(PAPERS[paper], abs=0.01)


@pytest.mark.parametrize("paper", PAPERS)
def test_every_page_says_what_it_is_of(done: Record, exercise: Record, paper: Paper) -> None:
    """Code, patient and page number stand on every page, the warning on every page of an exercise only."""
    for record in (done, exercise):
        found = pages(pdf(record, paper))
        assert len(found) >= 3
        for number, text in enumerate(found, 1):
            assert record.identity.code in text and record.identity.patient in text
            assert f"page {number} of {len(found)}" in text
            assert ("TRAINING" in text) == record.training
            assert (record.warning in text) or not record.training


@pytest.mark.parametrize("paper", PAPERS)
def test_the_summary_comes_first(done: Record, paper: Paper) -> None:
    """Page 1 tells state, order, exceptions, checks; the steps begin on a page of their own."""
    found = pages(pdf(done, paper))
    for words in (
        done.standing.words,
        "What was not ordinary",
        "Checks of the jaw",
        "sole use of one patient",
    ):
        assert words in found[0]
    assert "right back, 12 places, viewed 14 s, none open" not in found[0]
    assert "right back, 12 places, viewed 14 s, none open" in " ".join(found[1:])


@pytest.mark.parametrize("paper", PAPERS)
def test_clocks_with_their_sources(done: Record, paper: Paper) -> None:
    """30 + 30 min are printed as asked, with the time between the two taps and as common practice."""
    text = " ".join(pages(pdf(done, paper)))
    assert text.count("not before 30 min") == 3
    assert "common practice, no source" in text and "time between the two taps" in text
    assert "missed by 4 min 54 s (deviation)" in text
    assert "stated 11:00:36" in text and "11:04:06" in text


@pytest.mark.parametrize("paper", PAPERS)
def test_the_checkpoint_is_read_back(done: Record, paper: Paper) -> None:
    """zxing-cpp reads the checkpoint from the printed page, rendered by pypdfium2, at 100 dpi."""
    document = pypdfium2.PdfDocument(pdf(done, paper))
    found = [
        code for page in document for code in zxingcpp.read_barcodes(page.render(scale=100 / 72).to_pil().convert("L"))
    ]
    assert [code.text for code in found] == [done.checkpoint.text]
    assert found[0].ec_level == "M"
    document.close()


def test_the_picture_of_the_checkpoint_is_read_back(done: Record) -> None:
    """The PNG for the page holds the same text with its quiet zone."""
    picture = Image.open(io.BytesIO(checkpoint_png(done)))
    (code,) = zxingcpp.read_barcodes(picture.convert("L"))
    assert code.text == done.checkpoint.text
    assert picture.convert("L").crop((0, 0, picture.width, 24)).getextrema() == (255, 255)


def test_equal_records_are_equal_bytes(done: Record) -> None:
    """The PDF of a record is the same, byte for byte."""
    assert pdf(done) == pdf(done)


def test_nothing_speaks_of_what_light_did(done: Record, exercise: Record) -> None:
    """Neither PDF, page, JSON nor schema calls the time between two taps anything about curing."""
    for record in (done, exercise):
        texts = [
            *pages(pdf(record, "A4")),
            *pages(pdf(record, "Letter")),
            html(record),
            record.model_dump_json(),
        ]
        assert len(texts) > 6
        assert [NEVER.search(text) for text in texts] == [None] * len(texts)
    assert NEVER.search(str(Record.model_json_schema())) is None
    assert NEVER.search("Cure time 30 min") and NEVER.search("cured for an hour")


def test_all_ink_is_black(exercise: Record) -> None:
    """Rendered in colour, the page holds greys only: it prints the same in black and white."""
    document = pypdfium2.PdfDocument(pdf(exercise))
    for page in document:
        red, green, blue = page.render(scale=1).to_pil().convert("RGB").split()
        assert red.tobytes() == green.tobytes() == blue.tobytes()
    document.close()


@pytest.mark.parametrize("paper", PAPERS)
def test_nothing_reaches_the_edge(tmp_path: Path, paper: Paper) -> None:
    """With names as long as a sheet allows and no blanks, all ink keeps 9 mm from every edge."""
    case = CASE.replace("Żuraw 17", "Ж" * 80).replace("Практика на набережной", "W" * 80)
    case = case.replace('"P-118"', '"' + "Q" * 80 + '"').replace("light 2", "M" * 80)
    lab = LAB.replace("Pracownia Żółw, invented", "L" * 80).replace("Зоя Ким", "Щ" * 80)
    with worked(tmp_path / "lab", speed=60, case=case, lab=lab) as jaw:
        jaw.sign_in("Щ" * 80, "1357")
        jaw.main()
        jaw.fact("confirm", step="x" * 80, outcome="y" * 80, places=["z" * 76 + f"{n:04}" for n in range(200)])
        values = [{"name": "v" * 80, "value": "9" * 24, "unit": "u" * 12}] * 20
        jaw.fact("confirm", step="intake", outcome="z" * 80, values=values, picks={"p" * 80: "q" * 80})
        record = record_of(jaw.bench, jaw.code)
    body = pdf(record, paper)
    document = pypdfium2.PdfDocument(body)
    for page in document:
        picture = page.render(scale=4 * 25.4 / 72).to_pil().convert("L").point(lambda dot: 255 - dot)
        left, top, right, low = picture.getbbox() or (0, 0, 0, 0)
        edge = 9 * 4  # dots, at 4 a mm
        assert min(left, top) >= edge
        assert right <= picture.width - edge and low <= picture.height - edge
    document.close()
    squeezed = "".join(pages(body)).replace(" ", "")
    assert squeezed.count("Ж" * 80) >= len(pages(body))
    assert "W" * 80 in squeezed and "Q" * 80 in squeezed


def test_the_page_says_the_same(done: Record, exercise: Record) -> None:
    """The page holds every step, exception and note that the PDF holds, in order."""
    for record in (done, exercise):
        text = Words(html(record)).text
        for step in record.steps:
            assert " ".join(step.lines()[0].split()) in text
        for item in record.not_ordinary.items:
            assert item.text() in text
        for words in (*record.notes, record.standing.words, record.checkpoint.text, record.identity.sole_use):
            assert words in text
        assert ("TRAINING" in text) == record.training


def test_the_page_is_well_built(done: Record) -> None:
    """One first heading, no level left out, every table heading with its scope, nothing inline."""
    found = Words(html(done))
    assert found.heads[0] == 1 and found.heads.count(1) == 1 and set(found.heads) == {1, 2}
    assert found.bare == [] and found.inline == []
    assert '<html lang="en">' in html(done)


def test_marks_stand_on_the_picture(done: Record, exercise: Record) -> None:
    """Each place of the list has its mark within the picture, no two on one another."""
    for record in (done, exercise):
        arch = marked(record)
        assert [m.number for m in arch.marks] == [p.number for p in record.not_ordinary.places]
        for mark in arch.marks:
            assert 0 < mark.x < arch.picture.width and 0 < mark.y < arch.picture.height
    (margin,) = marked(exercise).marks
    tooth = next(t for t in marked(exercise).picture.teeth if t.tooth == 45)
    assert margin.x < tooth.x  # the buccal side of a right tooth is the viewer's left
