"""People who leave: which of their facts are marked, by the day of the lab, and when a sign-in at a tablet is over.

The edges of days are those of the IANA time zone database, read by the standard library's zoneinfo.
"""

import json
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from benchapp.actions import badges, staff
from benchapp.actions.lab import people, sign_in
from benchapp.actions.leaving import GONE, over
from benchapp.actions.marks import close, matters_of
from benchapp.actions.records import record_of
from benchapp.actions.settings import change_lab
from benchapp.core import events
from tests.actions.test_staff import SUPERVISOR, TECHNICIAN, seat, who
from tests.actions.worked import TABLET, Worked, worked

MINUTE = 60_000
DAY = 24 * 60 * MINUTE
LAST = "2026-11-24"


@pytest.fixture
def jaw(tmp_path: Path) -> Iterator[Worked]:
    """A jaw of a lab in Warsaw with a technician and one supervisor."""
    with worked(tmp_path / "data") as found:
        yield found


def midnight(zone: str = "Europe/Warsaw") -> int:
    """Return the end of the last day in a zone (UTC ms)."""
    return int(datetime(2026, 11, 25, tzinfo=ZoneInfo(zone)).timestamp() * 1000)


def temp(jaw: Worked, until: str = LAST) -> str:
    """Take a temp on, and put them at the tablet."""
    staff.add_person(jaw.bench, seat(jaw), "Temp", ["technician"], "8642", until)
    jaw.sign_in("Temp", "8642")
    return jaw.person


def done_at(jaw: Worked, when: int, sent: int | None = None, **what: Any) -> list[list[str]]:
    """Confirm the step that is on at a moment, sent then or later (UTC ms); return the marks."""
    jaw.now[0] = when if sent is None else sent
    at = {"wall": when, "offset": 0, "age": 0, "mono": 1}
    if what:
        kind = what.pop("kind")
        return list(jaw.fact(kind, 0, at=at, **what)["marks"])
    return list(jaw.say("order-accepted", ["-"], 0, at=at)["marks"])


@pytest.mark.parametrize(("off", "marks"), [(-1, []), (0, [GONE]), (DAY, [GONE])])
def test_a_last_day_ends_with_the_labs_midnight(jaw: Worked, off: int, marks: list[Any]) -> None:
    """To the last millisecond of the day nothing is marked; from midnight in the lab's zone on everything is."""
    temp(jaw)
    assert done_at(jaw, midnight() + off) == marks


def test_the_day_is_that_of_the_labs_own_zone(jaw: Worked) -> None:
    """In Lima the day goes on for six hours after it ended in Warsaw."""
    temp(jaw)
    change_lab(jaw.bench, seat(jaw), "Lab", "Quay 1", "America/Lima")
    assert midnight("America/Lima") - midnight() == 6 * 60 * MINUTE
    assert done_at(jaw, midnight("America/Lima") - 1) == []
    assert done_at(jaw, midnight("America/Lima"), kind="hold", picks={"reason": "ask-the-clinic"}) == [GONE]


def test_what_was_done_on_the_last_day_may_come_later(jaw: Worked) -> None:
    """A tablet that delivers a week afterwards says when it was done: that was in time."""
    temp(jaw)
    assert done_at(jaw, midnight() - 5 * MINUTE, sent=midnight() + 7 * DAY) == []


def test_leavers_and_temps_get_the_same_word(jaw: Worked) -> None:
    """From when they were let go a leaver's facts bear the mark; an earlier one that comes later bears none."""
    jaw.now[0] += 10 * MINUTE
    gone = jaw.now[0]
    staff.let_go(jaw.bench, seat(jaw), jaw.person)
    assert done_at(jaw, gone - 1, sent=gone + MINUTE) == []
    assert done_at(jaw, gone, sent=gone + MINUTE, kind="hold", picks={"reason": "ask-the-clinic"}) == [GONE]


def test_who_came_back_was_gone_meanwhile(jaw: Worked) -> None:
    """A fact of the time in between is marked, although it comes when they work here again; later ones are not."""
    boss, begun = seat(jaw), jaw.now[0]
    jaw.now[0] = begun + 10 * MINUTE
    staff.let_go(jaw.bench, boss, jaw.person)
    jaw.now[0] = begun + 30 * MINUTE
    staff.come_back(jaw.bench, boss, jaw.person)
    badges.give_badge(jaw.bench, boss, jaw.person)  # the newest entry of a person need not say whether they left
    assert done_at(jaw, begun + 20 * MINUTE, sent=begun + 40 * MINUTE) == [GONE]
    assert done_at(jaw, begun + 41 * MINUTE, kind="hold", picks={"reason": "ask-the-clinic"}) == []


