"""Every word on paper comes from the catalogue, its letters are drawn, and longer words stay on the page."""

import io
from collections.abc import Iterator
from datetime import UTC, datetime
from typing import get_args

import pypdf
import pypdfium2
import pytest
from PIL import Image

from benchapp.actions.records import record_of
from benchapp.core.codes import spaced
from benchapp.core.events import FOLDED
from benchapp.core.record import Record
from benchapp.core.record_entries import SHOWN, Fate, Grade
from benchapp.core.record_models import Item, Standing
from benchapp.core.release_words import MEANING, MEANINGS
from benchapp.core.words import Catalogue, _, using
from benchapp.paper import blank
from benchapp.paper.label_files import files_of, title_of, trial_label
from benchapp.paper.label_sheet import HEAD_MM, Paper, sheet_pdf
from benchapp.paper.record import pdf
from benchapp.paper.tray import SOLE_USE, case_labels
from benchapp.web.records import standalone_page
from tests.actions.whole import THIRD, whole
from tests.actions.worked import Worked, eventful, worked
from tests.speech import data_of, speaking, unspoken, unspoken_text

MADE = datetime(2031, 3, 5, tzinfo=UTC)
VALUES = ("UTC", "min", "s", "h")  # units and the name of a time scale


def words(body: bytes) -> str:
    """Return the words of a PDF, its title and the names of its sections."""
    reader = pypdf.PdfReader(io.BytesIO(body))
    heads = [str(one.title) for one in reader.outline if not isinstance(one, list)]
    title = str(reader.metadata.title) if reader.metadata else ""
    return " ".join(" ".join([title, *heads, *(page.extract_text() for page in reader.pages)]).split())


@pytest.fixture(scope="module", params=["eventful", "whole", "held"])
def jaw(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Worked]:
    """A jaw with one of each exception; one with release, repair, remake and more; an exercise on hold."""
    place = tmp_path_factory.mktemp(request.param) / "lab"
    if request.param == "whole":
        with whole(place) as found:
            yield found
    elif request.param == "eventful":
        with worked(place) as found:
            eventful(found)
            yield found
    else:
        with worked(place, "lower", 60) as found:
            found.run_to("bubble-check", 0.1)
            found.say("bubble-left", ["m45b"], 0.02)
            found.fact("hold", 0.02, picks={"reason": "called-away"})
            yield found


def pictures(body: bytes) -> list[Image.Image]:
    """Return the pages of a PDF as grey pictures with 4 dots a mm."""
    document = pypdfium2.PdfDocument(body)
    found = [page.render(scale=4 * 25.4 / 72).to_pil().convert("L") for page in document]
    document.close()
    return found


def edges(body: bytes) -> Iterator[tuple[float, float, float, float]]:
    """Yield for each page how far its ink keeps from the four edges, in mm."""
    for picture in pictures(body):
        left, top, right, low = picture.point(lambda dot: 255 - dot).getbbox() or (0, 0, 0, 0)
        yield left / 4, top / 4, (picture.width - right) / 4, (picture.height - low) / 4


def own(jaw: Worked, record: Record) -> list[str]:
    """Return what on a record is no word of ours: the lab's words, codes, hashes, units, and what was signed."""
    said = [one.words for one in record.after.amendments] + [one.words for one in record.after.back]
    said += [one.means for one in record.after.sent] + [one.closed_words for one in record.deviations]
    said += [one.reason for one in record.changes.turns] + [one.code for one in record.old_parts]
    said += [one.reason for one in record.after.release.passed] if record.after.release else []
    said += [word for part in record.identity.parts for word in (part.revision, part.code)] + [THIRD[0], "P-200"]
    said += [one.new for one in record.changes.corrections if not one.new.startswith("⟦")]
    return [*data_of(jaw), *VALUES, *said, record.checkpoint.hash, record.protocol.hash, MEANINGS[MEANING]]


def test_every_word_of_a_record_is_in_the_catalogue(jaw: Worked) -> None:
    """On paper nothing stands outside the brackets but data; no letter is missing from the faces."""
    with speaking():
        record = record_of(jaw.bench, jaw.code)
        text = words(pdf(record))
    assert "⟦" in text and "\ufffd" not in text
    assert unspoken_text(text, own(jaw, record)) == []


def test_every_word_of_the_page_is_in_the_catalogue(jaw: Worked) -> None:
    """The record as a file of its own has no words but those of the catalogue, and says its language."""
    with speaking():
        record = record_of(jaw.bench, jaw.code)
        page = standalone_page(record)
    assert '<html lang="en">' in page and "⟦" in page
    assert unspoken(page, own(jaw, record)) == []


