"""What a record says: recomputed from the stored events by other means than the record's own."""

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import jsonschema
import pytest

from benchapp.actions.jaws import resolve, scrap
from benchapp.actions.records import record_of
from benchapp.core.record import Record
from benchapp.core.record_words import length, moment, plain, span
from tests.actions.worked import CASE, LAB, START, UPPER, Worked, eventful, worked

MINUTE = 60_000
Done = tuple[Record, dict[int, dict[str, Any]]]


def record(jaw: Worked) -> Record:
    """The record of the jaw as it stands."""
    return record_of(jaw.bench, jaw.code)


def bodies(jaw: Worked) -> dict[int, dict[str, Any]]:
    """The stored bodies of the whole journal by number."""
    return {entry.seq: json.loads(entry.body) for entry in jaw.bench.store.entries()}


@pytest.fixture(scope="module")
def done(tmp_path_factory: pytest.TempPathFactory) -> Done:
    """A whole jaw with one of each exception: its record, and the stored bodies by number."""
    with worked(tmp_path_factory.mktemp("done") / "lab") as jaw:
        eventful(jaw)
        return record(jaw), bodies(jaw)


def test_lengths_read_like_a_stopwatch() -> None:
    """Lengths are rounded down to whole seconds, and minutes and hours appear when there are any."""
    assert [length(ms) for ms in (0, 999, 14_200, 60_000, 130_999, 3_600_000, 3_900_000)] == [
        "0 s", "less than 1 s", "14 s", "1 min", "2 min 10 s", "1 h", "1 h 05 min",
    ]  # fmt: skip


def test_moments_follow_the_zone_database() -> None:
    """Madrid is at UTC+1 in November and +2 in July (IANA zone database); the same day is written once."""
    zone = ZoneInfo("Europe/Madrid")
    winter = int(datetime(2026, 11, 24, 13, 5, 12, 999000, tzinfo=UTC).timestamp() * 1000)
    summer = int(datetime(2026, 7, 1, 13, 5, 12, tzinfo=UTC).timestamp() * 1000)
    assert moment(winter, zone) == "2026-11-24T14:05:12+01:00"
    assert moment(summer, zone) == "2026-07-01T15:05:12+02:00"
    assert plain(moment(winter, zone)) == "2026-11-24 14:05:12"
    assert span(moment(winter, zone), moment(winter + 5000, zone)) == "2026-11-24 14:05:12 to 14:05:17"
    assert moment(2**53, zone) == "beyond the calendar"


