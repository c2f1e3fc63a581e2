"""Commands as people type them: what they print, their exit codes, and one sentence for each thing that is wrong."""

import json
import socket
import subprocess
import sys
from pathlib import Path

import jsonschema
import pytest

from benchapp.core.record import Record
from tests.live import LiveLab


@pytest.fixture(scope="module")
def lab(tmp_path_factory: pytest.TempPathFactory) -> LiveLab:
    """The demo, filled and not served."""
    return LiveLab(tmp_path_factory.mktemp("cli") / "data", speed=60).fill()


def said(lab: LiveLab, *arguments: str) -> str:
    """Run a command that must fail; return its one message."""
    done = lab.run(*arguments, expect=1)
    assert "Traceback" not in done.stderr
    return done.stderr.strip()


def test_demo_prints_all_that_is_needed(lab: LiveLab) -> None:
    """People with PINs, a jaw code, label files that exist; a second run uses the folder as it is."""
    out = lab.run("demo", "--data", str(lab.data), "--no-serve", "--speed", "60", apart=True).stdout
    assert out.count("PIN") == 3 and "jaw, code" in out and "divided by 60" in out
    files = [Path(line.split("label ")[1]) for line in out.splitlines() if "label " in line]
    assert len(files) == 6 and all(file.read_bytes().startswith(b"\x89PNG") for file in files)


def test_demo_at_another_speed_is_refused(lab: LiveLab) -> None:
    """A running case keeps its table: another speed needs another folder."""
    assert "--data OTHER" in said(lab, "demo", "--data", str(lab.data), "--no-serve", "--speed", "7")


def test_verify_gives_a_checkpoint_that_holds(lab: LiveLab) -> None:
    """Exit 0 and N:HASH; that checkpoint holds, another hash does not."""
    out = lab.run("verify", "--data", str(lab.data), apart=True).stdout
    checkpoint = out.split("Checkpoint ")[1].split()[0]
    lab.run("verify", "--data", str(lab.data), "--checkpoint", checkpoint)
    number = checkpoint.split(":")[0]
    assert "Does not hold" in lab.run(
        "verify", "--data", str(lab.data), "--checkpoint", f"{number}:{'0' * 64}", expect=1).stdout
    lab.run("verify", "--data", str(lab.data), "--checkpoint", "seven", expect=2)


def test_record_in_three_forms(lab: LiveLab, tmp_path: Path) -> None:
    """PDF, JSON by its schema, and one HTML file with its styles inside."""
    for name in ("r.pdf", "r.json", "r.html"):
        lab.run("record", lab.code, "--data", str(lab.data), "--out", str(tmp_path / name))
    assert (tmp_path / "r.pdf").read_bytes().startswith(b"%PDF")
    jsonschema.validate(json.loads((tmp_path / "r.json").read_text("utf-8")), Record.model_json_schema())
    page = (tmp_path / "r.html").read_text("utf-8")
    assert "<style" in page and "stylesheet" not in page
    lab.run("record", lab.code, "--data", str(lab.data), "--out", str(tmp_path / "r.doc"), expect=2, apart=True)


def test_labels_as_pdf_and_pictures(lab: LiveLab, tmp_path: Path) -> None:
    """One PDF, or two pictures for each of three labels."""
    lab.run("labels", lab.code, "--data", str(lab.data), "--out", str(tmp_path / "l.pdf"))
    assert (tmp_path / "l.pdf").read_bytes().startswith(b"%PDF")
    lab.run("labels", lab.code, "--data", str(lab.data), "--out", str(tmp_path / "pictures"))
    assert len(list((tmp_path / "pictures").glob("*.png"))) == 6


def test_protocol_check(lab: LiveLab, tmp_path: Path) -> None:
    """The protocol that ships has no faults; a broken one lists all of them at once with exit 1."""
    from benchapp.paths import PROTOCOLS

    shipped = PROTOCOLS / "green-splinted.toml"
    assert "no faults" in lab.run("protocol", "check", str(shipped)).stdout
    broken = tmp_path / "broken.toml"
    text = shipped.read_text("utf-8").replace('stage = "stage-pack"', 'stage = "stage-nowhere"')
    broken.write_text(text.replace('picture = "pack"', 'picture = "none"'), "utf-8")
    words = lab.run("protocol", "check", str(broken), expect=1, apart=True).stderr
    assert "steps[pack-up].stage" in words and "steps[pack-up].picture" in words


