"""Lots and devices: which day is the last one, what is unfit, what does not go together.

No published rule is known for these (common practice, no source); days are checked against the standard library.
"""

from datetime import UTC, date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.core.faults import FileFaults
from benchapp.core.sheet import read_lab
from benchapp.core.stock import Thing, begins, changes, clash, day_of, later, read_thing, standing, unfit

ZONES = ("Europe/Madrid", "America/Sao_Paulo", "Africa/Cairo", "Pacific/Apia", "Asia/Kathmandu", "America/New_York")
ROSE = {"tint": "rose 2"}


def lot(**what: Any) -> Thing:
    """A lot of bonding resin."""
    return Thing(**{"code": "S1", "of": "material", "kind": "bonding-resin", "name": "Resin", "lot": "L1",
                    "expiry": "2031-06-30", **what})


def lamp(**what: Any) -> Thing:
    """A lamp."""
    return Thing(**{"code": "D1", "of": "device", "kind": "lamp", "name": "Lamp", **what})


@pytest.mark.parametrize(("day", "good"), [("2031-06-29", True), ("2031-06-30", True), ("2031-07-01", False)])
def test_the_last_day_of_use_is_still_good(day: str, good: bool) -> None:
    """A lot may be used on its last day, and not on the day after."""
    assert (unfit(lot(), date.fromisoformat(day), {}) == []) is good


@given(st.dates(date(2000, 1, 1), date(2199, 1, 1)), st.integers(1, 3660), st.integers(-3, 3))
def test_days_after_opening_do_not_count_the_day_of_opening(opened: date, keeps: int, off: int) -> None:
    """Opened on a day and keeping n days, a lot is good n days later and no longer one day after that."""
    thing = lot(opened=opened.isoformat(), after_opening=keeps, expiry="2999-12-31")
    assert bool(unfit(thing, opened + timedelta(days=keeps + off), {})) is (off > 0)


def test_days_after_opening_by_hand() -> None:
    """Opened on 31 January and keeping 30 days, it is good to 2 March of a plain year (counted on a calendar)."""
    (why,) = unfit(lot(opened="2027-01-31", after_opening=30), date(2027, 3, 3), {})
    assert why == "Kept longer than 30 days after opening on 2027-01-31: good until 2027-03-02."
    assert unfit(lot(opened="2027-01-31", after_opening=30), date(2027, 3, 2), {}) == []
    assert unfit(lot(opened="2027-01-31"), date(2031, 1, 1), {}) == []  # how long it keeps is not said
    assert unfit(lot(after_opening=1), date(2031, 1, 1), {}) == []  # closed


def test_a_check_is_good_on_the_day_it_is_due() -> None:
    """A device may be used on the day its check is due, not after; without a date nothing is claimed."""
    due = lamp(due="2027-05-04")
    assert unfit(due, date(2027, 5, 4), {}) == []
    assert unfit(due, date(2027, 5, 5), {}) == ["Past its check date: a check was due on 2027-05-04."]
    assert unfit(lamp(), date(2999, 1, 1), {}) == []


def test_every_reason_is_named() -> None:
    """A lot that is blocked, spent, expired and of another tint says all four."""
    thing = lot(blocked=1, reason="recalled by its maker", spent=1, expiry="2026-01-31", tint="rose 3")
    assert unfit(thing, date(2026, 2, 1), ROSE) == [
        "Blocked: recalled by its maker.", "Spent: nothing of this lot is left.",
        "Expired on 2026-01-31, its last day of use.", "Its tint is rose 3; the base's tint is rose 2.",
    ]


@pytest.mark.parametrize(("thing", "case", "said"), [
    (lot(tint="rose 3"), ROSE, True), (lot(tint=" Rose  2 "), ROSE, False), (lot(), ROSE, False),
    (lot(tint="rose 3"), {}, False), (lot(tint="rose 3"), {"tint": ""}, False),
    (lot(tint="rose 3", kind="stain"), ROSE, False),
])
def test_only_a_bonding_resin_must_have_the_bases_tint(thing: Thing, case: dict[str, str], said: bool) -> None:
    """Where both tints are known and differ it is said; blanks and capitals make no difference."""
    assert bool(unfit(thing, date(2027, 1, 1), case)) is said


