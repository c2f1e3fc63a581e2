"""Bad luck at the PC: its clock, its zone, its disk, its people; nothing is lost, and each is said in a sentence."""

import json
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from benchapp.actions import badges, orders, staff
from benchapp.actions.lab import Gone, sign_in
from benchapp.actions.leaving import GONE
from benchapp.actions.records import record_of
from benchapp.actions.release import asked
from benchapp.actions.settings import change_lab
from benchapp.actions.what import what_is
from benchapp.core.clocks import clocks
from benchapp.paper.record import pdf
from benchapp.serve import open_bench, read_bench
from benchapp.store.errors import FolderLocked, FolderNewer
from benchapp.web.app import create_app
from tests.actions.whole import LAB3, let_go, remade, seat
from tests.actions.worked import CASE, TABLET, Worked, worked
from tests.store.test_faults import limit
from tests.web.desks import SUPERVISOR, desk

MINUTE = 60_000
HOUR = 60 * MINUTE
NOT_ALLERGIC = CASE.replace('allergy = "none stated"', 'allergy = "no"')


@pytest.fixture
def jaw(tmp_path: Path) -> Iterator[Worked]:
    """A jaw of a lab with two supervisors."""
    with worked(tmp_path / "data", lab=LAB3, case=NOT_ALLERGIC) as found:
        yield found


def received(jaw: Worked) -> list[int]:
    """Return the time at which each entry came, in their order."""
    return [json.loads(entry.body)["server"]["received"] for entry in jaw.bench.store.entries()]


def test_a_pc_clock_that_was_set_back_turns_nothing_back(jaw: Worked) -> None:
    """Set back by 3 h in mid-cure: what comes is never older than what came, floors hold, the record prints."""
    jaw.run_to("cure-second-side")
    ends = max(c["ends"] for c in clocks(jaw.line.table, jaw.line.state) if c["kind"] == "floor")
    jaw.now[0] -= 3 * HOUR
    early = jaw.say(_main(jaw), ["-"])
    assert ["early", "refused"] in early["marks"] and early["received"] == received(jaw)[-2]
    jaw.now[0] = ends  # three hours later by that clock, it has caught up
    jaw.run_to()
    assert received(jaw) == sorted(received(jaw)) and jaw.line.state["ended"] == "through"
    assert pdf(record_of(jaw.bench, jaw.code)).startswith(b"%PDF-")


def test_a_zone_that_was_changed_is_the_zone_of_every_record(jaw: Worked) -> None:
    """After a move to another zone an old record prints the same moments there, and names zone and offset."""
    jaw.run_to("lay-out")
    before = record_of(jaw.bench, jaw.code)
    change_lab(jaw.bench, seat(jaw), "Moved, invented", "Quay 1, Nowhere", "Atlantic/Azores")
    jaw.now[0] += 20 * HOUR
    jaw.run_to("tack-light")
    after = record_of(jaw.bench, jaw.code)
    assert (before.lab.zone, before.lab.offsets) == ("Europe/Warsaw", ["+01:00"])
    assert (after.lab.zone, after.lab.offsets) == ("Atlantic/Azores", ["-01:00"])
    old, new = ([datetime.fromisoformat(s.at) for s in found.steps] for found in (before, after))
    assert old == new[:len(old)] and str(old[0]) != str(new[0])
    page = create_app(jaw.bench).test_client().get(f"/record/{jaw.code}").text
    assert "Times are in Atlantic/Azores" in " ".join(page.split()) and "UTC-01:00" in page


