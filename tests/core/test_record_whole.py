"""The whole record of a jaw to which everything happened: each section against the stored events and the sheet."""

import json
from datetime import datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import jsonschema
import pytest

from benchapp.actions import orders
from benchapp.actions.cases import add_case
from benchapp.actions.lab import people, things
from benchapp.actions.records import record_of
from benchapp.actions.remake import NewPart, remake_jaw
from benchapp.core.codes import spaced
from benchapp.core.record import Record
from benchapp.core.record_after import After
from benchapp.core.record_used import BEARERS
from benchapp.core.record_words import length
from benchapp.core.release_words import BACK, GAPS, MEANING, MEANINGS, PAIR, TICKS
from benchapp.core.sheet import read_sheet
from tests.actions.whole import LAB3, THIRD, remade, seat, whole
from tests.actions.worked import CASE, PROTOCOL, worked

WARSAW = ZoneInfo("Europe/Warsaw")


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory) -> tuple[Record, list[dict[str, Any]]]:
    """The record of a jaw with everything, and the stored bodies of the journal."""
    with whole(tmp_path_factory.mktemp("whole") / "lab") as jaw:
        return record_of(jaw.bench, jaw.code), [json.loads(e.body) for e in jaw.bench.store.entries()]


def of(bodies: list[dict[str, Any]], kind: str) -> list[dict[str, Any]]:
    """The bodies of one kind."""
    return [body for body in bodies if body["event"]["kind"] == kind]


