"""The whole record on paper and as a page: every section is there, in black, within the margins."""

import io
from pathlib import Path

import pypdf
import pypdfium2
import pytest
from jinja2 import Environment, FileSystemLoader, StrictUndefined

from benchapp.actions.records import record_of
from benchapp.actions.release import amend, sent
from benchapp.core.record import Record
from benchapp.core.record_arch import marked
from benchapp.core.release_words import MEANING, MEANINGS
from benchapp.paper.record import Paper, pdf
from benchapp.paths import TEMPLATES
from benchapp.web.tongue import dress
from tests.actions.whole import THIRD, let_go, seat, whole

PAPERS: tuple[Paper, ...] = ("A4", "Letter")
SECTIONS = (
    "Release", "Materials, devices and parts picked", "Parts made again", "Repairs", "Deviations",
    "Changes of the order", "After the release", "Photos", "Data for the statement on a custom-made device",
)  # fmt: skip


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory) -> Record:
    """The record of a jaw with everything."""
    with whole(tmp_path_factory.mktemp("whole") / "lab") as jaw:
        return record_of(jaw.bench, jaw.code)


def words(text: str) -> str:
    """Text with single blanks."""
    return " ".join(text.split())


def page(record: Record) -> str:
    """The record as a page; an unknown name in the template is an error."""
    environment = Environment(loader=FileSystemLoader(TEMPLATES), autoescape=True, undefined=StrictUndefined)
    dress(environment)
    return environment.get_template("records/record.html").render(
        record=record, arch=marked(record), checkpoint_png="data:,", static=str, standalone=""
    )


@pytest.mark.parametrize("paper", PAPERS)
def test_every_section_is_printed(found: Record, paper: Paper) -> None:
    """Each section stands on paper with its matters; release with name, time and meaning stands before the steps."""
    pages = [words(p.extract_text()) for p in pypdf.PdfReader(io.BytesIO(pdf(found, paper))).pages]
    text = " ".join(pages)
    assert all(section in text for section in SECTIONS)
    steps = next(at for at, one in enumerate(pages) if "Every entry about this jaw" in one)
    front = " ".join(pages[:steps])
    assert found.after.release is not None
    stamp = f"{found.after.release.at[:10]} {found.after.release.at[11:19]}"
    for said in (THIRD[0], stamp, MEANINGS[MEANING]):
        assert said in front
    for said in ("lot L-77", "2031-06-30", "light 2 → light 3", "Клиника «Маяк»", "borne by the laboratory",
                 "accepted as it is: Tack sat; <b>margins</b> looked at", "parcel 4711", "hole, pit or stain",
                 "Void filled at the chairside", "void laid bare, repair", "is not that statement"):
        assert said in text
    assert "released" in pages[0] and all("· released" in one for one in pages)


@pytest.mark.parametrize("paper", PAPERS)
def test_it_prints_in_black_within_the_margins(found: Record, paper: Paper) -> None:
    """Rendered in colour the pages hold greys only, and all ink keeps 9 mm from every edge."""
    document = pypdfium2.PdfDocument(pdf(found, paper))
    scale = 4 * 25.4 / 72
    for one in document:
        picture = one.render(scale=scale).to_pil().convert("RGB")
        red, green, blue = picture.split()
        assert red.tobytes() == green.tobytes() == blue.tobytes()
        left, top, right, low = picture.convert("L").point(lambda dot: 255 - dot).getbbox() or (0, 0, 0, 0)
        assert min(left, top) >= 36 and right <= picture.width - 36 and low <= picture.height - 36
    document.close()


def test_there_is_room_for_photos(found: Record) -> None:
    """Below the heading lies an empty frame of at least 55 mm."""
    document = pypdfium2.PdfDocument(pdf(found))
    at = next(n for n, p in enumerate(document) if "Room for photos" in p.get_textpage().get_text_range())
    picture = document[at].render(scale=4 * 25.4 / 72).to_pil().convert("L")
    middle = [picture.getpixel((picture.width // 2, y)) for y in range(picture.height)]
    white, longest = 0, 0
    for dot in middle:
        white = white + 1 if dot == 255 else 0
        longest = max(longest, white)
    document.close()
    assert longest / 4 >= 55


def test_the_page_says_what_the_paper_says(found: Record) -> None:
    """The page holds every section and escapes every word that was typed."""
    text = page(found)
    assert all(f">{section}<" in text for section in SECTIONS)
    assert "<b>margins" not in text and "&lt;b&gt;margins&lt;/b&gt;" in text
    assert 'data-released="yes"' in text and MEANINGS[MEANING] in words(text)


def test_endless_words_stay_on_the_paper(tmp_path: Path) -> None:
    """With the longest amendment, reason and means of sending without a blank, nothing of the words is lost."""
    with whole(tmp_path / "lab", release_too=False) as jaw:
        jaw.fact("opened")
        let_go(jaw, reason="Щ" * 600)
        sent(jaw.bench, seat(jaw), jaw.code, "2026-11-24", "W" * 80)
        amend(jaw.bench, seat(jaw), jaw.code, "Ж" * 600)
        record = record_of(jaw.bench, jaw.code)
    for paper in PAPERS:
        text = "".join(p.extract_text() for p in pypdf.PdfReader(io.BytesIO(pdf(record, paper))).pages)
        squeezed = "".join(text.split())
        assert "Ж" * 600 in squeezed and "Щ" * 600 in squeezed and "W" * 80 in squeezed
