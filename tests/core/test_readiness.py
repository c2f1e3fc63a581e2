"""What stands in the way of a release, and what must be read first: one jaw, one matter at a time."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from benchapp.actions import marks, orders
from benchapp.actions.jaws import scrap
from benchapp.actions.records import given_of
from benchapp.core.readiness import SILENT_MS, Gap, Opening, Readiness, Sibling, pair_of, paired, readiness
from benchapp.core.release_words import GAPS, TICKS
from tests.actions.whole import ALLERGIC, LAB3, remade, seat, whole
from tests.actions.worked import CASE, MINUTE, START, Worked, eventful, worked

DAY = "2026-11-24"


def ready(jaw: Worked, siblings: tuple[Sibling, ...] = (), openings: tuple[Opening, ...] = ()) -> Readiness:
    """The readiness of the jaw as the journal stands, alone in its case."""
    return readiness(given_of(jaw.bench, jaw.code), siblings, openings, DAY)


def gaps(found: Readiness) -> dict[str, str]:
    """Kinds of gaps and what each asks."""
    return {gap.kind: gap.asks for gap in found.gaps}


def test_an_ordinary_jaw_is_ready(tmp_path: Path) -> None:
    """Worked through without an exception, with allergies asked about: no gap and nothing to read first."""
    with worked(tmp_path / "lab", case=CASE.replace('"none stated"', '"no"')) as jaw:
        jaw.run_to()
        found = ready(jaw)
    assert found.ready and found.gaps == () and found.ticks == ()
    assert found.checker == jaw.person


Act = Callable[[Worked], None]


def _held_at_the_end(jaw: Worked) -> None:
    jaw.run_to("pack-up")
    jaw.fact("hold", picks={"reason": "ask-the-clinic"})


def _scrapped(jaw: Worked) -> None:
    jaw.run_to("cool-down")
    jaw.sign_in("Зоя Ким", "1357")
    scrap(jaw.bench, jaw.code, jaw.person, "1357", "damaged")


def _cancelled(jaw: Worked) -> None:
    jaw.run_to()
    orders.cancel(jaw.bench, seat(jaw), jaw.opened.code, "the clinic withdrew it")


def _refused_entry(jaw: Worked) -> None:
    jaw.run_to("second-fit")
    jaw.say("seats-again", ["-"], 2)
    jaw.run_to()


def _late(jaw: Worked) -> None:
    jaw.run_to("tack-light")
    jaw.say("tacked", ["-"], 25, **jaw.extra("tack-light"))
    jaw.run_to()


def _late_with_a_reason(jaw: Worked) -> None:
    jaw.run_to("tack-light")
    late = jaw.say("tacked", ["-"], 25, **jaw.extra("tack-light"))["id"]
    jaw.fact("reason", 0.5, allow=late, outcome="more-to-fill")
    jaw.run_to()


def _closed_without_words(jaw: Worked) -> None:
    _late(jaw)
    (matter,) = marks.open_matters_of(jaw.bench, jaw.code)
    marks.close(jaw.bench, seat(jaw), jaw.code, matter.id, "accepted")


def _claimed(jaw: Worked) -> None:
    jaw.run_to("pack-up")
    jaw.signins.clear()
    jaw.run_to()


def _strange_part(jaw: Worked) -> None:
    jaw.main()
    jaw.say("parts-right", ["-"], picks={"base": "B000000000"})
    jaw.run_to()


@pytest.mark.parametrize(
    "act, kinds",
    [
        (lambda jaw: jaw.run_to("check-bite"), {"not-through": "mend"}),
        (_held_at_the_end, {"not-through": "mend", "held": "mend"}),
        (_scrapped, {"scrapped": "mend"}),
        (_cancelled, {"cancelled": "mend"}),
        (_refused_entry, {"open-marks": "mend"}),
        (_late, {"no-reason": "mend", "not-closed": "mend"}),
        (_late_with_a_reason, {"not-closed": "mend"}),
        (_closed_without_words, {"no-reason": "mend"}),
        (_claimed, {"claimed": "reason"}),
        (_strange_part, {"strange": "reason"}),
    ],
)  # fmt: skip
def test_each_gap_asks_for_what_it_takes(tmp_path: Path, act: Act, kinds: dict[str, str]) -> None:
    """One matter gives its gap and no other; only those that ask to be mended refuse the release."""
    with worked(tmp_path / "lab", lab=LAB3) as jaw:
        act(jaw)
        found = ready(jaw)
    assert gaps(found) == kinds
    assert found.ready == ("mend" not in kinds.values())
    assert all(gap.words.endswith(".") and gap.kind in GAPS for gap in found.gaps)


def test_a_deviation_closed_with_words_is_settled(tmp_path: Path) -> None:
    """The supervisor's own words stand for the reason that nobody tapped."""
    with worked(tmp_path / "lab", lab=LAB3) as jaw:
        _late(jaw)
        (matter,) = marks.open_matters_of(jaw.bench, jaw.code)
        marks.close(jaw.bench, seat(jaw), jaw.code, matter.id, "accepted", "filled longer, looked at")
        assert gaps(ready(jaw)) == {}