def test_what_was_signed_is_shown_as_it_was_signed(jaw: Worked) -> None:
    """Ids and the meaning of a release are the same in every language; words about them are not."""
    plain = record_of(jaw.bench, jaw.code)
    with speaking():
        spoken = record_of(jaw.bench, jaw.code)
    assert spoken.standing.state == plain.standing.state and spoken.standing.words != plain.standing.words
    assert [one.fate for one in spoken.steps] == [one.fate for one in plain.steps]
    assert [(one.kind, one.grade) for one in spoken.not_ordinary.items] == [
        (one.kind, one.grade) for one in plain.not_ordinary.items
    ]
    assert (spoken.checkpoint, spoken.protocol.hash) == (plain.checkpoint, plain.protocol.hash)
    if plain.after.release:
        assert spoken.after.release and spoken.after.release.meaning == MEANINGS[MEANING]


def test_every_word_of_a_blank_sheet_is_in_the_catalogue(jaw: Worked) -> None:
    """So it is with the blank step sheet, whose protocol is one that ships."""
    with speaking():
        text = words(blank.pdf(blank.sheet_of(jaw.bench, jaw.code)))
    assert "⟦" in text and "\ufffd" not in text
    assert unspoken_text(text, own(jaw, record_of(jaw.bench, jaw.code))) == []


def test_every_word_of_labels_is_in_the_catalogue(jaw: Worked) -> None:
    """Tray, jaw, part, bag, the sheet that they are cut from and the label that tries a printer."""
    with speaking():
        found = case_labels(jaw.bench, jaw.opened.code)
        labels = [one.label for one in found]
        title = title_of(jaw.opened.code, "T-2026-0017", "Żuraw 17")
        sheet = words(sheet_pdf(labels * 8, "A4", "", MADE))
        (trial,) = files_of([trial_label("Printer 4", "2031-03-05")], "labels", "A4", title, "test", MADE)
    whole_words = [line for one in found for line in (one.words, one.label.title, *one.label.lines)]
    head = sheet[: sheet.index(spaced(labels[0].code))]  # on the labels themselves long words are shortened
    text = " ".join([title, head, *whole_words, words(trial.data)])
    assert unspoken_text(text, [*own(jaw, record_of(jaw.bench, jaw.code)), "Printer", "mm"]) == []
    assert "⟦tray⟧" in text and "⟦packed moist⟧" in text and "⟦test label⟧" in text and "\ufffd" not in sheet


@pytest.mark.parametrize("paper", get_args(Paper))
def test_a_language_of_longer_words_stays_on_the_page(jaw: Worked, paper: Paper) -> None:
    """With every text twice as long all ink of record, blank sheet and sheet of labels keeps 9 mm from the edges."""
    twice = Catalogue("de", "twice", lambda text: f"{text} {text}", lambda one, many, n: f"{many} {many}")
    with using(twice):
        labels = [one.label for one in case_labels(jaw.bench, jaw.opened.code)]
        printed = [
            pdf(record_of(jaw.bench, jaw.code), paper), blank.pdf(blank.sheet_of(jaw.bench, jaw.code), paper),
            sheet_pdf(labels, paper, title_of(jaw.opened.code, "T-2026-0017", "Żuraw 17"), MADE),
        ]
    for body in printed:
        for left, top, right, low in edges(body):
            assert min(left, top, right, low) >= 9
    head, top = pictures(printed[-1])[0], round(HEAD_MM * 4)
    assert head.crop((0, top - 4, head.width, top - 1)).getextrema() == (255, 255)  # no word runs into the labels
    assert words(printed[-1]).count("This bar must measure 100 mm") == 2
    assert [pypdf.PdfReader(io.BytesIO(body)).root_object["/Lang"] for body in printed] == ["de"] * 3


def test_every_id_that_is_shown_is_in_the_catalogue() -> None:
    """Grades, fates, states, sorts of matters and kinds of entries stand among the words that are looked up."""
    fields = [(Standing, "state"), (Item, "kind")]
    ids = {*get_args(Grade), *get_args(Fate), *FOLDED} - {"", "confirm"}
    ids |= {one for model, name in fields for one in get_args(model.model_fields[name].annotation)}
    with speaking():
        assert {one for one in ids if _(one) == one} == set()
    assert ids == set(SHOWN)


@pytest.mark.parametrize("lines", ["only one", "one\ntwo\nthree\nfour"])
def test_the_sole_use_fits_whatever_a_translator_makes_of_its_rows(jaw: Worked, lines: str) -> None:
    """In one row or in four, every word of the sole use stands on the bag's label, and all else with it."""
    catalogue = Catalogue("pl", "rows", lambda text: lines if text == SOLE_USE else text, lambda one, many, n: many)
    with using(catalogue):
        bag = next(one.label for one in case_labels(jaw.bench, jaw.opened.code) if one.key.startswith("bag"))
        text = words(files_of([bag], "labels", "A4", "", "bag", MADE)[0].data)
    assert all(line in text for line in lines.split("\n")) and "packed moist" in text
