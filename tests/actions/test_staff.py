"""People as a supervisor keeps them: what is granted, what is refused in words, and what never reaches the journal."""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from benchapp.actions import badges, staff
from benchapp.actions.bench import Refused, Unknown
from benchapp.actions.desk import NotYours, Seat
from benchapp.actions.facts import take_facts
from benchapp.actions.lab import Gone, Locked, Person, WrongPin, lab_of, people, sign_in, today, workers
from benchapp.actions.settings import Amiss, change, change_lab, setting, settings
from benchapp.actions.setup import Beginning, SetUp, set_up
from benchapp.core.codes import CodeError, spaced
from tests.actions.worked import TABLET, Worked, worked
from tests.web.clients import fact

DAY = 24 * 3_600_000
TECHNICIAN, SUPERVISOR = "Łukasz Wiśniewski", "Зоя Ким"


@pytest.fixture
def jaw(tmp_path: Path) -> Iterator[Worked]:
    """A lab with a technician and one supervisor."""
    with worked(tmp_path / "data") as found:
        yield found


def who(jaw: Worked, name: str) -> Person:
    """Return somebody by name, as they stand now."""
    return next(p for p in people(jaw.bench) if p.name == name)


def seat(jaw: Worked, name: str = SUPERVISOR) -> Seat:
    """Return a seat of somebody."""
    return Seat(who(jaw, name))


def newest(jaw: Worked, kind: str) -> dict[str, Any]:
    """Return the newest event of a kind."""
    event: dict[str, Any] = json.loads(jaw.bench.store.tagged("kind", kind)[-1].body)["event"]
    return event


def spilled(jaw: Worked, secret: str) -> bool:
    """Tell whether a secret stands in any entry or text of the store."""
    rows = [entry.body for entry in jaw.bench.store.entries()]
    file = jaw.bench.store.path
    raw = b"".join(f.read_bytes() for f in file.parent.glob(file.name + "*"))
    return secret.encode() in b"".join(rows) or secret.encode() in raw


def test_somebody_is_taken_on_with_a_drawn_pin(jaw: Worked) -> None:
    """The PIN opens the door; neither it nor the name stands in the journal; the event names who did it."""
    person, pin = staff.add_person(jaw.bench, seat(jaw), "  Ana  Noor ", ["technique-lead", "technician"])
    assert sign_in(jaw.bench, person, pin, TABLET)[1].name == "Ana Noor"
    event = newest(jaw, "person")
    assert event["by"]["person"] == who(jaw, SUPERVISOR).id
    assert event["data"]["roles"] == ["technician", "technique-lead"] and event["data"]["left"] == 0
    assert "Noor" not in json.dumps(event)
    given, same = staff.add_person(jaw.bench, seat(jaw), "Ada", ["technician"], "86420975")
    assert same == "86420975" and not spilled(jaw, same) and sign_in(jaw.bench, given, same, TABLET)


def test_bad_entries_are_refused_all_at_once(jaw: Worked) -> None:
    """A name that is here already, no role, a bad day and a bad PIN are four sentences, and nothing is stored."""
    before = jaw.bench.store.tip()
    with pytest.raises(Amiss) as error:
        staff.add_person(jaw.bench, seat(jaw), "зоя  КИМ", ["director"], "12a4", "2026-02-30")
    assert len(error.value.faults) == 4
    for until in ("2026-11-23", "26-11-30", "20261130", "tomorrow"):
        with pytest.raises(Amiss):
            staff.add_person(jaw.bench, seat(jaw), "Ana", ["technician"], "", until)
    assert jaw.bench.store.tip() == before


def test_only_a_supervisor_may(jaw: Worked) -> None:
    """A technician is refused by each verb in the same words, and nothing is stored."""
    at, me, before = seat(jaw, TECHNICIAN), who(jaw, TECHNICIAN).id, jaw.bench.store.tip()
    for verb in (
        lambda: staff.add_person(jaw.bench, at, "Ana", ["supervisor"]),
        lambda: staff.change_person(jaw.bench, at, me, TECHNICIAN, ["supervisor"], ""),
        lambda: staff.let_go(jaw.bench, at, me), lambda: staff.come_back(jaw.bench, at, me),
        lambda: staff.new_pin(jaw.bench, at, me), lambda: badges.give_badge(jaw.bench, at, me),
        lambda: badges.strike_badge(jaw.bench, at, me), lambda: change(jaw.bench, at, "numbers", "universal"),
        lambda: change_lab(jaw.bench, at, "Other", "Other", "UTC"),
    ):  # fmt: skip
        with pytest.raises(NotYours):
            verb()
    assert jaw.bench.store.tip() == before


