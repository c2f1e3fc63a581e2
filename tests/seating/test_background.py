"""The check as a process of its own: left and found again, kept by what it was made from, told when it is lost."""

from dataclasses import asdict
from pathlib import Path

import pytest

from benchapp.background import Checks
from benchapp.seating.check import check
from benchapp.seating.report import as_json
from benchapp.seating.tell import Asked
from benchapp.store.catalogue import for_translators, text_of
from tests.seating.made import SMALL, UP, small
from tests.seating.pairs import stl

PATIENCE_S = 600  # its priority is low, and other tests run beside it
ASKED = asdict(Asked("lower", SMALL, UP))


@pytest.fixture
def files(tmp_path: Path) -> tuple[Path, Path]:
    """The two files of a small pair."""
    base, arch = small()
    (tmp_path / "base.stl").write_bytes(stl(base))
    (tmp_path / "arch.stl").write_bytes(stl(arch))
    return tmp_path / "base.stl", tmp_path / "arch.stl"


def test_a_check_that_was_left_is_found_again(tmp_path: Path, files: tuple[Path, Path]) -> None:
    """Its process keeps the report that is made here too; whoever asks later finds it and begins none."""
    first = Checks(tmp_path / "checks")
    key = first.begin(*files, ASKED)
    assert first.look(key).state in ("waiting", "running", "done")
    assert first.started[key].wait(PATIENCE_S) == 0
    later = Checks(tmp_path / "checks")
    assert later.look(key).state == "done"
    found = later.result(later.begin(*files, ASKED))
    assert not later.started and found and found.faults == ()
    here = as_json(check(files[0].read_bytes(), files[1].read_bytes(), Asked(**ASKED)).report)
    assert found.report == here
    for ending, start in (("glb", b"glTF"), ("png", b"\x89PNG")):
        picture = later.picture(key, ending)
        assert picture and picture.read_bytes().startswith(start)
        assert picture.stat().st_size == found.pictures[ending]
    assert later.key(b"base", b"arch", ASKED) != later.key(b"base", b"arch", ASKED | {"kerf": 0.4})


def test_faults_are_a_result_too(tmp_path: Path, files: tuple[Path, Path]) -> None:
    """A bad file's sentence is kept like a report."""
    files[1].write_bytes(files[1].read_bytes()[:-9])
    checks = Checks(tmp_path / "checks")
    key = checks.begin(*files, ASKED)
    checks.started[key].wait(PATIENCE_S)
    found = checks.result(key)
    assert found and found.report is None and "is cut off" in found.faults[0]
    assert checks.picture(key, "glb") is None


def test_faults_are_said_in_the_labs_language(tmp_path: Path, files: tuple[Path, Path]) -> None:
    """The process speaks the language of the data folder that its folder lies in."""
    text = "The file of the {part} is empty. Export it from CAD again."
    catalog = for_translators("pl", None)
    message = catalog.get(text)
    assert message is not None
    message.string = "{part}: plik jest pusty."
    (tmp_path / "words.po").write_bytes(text_of(catalog))
    files[1].write_bytes(b"")
    checks = Checks(tmp_path / "checks")
    key = checks.begin(*files, ASKED)
    checks.started[key].wait(PATIENCE_S)
    found = checks.result(key)
    assert found and any("plik jest pusty." in fault for fault in found.faults)


def test_a_process_that_was_killed_is_told_as_lost(tmp_path: Path, files: tuple[Path, Path]) -> None:
    """Killed in its work a check is lost, and begun anew it comes to its end; an unknown one is none."""
    checks = Checks(tmp_path / "checks")
    assert checks.look("no such key").state == "none"
    key = checks.begin(*files, ASKED)
    checks.started[key].kill()
    checks.started[key].wait(PATIENCE_S)
    assert checks.look(key).state == "lost"
    again = Checks(tmp_path / "checks")
    assert again.begin(*files, ASKED) == key
    again.started[key].wait(PATIENCE_S)
    assert again.look(key).state == "done"
