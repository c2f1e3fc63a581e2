"""One fact through the real server, at one tablet and at eight, beside a bare durable insert and at a million entries.

    python -m tests.benchmarks.confirm [--lan] [--entries 1000000 --cases 20000 --rounds 8] [--keep DIR] [--out FILE]
"""

import argparse
import contextlib
import os
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from benchapp.network.place import read_network
from tests.benchmarks.bulk import Built, Fresh, build
from tests.benchmarks.floor import BareJournal
from tests.benchmarks.machine import RESULTS, machine, made_by, median, met, percentile, put, say, table
from tests.benchmarks.tablet import Tablet, must_be_stored
from tests.network.live import LiveLan

TABLETS = 8
TLS = " over TLS, on kept connections"
SMALL = (1000, 20)  # entries and cases of the journal that the large one is compared with
ALONE = 2  # jaws that one tablet takes through in a block; each of eight tablets takes one


@dataclass
class Times:
    """Seconds of single facts, and facts per second of whole blocks."""

    seconds: list[float] = field(default_factory=list)
    rates: list[float] = field(default_factory=list)

    def add(self, seconds: list[float], took: float) -> None:
        """Take in one block that lasted `took` seconds."""
        self.seconds += seconds
        self.rates.append(len(seconds) / took)


class Served:
    """A built folder behind `benchapp serve`, with its tablets; with `over_tls` in the lab's network."""

    def __init__(self, built: Built, over_tls: bool = False) -> None:
        kept = read_network(built.data)  # of an earlier run: a folder is served at its port for ever
        lan = LiveLan(built.data, port=kept.port, setup_port=kept.setup_port) if kept else LiveLan(built.data)
        self.built, self.port = built, lan.port
        self.tablets: list[Tablet] = []
        began = time.perf_counter()
        self.process = subprocess.Popen(
            [sys.executable, "-m", "benchapp", "serve", "--data", str(built.data),
             *(lan.served if over_tls else ["--port", str(self.port)])],
            stdout=subprocess.DEVNULL, start_new_session=True,
        )
        try:
            self._wait(self._answers, 300)
            self.start = time.perf_counter() - began
            # The first backup reads the whole journal: it is not what is measured here.
            known = self._backups()
            self._wait(lambda: self._backups() > 0, 900)
            self.backup = "made earlier" if known else f"{time.perf_counter() - began - self.start:.1f} s"
            for _ in range(TABLETS):
                self.tablets.append(Tablet(self.port, built.template, lan.trusting() if over_tls else None))
        except BaseException:
            self.stop()
            raise
        self.alone, self.together = Times(), Times()

    def _wait(self, done: Callable[[], bool], seconds: float) -> None:
        end = time.monotonic() + seconds
        while not done():
            if self.process.poll() is not None or time.monotonic() > end:
                raise SystemExit(f"the server over {self.built.data} did not get ready")
            time.sleep(0.05)

    def _answers(self) -> bool:
        with socket.socket() as probe:
            return probe.connect_ex(("127.0.0.1", self.port)) == 0

    def _backups(self) -> int:
        return len(list((self.built.data / "backups").glob("*.sqlite3")))

    def jaws(self, count: int) -> list[Fresh]:
        """Take jaws that nobody has touched yet."""
        return [self.built.fresh.pop() for _ in range(count)]

    def block_alone(self) -> None:
        """Let the first tablet take a few jaws through."""
        requests = self.tablets[0].confirmations(self.jaws(ALONE))
        began = time.perf_counter()
        seconds, answers = self.tablets[0].work(requests)
        self.alone.add(seconds, time.perf_counter() - began)
        must_be_stored(answers)

    def block_together(self) -> None:
        """Let all tablets take a jaw each through at once."""
        plans = [(tablet, tablet.confirmations(self.jaws(1))) for tablet in self.tablets]
        seconds: list[float] = []
        answers: list[bytes] = []
        lock, gate = threading.Lock(), threading.Barrier(len(plans) + 1)

        def run(tablet: Tablet, requests: list[bytes]) -> None:
            gate.wait()
            took, got = tablet.work(requests)
            with lock:
                seconds.extend(took)
                answers.extend(got)

        threads = [threading.Thread(target=run, args=plan) for plan in plans]
        for thread in threads:
            thread.start()
        gate.wait()
        began = time.perf_counter()
        for thread in threads:
            thread.join()
        took = time.perf_counter() - began
        assert len(seconds) == sum(len(requests) for _, requests in plans), "a tablet broke off"
        self.together.add(seconds, took)
        must_be_stored(answers)

    def stop(self) -> None:
        """End the server and its tablets."""
        for tablet in self.tablets:
            tablet.close()
        with contextlib.suppress(ProcessLookupError):
            os.killpg(self.process.pid, signal.SIGTERM)
        try:
            self.process.wait(15)
        except subprocess.TimeoutExpired:
            os.killpg(self.process.pid, signal.SIGKILL)
            self.process.wait(15)