def test_an_expired_lot_waits_for_a_supervisor(tmp_path: Path) -> None:
    """A lay-out with a lot past its last day is marked by the PC, refused until closed, and then read."""
    with worked(tmp_path / "lab", lab=LAB3.replace("2031-06-30", "2026-11-23")) as jaw:
        jaw.run_to()
        before = ready(jaw)
        (matter,) = marks.open_matters_of(jaw.bench, jaw.code)
        marks.close(jaw.bench, seat(jaw), jaw.code, matter.id, "accepted", "one day over, looked at")
        after = ready(jaw)
    assert gaps(before) == {"not-closed": "mend"} and "not fit" in before.gaps[0].lines[0]
    assert after.ready and "server" in {tick.kind for tick in after.ticks}


def test_an_allergy_needs_a_decision(tmp_path: Path) -> None:
    """Stated and undecided, or decided against: refused; decided for: it must be read."""
    with worked(tmp_path / "lab", lab=LAB3, case=ALLERGIC) as jaw:
        open_ = ready(jaw)
        orders.decide(jaw.bench, seat(jaw), jaw.opened.code, "Dr. Ostrów", DAY, False)
        against = ready(jaw)
        orders.decide(jaw.bench, seat(jaw), jaw.opened.code, "Dr. Ostrów", DAY, True)
        jaw.run_to()
        settled = ready(jaw)
    assert gaps(open_)["allergy"] == "mend" and "allergy-against" not in gaps(open_)
    assert gaps(against)["allergy-against"] == "mend" and "allergy" not in gaps(against)
    assert settled.ready and "allergy" in {tick.kind for tick in settled.ticks}


def test_a_silent_tablet_asks_for_a_reason(tmp_path: Path) -> None:
    """Never heard after it opened the jaw, or silent for more than 12 h: a reason; exactly 12 h is not yet silent."""
    with worked(tmp_path / "lab", case=CASE.replace('"none stated"', '"no"')) as jaw:
        jaw.run_to()
        now = jaw.now[0]

        def told(opened: int, heard: int) -> tuple[Gap, ...]:
            return ready(jaw, openings=(Opening("T1", opened, heard),)).gaps

        assert told(now - 60_000, now) == ()
        assert told(now - 2 * SILENT_MS, now - SILENT_MS) == ()
        (silent,) = told(now - 2 * SILENT_MS, now - SILENT_MS - 1)
        (never,) = told(now - 60_000, now - 60_000)
        assert told(now - 60_000, 0)[0] == never
        (unsent,) = ready(jaw, openings=(Opening("T1", now - 60_000, now, 3),)).gaps
        assert unsent.asks == "reason" and "3 entries wait" in unsent.lines[0]
    assert silent.asks == never.asks == "reason"
    assert "silent for 12 h" in silent.lines[0] and "not heard since" in never.lines[0]