def test_every_time_is_the_stored_one(done: Done) -> None:
    """Each recorded and stated time is the journal's millisecond in the lab's zone, by zoneinfo alone."""
    found, stored = done
    warsaw = ZoneInfo("Europe/Warsaw")
    for step in found.steps:
        body = stored[step.seq]
        when = datetime.fromtimestamp(body["server"]["when"] // 1000, warsaw)
        assert step.at == when.isoformat() and step.at.endswith("+01:00")
        stated = body["event"]["at"].get("stated")
        assert step.stated == (stated and datetime.fromtimestamp(stated // 1000, warsaw).isoformat())
    assert found.lab.offsets == ["+01:00"]
    assert len(found.steps) == len({s.seq for s in found.steps}) == 52


def test_groups_are_told_as_groups(done: Done) -> None:
    """Fourteen teeth: the sextants of the bubble check cover 12, 17 and 12 places (common practice)."""
    found, _ = done
    checks = [s for s in found.steps if s.step == "Hunt bubbles" and s.places[0] in ("s1", "s2", "s3")]
    assert [(s.count, s.words) for s in checks] == [
        (12, "right back, 12 places, viewed 14 s, none open"),
        (17, "front, 17 places, viewed 14 s, none open"),
        (12, "left back, 12 places, viewed 14 s, none open"),
    ]
    assert checks[0].named == [
        "connector 16-15 mended", "margin of 15, buccal side open, back to filling",
    ]  # fmt: skip
    assert checks[1].named == checks[2].named == []
    (filled,) = [s for s in found.steps if s.step == "Fill every gap" and s.places == ["-"]]
    assert filled.words == "whole jaw, 41 places, viewed 14 s, filled"


def test_places_tell_their_loops(done: Done) -> None:
    """A place that went back is a loop with its whole way; one that was mended at once is none."""
    places = {p.place: p for p in done[0].not_ordinary.places}
    assert {name: p.loop for name, p in places.items()} == {
        "16-15": False, "m15b": True, "13-12": False, "m24l": True,
    }  # fmt: skip
    assert [s.said for s in places["m15b"].story] == ["open, back to filling", "filled", "none open"]
    assert [s.said for s in places["m24l"].story] == [
        "void laid bare, repair", "refilled and lit", "repair cured", "finished",
    ]  # fmt: skip
    assert not any(p.open for p in places.values())
    assert [p.number for p in places.values()] == [1, 2, 3, 4]


def test_everything_else_out_of_the_ordinary(done: Done) -> None:
    """Hold, refusals, taking back, stated time, late tack with its reason, other hands, the claim: one item each."""
    found, _ = done
    items = found.not_ordinary.items
    assert [i.kind for i in items] == [
        "again", "hold", "refused", "taken back", "refused", "stated", "mark", "carried over", "claimed",
    ]  # fmt: skip
    by_kind = {i.kind: i for i in items}
    hold, late, stated = by_kind["hold"], by_kind["mark"], by_kind["stated"]
    assert (hold.reason, hold.lasted_ms, hold.words) == (
        "The clinic must answer", 96 * MINUTE, "put on hold for 1 h 36 min",
    )  # fmt: skip
    assert (late.grade, late.reason, late.open) == ("deviation", "More to fill than usual", False)
    assert "24 min 54 s after “Wet every socket”, asked at most 20 min" in late.words
    assert stated.reason == "Done in time, tapped late" and "2026-11-24 11:00:36" in stated.words
    refused = [i.words for i in items if i.kind == "refused"]
    assert "came while the jaw was held" in refused[0]
    assert "tapped before the clock had run" in refused[1]
    assert by_kind["claimed"].who == "Зоя Ким (claimed)"
    assert found.standing.words == "All steps of the protocol are confirmed. 2 matters are still to be looked at."


def test_clocks_are_the_difference_of_two_taps(done: Done) -> None:
    """30 + 30 min of common practice are asked, and what passed is the difference of the stored times."""
    found, stored = done
    taps = {b["event"]["step"]: b["server"]["when"] for b in stored.values() if b["event"]["kind"] == "confirm"}
    sides = [c for c in found.clocks if c.kind == "floor" and c.asked_ms == 30 * MINUTE]
    assert [(c.since, c.step) for c in sides] == [
        ("Into the chamber, first side", "Turn over, second side"),
        ("Turn over, second side", "Out, and cool in place"),
        ("Repair the opened places", "Cure the repair"),
    ]
    assert [c.between_ms for c in sides[:2]] == [
        taps["cure-second-side"] - taps["cure-first-side"], taps["cool-down"] - taps["cure-second-side"],
    ]  # fmt: skip
    assert all(c.source and c.source.kind == "common practice, no source" for c in sides)
    (tack,) = [c for c in found.clocks if c.step == "Tack with the hand lamp"]
    assert (tack.kept, tack.between_ms, tack.words) == (False, 24.9 * MINUTE, "missed by 4 min 54 s")
    assert all(c.kept for c in found.clocks if c is not tack)
    marked = [s for s in found.steps if any("clock had run out" in mark for mark in s.marks)]
    assert [s.step for s in marked] == [tack.step]  # the fold and the record agree on what was missed


def test_a_floor_within_its_allowance_is_kept(tmp_path: Path) -> None:
    """Five seconds short of the solvent's five minutes lie within the ten allowed, and the record says so."""
    with worked(tmp_path / "lab") as jaw:
        jaw.run_to("second-fit")
        jaw.say("seats-again", ["-"], 5 - 5 / 60)
        (clock,) = [c for c in record(jaw).clocks if c.ended]
    assert (clock.kept, clock.words) == (True, "kept, with 5 s of the 10 s allowed")


def test_a_clock_that_runs_is_on_the_record(tmp_path: Path) -> None:
    """A jaw in the wet window shows the ceiling that runs, with its end, and no time between taps."""
    with worked(tmp_path / "lab") as jaw:
        jaw.run_to("fill-gaps")
        found = record(jaw)
    (running,) = [c for c in found.clocks if c.ended is None]
    assert (running.step, running.between_ms, running.kept) == ("Tack with the hand lamp", None, None)
    ends = datetime.fromisoformat(running.started) + timedelta(minutes=20)
    assert running.words == f"running: not after {ends:%Y-%m-%d %H:%M:%S}"


@pytest.mark.parametrize("step, title", [("cut-back", "Cut the connectors back"), ("check-bite", "Bite")])
def test_the_state_stands_at_the_top(tmp_path: Path, step: str, title: str) -> None:
    """A jaw under way can be recorded at any time and says where it stands."""
    with worked(tmp_path / "lab") as jaw:
        jaw.run_to(step)
        standing = record(jaw).standing
        assert (standing.state, standing.step) == ("not finished", title)
        assert standing.words == f"Not finished: stands at step “{title}”."
        assert standing.left[0] == title and standing.left[-1] == "Pack"
        jaw.fact("hold", picks={"reason": "called-away"})
        held = record(jaw).standing
        assert held.state == "on hold" and held.words.endswith("(Called away).")


def test_a_scrapped_jaw_says_so(tmp_path: Path) -> None:
    """Scrapped as a whole, with the reason of the tile, and nothing left to do."""
    with worked(tmp_path / "lab") as jaw:
        jaw.run_to("cool-down")
        jaw.sign_in("Зоя Ким", "1357")
        scrap(jaw.bench, jaw.code, jaw.person, "1357", "damaged")
        found = record(jaw)
    assert (found.standing.state, found.standing.left) == ("scrapped", [])
    assert "(Dropped or damaged). It is not to be used." in found.standing.words
    assert [(i.kind, i.reason) for i in found.not_ordinary.items] == [("scrap", "Dropped or damaged")]


def test_sent_back_before_light(tmp_path: Path) -> None:
    """A jaw that no longer seats goes back to cutting: an item, a second round, and the steps of both."""
    with worked(tmp_path / "lab") as jaw:
        jaw.run_to("second-fit")
        jaw.say("back-to-cut", ["-"], 6)
        jaw.run_to("wet-sockets")
        jaw.fact("sendback", step="dry-fit", picks={"reason": "does-not-seat"})
        found = record(jaw)
    back = [i for i in found.not_ordinary.items if i.kind == "sent back"]
    assert [i.words for i in back] == [
        "no longer seats: sent back to “Cut the connectors back”",
        "sent back from “Wet every socket” to “Seat the arch dry”",
    ]
    assert back[1].reason == "Does not seat" and found.standing.round == 2
    assert [s.round for s in found.steps if s.step == "Clean both parts"] == [0, 1]


def test_what_a_supervisor_takes_in_counts(tmp_path: Path) -> None:
    """A fact that came too early and was taken in afterwards counts, and its clock is told as missed."""
    with worked(tmp_path / "lab") as jaw:
        jaw.run_to("second-fit")
        early = jaw.say("seats-again", ["-"], 2)["id"]
        before = record(jaw)
        jaw.sign_in("Зоя Ким", "1357")
        resolve(jaw.bench, jaw.code, jaw.person, "1357", early, "in")
        after = record(jaw)
    assert before.confirmations.not_taken == 1 and after.confirmations.not_taken == 0
    assert after.confirmations.count == before.confirmations.count + 1
    assert (after.steps[-2].fate, after.standing.step) == ("taken in", "Wet every socket")
    (clock,) = [c for c in after.clocks if c.ended]
    assert (clock.kept, clock.words) == (False, "missed by 3 min, taken in by a supervisor")
    assert before.standing.open_matters and not after.standing.open_matters


def test_the_checks_of_the_default_protocol(tmp_path: Path) -> None:
    """The twelve checks of the finished jaw are found by what they ask, with answers and by whom."""
    with worked(tmp_path / "lab") as jaw:
        jaw.run_to("check-voids")
        half = record(jaw).checks
        jaw.run_to("check-bite")
        jaw.say("not-mounted", ["-"])
        checks = record(jaw).checks
    assert len(checks) == 12 and {c.step for c in checks} >= {"Bite", "Not tacky anywhere", "Number of teeth"}
    assert [c.answered for c in half] == [True] + [False] * 11
    assert checks[-1].said == "not mounted" and checks[-1].who == "Łukasz Wiśniewski"
    assert all(c.answered for c in checks)


def test_a_clock_change_within_the_work(tmp_path: Path) -> None:
    """On 2026-10-25 Warsaw goes from UTC+2 to UTC+1 at 01:00 UTC: both offsets stand on the record."""
    with worked(tmp_path / "lab") as jaw:
        jaw.now[0] = int(datetime(2026, 10, 25, 0, 40, tzinfo=UTC).timestamp() * 1000)
        # The case was accepted in November by this invented clock: the journal never goes back.
        assert jaw.main()["received"] == START
    with worked(tmp_path / "other", start=datetime(2026, 10, 25, 0, 40, tzinfo=UTC)) as jaw:
        jaw.main(10)
        jaw.main(30)
        found = record(jaw)
    assert found.lab.offsets == ["+01:00", "+02:00"]
    assert [found.shown(s.at) for s in found.steps] == ["02:50:00+02:00", "02:20:00+01:00"]


def test_json_keeps_to_its_own_schema(tmp_path: Path, done: Done) -> None:
    """The JSON of a record is valid by its published schema, as the jsonschema library reads it."""
    schema = Record.model_json_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    with worked(tmp_path / "lab") as jaw:
        fresh = record(jaw)
    for found in (fresh, done[0]):
        plain_data = json.loads(found.model_dump_json(indent=1))
        jsonschema.validate(plain_data, schema)
        assert Record.model_validate(plain_data) == found
        broken = plain_data | {"made": "yesterday"}
        with pytest.raises(jsonschema.ValidationError):
            jsonschema.validate(broken, schema)


def test_every_field_is_documented() -> None:
    """The schema explains each field and each kind of object."""
    schema = Record.model_json_schema()
    objects = [schema, *(d for d in schema["$defs"].values() if d["type"] == "object")]
    assert len(objects) > 15
    for found in objects:
        assert found["description"]
        for name, field in found["properties"].items():
            assert field.get("description"), name


def test_facts_that_make_no_sense_are_on_the_record(tmp_path: Path) -> None:
    """Unknown steps, places, persons, picks and times are stored, so they are recorded, as not taken."""
    with worked(tmp_path / "lab") as jaw:
        jaw.main()
        names = [f"place-{n}" for n in range(200)]
        jaw.fact("confirm", step="no-such-step", outcome="well", places=names)
        jaw.fact("confirm", step="intake", outcome="order-accepted", picks={"x" * 80: "y" * 80})
        at = {"wall": jaw.now[0], "offset": 0, "age": 0, "mono": 0, "stated": 2**53}
        jaw.fact("confirm", step="part-check", outcome="parts-right", places=["-"], at=at)
        jaw.fact("undo", undo="nobody-knows-this")
        jaw.fact("hold", by={"person": "ghost", "how": "claimed", "signin": ""})
        found = record(jaw)
    assert [s.fate for s in found.steps] == ["counts"] + ["not taken"] * 4 + ["counts"]
    assert found.steps[3].stated == "beyond the calendar"
    assert found.steps[-1].who == "ghost (claimed)"
    assert found.steps[1].places == names
    assert found.confirmations.stored == 4 and found.confirmations.count == 1
    jsonschema.validate(json.loads(found.model_dump_json()), Record.model_json_schema())


def test_parts_of_two_revisions_are_not_ordinary(tmp_path: Path) -> None:
    """A base of one design revision with an arch of another is said on the record."""
    mixed = CASE.replace('part = "arch", revision = "B"', 'part = "arch", revision = "C"')
    with worked(tmp_path / "lab", case=mixed) as jaw:
        (item,) = record(jaw).not_ordinary.items
    assert (item.kind, item.words) == ("parts", "parts of different design revisions: base B, arch C")


def test_a_part_of_another_jaw_is_not_ordinary(tmp_path: Path) -> None:
    """A picked code that is no part of this jaw is told, and waits for somebody to look."""
    with worked(tmp_path / "lab") as jaw:
        jaw.main()
        jaw.say("parts-right", ["-"], picks={"base": "B000000000"})
        (item,) = record(jaw).not_ordinary.items
    assert item.kind == "pick" and item.open and "B000000000" in item.words


def test_training_is_said(tmp_path: Path) -> None:
    """An exercise says so, with the divisor when durations were shortened."""
    with worked(tmp_path / "lab", training=True) as jaw:
        slow = record(jaw)
    with worked(tmp_path / "fast", speed=60) as jaw:
        fast = record(jaw)
    with worked(tmp_path / "real") as jaw:
        real = record(jaw)
    assert (slow.training, fast.training, real.training) == (True, True, False)
    assert slow.warning.startswith("TRAINING:") and "divided by 60" in fast.warning and real.warning == ""


def test_identity_is_the_sheet(tmp_path: Path) -> None:
    """Patient, prescriber, teeth in ISO 3950 order, parts and the line on sole use come from the sheet."""
    with worked(tmp_path / "lab") as jaw:
        who = record(jaw).identity
        parts = {p["part"]: p["code"] for p in jaw.opened.jaws[0]["parts"]}
    assert (who.patient, who.prescriber, who.order) == ("Żuraw 17", "Практика на набережной", "T-2026-0017")
    assert who.teeth == UPPER and "one patient: Żuraw 17" in who.sole_use
    assert {p.part: p.code.replace(" ", "") for p in who.parts} == parts
    assert LAB.count("Łukasz Wiśniewski") == 1