def test_a_leaver_stays_on_records_and_not_at_the_door(jaw: Worked) -> None:
    """After leaving neither PIN nor badge opens, the tile is gone, the name stays; twice is refused; it goes back."""
    bench, me = jaw.bench, who(jaw, TECHNICIAN).id
    code = badges.give_badge(bench, seat(jaw), me)
    staff.let_go(bench, seat(jaw), me)
    assert [p.name for p in workers(bench)] == [SUPERVISOR] and who(jaw, TECHNICIAN).left
    with pytest.raises(Gone, match="has left"):
        sign_in(bench, me, "2468", TABLET)
    with pytest.raises(Gone, match="has left"):
        badges.badge_in(bench, code, TABLET)
    with pytest.raises(Refused, match="already"):
        staff.let_go(bench, seat(jaw), me)
    for verb in (staff.new_pin, badges.give_badge):
        with pytest.raises(Gone):
            verb(bench, seat(jaw), me)
    staff.come_back(bench, seat(jaw), me)
    assert badges.badge_in(bench, code, TABLET)[1].name == TECHNICIAN
    with pytest.raises(Refused, match="already"):
        staff.come_back(bench, seat(jaw), me)


def test_a_temp_works_on_the_last_day_and_not_after_it(jaw: Worked) -> None:
    """The day ends with the lab's midnight, an hour before UTC's here; another last day opens the door again."""
    bench = jaw.bench
    person, pin = staff.add_person(bench, seat(jaw), "Temp", ["technician"], until=today(bench).isoformat())
    midnight = jaw.now[0] - jaw.now[0] % DAY + DAY - 3_600_000  # Warsaw in November is UTC+1
    jaw.now[0] = midnight - 1
    assert sign_in(bench, person, pin, TABLET)[1].until == "2026-11-24"
    jaw.now[0] = midnight
    with pytest.raises(Gone, match="last day was 2026-11-24"):
        sign_in(bench, person, pin, TABLET)
    assert "Temp" not in {p.name for p in workers(bench)} and "Temp" in {p.name for p in people(bench)}
    staff.change_person(bench, seat(jaw), person, "Temporary", ["technician"], "2026-11-24")  # renamed: the day stands
    assert staff.change_person(bench, seat(jaw), person, "Temporary", ["technician"], "2026-11-25")
    assert sign_in(bench, person, pin, TABLET)[1].name == "Temporary"


def test_the_last_supervisor_stays_one(jaw: Worked) -> None:
    """They cannot leave, lose the role or become a temp; a temp supervisor is no replacement, a lasting one is."""
    bench, boss = jaw.bench, who(jaw, SUPERVISOR).id
    staff.add_person(bench, seat(jaw), "Temp", ["supervisor"], until="2027-01-31")
    before = bench.store.tip()
    for verb in (
        lambda: staff.let_go(bench, seat(jaw), boss),
        lambda: staff.change_person(bench, seat(jaw), boss, SUPERVISOR, ["technician"], ""),
        lambda: staff.change_person(bench, seat(jaw), boss, SUPERVISOR, ["supervisor"], "2027-01-31"),
    ):
        with pytest.raises(Refused, match="no other supervisor"):
            verb()
    assert bench.store.tip() == before
    staff.add_person(bench, seat(jaw), "Ana", ["supervisor"])
    staff.let_go(bench, seat(jaw), boss)
    with pytest.raises(Refused, match="no other supervisor"):
        staff.let_go(bench, seat(jaw, "Ana"), who(jaw, "Ana").id)


def test_a_change_of_name_and_roles(jaw: Worked) -> None:
    """Name and roles change at once; an equal form stores nothing; another's name and nobody are refused."""
    bench, me = jaw.bench, who(jaw, TECHNICIAN).id
    assert not staff.change_person(bench, seat(jaw), me, TECHNICIAN, ["technician"], "")
    with pytest.raises(Amiss):
        staff.change_person(bench, seat(jaw), me, SUPERVISOR, ["technician"], "")
    assert staff.change_person(bench, seat(jaw), me, "Łukasz Nowak", ["supervisor", "technician"], "")
    assert who(jaw, "Łukasz Nowak").roles == ("technician", "supervisor")
    with pytest.raises(Unknown):
        staff.change_person(bench, seat(jaw), "nobody", "X", ["technician"], "")