def at(body: dict[str, Any]) -> str:
    """When a body was stored, by zoneinfo alone."""
    return datetime.fromtimestamp(body["server"]["when"] // 1000, WARSAW).isoformat()


def test_the_release_shows_name_time_and_meaning(found: tuple[Record, list[dict[str, Any]]]) -> None:
    """21 CFR 11.50 (read, not recomputed): printed name, date and time, and the meaning of the signature."""
    record, bodies = found
    (body,) = of(bodies, "release")
    release = record.after.release
    assert release is not None
    assert (release.who, release.at, release.meaning) == (THIRD[0], at(body), MEANINGS[MEANING])
    before = next(b for b in bodies if b["server"]["seq"] == body["server"]["seq"] - 1)
    assert release.checkpoint_seq == before["server"]["seq"] and len(release.checkpoint_hash) == 64
    assert record.standing.state == "released" and release.text() in record.standing.words


def test_no_earlier_value_is_hidden(found: tuple[Record, list[dict[str, Any]]]) -> None:
    """21 CFR 11.10(e) (read, not recomputed): each correction keeps what stood there before, with time and name."""
    record, bodies = found
    (body,) = of(bodies, "correct")
    told = {c.title: (c.earlier, c.new) for c in record.changes.corrections}
    assert told == {
        "Tooth shade": ("light 2", "light 3"), "Due": ("2026-12-01", "2026-12-03"),
        "Prescriber": ("Практика на набережной", "Клиника «Маяк»"),
    }  # fmt: skip
    assert {(c.at, c.who, c.late) for c in record.changes.corrections} == {(at(body), THIRD[0], False)}
    assert (record.identity.shade, record.identity.due) == ("light 3", "2026-12-03")
    (allergy,) = record.changes.allergy
    assert (allergy.by, allergy.on, allergy.against, allergy.who) == ("Dr. Ostrów", "2026-11-24", False, THIRD[0])


def test_materials_and_devices_are_the_picks_that_count(found: tuple[Record, list[dict[str, Any]]]) -> None:
    """Each pick of an entry that counts stands there with lot, expiry, time and name; refused ones do not."""
    record, bodies = found
    refused = {s.seq for s in record.steps if s.fate != "counts"}
    said = [b for b in of(bodies, "confirm") if b["server"]["seq"] not in refused]
    picked = [(b["server"]["seq"], code) for b in said for n, code in b["event"]["picks"].items() if n != "reason"]
    assert [(u.seq, u.code.replace(" ", "")) for u in record.used] == picked and len(picked) == 5
    by_sort = {u.sort: u for u in record.used}
    assert set(by_sort) == {"part", "material", "device"}
    resin = by_sort["material"]
    assert (resin.name, resin.lot, resin.expiry) == ("Bond pink, film ≤ 0.1 mm", "L-77", "2031-06-30")
    assert resin.who == "Łukasz Wiśniewski" and "base make 2, revision B" in [u.name for u in record.used]


def test_old_parts_are_kept(found: tuple[Record, list[dict[str, Any]]]) -> None:
    """The scrapped base stands there with its tag, why, who bears it and who decided; the jaw holds its make 2."""
    record, bodies = found
    (body,) = of(bodies, "remake")
    (case,) = of(bodies, "case")
    (old,) = record.old_parts
    first = next(p for p in case["event"]["data"]["jaws"][0]["parts"] if p["part"] == "base")
    assert (old.make, old.code, old.next_make) == (1, spaced(first["code"]), 2)
    assert (old.reason, old.bears, old.who, old.at) == ("Dropped or damaged", "the laboratory", THIRD[0], at(body))
    assert [(p.part, p.make) for p in record.identity.parts] == [("base", 2), ("arch", 1)]


def test_repairs_are_told_from_finding_to_end(found: tuple[Record, list[dict[str, Any]]]) -> None:
    """The void that was laid bare is the one repair; a place that only went back to filling is none."""
    (repair,) = found[0].repairs
    assert repair.place == "m24l" and not repair.open
    assert [s.said for s in repair.story] == ["void laid bare, repair", "refilled and lit", "repair cured", "finished"]
    assert all(s.who == "Łukasz Wiśniewski" for s in repair.story)


def test_deviations_tell_reason_and_closing(found: tuple[Record, list[dict[str, Any]]]) -> None:
    """The late tack stands with the limit it missed, its reason, and who closed it when with which words."""
    record, bodies = found
    (one,) = record.deviations
    (close,) = of(bodies, "close")
    assert (one.grade, one.reason, one.closed, one.closed_by) == (
        "deviation", "More to fill than usual", "accepted as it is", THIRD[0],
    )  # fmt: skip
    assert one.closed_at == at(close) and "<b>margins</b>" in one.closed_words
    assert f"{length(int(24.9 * 60_000))} after “Wet every socket”, asked at most 20 min" in one.words


def test_what_came_after(found: tuple[Record, list[dict[str, Any]]]) -> None:
    """Sent, back with place and reason, amended: each with day, name and when it was entered."""
    after: After = found[0].after
    (sent,), (back,), (more,) = after.sent, after.back, after.amendments
    assert (sent.on, sent.means, sent.who) == ("2026-11-25", "parcel 4711, by the lab's own driver", THIRD[0])
    assert (back.on, back.reason, back.place_words) == ("2026-12-04", BACK["void"], "margin of 24, palatal side")
    assert back.words.startswith("Pressure spot") and more.words.startswith("Void filled")
    assert more.at == at(of(found[1], "amend")[0])


def test_data_for_the_statement_are_no_statement(found: tuple[Record, list[dict[str, Any]]]) -> None:
    """EU MDR Annex XIII (from memory): maker, device, one patient, prescriber, prescription; and it says what it is."""
    record = found[0]
    data = {one.title: one.words for one in record.statement.data}
    assert "is not that statement" in record.statement.about
    assert data["Maker"] == "Pracownia Żółw, invented" and data["Address of the maker and of all sites"]
    assert record.identity.code in data["Device"] and data["For the exclusive use of one patient"] == "Żuraw 17"
    assert data["Prescribed by"] == "Клиника «Маяк»" and data["Prescribed: shade"] == "light 3"
    assert "lot L-77" in data["Made of"] and "print job P-200" in data["Made of"]
    assert data["Conformity, and exceptions with their grounds"].startswith("not stated here")
    assert record.photos == []


def test_the_whole_keeps_to_its_schema(found: tuple[Record, list[dict[str, Any]]]) -> None:
    """The JSON of a record with every section is valid by its schema, and reads back as the same record."""
    plain = json.loads(found[0].model_dump_json())
    jsonschema.validate(plain, Record.model_json_schema())
    assert Record.model_validate(plain) == found[0] and plain["format"] == 3
    assert all(plain[name] for name in ("used", "old_parts", "repairs", "deviations"))


def test_further_words_of_the_order(tmp_path: Path) -> None:
    """Pan, opposing jaw, bite and mounting stand among the facts; a correction of a part shows its earlier value."""
    more = CASE.replace('[[jaws]]', 'pan = "17"\nbite = "scanned"\nmounting = "mounted"\n[[jaws]]')
    with worked(tmp_path / "lab", case=more, lab=LAB3) as jaw:
        part = next(p for p in jaw.opened.jaws[0]["parts"] if p["part"] == "arch")
        wanted = orders.Correction({}, {}, {part["code"]: {"revision": "C", "print_job": "P-119"}})
        orders.correct(jaw.bench, seat(jaw), jaw.opened.code, wanted)
        found = record_of(jaw.bench, jaw.code)
    facts = dict(found.facts())
    assert (facts["Pan"], facts["Bite record"], facts["Mounting"]) == ("17", "scanned", "mounted")
    assert [(c.title, c.earlier, c.new) for c in found.changes.corrections] == [("Arch 1, design revision", "B", "C")]


def test_cancelling_is_on_the_record(tmp_path: Path) -> None:
    """Cancelled with the reason, and going on again, each with name; the hold of the jaw says why."""
    with worked(tmp_path / "lab", lab=LAB3) as jaw:
        jaw.main()
        orders.cancel(jaw.bench, seat(jaw), jaw.opened.code, "the clinic withdrew it")
        orders.reopen(jaw.bench, seat(jaw), jaw.opened.code)
        found = record_of(jaw.bench, jaw.code)
    assert [(t.what, t.reason, t.who) for t in found.changes.turns] == [
        ("cancelled", "the clinic withdrew it", THIRD[0]), ("goes on", "", THIRD[0]),
    ]  # fmt: skip
    assert found.standing.words.endswith("(the case was cancelled).")


def test_an_old_part_is_known(tmp_path: Path) -> None:
    """The part that was checked and then scrapped is no strange part afterwards."""
    with worked(tmp_path / "lab", lab=LAB3) as jaw:
        jaw.main()
        jaw.main()
        remade(jaw, seat(jaw))
        found = record_of(jaw.bench, jaw.code)
    assert [i.kind for i in found.not_ordinary.items] == ["sent back"]
    assert "base make 1, revision B" in [u.name for u in found.used]


def test_a_jaw_made_again_as_a_whole(tmp_path: Path) -> None:
    """The scrapped jaw's record names the one in its place, and that one's names the scrapped one."""
    with worked(tmp_path / "lab", lab=LAB3) as jaw:
        jaw.run_to("cool-down")
        new = {"base": NewPart("C", "P-300"), "arch": NewPart("C", "P-301")}
        code = remake_jaw(jaw.bench, seat(jaw), THIRD[1], jaw.code, new, "damaged", "clinic")
        old, fresh = record_of(jaw.bench, jaw.code), record_of(jaw.bench, code)
    assert (old.identity.followed_by, fresh.identity.follows) == (spaced(code), spaced(jaw.code))
    assert (old.standing.state, fresh.standing.state) == ("scrapped", "not finished")
    assert spaced(jaw.code) in dict(fresh.facts())["Made again"] and fresh.identity.accepted is not None
    assert [(p.part, p.make, p.revision) for p in fresh.identity.parts] == [("base", 2, "C"), ("arch", 2, "C")]


def test_a_load_is_shown_as_it_is(tmp_path: Path) -> None:
    """A load is known by its number only, and is no strange pick; any other unknown code is one."""
    with worked(tmp_path / "lab") as jaw:
        jaw.run_to("cure-first-side")
        chamber = next(t.code for t in things(jaw.bench) if t.kind == "chamber")
        jaw.say("first-side-on", ["-"], picks={"chamber": chamber, "load": "L-2026-11-24-1"})
        found = record_of(jaw.bench, jaw.code)
    load = next(u for u in found.used if u.sort == "load")
    assert (load.name, load.code) == ("load L-2026-11-24-1", "L-2026-11-24-1")
    assert [i for i in found.not_ordinary.items if i.kind == "pick"] == []


def test_an_erased_name_leaves_its_place(tmp_path: Path) -> None:
    """Words of amendment and closing that were erased read as such; nothing else changes."""
    with whole(tmp_path / "lab") as jaw:
        before = record_of(jaw.bench, jaw.code)
        with jaw.bench.store.writing() as writer:
            for entry in writer.tagged("kind", "amend"):
                writer.erase_text(json.loads(entry.body)["event"]["data"]["texts"]["words"])
        after = record_of(jaw.bench, jaw.code)
        assert people(jaw.bench)
    assert after.after.amendments[0].words == "(erased)" != before.after.amendments[0].words
    assert after.after.release == before.after.release and after.steps == before.steps


def test_words_that_are_stored_by_id_are_all_here() -> None:
    """Ids of meanings, gaps, ticks, returns and pair outcomes stand in journals for ever; each keeps its words."""
    assert {"lab", "printing", "clinic", "maker", "open"} <= set(BEARERS)
    assert MEANING in MEANINGS and all(MEANINGS.values())
    assert {"mark", "stated", "taken back", "hold", "sent back", "again", "refused", "tablet", "repair", "mended",
            "remade", "parts", "allergy", "pair", "due", "server", "dark", "other"} <= set(TICKS)
    assert {"claimed", "silent", "strange"} <= set(GAPS)
    assert set(PAIR) == {"right", "not-mounted", "not-right"}
    assert {"tissue", "bite", "came-off", "broke", "void", "looks", "ordered", "repair", "other"} <= set(BACK)


def test_a_second_case_has_nothing_of_the_first(tmp_path: Path) -> None:
    """Corrections, release and amendments of one case do not appear on the record of another."""
    with whole(tmp_path / "lab") as jaw:
        text = CASE.format(training="false", jaw="upper", teeth=[13, 12, 11, 21]).replace("T-2026-0017", "T-2")
        other = add_case(jaw.bench, read_sheet("case.toml", text), PROTOCOL)
        fresh = record_of(jaw.bench, other.jaws[0]["code"])
    assert fresh.changes.corrections == [] == fresh.old_parts
    assert fresh.after == After(release=None, earlier=[], sent=[], back=[], amendments=[])
