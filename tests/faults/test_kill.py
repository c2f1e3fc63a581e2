"""The PC loses power, or its disk is full, while facts come in: what was acknowledged is there, and is there once."""

import http.client
import json
import sys
import threading
import uuid
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

from tests.counts import count
from tests.faults.conftest import Bench
from tests.faults.proof import facts, folded_here
from tests.live import LiveLab

ROUNDS = count(12, 50)  # in two halves, so that two processes can share them


@dataclass
class Sender:
    """A tablet without a browser: sends facts by HTTP and remembers what was acknowledged."""

    lab: LiveLab
    cookie: str = ""
    boot: str = field(default_factory=lambda: str(uuid.uuid4()))
    n: int = 0
    acknowledged: dict[str, dict[str, Any]] = field(default_factory=dict)
    waiting: list[dict[str, Any]] = field(default_factory=list)

    def ask(self, method: str, path: str, body: bytes | None = None) -> tuple[int, Any]:
        """Send one request; return status and body, as JSON where it is."""
        with closing(http.client.HTTPConnection("127.0.0.1", self.lab.port, timeout=30)) as connection:
            headers = {"Accept": "application/json", "Content-Type": "application/json", "Cookie": self.cookie}
            connection.request(method, path, body, headers)
            answer = connection.getresponse()
            text = answer.read()
            if answer.getheader("Set-Cookie"):
                self.cookie = str(answer.getheader("Set-Cookie")).split(";")[0]
            return answer.status, json.loads(text) if answer.getheader("Content-Type") == "application/json" else text

    def enrol(self) -> "Sender":
        """Open the first page, and get a token there."""
        assert self.ask("GET", "/")[0] == 200 and self.cookie
        return self

    def make(self) -> dict[str, Any]:
        """Make one more fact: the step is confirmed again and again, and marked, for facts are never refused."""
        self.n += 1
        fact = {
            "v": 1, "kind": "confirm", "id": str(uuid.uuid4()), "jaw": self.lab.code, "round": 0, "step": "intake",
            "places": ["-"], "outcome": "order-accepted", "values": [], "picks": {},
            "by": {"person": "", "how": "claimed", "signin": ""},
            "from": {"tablet": "", "boot": self.boot, "n": self.n, "app": "", "table": ""},
            "at": {"wall": 1_700_000_000_000 + self.n, "offset": 0, "age": 0, "mono": self.n},
            "saw": {"seq": 0, "ms": 0},
        }
        self.waiting.append(fact)
        return fact

    def deliver(self) -> tuple[int, Any]:
        """Send all that waits, in order; forget only what the answer names."""
        status, answer = self.ask("POST", "/outbox/1", json.dumps(self.waiting[:50]).encode())
        if status == 200:
            for ack in answer["acks"]:
                assert ack["was"] in ("stored", "again")
                self.acknowledged[ack["id"]] = ack
            self.waiting = [fact for fact in self.waiting if fact["id"] not in self.acknowledged]
        return status, answer


@pytest.mark.long
@pytest.mark.parametrize("half", [0, 1])
def test_a_killed_pc_has_all_that_it_acknowledged(lab: LiveLab, half: int) -> None:
    """Killed many times in the middle of deliveries: each acknowledged fact is there, none twice, the chain holds."""
    sender = Sender(lab).enrol()
    retried = 0
    for number in range(half, ROUNDS, 2):
        before, enough = len(sender.acknowledged), threading.Event()

        def go_on(before: int = before, enough: threading.Event = enough, after: int = 1 + number % 7) -> None:
            with suppress(OSError, http.client.HTTPException):
                while True:
                    sender.make()
                    sender.deliver()
                    if len(sender.acknowledged) >= before + after:
                        enough.set()

        thread = threading.Thread(target=go_on)
        thread.start()
        assert enough.wait(60)
        lab.kill()
        thread.join(60)
        assert not thread.is_alive()
        retried += len(sender.waiting)
        lab.start()
        status, answer = sender.deliver()
        assert status == 200 and sender.waiting == [] and answer["chain"]
    rows = facts(lab.journal())
    ids = [body["event"]["id"] for body in rows]
    assert len(ids) == len(set(ids)) and set(ids) == set(sender.acknowledged)
    assert [body["event"]["from"]["n"] for body in rows] == list(range(1, sender.n + 1))
    for body in rows:
        assert sender.acknowledged[body["event"]["id"]]["seq"] == body["server"]["seq"]
    assert retried > 0
    assert lab.run("verify", "--data", str(lab.data)).stdout.startswith("Holds.")
    assert folded_here(lab, lab.code, lab.journal())["now"] == "part-check"