def needed(rounds: int) -> int:
    """Return how many untouched jaws the rounds use up, the warming round included."""
    return (rounds + 1) * (ALONE + TABLETS)


def measure(folder: Path, entries: int, cases: int, rounds: int, over_tls: bool = False) -> str:
    """Build, serve and measure both journals turn by turn with the floor; return the tables as markdown."""
    small = build(folder / f"small-{SMALL[0]}", *SMALL, needed(rounds))
    large = build(folder / f"large-{entries}", entries, cases, needed(rounds))
    bare, floor = BareJournal(folder), Times()
    with contextlib.ExitStack() as stack:
        stack.callback(bare.close)
        servers = []
        for built in (small, large):
            say(f"serving {built.data.name}")
            servers.append(Served(built, over_tls))
            stack.callback(servers[-1].stop)
        size = max(len(request) for request in servers[0].tablets[0].confirmations([small.fresh[-1]]))
        for turn in range(rounds + 1):
            say(f"round {turn} of {rounds}" if turn else "warming up")
            began = time.perf_counter()
            floor.add(bare.insert(150, size), time.perf_counter() - began)
            for server in servers if turn % 2 else servers[::-1]:
                server.block_alone()
                server.block_together()
            if not turn:  # the first round fills caches and opens connections
                floor = Times()
                for server in servers:
                    server.alone, server.together = Times(), Times()
    return _report(floor, servers[0], servers[1], entries, size, TLS if over_tls else "")


def _report(floor: Times, small: Served, large: Served, entries: int, size: int, way: str) -> str:
    base = median(floor.seconds)
    rate = median(floor.rates)

    def row(name: str, times: Times) -> list[str]:
        ms = [percentile(times.seconds, part) * 1000 for part in (0.5, 0.95)]
        facts = median(times.rates)
        return [name, *(f"{m:.2f}" for m in ms), f"{facts:.0f}", f"{ms[0] / 1000 / base:.1f}", f"{facts / rate:.2f}",
                str(len(times.seconds))]

    growth = median(large.alone.seconds) / median(small.alone.seconds)
    share = median(small.together.rates) / rate
    share_large = median(large.together.rates) / rate
    least = min(share, share_large)
    rows = [
        row(f"floor: bare durable insert of {size} bytes", floor),
        row(f"1 tablet, {SMALL[0]:,} entries", small.alone), row(f"1 tablet, {entries:,} entries", large.alone),
        row(f"8 tablets, {SMALL[0]:,} entries", small.together), row(f"8 tablets, {entries:,} entries", large.together),
    ]
    head = ["one fact", "p50 ms", "p95 ms", "facts/s", "p50 to floor", "rate to floor", "n"]
    return "\n\n".join([
        f"{machine()}. Floor and servers took turns in one run, on one disk; the journals were built in bulk; all "
        f"facts are legal confirmations through `POST /outbox/1`{way}, one a request. Aims are ratios to the floor.",
        table(head, rows),
        "\n".join([
            "- " + met(f"p50 at {entries:,} entries within 1.1 times {SMALL[0]:,} ({growth:.2f})", growth <= 1.1),
            "- " + met(f"8 tablets at a quarter of the bare rate ({share:.2f}, {share_large:.2f})", least >= 0.25),
            f"- start until the port answers: {small.start:.1f} s, large {large.start:.1f} s; first backup, in a "
            f"process of its own, copied and verified: {small.backup}, large {large.backup}",
        ]),
    ])


def main(arguments: list[str]) -> None:
    """Run the benchmark and print its tables."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.confirm", description=__doc__)
    parser.add_argument("--entries", type=int, default=1_000_000)
    parser.add_argument("--cases", type=int, default=20_000)
    parser.add_argument("--rounds", type=int, default=8)
    parser.add_argument("--lan", action="store_true", help="over TLS, in the lab's network")
    parser.add_argument("--keep", type=Path, help="folder in which the built journals stay for the next run")
    parser.add_argument("--out", type=Path, nargs="?", const=RESULTS, help="results file to write the tables to")
    asked = parser.parse_args(arguments)
    with tempfile.TemporaryDirectory() as temporary:
        text = measure(asked.keep or Path(temporary), asked.entries, asked.cases, asked.rounds, asked.lan)
    text = f"{made_by('confirm', arguments)}, {text}"
    print(text)
    if asked.out:
        put("confirm over TLS" if asked.lan else "confirm", text, asked.out)


if __name__ == "__main__":
    main(sys.argv[1:])
