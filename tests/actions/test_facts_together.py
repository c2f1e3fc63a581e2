"""Lists of facts that wait at the same time share one transaction: all are answered after it, or none."""

import json
import threading
from collections import deque
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from benchapp.actions import facts
from benchapp.actions.facts import Answer, take_facts
from benchapp.store.errors import DiskFull
from benchapp.store.journal import Writer
from tests.actions.worked import Worked, worked

TABLETS = 20  # more than one transaction takes


class _Announced(deque[Any]):
    """Tells each time somebody queues up."""

    def __init__(self) -> None:
        super().__init__()
        self.came = threading.Semaphore(0)

    def append(self, item: Any) -> None:
        super().append(item)
        self.came.release()


def _list(tablet: int) -> bytes:
    return json.dumps([{
        "v": 1, "kind": "opened", "id": f"opened-by-{tablet}",
        "by": {"person": "p", "how": "pin"}, "from": {"tablet": "", "boot": "b", "n": 1, "app": "t"},
        "at": {"wall": 0, "offset": 0, "age": 0, "mono": 0}, "saw": {"seq": 0, "ms": 0},
    }]).encode()


def _at_once(jaw: Worked, tablets: int = TABLETS) -> list[Answer | Exception]:
    """Let each tablet send a list while the turn is held; give it free when all of them wait."""
    found: list[Answer | Exception] = [RuntimeError("no answer at all")] * tablets
    jaw.bench.waiting = queue = _Announced()

    def send(tablet: int) -> None:
        try:
            found[tablet] = take_facts(jaw.bench, f"tablet-{tablet}", _list(tablet))
        except Exception as error:
            found[tablet] = error

    threads = [threading.Thread(target=send, args=(n,)) for n in range(tablets)]
    with jaw.bench.turn:
        for thread in threads:
            thread.start()
        for _ in threads:
            queue.came.acquire()
    for thread in threads:
        thread.join()
    return found


@contextmanager
def _writings(jaw: Worked, monkeypatch: pytest.MonkeyPatch, fail: bool = False) -> Iterator[list[int]]:
    """Count the transactions; with `fail` the commit itself finds the disk full."""
    counted, real = [0], jaw.bench.store.writing

    @contextmanager
    def writing() -> Iterator[Writer]:
        counted[0] += 1
        with real() as writer:
            yield writer
            if fail:
                raise DiskFull("the disk took nothing more")

    with monkeypatch.context() as patch:
        patch.setattr(jaw.bench.store, "writing", writing)
        yield counted


def test_lists_that_wait_are_stored_together(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Twenty waiting lists take two transactions, and each is answered with its own fact, which is in the journal."""
    with worked(tmp_path / "lab") as jaw, _writings(jaw, monkeypatch) as counted:
        found = _at_once(jaw)
        for tablet, answer in enumerate(found):
            assert isinstance(answer, Answer), answer
            (ack,) = answer.acks
            entry = jaw.bench.store.find(f"opened-by-{tablet}")
            assert entry and (ack["id"], ack["was"], ack["seq"]) == (entry.event_id, "stored", entry.seq)
            assert (answer.seq, answer.hash) == (entry.seq, entry.hash)
        assert counted == [2]


def test_a_failed_commit_fails_every_list_of_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """When the disk is full at the commit nobody is told that a fact is stored, and all can be sent again."""
    with worked(tmp_path / "lab") as jaw:
        before = jaw.bench.store.tip()
        with _writings(jaw, monkeypatch, fail=True):
            assert [type(answer) for answer in _at_once(jaw)] == [DiskFull] * TABLETS
        assert jaw.bench.store.tip() == before
        again = _at_once(jaw)
        assert [a.acks[0]["was"] for a in again if isinstance(a, Answer)] == ["stored"] * TABLETS
        assert jaw.bench.store.tip().seq == before.seq + TABLETS


def test_one_list_at_fault_does_not_take_the_others_along(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A list that meets an error of the program fails alone: the ones beside it are stored once each."""
    real = facts._take

    def take(bench: Any, writer: Any, tablet: str, received: int, raw: Any) -> dict[str, Any]:
        ack = real(bench, writer, tablet, received, raw)
        if tablet == "tablet-3":
            raise LookupError("an error that nobody expected")
        return ack

    monkeypatch.setattr(facts, "_take", take)
    with worked(tmp_path / "lab") as jaw:
        before = jaw.bench.store.tip()
        found = _at_once(jaw, 6)
        assert [type(answer) for answer in found] == [Answer] * 3 + [LookupError] + [Answer] * 2
        assert jaw.bench.store.tip().seq == before.seq + 5 and jaw.bench.store.find("opened-by-3") is None


def test_the_same_fact_in_two_lists_is_stored_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Two windows of one tablet send the same fact at the same moment: one is told stored, the other again."""
    monkeypatch.setattr(facts, "_read", lambda raw: [json.loads(raw)[0] | {"id": "opened-by-both"}])
    with worked(tmp_path / "lab") as jaw:
        found = _at_once(jaw, 2)
        assert sorted(a.acks[0]["was"] for a in found if isinstance(a, Answer)) == ["again", "stored"]
        assert len({a.acks[0]["seq"] for a in found if isinstance(a, Answer)}) == 1
