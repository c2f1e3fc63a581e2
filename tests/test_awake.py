"""Staying awake: when the hold is taken and freed, that it ends with the server, and that failing is said once."""

import sys
import threading
from pathlib import Path

import pytest

from benchapp import awake
from benchapp.store import logs
from tests.actions.worked import worked

WAITS = [sys.executable, "-c", "import sys; sys.stdin.read()"]


class Fake:
    """A hold that can be made to fail."""

    def __init__(self) -> None:
        self.can, self.kept, self.tries = True, False, 0

    def take(self) -> bool:
        """Take it, or not."""
        self.tries += 1
        self.kept = self.can
        return self.can

    def holds(self) -> bool:
        """Tell whether it is had."""
        return self.kept

    def free(self) -> None:
        """Let it go."""
        self.kept = False


def noted(data: Path) -> list[str]:
    """Return the events of the log."""
    return [line.split()[2] for line in (data / "logs" / logs.NAME).read_text("utf-8").splitlines()]


def test_it_is_taken_while_needed(tmp_path: Path) -> None:
    """Taken once before the end, freed once after it; both are noted."""
    now, hold = [0], Fake()
    watch = awake.Watch(lambda: now[0], lambda: 100, hold)
    with logs.logging_to(tmp_path, lambda: 0):
        for moment, kept in ((0, True), (50, True), (100, False), (150, False), (20, True)):
            now[0] = moment
            watch.look()
            assert hold.kept is kept, moment
    assert hold.tries == 2 and noted(tmp_path) == ["awake", "may-sleep", "awake"]


def test_failing_is_said_once_and_tried_again(tmp_path: Path) -> None:
    """Where it cannot be had that stands in the log once, and it is asked for each time."""
    hold = Fake()
    hold.can = False
    watch = awake.Watch(lambda: 0, lambda: 100, hold)
    with logs.logging_to(tmp_path, lambda: 0):
        for _look in range(3):
            watch.look()
    assert hold.tries == 3 and noted(tmp_path) == ["awake-failed"]


def test_a_hold_that_was_lost_is_said_and_taken_again(tmp_path: Path) -> None:
    """A program that ended by itself is noted once and started again."""
    hold = Fake()
    watch = awake.Watch(lambda: 0, lambda: 100, hold)
    with logs.logging_to(tmp_path, lambda: 0):
        for _look in range(3):
            watch.look()
            hold.kept = False
    assert hold.tries == 3 and noted(tmp_path) == ["awake", "awake-failed"]


def test_a_program_beside_ends_when_it_is_freed() -> None:
    """The program runs while it is held, and is gone afterwards; its input is this process's, so it ends with it."""
    hold = awake.ByProgram(WAITS)
    assert not hold.holds()
    assert hold.take() and hold.holds()
    process = hold.process
    assert process is not None and process.stdin is not None
    process.stdin.close()  # as the system does where this process is killed
    assert process.wait(20) == 0 and not hold.holds()
    assert hold.take() and hold.holds()
    hold.free()
    assert not hold.holds() and hold.process is None


def test_each_system_has_its_way() -> None:
    """Linux and macOS by a program, Windows by itself; the program of macOS watches this process."""
    assert awake.command("Linux", 7)[:2] == ["systemd-inhibit", "--what=sleep:idle"]
    assert awake.command("Darwin", 7) == ["caffeinate", "-i", "-w", "7"]
    assert awake.command("Windows", 7) == []


def test_a_system_without_the_program_is_no_trouble(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the program is missing the thread notes it and goes on until it is told to end."""
    monkeypatch.setattr(awake, "command", lambda *_all: [str(tmp_path / "missing")])
    monkeypatch.setattr(awake, "LOOK_S", 0)
    ended = threading.Event()
    looks = iter([False, False, True])
    monkeypatch.setattr(ended, "wait", lambda _seconds: next(looks))
    with worked(tmp_path / "data") as jaw, logs.logging_to(tmp_path, lambda: 0):
        monkeypatch.setattr(awake, "lab_awake_until", lambda _bench: jaw.now[0] + 1)
        awake.stay_awake(jaw.bench, ended)
    assert noted(tmp_path) == ["awake-failed"]
