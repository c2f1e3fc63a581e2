"""Keeps the PC awake while clocks run; each system is asked in its own way, and without it the server works on."""

import logging
import os
import platform
import subprocess
import sys
import threading
from collections.abc import Callable
from typing import Protocol

from benchapp.actions.awake import lab_awake_until
from benchapp.actions.bench import Bench
from benchapp.store.logs import note, note_error

LOOK_S = 30.0
# SetThreadExecutionState of Windows: until the next call; the system must not sleep. From memory.
CONTINUOUS, SYSTEM_REQUIRED = 0x80000000, 0x00000001


class Hold(Protocol):
    """What keeps a PC awake."""

    def take(self) -> bool:
        """Keep it awake from now on; tell whether that worked."""

    def holds(self) -> bool:
        """Tell whether it is kept awake still."""

    def free(self) -> None:
        """Let it sleep again."""


def command(system: str, process: int) -> list[str]:
    """Return the program that keeps a PC awake for as long as it runs, [] where there is none.

    Both end with the server, also where that is killed: one watches the process, the other's input is closed.
    """
    if system == "Darwin":
        return ["caffeinate", "-i", "-w", str(process)]
    if system == "Linux":
        return ["systemd-inhibit", "--what=sleep:idle", "--mode=block", "--who=Seat & Cure", "--why=Clocks run", "cat"]
    return []


class ByProgram:
    """Kept awake by a program of the system that runs beside."""

    def __init__(self, line: list[str]) -> None:
        self.line = line
        self.process: subprocess.Popen[bytes] | None = None

    def take(self) -> bool:
        """Start the program."""
        self.free()
        nothing = subprocess.DEVNULL
        self.process = subprocess.Popen(self.line, stdin=subprocess.PIPE, stdout=nothing, stderr=nothing)
        return True

    def holds(self) -> bool:
        """Tell whether the program runs still."""
        return self.process is not None and self.process.poll() is None

    def free(self) -> None:
        """End the program."""
        if self.process is not None:
            if self.process.stdin:
                self.process.stdin.close()
            self.process.terminate()
            self.process.wait(10)
        self.process = None


class ByWindows:
    """Kept awake by Windows itself, for as long as the thread lives that asked."""

    def __init__(self) -> None:
        self.kept = False

    def _say(self, state: int) -> bool:
        if sys.platform != "win32":
            return False
        import ctypes

        return bool(ctypes.windll.kernel32.SetThreadExecutionState(state))

    def take(self) -> bool:
        """Ask for it."""
        self.kept = self._say(CONTINUOUS | SYSTEM_REQUIRED)
        return self.kept

    def holds(self) -> bool:
        """Tell whether it was granted."""
        return self.kept

    def free(self) -> None:
        """Ask for it no more."""
        self._say(CONTINUOUS)
        self.kept = False


class Watch:
    """Looks now and then until when the lab needs the PC, and takes or frees the hold."""

    def __init__(self, clock: Callable[[], int], until: Callable[[], int], hold: Hold) -> None:
        self.clock, self.until, self.hold = clock, until, hold
        self.wanted = self.failed = False

    def look(self) -> None:
        """Do what is needed now; a hold that cannot be had is noted once, and asked for again the next time."""
        needed = self.clock() < self.until()
        if needed and not self.hold.holds():
            if self.wanted and not self.failed:  # it was had, or so it seemed, and is lost
                self._missed()
            taken = self.hold.take()
            if not self.wanted and taken:
                note("awake", system=platform.system())
            if not taken and not self.failed:
                self._missed()
        elif not needed and self.wanted:
            self.hold.free()
            note("may-sleep")
            self.failed = False
        self.wanted = needed

    def _missed(self) -> None:
        self.failed = True
        note("awake-failed", logging.WARNING, system=platform.system())


def stay_awake(bench: Bench, waiting: threading.Event) -> None:
    """Keep the PC awake while clocks run, until `waiting` is set; for a thread of its own."""
    system = platform.system()
    line = command(system, os.getpid())
    hold: Hold = ByProgram(line) if line else ByWindows()
    watch = Watch(bench.clock, lambda: lab_awake_until(bench), hold)
    while not waiting.wait(LOOK_S):  # first waited: the first requests after a start have the PC to themselves
        try:
            watch.look()
        except Exception as error:  # a PC that falls asleep is bad, a server that stops is worse
            if not watch.failed:
                note_error("awake-failed", error, system=system)
            watch.failed = True
    hold.free()
