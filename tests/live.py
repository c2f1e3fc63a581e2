"""A real server in a process of its own, over a data folder of its own, and a hand that works the bench page."""

import atexit
import contextlib
import json
import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import urllib.error
import urllib.request
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from playwright.sync_api import Page

from tests.commands import command

PINS = {"Ewa Łukasik": "2468", "Tomé Arbel": "1357", "Зоя Ким": "8642"}
DEMO = Path(__file__).resolve().parent.parent / "demo_cases"
AHEAD = Path(__file__).resolve().parent / "faults" / "ahead"
_FILLED: dict[int, tuple[Path, str]] = {}  # by speed: a folder with the demo, and the code of its jaw


def free_port() -> int:
    """Return a loopback port that nobody uses just now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@dataclass
class LiveLab:
    """The demo lab in `data`, served by `benchapp serve`; it can be killed, stopped and started again."""

    data: Path
    speed: int = 600
    port: int = field(default_factory=free_port)
    process: subprocess.Popen[bytes] | None = None
    code: str = ""
    ahead_ms: int = 0  # so much is the server's clock ahead of the machine's
    patience: int = 20  # seconds until it answers

    def fill(self) -> "LiveLab":
        """Fill the data folder with the demo; `code` is the jaw's code afterwards.

        The demo is made once for each process of the tests, and copied from then on.
        """
        if self.speed not in _FILLED:
            folder = Path(tempfile.mkdtemp()) / "data"
            atexit.register(shutil.rmtree, folder.parent, ignore_errors=True)
            out = self.run("demo", "--data", str(folder), "--no-serve", "--speed", str(self.speed)).stdout
            found = re.search(r"jaw, code: (\w{4} \w{3} \w{3})", out)
            assert found, out
            _FILLED[self.speed] = folder, found[1].replace(" ", "")
        folder, self.code = _FILLED[self.speed]
        shutil.copytree(folder, self.data)
        return self

    def run(self, *arguments: str, expect: int = 0, apart: bool = False) -> "subprocess.CompletedProcess[str]":
        """Run a benchapp command, in a process of its own if `apart`; the exit code must be `expect`."""
        done = command(*arguments, apart=apart)
        assert done.returncode == expect, (done.args, done.returncode, done.stdout, done.stderr)
        return done

    def add_case(self, order: str) -> str:
        """Add one more upper jaw under another order number; return its code."""
        sheet = (DEMO / "first-upper.toml").read_text("utf-8").replace("DEMO-2026-0017", order)
        file = self.data.parent / f"{order}.toml"
        file.write_text(sheet, "utf-8")
        found = re.search(r"upper jaw (\w{4} \w{3} \w{3})", self.run("add", str(file), "--data", str(self.data)).stdout)
        assert found
        return found[1].replace(" ", "")

    @property
    def address(self) -> str:
        """Where the server answers."""
        return f"http://127.0.0.1:{self.port}"

    @property
    def served(self) -> list[str]:
        """How `benchapp serve` is told to serve."""
        return ["--port", str(self.port)]

    @property
    def surroundings(self) -> dict[str, str]:
        """Which variables the server finds beside this process's own."""
        return {"PYTHONPATH": str(AHEAD), "BENCHAPP_TEST_AHEAD_MS": str(self.ahead_ms)} if self.ahead_ms else {}

    def start(self) -> "LiveLab":
        """Start the server and return once it answers."""
        self.process = subprocess.Popen(
            [sys.executable, "-m", "benchapp", "serve", "--data", str(self.data), *self.served],
            stdout=subprocess.DEVNULL, start_new_session=True, env=os.environ | self.surroundings,
        )
        for _ in range(self.patience * 20):
            if self.process.poll() is not None:
                raise AssertionError(f"the server ended with {self.process.returncode}")
            if self.answers():
                return self
            # Waiting for another process is the one place where a test may pause.
            try:
                self.process.wait(0.05)
            except subprocess.TimeoutExpired:
                continue
        self.kill()
        raise AssertionError("the server does not answer")

    def answers(self) -> bool:
        """Tell whether the server answers now."""
        try:
            with urllib.request.urlopen(f"{self.address}/people.json", timeout=2):
                return True
        except OSError:
            return False

    def signal_all(self, number: int) -> None:
        """Send a signal to the server and all its processes."""
        assert self.process
        os.killpg(self.process.pid, number)

    def kill(self) -> None:
        """End the server as a power cut would."""
        if self.process:
            if sys.platform == "win32":  # no process groups there: end the tree by its root
                subprocess.run(["taskkill", "/F", "/T", "/PID", str(self.process.pid)], check=False)
            else:
                with contextlib.suppress(ProcessLookupError):
                    self.signal_all(signal.SIGKILL)
            self.process.wait(10)
            self.process = None

    def journal(self) -> list[dict[str, Any]]:
        """Return every journal body in order, read by the standard library's own sqlite3."""
        import sqlite3

        connection = sqlite3.connect(f"file:{self.data / 'bench.sqlite3'}?mode=ro", uri=True)
        try:
            rows = connection.execute("SELECT body FROM journal ORDER BY seq").fetchall()
        finally:
            connection.close()
        return [json.loads(row[0]) for row in rows]