def test_what_was_not_ordinary_must_be_read(tmp_path: Path) -> None:
    """A jaw with one of each exception asks to read each sort once, with every matter of it in words."""
    with whole(tmp_path / "lab", release_too=False) as jaw:
        found = ready(jaw)
        late = readiness(given_of(jaw.bench, jaw.code), (), (), "2026-12-04")
    ticks = {tick.kind: tick for tick in found.ticks}
    assert set(ticks) == {
        "mark", "stated", "taken back", "hold", "again", "refused", "repair", "remade", "allergy", "carried over",
    }  # fmt: skip
    assert all(tick.title == TICKS[tick.kind] and tick.lines for tick in found.ticks)
    assert len(ticks["hold"].lines) == 2 and len(ticks["refused"].lines) == 2 and len(ticks["repair"].lines) == 2
    assert {tick.kind for tick in late.ticks} - set(ticks) == {"due"}


def test_mended_more_than_twice_is_told_apart(tmp_path: Path) -> None:
    """Two times mended at one place is ordinary work, the third is not."""
    with worked(tmp_path / "lab") as jaw:
        jaw.run_to("bubble-check", 0.2)
        for _ in range(2):
            jaw.say("bubble-left", ["m15b"], 0.1)
            jaw.run_to("fill-gaps", 0.1)
            jaw.run_to("bubble-check", 0.1)
        twice = {tick.kind for tick in ready(jaw).ticks}
        jaw.say("bubble-mended", ["m15b"], 0.1)
        thrice = {tick.kind for tick in ready(jaw).ticks}
    assert "repair" in twice and "mended" not in twice
    assert "mended" in thrice and "repair" not in thrice


def test_remade_parts_and_refused_gaps_name_their_place(tmp_path: Path) -> None:
    """A part made again must be read, and each refusing gap that can be mended says where."""
    with worked(tmp_path / "lab", lab=LAB3) as jaw:
        remade(jaw, seat(jaw))
        eventful(jaw)
        found = ready(jaw)
    assert "remade" in {tick.kind for tick in found.ticks}
    assert {gap.kind: gap.where for gap in found.gaps if gap.asks == "mend"} == {
        "open-marks": "marks", "not-closed": "deviations",
    }  # fmt: skip


UP, LOW = Sibling("1A", "upper", "through", START), Sibling("2A", "lower", "through", START + 5)


def test_the_pair_is_the_two_jaws_that_are_not_scrapped() -> None:
    """One jaw, or a scrapped one, has no pair; a jaw that was made again takes the place of the scrapped one."""
    again = Sibling("1B", "upper", "", START)
    scrapped = replace(UP, ended="scrap")
    assert pair_of((UP,)) is None and pair_of((scrapped, LOW)) is None
    assert pair_of((UP, LOW)) == (UP, LOW)
    assert pair_of((scrapped, LOW, again)) == (again, LOW)


def test_a_pair_check_counts_only_for_the_jaws_as_they_are() -> None:
    """A check from before the last entry of either jaw is none; the last one counts."""
    said = {"outcome": "right", "t": START + 5, "person": "p", "id": "e"}
    assert paired({"paired": said}, (UP, LOW)) == "right"
    assert paired({"paired": {**said, "t": START + 4}}, (UP, LOW)) == ""
    assert paired({"paired": None}, (UP, LOW)) == "" == paired({"paired": said}, (UP,))


@pytest.mark.parametrize(
    "outcome, kind, ticked",
    [("", "pair", False), ("not-right", "pair-not-right", False), ("not-mounted", "", True), ("right", "", False)],
)
def test_the_pair_check_lets_a_jaw_go_or_not(tmp_path: Path, outcome: str, kind: str, ticked: bool) -> None:
    """Missing or not right: refused at the case; not mounted: read first; right: nothing."""
    with worked(tmp_path / "lab", case=CASE.replace('"none stated"', '"no"')) as jaw:
        jaw.run_to()
        given = given_of(jaw.bench, jaw.code)
        mine = Sibling(jaw.code, "upper", "through", jaw.now[0])
        said = {"outcome": outcome, "t": jaw.now[0] + MINUTE, "person": "p", "id": "e"} if outcome else None
        found = readiness(replace(given, case={**given.case, "paired": said}), (mine, LOW), (), DAY)
    assert [(gap.kind, gap.asks, gap.where) for gap in found.gaps] == ([(kind, "mend", "case")] if kind else [])
    assert ("pair" in {tick.kind for tick in found.ticks}) == ticked
