"""Records taken from a journal, compared with the raw rows that another reader finds in the file."""

import json
import sqlite3
from collections import Counter
from pathlib import Path
from typing import Any

import pytest

from benchapp.actions.bench import Unknown
from benchapp.actions.records import record_of
from benchapp.core.codes import spaced
from tests.actions.worked import eventful, worked


def raw_rows(place: Path) -> list[tuple[int, str, dict[str, Any]]]:
    """Number, hash and body of each row of the journal, read with plain sqlite3."""
    connection = sqlite3.connect(place / "bench.sqlite3")
    rows = connection.execute("SELECT seq, hash, body FROM journal ORDER BY seq").fetchall()
    connection.close()
    return [(seq, link, json.loads(body)) for seq, link, body in rows]


def test_confirmations_are_as_many_as_the_rows(tmp_path: Path) -> None:
    """Counted again from the raw rows: confirmations in all, by person, and those that were taken back."""
    with worked(tmp_path / "lab") as jaw:
        eventful(jaw)
        found = record_of(jaw.bench, jaw.code)
        names = {jaw.bench.store.text(e["data"]["texts"]["name"]): e["data"]["thing"] for e in _people(jaw)}
    rows = raw_rows(tmp_path / "lab")
    said = [b for _, _, b in rows if b["event"]["kind"] == "confirm" and b["event"]["jaw"] == jaw.code]
    assert found.confirmations.stored == len(said) == 48
    people = Counter(b["event"]["by"]["person"] for b in said)
    assert {names[who.name]: who.confirmations for who in found.who} == people
    assert found.confirmations.taken_back == sum(b["event"]["kind"] == "undo" for _, _, b in rows)
    refused = [b for b in said if any(grade == "refused" for _, grade in b["server"]["marks"])]
    assert found.confirmations.not_taken == len(refused) == 2


def _people(jaw: Any) -> list[dict[str, Any]]:
    return [json.loads(e.body)["event"] for e in jaw.bench.store.tagged("kind", "person")]


def test_the_checkpoint_is_the_tip(tmp_path: Path) -> None:
    """The checkpoint names the last row of the file, and its text holds code, number and hash."""
    with worked(tmp_path / "lab") as jaw:
        jaw.run_to("lay-out")
        found = record_of(jaw.bench, jaw.code)
    seq, link, _ = raw_rows(tmp_path / "lab")[-1]
    assert (found.checkpoint.seq, found.checkpoint.hash) == (seq, link)
    assert found.checkpoint.text == f"SC1 {jaw.code} {seq} {link}"


def test_a_code_may_be_typed(tmp_path: Path) -> None:
    """Blanks and small letters are forgiven; an unknown or a broken code is answered with Unknown."""
    with worked(tmp_path / "lab") as jaw:
        assert record_of(jaw.bench, spaced(jaw.code).lower()).identity.code == spaced(jaw.code)
        with pytest.raises(Unknown, match="No jaw has the code"):
            record_of(jaw.bench, jaw.opened.code)
        with pytest.raises(Unknown, match="not the code of a jaw"):
            record_of(jaw.bench, "hello")


def test_an_erased_patient_stays_erased(tmp_path: Path) -> None:
    """The record of a jaw whose patient was erased says so, and everything else still stands."""
    with worked(tmp_path / "lab") as jaw:
        jaw.main()
        with jaw.bench.store.writing() as writer:
            writer.erase_text(jaw.line.case["texts"]["patient"])
        found = record_of(jaw.bench, jaw.code)
    assert found.identity.patient == "(erased)" and found.identity.order == "T-2026-0017"
    assert "Żuraw" not in found.model_dump_json()


def test_the_same_journal_gives_the_same_record(tmp_path: Path) -> None:
    """Two records of one journal at one time are equal, and reading writes nothing."""
    with worked(tmp_path / "lab") as jaw:
        eventful(jaw)
        tip = jaw.bench.store.tip()
        assert record_of(jaw.bench, jaw.code) == record_of(jaw.bench, jaw.code)
        assert jaw.bench.store.tip() == tip
