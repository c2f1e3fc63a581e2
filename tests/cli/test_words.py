"""A lab's own language: written for translators, checked, put into the data folder, and served."""

import subprocess
import sys
import urllib.request
from pathlib import Path

import pytest

from benchapp.store.catalogue import for_translators, text_of
from tests.live import LiveLab


@pytest.fixture(scope="module")
def lab(tmp_path_factory: pytest.TempPathFactory) -> LiveLab:
    """The demo, filled and not served."""
    return LiveLab(tmp_path_factory.mktemp("words") / "data").fill()


def polish(**texts: str) -> bytes:
    """Return a catalogue with a few texts translated."""
    catalog = for_translators("pl", None)
    for message in catalog:
        if message.id in texts:
            message.string = texts[str(message.id)]
    return text_of(catalog)


def test_a_translation_from_the_first_text_to_a_page(lab: LiveLab, tmp_path: Path) -> None:
    """Written, translated, checked, merged, put into the data folder: the page is in that language."""
    file = tmp_path / "pl.po"
    out = lab.run("words", "--out", str(file), "--language", "pl", apart=True).stdout
    assert "texts" in out and 'msgid "Jaws in work"' in file.read_text("utf-8")
    file.write_bytes(polish(**{"Jaws in work": "Prace w toku", "Lay everything out": "Przygotuj stanowisko"}))
    assert "no faults; language pl, 2 of" in lab.run("words", "check", str(file)).stdout
    lab.run("words", "--out", str(file), "--from", str(file))
    assert "no faults; language pl, 2 of" in lab.run("words", "check", str(file)).stdout
    (lab.data / "words.po").write_bytes(file.read_bytes())
    try:
        with urllib.request.urlopen(f"{lab.start().address}/") as answer:
            page = answer.read().decode()
    finally:
        lab.kill()
        (lab.data / "words.po").unlink()
    assert '<html lang="pl"' in page and "<h2 id=\"work-title\">Prace w toku</h2>" in page and "Chambers" in page


def test_the_server_says_its_language(lab: LiveLab) -> None:
    """It prints the language, and how much of it is translated, once it serves."""
    (lab.data / "words.po").write_bytes(polish(Desk="Biurko"))
    command = [sys.executable, "-u", "-m", "benchapp", "serve", "--data", str(lab.data), "--port", str(lab.port)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, encoding="utf-8", start_new_session=True) as run:
        assert run.stdout
        lines = [run.stdout.readline() for _line in range(2)]
        run.terminate()
    (lab.data / "words.po").unlink()
    assert "words.po: language pl, 1 of " in lines[1]


def test_a_broken_catalogue_stops_the_server_in_time(lab: LiveLab, tmp_path: Path) -> None:
    """Serving, records and labels refuse with line and remedy, exit 1; without the file they work again."""
    (lab.data / "words.po").write_bytes(polish(**{"order {number}": "zlecenie {numer}"}))
    for command in (("serve", "--port", str(lab.port)), ("record", lab.code, "--out", str(tmp_path / "r.pdf"))):
        said = lab.run(*command, "--data", str(lab.data), expect=1).stderr
        assert "words.po: line " in said and "Use exactly these: {number}" in said and "Traceback" not in said
    assert "{number}" in lab.run("words", "check", str(lab.data / "words.po"), expect=1).stderr
    (lab.data / "words.po").unlink()
    lab.run("record", lab.code, "--data", str(lab.data), "--out", str(tmp_path / "r.pdf"))


def test_what_was_translated_is_never_overwritten(lab: LiveLab, tmp_path: Path) -> None:
    """A file that is there stays unless it is gone on with; an unknown language, no file: one sentence each."""
    file = tmp_path / "pl.po"
    file.write_bytes(polish(Desk="Biurko"))
    before = file.read_bytes()
    assert "--from" in lab.run("words", "--out", str(file), expect=1).stderr
    assert "ISO 639" in lab.run("words", "--out", str(tmp_path / "q.po"), "--language", "qq", expect=1).stderr
    assert "--out FILE.po" in lab.run("words", expect=2).stderr
    assert "none.po" in lab.run("words", "check", str(tmp_path / "none.po"), expect=1).stderr
    assert file.read_bytes() == before and not (tmp_path / "q.po").exists()