# Both days from the IANA time zone database, which zoneinfo reads; the local moments are its answers, not ours.
@pytest.mark.parametrize(("night", "wall"), [("2026-10-25", -40), ("2027-03-28", 80)])
def test_a_cure_over_the_clock_change_lasts_its_real_minutes(night: str, wall: int, tmp_path: Path) -> None:
    """20 real minutes look like 80 or like -40 on the wall: 30 are asked and counted; the record has both offsets."""
    change = datetime.fromisoformat(f"{night}T01:00:00+00:00")
    with worked(tmp_path / "data", lab=LAB3, start=change - timedelta(hours=8)) as found:
        found.run_to("cure-first-side")
        found.now[0] = round(change.timestamp() * 1000) - 10 * MINUTE
        found.main(0)
        (floor,) = [c for c in clocks(found.line.table, found.line.state) if c["kind"] == "floor"]
        assert floor["ends"] - found.now[0] == 30 * MINUTE
        zone = ZoneInfo("Europe/Warsaw")
        shown = [datetime.fromtimestamp(ms / 1000, UTC).astimezone(zone).replace(tzinfo=None)
                 for ms in (found.now[0], found.now[0] + 20 * MINUTE)]
        assert (shown[1] - shown[0]).total_seconds() / 60 == wall
        assert ["early", "refused"] in found.say(_main(found), ["-"], 20)["marks"]
        assert found.say(_main(found), ["-"], 10)["marks"] == []
        record = record_of(found.bench, found.code)
        assert record.lab.offsets == ["+01:00", "+02:00"]
        assert pdf(record).startswith(b"%PDF-")


def _main(jaw: Worked) -> str:
    state = jaw.line.state
    return str(next(act["outcome"] for act in jaw.line.table["acts"] if act["step"] == state["now"]))


def test_a_full_disk_at_the_desk_loses_nothing(tmp_path: Path) -> None:
    """A form on a full disk is answered with what to do, changes nothing, and can be sent again afterwards."""
    with desk(tmp_path / "data") as at:
        store = at.jaw.bench.store
        address = f"/desk/cases/{at.jaw.opened.code}/order/cancel"
        room = limit(store, 0)
        for _ in range(200):  # what is free inside the last pages is used up first
            before, answer = store.tip(), at.client.post("/desk/settings", data={
                "name": "idle_lock", "value": str(store.tip().seq)})
            if answer.status_code == 507:
                break
        assert answer.status_code == 507 and "free some space" in answer.text
        assert store.tip() == before
        assert at.client.post(address, data={"why": "the clinic rang"}).status_code == 507
        assert at.client.get("/desk/today").status_code == 200 and store.tip() == before
        limit(store, room)
        at.post(address, why="the clinic rang")
        assert "the clinic rang" in at.get(f"/desk/cases/{at.jaw.opened.code}/order")


def test_a_second_server_is_told_who_has_the_folder(tmp_path: Path, jaw: Worked) -> None:
    """The folder of a running server is not opened for writing again; reading beside it goes on."""
    with pytest.raises(FolderLocked):
        open_bench(tmp_path / "data")
    with read_bench(tmp_path / "data").store as beside:
        assert beside.tip() == jaw.bench.store.tip()


def test_entries_of_a_newer_version_are_read_and_not_written(tmp_path: Path) -> None:
    """A folder in which a newer version wrote is refused with what to install, and stays readable."""
    with worked(tmp_path / "data") as found:
        code = found.code
        with found.bench.store.writing() as writer:
            found.bench.request(writer, "kind-of-tomorrow")
    with pytest.raises(FolderNewer, match=r"kind-of-tomorrow.*install that version"):
        open_bench(tmp_path / "data")
    with read_bench(tmp_path / "data").store as store:
        assert store.tagged("jaw", code)


def test_a_leaver_opens_nothing_and_is_marked(jaw: Worked) -> None:
    """Badge and PIN are refused in words; what a page left open still says in their name is stored and marked."""
    boss = seat(jaw)
    code = badges.give_badge(jaw.bench, boss, jaw.person)
    assert jaw.main()["marks"] == []
    staff.let_go(jaw.bench, boss, jaw.person)
    badges.strike_badge(jaw.bench, boss, jaw.person)
    badges.give_badge(jaw.bench, boss, boss.person.id)
    before = jaw.bench.store.tip()
    with pytest.raises(Gone, match="has left the lab"):
        sign_in(jaw.bench, jaw.person, "2468", TABLET)
    with pytest.raises(badges.WrongBadge, match="opens nothing here"):
        badges.badge_in(jaw.bench, code, TABLET)
    assert jaw.bench.store.tip() == before
    assert jaw.main()["marks"] == [GONE]
    staff.come_back(jaw.bench, boss, jaw.person)
    assert jaw.main()["marks"] == []