def test_a_badge_leaves_the_roles_as_they_are(jaw: Worked) -> None:
    """Facts of a supervisor who was given a badge still carry the role: a sign-in by badge is no mark."""
    bench, boss = jaw.bench, who(jaw, SUPERVISOR).id
    signin, _ = badges.badge_in(bench, badges.give_badge(bench, seat(jaw), boss), TABLET)
    sent = fact(jaw, by={"person": boss, "how": "badge", "signin": signin})
    (ack,) = take_facts(bench, TABLET, json.dumps([sent]).encode()).acks
    assert (ack["roles"], ack["marks"]) == (["technician", "supervisor"], [])


def test_a_new_pin_ends_a_pause(jaw: Worked) -> None:
    """After five wrong PINs the person is locked; a new PIN opens at once, the old one does not."""
    bench, me = jaw.bench, who(jaw, TECHNICIAN).id
    for _ in range(5):
        with pytest.raises(WrongPin):
            sign_in(bench, me, "0000", TABLET)
    assert staff.member(bench, me).locked == jaw.now[0] + 5 * 60_000
    pin = staff.new_pin(bench, seat(jaw), me)
    assert staff.member(bench, me).locked == 0
    assert sign_in(bench, me, pin, TABLET)[1].id == me
    if pin != "2468":
        with pytest.raises(WrongPin):
            sign_in(bench, me, "2468", TABLET)
    assert newest(jaw, "person")["data"]["pin"] == "new"


def test_a_badge_is_a_secret(jaw: Worked) -> None:
    """The code opens as printed, in small letters, with Y and Z exchanged; no byte of the folder holds it."""
    bench, me = jaw.bench, who(jaw, TECHNICIAN).id
    code = badges.give_badge(bench, seat(jaw), me)
    assert code[0] == "P" and not spilled(jaw, code) and not spilled(jaw, spaced(code))
    for typed in (code, spaced(code).lower(), code.translate(str.maketrans("YZ", "ZY"))):
        signin, person = badges.badge_in(bench, typed, TABLET)
        assert person.id == me
    entry = bench.store.find(signin)
    assert entry is not None
    event = json.loads(entry.body)["event"]
    assert (event["kind"], event["by"]["how"], event["from"]["tablet"]) == ("signin", "badge", TABLET)
    assert newest(jaw, "badge")["data"]["given"] == 1


def test_a_replaced_or_struck_badge_opens_nothing(jaw: Worked) -> None:
    """A second badge puts the first out of use; struck off, none opens; striking twice is refused."""
    bench, me = jaw.bench, who(jaw, TECHNICIAN).id
    first = badges.give_badge(bench, seat(jaw), me)
    second = badges.give_badge(bench, seat(jaw), me)
    with pytest.raises(badges.WrongBadge, match="struck off"):
        badges.badge_in(bench, first, TABLET)
    assert badges.badge_in(bench, second, TABLET)[1].id == me
    badges.strike_badge(bench, seat(jaw), me)
    assert newest(jaw, "badge")["data"]["given"] == 0 and not staff.member(bench, me).badge
    with pytest.raises(badges.WrongBadge):
        badges.badge_in(bench, second, TABLET)
    with pytest.raises(Refused, match="no badge"):
        badges.strike_badge(bench, seat(jaw), me)


def test_five_wrong_badges_lock_the_tablet_for_badges(jaw: Worked) -> None:
    """The fifth is recorded with its tablet; other tablets and PINs still open; after five minutes this one too."""
    bench, me = jaw.bench, who(jaw, TECHNICIAN).id
    right = badges.give_badge(bench, seat(jaw), me)
    wrong = bench.code("P")
    said = []
    for _ in range(5):
        with pytest.raises(badges.WrongBadge) as error:
            badges.badge_in(bench, wrong, TABLET)
        said.append(str(error.value))
    assert "4 more tries" in said[0] and "pause of 5 minutes" in said[4]
    with pytest.raises(Locked, match="5 min"):
        badges.badge_in(bench, right, TABLET)
    event = newest(jaw, "locked")
    assert (event["from"]["tablet"], event["by"]["how"]) == (TABLET, "badge") and not spilled(jaw, wrong)
    assert badges.badge_in(bench, right, "tablet-2")[1].id == sign_in(bench, me, "2468", TABLET)[1].id
    jaw.now[0] += 5 * 60_000
    assert badges.badge_in(bench, right, TABLET)[1].id == me
    assert bench.store.tries(TABLET).wrong == 0


