"""The doctor on a real folder: well, with a broken backup, with a clock set back, beside other servers."""

import json
import os
import socket
from pathlib import Path

import pytest

from tests.live import LiveLab


@pytest.fixture
def lab(tmp_path: Path) -> LiveLab:
    """The demo with one backup, not served."""
    made = LiveLab(tmp_path / "data").fill()
    made.run("backup", "--data", str(made.data), "--to", str(made.data / "backups"))
    return made


def seen(lab: LiveLab, expect: int = 0) -> dict[str, tuple[str, str]]:
    """Return level and words of each check, by check."""
    done = lab.run("doctor", "--data", str(lab.data), "--port", str(lab.port), "--json", expect=expect)
    return {one["check"]: (one["level"], one["words"]) for one in json.loads(done.stdout)["findings"]}


def test_a_lab_that_is_well(lab: LiveLab) -> None:
    """Exit 0, nothing wrong, each check one line; nothing in the folder was changed."""
    before = {file: file.read_bytes() for file in lab.data.rglob("*.sqlite3")}
    found = seen(lab)
    assert "wrong" not in {level for level, _words in found.values()}
    assert found["backup"][0] == found["clock"][0] == found["zone"][0] == found["port"][0] == "ok"
    lines = lab.run("doctor", "--data", str(lab.data), "--port", str(lab.port), apart=True).stdout.splitlines()
    assert len(lines) == 1 + len(found)
    assert {file: file.read_bytes() for file in lab.data.rglob("*.sqlite3")} == before


def test_a_broken_backup_is_wrong(lab: LiveLab) -> None:
    """A backup that is cut short does not hold: exit 1, and its name is said."""
    backup = next((lab.data / "backups").glob("*.sqlite3"))
    backup.write_bytes(backup.read_bytes()[:-4096])
    level, words = seen(lab, expect=1)["backup"]
    assert level == "wrong" and backup.name in words


def test_a_backup_from_tomorrow_is_a_wrong_clock(lab: LiveLab) -> None:
    """A backup that was made after now says that the PC's clock was set back."""
    backup = next((lab.data / "backups").glob("*.sqlite3"))
    tomorrow = backup.stat().st_mtime + 86_400
    os.utime(backup, (tomorrow, tomorrow))
    assert seen(lab, expect=1)["clock"][0] == "wrong"


def test_no_folder_is_said(lab: LiveLab, tmp_path: Path) -> None:
    """A folder that is not there is one wrong line with its remedy, and the PC is looked at all the same."""
    done = lab.run("doctor", "--data", str(tmp_path / "none"), "--port", str(lab.port), expect=1)
    assert "wrong database: There is no bench.sqlite3" in done.stdout and "sqlite: SQLite" in done.stdout


def test_another_program_on_the_port(lab: LiveLab) -> None:
    """A port that another program holds is wrong."""
    with socket.socket() as other:
        other.bind(("127.0.0.1", lab.port))
        assert seen(lab, expect=1)["port"][0] == "wrong"


def test_beside_a_running_server(lab: LiveLab) -> None:
    """A running server of ours is known by its answer."""
    lab.start()
    try:
        assert seen(lab)["port"] == ("ok", f"The server answers on port {lab.port}.")
    finally:
        lab.kill()