@given(st.integers(200, 1099), st.integers(0, 99), st.integers(200, 1099), st.integers(0, 99))
def test_bands_clash_only_when_no_nanometre_is_shared(a: int, wide_a: int, b: int, wide_b: int) -> None:
    """The two bands as sets of whole nanometres (Python's own sets) share one, or a clash is said."""
    one, two = lot(band=(a, a + wide_a)), lamp(band=(b, b + wide_b))
    shared = set(range(a, a + wide_a + 1)) & set(range(b, b + wide_b + 1))
    assert (clash(one, two) == "") is bool(shared)


def test_an_unknown_band_claims_nothing() -> None:
    """A lamp or a resin whose band is not known clashes with nothing; a clash names both with their light."""
    assert clash(lot(), lamp(band=(450, 470))) == clash(lot(band=(385, 410)), lamp()) == ""
    words = clash(lot(band=(385, 410)), lamp(band=(450, 470)))
    assert words == "Lamp gives 450 to 470 nm; Resin cures at 385 to 410 nm. The light would not cure it."


@given(st.sampled_from(ZONES), st.dates(date(2000, 1, 1), date(2037, 1, 1)))
def test_a_day_begins_where_the_standard_library_says(zone: str, day: date) -> None:
    """The moment before a day's beginning lies on the day before, the moment itself on that day, in each zone."""
    where = ZoneInfo(zone)
    start = begins(day, where)

    def of(ms: int) -> date:
        return datetime.fromtimestamp(ms / 1000, UTC).astimezone(where).date()

    if day != date(2011, 12, 30) or zone != "Pacific/Apia":  # a day that Apia left out
        assert of(start) == day_of(start, where) == day
    assert of(start - 1) == day_of(start - 1, where) < day


def test_what_comes_later_is_known_beforehand() -> None:
    """On its last day a lot is fit, and says from which moment (midnight in the lab's zone) and why it is not."""
    zone = ZoneInfo("Europe/Madrid")
    midnight = round(datetime(2031, 6, 30, 22, tzinfo=UTC).timestamp() * 1000)  # 1 July, 00:00 in summer time
    assert later(lot(), date(2031, 6, 30), zone) == [(midnight, "Expired on 2031-06-30, its last day of use.")]
    assert later(lot(), date(2031, 7, 1), zone) == []
    assert later(lot(expiry="9999-12-31"), date(2031, 7, 1), zone) == []
    both = lot(opened="2031-06-01", after_opening=10)
    assert [why[:4] for _, why in later(both, date(2031, 6, 2), zone)] == ["Kept", "Expi"]


@given(st.integers(0, 2**53))
def test_every_moment_has_a_day(ms: int) -> None:
    """No moment that an event can name breaks the calendar."""
    assert day_of(ms, ZoneInfo("Pacific/Kiritimati")) <= date.max


@pytest.mark.parametrize(("thing", "day", "words"), [
    (lot(), "2031-05-01", ["fit"]), (lot(), "2031-05-31", ["expires in 30 days"]),
    (lot(), "2031-06-29", ["expires in 1 day"]), (lot(), "2031-06-30", ["last day is today"]),
    (lot(), "2031-07-01", ["expired"]), (lot(spent=1), "2031-07-01", ["spent"]),
    (lot(blocked=1, opened="2031-06-28", after_opening=2), "2031-06-29", ["blocked", "expires in 1 day",
                                                                          "opened, good for 1 day more"]),
    (lamp(due="2027-01-10"), "2027-01-03", ["check due in 7 days"]), (lamp(due="2027-01-10"), "2027-01-11",
                                                                     ["check overdue"]),
    (lamp(), "2027-01-11", ["fit"]),
])
def test_how_a_thing_stands_in_lists(thing: Thing, day: str, words: list[str]) -> None:
    """A list says fit, what comes within 30 days, or what is over, the worst first."""
    assert [said for _, said in standing(thing, date.fromisoformat(day))] == words