def test_sheets_with_faults_say_all_of_them(lab: LiveLab, tmp_path: Path) -> None:
    """A case sheet with three faults names three places, and no case is added."""
    sheet = tmp_path / "s.toml"
    sheet.write_text("format = 1\n[case]\npatient = 5\n[[jaws]]\njaw = 'middle'\nteeth = [99]\nparts = []\n", "utf-8")
    words = said(lab, "add", str(sheet), "--data", str(lab.data))
    assert "case.patient" in words and "case.due" in words and "jaws[1].jaw" in words
    sheet.write_bytes(b"\xff\xfe")
    assert "UTF-8" in said(lab, "add", str(sheet), "--data", str(lab.data))
    assert "missing.toml" in said(lab, "add", str(tmp_path / "missing.toml"), "--data", str(lab.data))


def test_the_same_order_twice_is_refused(lab: LiveLab) -> None:
    """The order that the demo added is not added again."""
    sheet = Path(__file__).parent.parent.parent / "demo_cases" / "first-upper.toml"
    assert "was added before" in said(lab, "add", str(sheet), "--data", str(lab.data))


def test_folders_that_cannot_be_used(lab: LiveLab, tmp_path: Path) -> None:
    """No folder, a folder of a newer version, a damaged database: one sentence each, and no byte changed."""
    assert "benchapp lab" in said(lab, "verify", "--data", str(tmp_path / "none"))
    broken = tmp_path / "broken"
    broken.mkdir()
    (broken / "bench.sqlite3").write_bytes(b"not a database at all, " * 400)
    before = (broken / "bench.sqlite3").read_bytes()
    assert "benchapp restore" in said(lab, "serve", "--data", str(broken), "--port", "8399")
    assert (broken / "bench.sqlite3").read_bytes() == before


def test_a_port_in_use_is_said(lab: LiveLab) -> None:
    """The port of another program is named, and another one offered."""
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        assert f"Port {port}" in said(lab, "serve", "--data", str(lab.data), "--port", str(port))


def test_a_backup_comes_back(lab: LiveLab, tmp_path: Path) -> None:
    """A backup is verified and restored into an empty folder only; the restored journal says so and verifies."""
    out = lab.run("backup", "--data", str(lab.data), "--to", str(tmp_path / "copies")).stdout
    checkpoint = out.split("Checkpoint ")[1].split()[0]
    (copy,) = (tmp_path / "copies").glob("*.sqlite3")
    told = lab.run("restore", str(copy), "--data", str(tmp_path / "new")).stdout
    assert "struck off after this backup was made count again" in told
    lab.run("verify", "--data", str(tmp_path / "new"), "--checkpoint", checkpoint)
    assert "empty" in said(lab, "restore", str(copy), "--data", str(lab.data))


def test_beside_a_running_server(tmp_path: Path) -> None:
    """While the server runs, a second one is refused, sheets go in through it, and reading commands work."""
    lab = LiveLab(tmp_path / "data", speed=60).fill().start()
    try:
        other = LiveLab(lab.data, port=lab.port + 1)
        assert lab.address in said(other, "serve", "--data", str(lab.data), "--port", str(other.port))
        code = lab.add_case("DEMO-2026-0099")
        lab.run("verify", "--data", str(lab.data))
        lab.run("record", code, "--data", str(lab.data), "--out", str(tmp_path / "r.json"))
        lab.run("backup", "--data", str(lab.data), "--to", str(tmp_path / "copies"))
        sheet = Path(__file__).parent.parent.parent / "demo_cases" / "lab.toml"
        assert "Nobody new" in lab.run("lab", str(sheet), "--data", str(lab.data)).stdout
    finally:
        lab.kill()


def test_a_lab_from_nothing(lab: LiveLab, tmp_path: Path) -> None:
    """`benchapp lab` makes the folder, draws PINs where the sheet has none and prints them once."""
    sheet = tmp_path / "lab.toml"
    sheet.write_text(
        'format = 1\nname = "L"\naddress = "A"\nzone = "Europe/Madrid"\n'
        '[[people]]\nname = "P"\nroles = ["technician"]\n',
        "utf-8")
    out = lab.run("lab", str(sheet), "--data", str(tmp_path / "data")).stdout
    assert len(out.split("PIN ")[1].split()[0]) == 4
    assert "Nobody new" in lab.run("lab", str(sheet), "--data", str(tmp_path / "data")).stdout


def test_help_and_version(lab: LiveLab) -> None:
    """Both work without a data folder."""
    assert "Seat & Cure" in subprocess.run(
        [sys.executable, "-m", "benchapp", "--version"], capture_output=True, text=True, check=True).stdout