def test_what_was_done_before_leaving_is_not_marked(jaw: Worked) -> None:
    """A tablet that delivers after its person left says when it was done: that was in time."""
    done = jaw.now[0] + MINUTE
    jaw.now[0] += 10 * MINUTE
    staff.let_go(jaw.bench, seat(jaw), jaw.person)
    at = {"wall": done, "offset": 0, "age": 9 * MINUTE, "mono": 1}
    assert jaw.main(0)["marks"] == [GONE]
    jaw.bench.last_when.clear()
    staff.come_back(jaw.bench, seat(jaw), jaw.person)
    assert jaw.fact("hold", 0, at=at, picks={"reason": "ask-the-clinic"})["marks"] == []


def test_a_scrapped_parts_tag_says_so(jaw: Worked) -> None:
    """The tag of a part that was made again leads to no pick: it names the part, that it is scrapped, what to do."""
    jaw.run_to("cut-back")
    old = next(p["code"] for p in jaw.line.jaw["parts"] if p["part"] == "base")
    remade(jaw, seat(jaw))
    said = what_is(jaw.bench, old, jaw.code)
    assert not said.fine and "scrapped" in said.title and "made again" in said.what and "in use" in said.next
    client = create_app(jaw.bench).test_client()
    assert client.get(f"/find?code={old}").headers["Location"] == f"/bench/{jaw.code}"


def test_a_sitting_ends_with_the_server(tmp_path: Path) -> None:
    """After a restart the old token leads to the door, a form says to sign in again, and a new sign-in works."""
    with desk(tmp_path / "data") as at:
        kept = at.client.get_cookie("desk")
        assert kept is not None
        before = at.jaw.bench.store.tip()
        at.client = create_app(at.jaw.bench).test_client()
        at.client.set_cookie("desk", kept.value)
        assert at.client.get("/desk/people").headers["Location"] == "/desk/signin?next=/desk/people"
        answer = at.client.post("/desk/settings", data={"name": "numbers", "value": "universal"})
        assert answer.status_code == 401 and "Sign in again" in answer.text
        assert at.jaw.bench.store.tip() == before
        at.sit(*SUPERVISOR).get("/desk/people")


def test_facts_of_a_cancelled_case_are_stored_and_wait(jaw: Worked) -> None:
    """A tap on a jaw whose case was cancelled meanwhile is kept, not taken, and shown to a supervisor."""
    jaw.run_to("cut-back")
    orders.cancel(jaw.bench, seat(jaw), jaw.opened.code, "called off")
    at = jaw.line.state["now"]
    ack = jaw.main()
    assert (ack["was"], ack["marks"]) == ("stored", [["held", "refused"]])
    assert jaw.line.state["now"] == at
    assert jaw.line.state["held"]
    assert any(m["why"] == "held" and not m["resolved"] for m in jaw.line.state["marks"])
    assert "still to be looked at" in record_of(jaw.bench, jaw.code).standing.words


def test_facts_of_a_released_jaw_are_stored_and_said(jaw: Worked) -> None:
    """A late tap on a released jaw is kept and refused; release stands, and its page and record tell of the entry."""
    jaw.run_to()
    let_go(jaw)
    ack = jaw.fact("hold", picks={"reason": "ask-the-clinic"})
    assert (ack["was"], ack["marks"]) == ("stored", [["ended", "refused"]])
    now = asked(jaw.bench, seat(jaw), jaw.code)
    lines = [words for tick in now.readiness.ticks for words in tick.lines]
    assert now.released and any("Still to be looked at" in words for words in lines)
    record = record_of(jaw.bench, jaw.code)
    assert record.after.release is not None and record.after.release.stands
    assert "still to be looked at" in record.standing.words