def test_a_longer_stay_counts_from_when_it_was_said(jaw: Worked) -> None:
    """Work after the last day stays marked when the day is moved on afterwards; later work is not."""
    person = temp(jaw)
    assert done_at(jaw, midnight() + MINUTE) == [GONE]
    staff.change_person(jaw.bench, seat(jaw), person, "Temp", ["technician"], "2026-11-30")
    assert done_at(jaw, midnight() + 2 * MINUTE, kind="hold", picks={"reason": "ask-the-clinic"}) == []


def test_a_leaver_who_is_only_claimed_bears_both_marks(jaw: Worked) -> None:
    """That no PIN stands behind a name is one thing, that the person is gone another; openings bear neither."""
    staff.let_go(jaw.bench, seat(jaw), jaw.person)
    jaw.signins.clear()
    assert jaw.main()["marks"] == [["claimed", "note"], GONE]
    assert jaw.fact("opened")["marks"] == []


def test_a_supervisor_reads_what_a_leaver_did(jaw: Worked) -> None:
    """The mark stands on the record as a deviation and on the list until it is closed; taken back it is none."""
    staff.let_go(jaw.bench, seat(jaw), jaw.person)
    first, second = jaw.main()["id"], jaw.main()["id"]
    (one, two) = matters_of(jaw.bench, jaw.code)
    assert [(m.why, m.grade) for m in one.marks] == [tuple(GONE)] and (one.id, two.id) == (first, second)
    words = "confirmed by a person who had left, or whose last day was over"
    found = record_of(jaw.bench, jaw.code)
    assert [words in d.words and d.who == TECHNICIAN and not d.closed_by for d in found.deviations] == [True, True]
    assert [f"{words} (deviation)" in step.marks for step in found.steps] == [True, True]
    close(jaw.bench, seat(jaw), jaw.code, first, "accepted", "Agreed on by telephone")
    assert [m.open for m in matters_of(jaw.bench, jaw.code)] == [False, True]
    jaw.sign_in(SUPERVISOR, "1357")
    jaw.fact("undo", undo=second)
    assert [m.id for m in matters_of(jaw.bench, jaw.code)] == [first]


def test_a_leaver_who_takes_back_is_read_too(jaw: Worked) -> None:
    """An undo leaves nothing that counts, and still somebody who was gone has changed the jaw."""
    done = jaw.main()["id"]
    staff.let_go(jaw.bench, seat(jaw), jaw.person)
    undo = jaw.fact("undo", undo=done)
    assert undo["marks"] == [GONE]
    (matter,) = matters_of(jaw.bench, jaw.code)
    assert (matter.id, matter.what) == (undo["id"], "undo")
    (told,) = record_of(jaw.bench, jaw.code).deviations
    assert told.words.startswith("undo: confirmed by a person who had left")
    close(jaw.bench, seat(jaw), jaw.code, undo["id"], "accepted")
    assert not matters_of(jaw.bench, jaw.code)[0].open


def test_a_sign_in_is_over(jaw: Worked) -> None:
    """After leaving, after the last day and after a new PIN, with the reason; by a badge also after that was struck."""
    bench, boss, me = jaw.bench, seat(jaw), jaw.person
    begun = jaw.signins[me]
    assert over(bench, me, begun) == ""
    by_badge, _ = badges.badge_in(bench, badges.give_badge(bench, boss, me), TABLET)
    assert (over(bench, me, begun), over(bench, me, by_badge)) == ("", "")
    badges.strike_badge(bench, boss, me)
    assert (over(bench, me, begun), over(bench, me, by_badge)) == ("", "badge-off")
    pin = staff.new_pin(bench, boss, me)
    assert (over(bench, me, begun), over(bench, me, by_badge)) == ("new-pin", "new-pin")
    anew, _ = sign_in(bench, me, pin, TABLET)
    assert over(bench, me, anew) == ""
    staff.change_person(bench, boss, me, TECHNICIAN, ["technician"], LAST)
    jaw.now[0] = midnight() - 1
    assert over(bench, me, anew) == ""
    jaw.now[0] = midnight()
    assert over(bench, me, anew) == "day"
    staff.let_go(bench, boss, me)
    assert over(bench, me, anew) == over(bench, me, "") == "left"


def test_what_is_no_sign_in_of_theirs_ends_nothing(jaw: Worked) -> None:
    """Without an id, with somebody else's, with an entry of another kind and for nobody nothing is said."""
    bench, me = jaw.bench, jaw.person
    staff.new_pin(bench, seat(jaw), me)
    others, _ = sign_in(bench, who(jaw, SUPERVISOR).id, "1357", TABLET)
    entry = bench.store.tagged("kind", "case")[0]
    for signin in ("", others, entry.event_id, "nothing", "'"):
        assert over(bench, me, signin) == "", signin
    things = [events.read_body(e.body)["event"]["data"]["thing"] for e in bench.store.tagged("kind", "device")]
    for nobody in ("", "nobody", things[0]):
        assert over(bench, nobody, others) == ""
    assert len(people(bench)) == 2 and json.loads(entry.body)["event"]["kind"] == "case"
