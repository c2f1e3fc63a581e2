"""Design files that a case sheet names, and those of the demo."""

from datetime import date
from pathlib import Path

import pytest
from click.testing import CliRunner

from benchapp.actions.cases import all_cases
from benchapp.actions.jaws import line
from benchapp.actions.lab import today
from benchapp.actions.seating import seating_of
from benchapp.cli import cli
from benchapp.demo import fill
from benchapp.serve import read_bench
from tests.actions.checked import stl
from tests.actions.worked import CASE, LAB, UPPER


def run(*arguments: str | Path) -> tuple[int, str]:
    """Run a command; return its exit code and what it prints, or the words of what it raised."""
    result = CliRunner().invoke(cli, [str(one) for one in arguments])
    return result.exit_code, result.output + str(result.exception or "")


@pytest.fixture
def sheet(tmp_path: Path) -> Path:
    """A case sheet that names the files of both parts, in a folder with a lab."""
    (tmp_path / "lab.toml").write_text(LAB, "utf-8")
    assert run("lab", tmp_path / "lab.toml", "--data", tmp_path / "lab")[0] == 0
    text = CASE.format(training="false", jaw="upper", teeth=UPPER)
    for part in ("base", "arch"):
        text = text.replace(f'part = "{part}",', f'part = "{part}", mesh = "{part}.stl",')
    (tmp_path / "case.toml").write_text(text, "utf-8")
    return tmp_path / "case.toml"


def test_a_sheet_brings_its_files(sheet: Path) -> None:
    """Both files lie under their hashes and wait for the server's check."""
    for part in ("base", "arch"):
        (sheet.parent / f"{part}.stl").write_bytes(stl(part))
    code, said = run("add", sheet, "--data", sheet.parent / "lab")
    assert code == 0 and "Design files attached: 2" in said
    with (bench := read_bench(sheet.parent / "lab")).store:
        found = seating_of(bench, line(bench, all_cases(bench)[0]["jaws"][0]["code"]))
    assert found.state == "waiting" and all(part.mesh for part in found.parts)


def test_a_sheet_with_wrong_files_takes_no_case_in(sheet: Path) -> None:
    """One file that is not there and one that is no STL are both said, and nothing is stored."""
    (sheet.parent / "arch.stl").write_bytes(b"PK" + bytes(500))
    code, said = run("add", sheet, "--data", sheet.parent / "lab")
    assert code == 1 and "no file base.stl" in said and "That is no STL file" in said
    with (bench := read_bench(sheet.parent / "lab")).store:
        assert all_cases(bench) == []


def test_the_demo_brings_three_jaws_with_files(tmp_path: Path) -> None:
    """The first jaw is the one that tests take; each has the files of both parts, and the lab its own limits."""
    shown = fill(tmp_path / "demo")
    with (bench := read_bench(tmp_path / "demo")).store:
        cases = all_cases(bench)
        states = [seating_of(bench, line(bench, code)).state for code, _words in shown.jaws]
        days = [(date.fromisoformat(case["due"]) - today(bench)).days for case in cases]
    assert [case["jaws"][0]["jaw"] for case in cases] == ["upper", "lower", "upper"]
    assert states == ["waiting"] * 3
    assert fill(tmp_path / "demo").jaws == shown.jaws
    assert days == [3, 5, 8]  # as far apart as the sheets say, and soon on whatever day the demo is tried
