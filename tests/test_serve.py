"""What the server does besides answering."""

import os
import re
import socket
from collections.abc import Iterator
from pathlib import Path
from unittest.mock import Mock

import pytest

from benchapp import serve as serving
from benchapp.actions import jaws
from benchapp.actions.bench import Bench
from benchapp.actions.cases import add_case
from benchapp.actions.today import day, read_ahead
from benchapp.core.sheet import read_sheet
from benchapp.serve import DAY_S, WARM_MS, PortTaken, backup_due, backup_name, must_be_free, warm_up
from benchapp.store import logs, schema
from benchapp.store.folder import create
from tests.actions.worked import CASE, PROTOCOL, UPPER, worked
from tests.live import free_port


def test_a_backup_is_due_once_a_day(tmp_path: Path) -> None:
    """None there: due. One just made: not due, however often the server starts. A day later: due again."""
    assert backup_due(tmp_path, 10**12)
    file = tmp_path / "daily-20260101T000000Z.sqlite3"
    file.touch()
    os.utime(file, (10**9, 10**9))
    assert not backup_due(tmp_path, 10**12 + 1000)
    assert backup_due(tmp_path, 10**12 + round(DAY_S * 1000))


def test_names_of_backups_sort_by_time() -> None:
    """Two names made one after the other are in order."""
    first, second = backup_name("daily"), backup_name("daily")
    assert first <= second and first.startswith("daily-")


@pytest.fixture
def three(tmp_path: Path) -> Iterator[tuple[Bench, list[str]]]:
    """A bench with three cases, and the codes of their jaws."""
    with worked(tmp_path / "data") as jaw:
        codes = [jaw.code]
        for number in (2, 3):
            text = CASE.format(training="false", jaw="upper", teeth=UPPER).replace("T-2026-0017", f"T-{number}")
            codes.append(add_case(jaw.bench, read_sheet("case.toml", text), PROTOCOL).jaws[0]["code"])
        jaw.bench.lines.clear()
        yield jaw.bench, codes


def test_the_first_list_finds_every_jaw_read(three: tuple[Bench, list[str]], monkeypatch: pytest.MonkeyPatch) -> None:
    """Once warmed up every jaw of the list is at hand, and the list reads none of them again."""
    bench, codes = three
    warm_up(bench)
    assert set(bench.lines) == set(codes)
    monkeypatch.setattr(jaws, "_open", lambda *_: pytest.fail("a jaw was read again"))
    assert [row.jaw.code for row in day(bench).groups["bench"]] == sorted(codes)


def test_warming_up_ends_in_time(three: tuple[Bench, list[str]]) -> None:
    """When the time is over it stops, and the newest case was read first."""
    bench, codes = three
    assert read_ahead(bench, lambda: len(bench.lines) >= 1) == 1
    assert set(bench.lines) == {codes[-1]}
    ticks = iter(range(0, 10 * WARM_MS, WARM_MS))
    bench.lines.clear()
    bench.clock = lambda: next(ticks)
    warm_up(bench)
    assert bench.lines == {}


def test_a_fault_in_warming_up_does_not_keep_the_server_from_starting(
    three: tuple[Bench, list[str]], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A jaw that cannot be read is said, and the start goes on."""
    bench, _ = three
    monkeypatch.setattr(jaws, "_open", lambda *_: 1 / 0)
    warm_up(bench)
    assert "Reading ahead was left off: division by zero" in capsys.readouterr().out


def test_the_serving_process_is_warm_before_it_answers(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The application that the server makes has its jaws read before the first request."""
    with worked(tmp_path / "data") as jaw:
        code = jaw.code
    monkeypatch.setenv("BENCHAPP_DATA", str(tmp_path / "data"))
    monkeypatch.setenv("BENCHAPP_ADDRESS", "http://127.0.0.1:1")
    monkeypatch.setattr(serving.threading, "Thread", Mock())  # no backup, no watch over a parent
    bench: Bench = serving.application().extensions["bench"]  # type: ignore[attr-defined]
    logs.close_log()
    with bench.store:
        assert set(bench.lines) == {code}
    written = (tmp_path / "data" / "logs" / logs.NAME).read_text("utf-8")
    assert re.search(r" INFO server-start version=\S+ python=\S+ port=1$", written)


def test_an_upgraded_folder_says_the_way_back(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where an older folder was brought up to date, console and log say so, and which copy leads back."""
    create(tmp_path / "data", "lab")
    monkeypatch.setattr(schema, "VERSION", schema.VERSION + 1)
    monkeypatch.setitem(schema.MIGRATIONS, schema.VERSION - 1, lambda connection: None)
    monkeypatch.setattr("granian.Granian", Mock())
    said: list[str] = []
    serving.serve(tmp_path / "data", free_port(), said.append)
    back = tmp_path / "data" / "backups" / f"before-version-{schema.VERSION}.sqlite3"
    assert back.exists() and f"benchapp restore {back} --data NEW_FOLDER" in " ".join(said)
    written = (tmp_path / "data" / "logs" / logs.NAME).read_text("utf-8")
    assert re.search(rf" INFO upgraded version=\S+ schema={schema.VERSION}$", written, re.M)
    said.clear()
    serving.serve(tmp_path / "data", free_port(), said.append)
    assert "restore" not in " ".join(said)


def test_a_port_in_use_is_refused_before_anything_is_served() -> None:
    """The remedy names a port."""
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        with pytest.raises(PortTaken, match=f"--port {port + 1}"):
            must_be_free("127.0.0.1", port)