@given(st.builds(lot, blocked=st.integers(0, 1), spent=st.integers(0, 1), opened=st.sampled_from(["", "2031-06-01"]),
                 after_opening=st.integers(0, 40)), st.dates(date(2031, 5, 1), date(2031, 8, 1)))
def test_lists_and_stops_agree(thing: Thing, day: date) -> None:
    """A thing is unfit exactly when its list says something worse than "soon"."""
    worst = {grade for grade, _ in standing(thing, day)}
    assert bool(unfit(thing, day, {})) is bool(worst & {"stop", "gone"})


def test_an_entry_of_before_is_read_with_defaults() -> None:
    """Data as the first version wrote it, of a device and of a lot, is a thing that is fit."""
    first = {"thing": "D1", "kind": "lamp", "texts": {"name": "t1"}}
    assert read_thing("device", first, {"t1": "Lamp"}) == lamp()
    old = {"thing": "S1", "kind": "bonding-resin", "lot": "L1", "expiry": "2031-06-30", "tint": "",
           "texts": {"name": "x"}}
    assert read_thing("material", old, {}) == lot(name="(erased)")


def test_changes_are_told_in_words() -> None:
    """What an entry changed is said, one thing after the other; the first one added it."""
    assert changes(None, lot()) == ["added"]
    after = lot(expiry="2031-05-31", opened="2031-01-02", blocked=1, reason="leaks", band=(385, 410), spent=1)
    assert changes(lot(), after) == [
        "last day of use: 2031-06-30 → 2031-05-31", "band: band not known → 385 to 410 nm", "opened on 2031-01-02",
        "blocked: leaks", "spent",
    ]
    assert changes(after, lot(expiry="2031-05-31", band=(385, 410)))[-2:] == ["unblocked", "not spent after all"]
    assert changes(lamp(), lamp(checked="2027-01-02", due="2028-01-02")) == [
        "checked on 2027-01-02", "next check due on 2028-01-02"]


LAB = """
format = 1
name = "Lab"
address = "Street"
zone = "Europe/Madrid"
[[devices]]
name = "Lamp"
kind = "lamp"
band = [385, 405]
checked = 2026-01-01
due = 2027-01-01
[[materials]]
name = "Resin"
kind = "bonding-resin"
lot = "L1"
expiry = 2031-06-30
opened = 2026-02-03
after_opening = 90
shade = "light"
blocked = "recalled"
"""


def test_a_lab_sheet_says_all_of_it() -> None:
    """The optional keys of a lab sheet are read."""
    sheet = read_lab("lab.toml", LAB)
    assert (sheet.devices[0].band, sheet.devices[0].due) == ([385, 405], date(2027, 1, 1))
    assert (sheet.materials[0].after_opening, sheet.materials[0].blocked) == (90, "recalled")


@pytest.mark.parametrize(("right", "wrong", "where"), [
    ("band = [385, 405]", "band = [405, 385]", "devices[Lamp].band"),
    ("band = [385, 405]", "band = [385]", "devices[Lamp].band"),
    ("band = [385, 405]", "band = [38, 405]", "devices[Lamp].band"),
    ("due = 2027-01-01", "due = 2025-01-01", "devices[Lamp]"),
    ("due = 2027-01-01", "due = 2027-01-01T10:00:00", "devices[Lamp].due"),
    ("expiry = 2031-06-30", "expiry = 9999-12-31", "materials[Resin].expiry"),
    ("after_opening = 90", "after_opening = -1", "materials[Resin].after_opening"),
])
def test_a_wrong_key_of_a_lab_sheet_is_named(right: str, wrong: str, where: str) -> None:
    """Each fault says where it is."""
    with pytest.raises(FileFaults) as told:
        read_lab("lab.toml", LAB.replace(right, wrong))
    assert [fault.where for fault in told.value.faults] == [where]
