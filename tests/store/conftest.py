"""A data folder, and bodies and tags of invented events small enough to damage byte by byte."""

import json
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from benchapp.store import folder
from benchapp.store.journal import Entry, Store

LAB = "lab-of-the-tests"

Append = Callable[..., Entry]


def body_of(event_id: str, seq: int, case: str = "c1") -> bytes:
    """Return the smallest body that the journal takes, about 75 bytes."""
    tree = {"event": {"id": event_id, "case": case, "kind": "tap"}, "server": {"seq": seq}}
    return json.dumps(tree, separators=(",", ":")).encode()


def tags_of(body: bytes) -> list[tuple[str, str]]:
    """Return the tags of such a body: its case, and its case once more under another name."""
    case = json.loads(body)["event"]["case"]
    return [("case", case), ("first", case[:1])]


def append(store: Store, event_id: str, case: str = "c1") -> Entry:
    """Append one event in a transaction of its own."""
    with store.writing() as writer:
        body = body_of(event_id, writer.tip().seq + 1, case)
        return writer.add(event_id, body, tags_of(body))


def fill(store: Store, count: int, cases: int = 7) -> None:
    """Append `count` events in one transaction, spread over some cases."""
    with store.writing() as writer:
        for _ in range(count):
            seq = writer.tip().seq + 1
            body = body_of(f"e{seq:06d}", seq, f"c{seq % cases}")
            writer.add(f"e{seq:06d}", body, tags_of(body))


@pytest.fixture
def place(tmp_path: Path) -> Path:
    """A new data folder that nobody has open."""
    return folder.create(tmp_path / "data", LAB).path


@pytest.fixture
def store(place: Path) -> Iterator[Store]:
    """The store of a new data folder, open for writing."""
    with folder.open_for_writing(place) as opened:
        yield opened