@contextmanager
def full_disk(lab: LiveLab) -> Iterator[None]:
    """Let the server's processes write no further in any file, as a full disk does; afterwards there is room again."""
    import resource

    assert lab.process
    ours = [
        int(p.name) for p in Path("/proc").glob("[0-9]*") if _group(p) == lab.process.pid
    ]
    assert lab.process.pid in ours and len(ours) >= 2
    before = {pid: resource.prlimit(pid, resource.RLIMIT_FSIZE) for pid in ours}
    for pid, (_, hard) in before.items():
        resource.prlimit(pid, resource.RLIMIT_FSIZE, (1024, hard))
    yield
    for pid, limits in before.items():
        resource.prlimit(pid, resource.RLIMIT_FSIZE, limits)


def _group(process: Path) -> int:
    with suppress(OSError):
        return int((process / "stat").read_text().rsplit(")", 1)[1].split()[2])
    return 0


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux limits another process that runs already (prlimit)")
def test_a_full_disk_acknowledges_nothing_and_loses_nothing(lab: LiveLab) -> None:
    """With no room the PC answers 507 in one sentence and acknowledges nothing; with room again all is stored."""
    sender = Sender(lab).enrol()
    sender.make()
    assert sender.deliver()[0] == 200
    with full_disk(lab):
        for _ in range(3):
            sender.make()
            status, answer = sender.deliver()
            assert status == 507
            assert "free some space" in answer["error"] and "\n" not in answer["error"]
        assert len(sender.waiting) == 3
    status, answer = sender.deliver()
    assert status == 200 and [ack["was"] for ack in answer["acks"]] == ["stored"] * 3
    assert [body["event"]["from"]["n"] for body in facts(lab.journal())] == [1, 2, 3, 4]
    assert lab.run("verify", "--data", str(lab.data)).stdout.startswith("Holds.")


@pytest.mark.browser
@pytest.mark.skipif(sys.platform != "linux", reason="only Linux limits another process that runs already (prlimit)")
def test_a_full_disk_lets_the_bench_go_on(bench: Bench) -> None:
    """While the PC's disk is full the page keeps the taps on the tablet and says so; with room they are stored."""
    tablet = bench.tablet(told=True)
    tablet.all_stored()
    with full_disk(bench.lab):
        tablet.hand.confirm()
        tablet.hand.confirm()
        tablet.page.wait_for_selector("#status[data-status=offline][data-waiting='2']")
        assert tablet.hand.at == "dry-fit"
    assert bench.prove().confirmations == 2


def test_a_list_for_another_chain_is_asked_for_again(lab: LiveLab) -> None:
    """A list that comes with a tip unknown to this journal is not stored yet: older facts must come before it."""
    sender = Sender(lab).enrol()
    sender.make()
    body = json.dumps(sender.waiting).encode()
    status, answer = sender.ask("POST", f"/outbox/1?tip=9999:{'0' * 64}", body)
    assert (status, answer["acks"], answer["chain"]) == (200, [], False)
    assert facts(lab.journal()) == []
    status, answer = sender.deliver()
    assert status == 200 and answer["chain"] and len(facts(lab.journal())) == 1