class Hand:
    """Works the bench page as a technician does: by what is seen and by the data- hooks."""

    def __init__(self, page: Page, lab: LiveLab) -> None:
        self.page, self.lab = page, lab

    def open(self, code: str = "") -> "Hand":
        """Open the page of a jaw and wait until it is painted."""
        self.page.goto(f"{self.lab.address}/bench/{code or self.lab.code}")
        self.page.wait_for_selector("body[data-loaded=yes]")
        return self

    def sign_in(self, name: str = "Tomé Arbel") -> "Hand":
        """Sign in by tile and PIN."""
        if not self.page.query_selector("#signin[open]"):
            self.page.click("header [data-act=signin]")
        self.page.click(f"#signin [data-act=person]:has-text('{name}')")
        for digit in PINS[name]:
            self.page.click(f"#signin [data-act=digit][data-value='{digit}']")
        self.page.click("#signin [data-act=enter]")
        self.page.wait_for_selector("#signin", state="hidden")
        return self

    @property
    def at(self) -> str:
        """The step that the page shows, or how the jaw ended."""
        return self.page.get_attribute("body", "data-at") or ""

    def ready(self) -> "Hand":
        """Wait until the main action takes a tap, every floor has run out, and no breach waits for a reason."""
        if self.page.query_selector("#reason-breach[open]"):
            self.page.click("#reason-breach [data-act=reason] >> nth=0")
        self.page.wait_for_selector("body[data-ready=yes]")
        self.page.wait_for_function(
            "() => ![...document.querySelectorAll('.clock[data-kind=floor]:not([hidden])')]"
            ".some((c) => c.dataset.over !== 'yes')", timeout=60_000)
        return self

    def confirm(self) -> str:
        """Tap the main action once it takes a tap; return the step that was on."""
        self.ready()
        before = self.at
        label = self.page.inner_text("#main")
        self.page.click("#main")
        self.page.wait_for_function(
            "([at, label]) => document.body.dataset.at !== at || document.getElementById('main').innerText !== label"
            " || document.querySelector('#said').textContent !== ''", arg=[before, label])
        return before

    def to_the_end(self, most: int = 80) -> int:
        """Confirm until the jaw is through; return how many confirmations that took."""
        count = 0
        while self.at not in ("through", "scrap") and count < most:
            self.confirm()
            count += 1
        return count

    def stored(self) -> "Hand":
        """Wait until everything is stored on the PC."""
        self.page.wait_for_selector("#status[data-waiting='0'][data-status=stored]", timeout=30_000)
        return self
