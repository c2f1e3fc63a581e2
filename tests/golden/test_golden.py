"""Every version of the envelope that was ever written is read, folded and chained as on its first day."""

import json
from pathlib import Path

import pytest

from benchapp.core.events import FOLDED, fold_event, newer, read_body, read_event, tags_of
from benchapp.core.fold import fold
from benchapp.core.seal import first_link, link

HERE = Path(__file__).resolve().parent
VERSIONS = sorted(folder for folder in HERE.iterdir() if (folder / "journal.jsonl").exists())


@pytest.fixture(params=VERSIONS, ids=lambda folder: folder.name)
def golden(request: pytest.FixtureRequest) -> Path:
    """A folder that holds one version's journal."""
    folder: Path = request.param
    return folder


def bodies(folder: Path) -> list[bytes]:
    """The stored bodies, byte by byte."""
    return (folder / "journal.jsonl").read_bytes().splitlines()


def test_there_is_one_for_each_version() -> None:
    """Version 1 is kept."""
    assert [folder.name for folder in VERSIONS] == ["v1"]


def test_the_chain_is_the_one_of_that_day(golden: Path) -> None:
    """The hashes computed over the kept bytes end in the tip that was written down."""
    hash_ = first_link("lab-of-the-tests")
    for body in bodies(golden):
        hash_ = link(hash_, body)
    assert f"{len(bodies(golden))}:{hash_}" == (golden / "tip.txt").read_text("utf-8").strip()


def test_every_event_is_read_and_known(golden: Path) -> None:
    """Each entry is read by today's types, is not newer than this software, and has its tags."""
    for body in bodies(golden):
        event = read_event(read_body(body)["event"])
        assert not newer(body)
        assert ("kind", event.kind) in tags_of(body)


def test_the_fold_comes_to_the_same_state(golden: Path) -> None:
    """Table and events of that day fold to the state that was written down then, marks included."""
    read = [read_body(body) for body in bodies(golden)]
    table = json.loads((golden / "table.json").read_text("utf-8"))
    events = [fold_event(body) for body in read if body["event"]["kind"] in FOLDED]
    state = fold(table, events)
    kept = json.loads((golden / "state.json").read_text("utf-8"))
    assert {key: state[key] for key in kept} == kept
    marked = {body["event"]["id"]: [m for m in body["server"]["marks"] if m[0] not in ("claimed", "tablet")]
              for body in read if body["event"]["kind"] in FOLDED}
    by_fold = {event: [[m["why"], m["grade"]] for m in state["marks"] if m["id"] == event] for event in marked}
    undone = {body["event"].get("undo") for body in read}
    assert {k: v for k, v in by_fold.items() if k not in undone} == {k: v for k, v in marked.items() if k not in undone}
