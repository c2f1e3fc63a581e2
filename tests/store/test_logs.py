"""The log's files: who writes where, how they turn over, and that a log in the way stops nobody."""

from pathlib import Path

import pytest

from benchapp.store import logs

NOW = 1_800_000_000_000


def test_a_log_is_written_while_it_is_open(tmp_path: Path) -> None:
    """Only while a log is open do events stand in it."""
    logs.note("backup")
    with logs.logging_to(tmp_path, lambda: NOW):
        assert logs.is_open()
        logs.note("server-start", version="0.1.0", port="8321")
    logs.note("backup")
    assert not logs.is_open()
    assert [file.name for file in logs.log_files(tmp_path)] == ["server.log"]
    text = (tmp_path / "logs" / "server.log").read_text("utf-8")
    assert text == "2027-01-15T08:00:00.000Z INFO server-start version=0.1.0 port=8321\n"


def test_files_turn_over(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A full file makes room for the next one, and only so many are kept; the newest comes first."""
    monkeypatch.setattr(logs, "MOST_BYTES", 200)
    with logs.logging_to(tmp_path, lambda: NOW):
        for number in range(100):
            logs.note("server-start", port=str(number))
    files = logs.log_files(tmp_path)
    assert [file.name for file in files] == ["server.log", *(f"server.log.{n}" for n in range(1, 6))]
    assert all(file.stat().st_size <= 200 for file in files)
    assert "port=99" in files[0].read_text("utf-8")


def test_an_error_stands_without_its_message(tmp_path: Path) -> None:
    """An error is told by its kinds and its places; what it says may be a name."""
    with logs.logging_to(tmp_path, lambda: NOW):
        try:
            try:
                {}["Ida Planted"]
            except KeyError as error:
                raise ValueError("of Ida Planted") from error
        except ValueError as error:
            logs.note_error("error", error, id="4F7K2M")
    text = (tmp_path / "logs" / "server.log").read_text("utf-8")
    assert " ERROR error id=4F7K2M kind=ValueError<KeyError at=test_logs.py:" in text
    assert "Ida" not in text and str(tmp_path) not in text


def test_a_place_where_no_log_can_be_is_said(tmp_path: Path) -> None:
    """Where a file lies in the way the reason is said, and noting does no harm."""
    (tmp_path / "logs").write_text("in the way")
    assert "the server works without it" in logs.open_log(tmp_path, lambda: NOW)
    assert not logs.is_open()
    logs.note("backup")