def test_what_is_no_badge_is_said_and_not_counted(jaw: Worked) -> None:
    """The code of a jaw, of nothing, and a slip in a code get a sentence; they are no tries."""
    for text in (jaw.code, "P12", "", "P" + "0" * 9, "?" * 10):
        with pytest.raises(CodeError):
            badges.badge_in(jaw.bench, text, TABLET)
    assert jaw.bench.store.tries(TABLET).wrong == 0


def test_the_list_says_since_when_and_when_last(jaw: Worked) -> None:
    """Since the first entry of a person, whatever came later; the last sign-in is the newest, also after a reading."""
    bench, me = jaw.bench, who(jaw, TECHNICIAN).id
    assert staff.member(bench, me).seen == jaw.now[0]
    begun = staff.member(bench, me).since
    jaw.now[0] += DAY
    staff.change_person(bench, seat(jaw), me, "Łukasz Nowak", ["technician"], "")
    sign_in(bench, me, "2468", TABLET)
    found = staff.member(bench, me)
    assert (found.since, found.seen) == (begun, jaw.now[0])
    assert staff.member(bench, who(jaw, SUPERVISOR).id).seen == 0


def test_settings_are_changed_once(jaw: Worked) -> None:
    """A change names who made it; an equal one, an unknown name and a bad value store nothing."""
    bench = jaw.bench
    assert setting(bench, "idle_lock") == "10"
    assert change(bench, seat(jaw), "idle_lock", "0") and setting(bench, "idle_lock") == "0"
    stand = next(s for s in settings(bench) if s.setting.name == "idle_lock")
    assert (stand.by, stand.since) == (who(jaw, SUPERVISOR).id, jaw.now[0])
    assert newest(jaw, "setting")["data"] == {"name": "idle_lock", "value": "0"}
    before = bench.store.tip()
    assert not change(bench, seat(jaw), "idle_lock", "0")
    for name, value in (("idle_lock", "soon"), ("colour", "blue"), ("numbers", "")):
        with pytest.raises(Amiss):
            change(bench, seat(jaw), name, value)
    assert bench.store.tip() == before
    with pytest.raises(KeyError):
        setting(bench, "colour")


def test_a_value_that_this_version_does_not_know_counts_as_the_default(jaw: Worked) -> None:
    """No rule ever stands on a value that is not allowed, even one that another version wrote."""
    with jaw.bench.store.writing() as writer:
        for name, value in (("numbers", "roman"), ("someday", "1")):
            jaw.bench.request(writer, "setting", data={"name": name, "value": value})
    assert setting(jaw.bench, "numbers") == "fdi"


def test_the_laboratory_is_corrected(jaw: Worked) -> None:
    """Name, address and zone change together; an equal form stores nothing; a strange zone and no name are refused."""
    bench = jaw.bench
    assert change_lab(bench, seat(jaw), " Other  lab ", "Quay 1", "America/Lima")
    lab = lab_of(bench)
    assert (lab.name, lab.address, lab.zone) == ("Other lab", "Quay 1", "America/Lima")
    assert not change_lab(bench, seat(jaw), "Other lab", "Quay 1", "America/Lima")
    with pytest.raises(Amiss) as error:
        change_lab(bench, seat(jaw), "", "x" * 81, "Mars/Olympus")
    assert len(error.value.faults) == 3 and lab_of(bench) == lab


def test_set_up_is_refused_where_somebody_works(jaw: Worked) -> None:
    """A lab with people is never set up again, whatever the form says, and nothing is stored."""
    before = jaw.bench.store.tip()
    with pytest.raises(SetUp):
        set_up(jaw.bench, Beginning("Lab", "Street", "UTC", "Ana", "1234", "1234"))
    assert jaw.bench.store.tip() == before
