"""Release, pair check, and what comes after: granted or refused in words, and a refusal changes nothing."""

import json
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from benchapp.actions.bench import Refused
from benchapp.actions.cases import add_case
from benchapp.actions.desk import NotYours
from benchapp.actions.jaws import line, scrap
from benchapp.actions.lab import WrongPin
from benchapp.actions.orders import Correction, correct
from benchapp.actions.pairs import check_pair, pair
from benchapp.actions.records import record_of
from benchapp.actions.release import LONGEST, NotYet, Reading, amend, asked, came_back, release, sent
from benchapp.actions.remake import why_not
from benchapp.actions.settings import change
from benchapp.core.readiness import SILENT_MS
from benchapp.core.release_words import MEANINGS
from benchapp.core.sheet import read_sheet
from tests.actions.whole import LAB3, THIRD, let_go, reading, seat, settle, whole
from tests.actions.worked import CASE, PROTOCOL, TABLET, UPPER, Worked, worked

ASKED = CASE.replace('allergy = "none stated"', 'allergy = "no"')
SECOND = """
[[jaws]]
jaw = "lower"
teeth = [46, 45, 44, 43, 42, 41, 31, 32, 33, 34, 35, 36]
parts = [
  { part = "base", revision = "B", print_job = "P-128" },
  { part = "arch", revision = "B", print_job = "P-129" },
]
"""
ZOYA = ("Зоя Ким", "1357")


@contextmanager
def through(place: Path, **how: Any) -> Iterator[Worked]:
    """A jaw that was worked through without an exception by the technician."""
    with worked(place, case=ASKED, lab=LAB3, **how) as jaw:
        jaw.run_to()
        yield jaw


@contextmanager
def two_jaws(place: Path) -> Iterator[tuple[Worked, Worked]]:
    """Both jaws of a case worked through; the two share bench and clock."""
    with worked(place, lab=LAB3) as jaw:
        text = ASKED.format(training="false", jaw="upper", teeth=UPPER).replace("T-2026-0017", "T-2") + SECOND
        opened = add_case(jaw.bench, read_sheet("case.toml", text), PROTOCOL)
        upper = replace(jaw, opened=opened)
        lower = replace(jaw, opened=replace(opened, jaws=opened.jaws[::-1]), sent=500)
        upper.run_to()
        lower.run_to()
        yield upper, lower


def tip(jaw: Worked) -> int:
    """Number of the journal's last entry."""
    return jaw.bench.store.tip().seq


def test_a_supervisor_releases(tmp_path: Path) -> None:
    """The event holds meaning, what was read and the checkpoint before it; the record prints name, time, meaning."""
    with through(tmp_path / "lab") as jaw:
        before = jaw.bench.store.tip()
        let_go(jaw)
        (body,) = [b for b in line(jaw.bench, jaw.code).after if b["event"]["kind"] == "release"]
        found = record_of(jaw.bench, jaw.code).after.release
    data = body["event"]["data"]
    assert (data["seq"], data["hash"]) == (before.seq, before.hash)
    assert data["meaning"] in MEANINGS and data["own"] == 0 and data["passed"] == []
    assert found is not None and found.stands
    assert (found.who, found.meaning) == (THIRD[0], MEANINGS[data["meaning"]])
    assert found.at.startswith("2026-11-24T") and found.at.endswith("+01:00")
    assert "no medical release" in found.meaning and "nor a statement of conformity" in found.meaning


def test_only_a_supervisor_releases(tmp_path: Path) -> None:
    """A technician with the right PIN is turned away, and nothing is stored."""
    with through(tmp_path / "lab") as jaw:
        before = tip(jaw)
        with pytest.raises(NotYours):
            let_go(jaw, "Łukasz Wiśniewski", "2468")
        assert tip(jaw) == before


def test_a_wrong_pin_releases_nothing(tmp_path: Path) -> None:
    """The PIN is asked again: a wrong one is counted and refused; the PIN is not tried while anything else is wrong."""
    with through(tmp_path / "lab") as jaw:
        who = seat(jaw)
        with pytest.raises(NotYet):
            release(jaw.bench, who, "0000", {jaw.code: Reading(0)})
        assert jaw.bench.store.tries(who.person.id).wrong == 0
        with pytest.raises(WrongPin):
            let_go(jaw, pin="0000")
        assert jaw.bench.store.tries(who.person.id).wrong == 1
        assert record_of(jaw.bench, jaw.code).after.release is None


def test_a_jaw_is_released_once(tmp_path: Path) -> None:
    """A second release is refused in words and changes nothing."""
    with through(tmp_path / "lab") as jaw:
        let_go(jaw)
        before = tip(jaw)
        with pytest.raises(NotYet, match="released already"):
            let_go(jaw)
        assert tip(jaw) == before


def test_a_jaw_that_is_not_through_stays(tmp_path: Path) -> None:
    """Before its last step a jaw is refused, whatever is ticked."""
    with worked(tmp_path / "lab", case=ASKED, lab=LAB3) as jaw:
        jaw.run_to("pack-up")
        with pytest.raises(NotYet, match="Not all steps are confirmed"):
            let_go(jaw)


def test_every_tick_must_be_read(tmp_path: Path) -> None:
    """Each sort that is left out is named; with all of them, and a reason for a claimed person, the jaw goes."""
    with whole(tmp_path / "lab", release_too=False) as jaw:
        who = seat(jaw)
        full = reading(jaw, who)
        assert "claimed" in full.reasons and len(full.read) == 10
        with pytest.raises(NotYet, match="claimed"):
            release(jaw.bench, who, THIRD[1], {jaw.code: replace(full, reasons={})})
        for left in sorted(full.read):
            with pytest.raises(NotYet) as refusal:
                release(jaw.bench, who, THIRD[1], {jaw.code: replace(full, read=full.read - {left})})
            assert len(refusal.value.faults) == 1 and "Tick that you have read this" in refusal.value.faults[0]
        release(jaw.bench, who, THIRD[1], {jaw.code: full})
        found = record_of(jaw.bench, jaw.code).after.release
    assert found is not None and len(found.read) == 10
    assert [one.what for one in found.passed] == ["persons who were only claimed, without a PIN"]


def test_what_came_since_must_be_read_too(tmp_path: Path) -> None:
    """An entry that was stored after the page was shown sends the supervisor back to reading."""
    with through(tmp_path / "lab") as jaw:
        who = seat(jaw)
        old = reading(jaw, who)
        jaw.fact("opened")
        with pytest.raises(NotYet, match="since you read the page"):
            release(jaw.bench, who, THIRD[1], {jaw.code: replace(reading(jaw, who), seen=old.seen)})


def test_who_checked_last_does_not_release(tmp_path: Path) -> None:
    """The person of the last final check is refused, also when somebody else packed; another supervisor may."""
    with worked(tmp_path / "lab", case=ASKED, lab=LAB3) as jaw:
        jaw.run_to("check-bite")
        jaw.sign_in(*ZOYA)
        jaw.main()
        jaw.sign_in("Łukasz Wiśniewski", "2468")
        jaw.run_to()
        with pytest.raises(NotYet, match="Зоя Ким did the last final check"):
            let_go(jaw, *ZOYA)
        let_go(jaw)


def test_a_setting_lets_the_same_person_release(tmp_path: Path) -> None:
    """With own_release the same person may, and the record says that it was so."""
    with worked(tmp_path / "lab", case=ASKED, lab=LAB3) as jaw:
        jaw.sign_in(*ZOYA)
        jaw.run_to()
        change(jaw.bench, seat(jaw), "own_release", "1")
        let_go(jaw, *ZOYA)
        found = record_of(jaw.bench, jaw.code).after.release
    assert found is not None and found.own and "same person" in found.own_words()


def test_a_tablet_that_may_hold_more_takes_a_reason(tmp_path: Path) -> None:
    """A silent tablet is passed over with a reason only; an empty, blank or endless one is refused."""
    with through(tmp_path / "lab") as jaw:
        jaw.fact("opened")
        jaw.now[0] += SILENT_MS
        who = seat(jaw)
        full = reading(jaw, who, reason="it lies here, its outbox is empty")
        assert set(full.reasons) == {"silent"}
        for words in ("", "  ", "x" * (LONGEST + 1), "a\x00b"):
            with pytest.raises(NotYet, match="Why this may be passed over"):
                release(jaw.bench, who, THIRD[1], {jaw.code: replace(full, reasons={"silent": words})})
        release(jaw.bench, who, THIRD[1], {jaw.code: full})
        found = record_of(jaw.bench, jaw.code).after.release
        stored = [b for b in line(jaw.bench, jaw.code).after if b["event"]["kind"] == "release"]
    assert found is not None
    assert [(one.what, one.reason) for one in found.passed] == [
        ("a tablet that may still hold entries", "it lies here, its outbox is empty")
    ]
    assert "outbox" not in str(stored)  # free words lie in texts, not in the event


def test_a_tablet_that_was_heard_again_asks_for_nothing(tmp_path: Path) -> None:
    """An entry of the same tablet after it opened the jaw shows that it speaks to the PC."""
    with worked(tmp_path / "lab", case=ASKED, lab=LAB3) as jaw:
        jaw.fact("opened")
        jaw.run_to()
        assert jaw.bench.store.last_tagged("tablet", TABLET) is not None
        assert asked(jaw.bench, seat(jaw), jaw.code).readiness.gaps == ()


def test_a_tap_taken_back_after_the_release_ends_it(tmp_path: Path) -> None:
    """A fact is never refused: a late taking back reopens the jaw, the release stands no longer, a new one may come."""
    with through(tmp_path / "lab") as jaw:
        let_go(jaw)
        last = jaw.line.state["log"][-1]["id"]
        jaw.fact("undo", undo=last)
        found = record_of(jaw.bench, jaw.code)
        assert found.after.release is None and len(found.after.earlier) == 1
        assert found.standing.state == "not finished" and "covers it no longer" in found.standing.words
        jaw.run_to()
        let_go(jaw)
        assert record_of(jaw.bench, jaw.code).standing.state == "released"


def test_a_release_that_stands_no_longer_stops_nothing(tmp_path: Path) -> None:
    """While it stands no order is corrected and no pair checked; once its last tap is taken back, both go again."""
    with two_jaws(tmp_path / "lab") as (_, lower):
        bench, code, who = lower.bench, lower.opened.code, seat(lower)
        check_pair(bench, who, code, "right")
        let_go(lower)
        change_of = Correction({"shade": "light 4"}, {}, {})
        with pytest.raises(Refused, match="is released"):
            correct(bench, who, code, change_of)
        assert lower.line.release is not None and "released" in why_not(lower.line)[1]
        late = lower.fact("confirm", step="intake", outcome="order-accepted", places=["-"])  # not taken: it is through
        assert ["ended", "refused"] in late["marks"] and lower.line.release is not None
        lower.fact("undo", undo=lower.line.state["log"][-1]["id"])
        assert lower.line.release is None and "released" not in why_not(lower.line)[1]
        assert correct(bench, who, code, change_of)
        lower.run_to()
        settle(lower, who)
        with pytest.raises(NotYet, match="pair check is missing"):
            let_go(lower)
        with pytest.raises(NotYet, match="stands no longer"):
            sent(bench, who, lower.code, "2026-11-24", "post")
        check_pair(bench, who, code, "right")
        let_go(lower)
        for act in (lambda: sent(bench, who, lower.code, "2026-11-24", "post"),
                    lambda: came_back(bench, who, lower.code, "2026-11-24", "", "bite", ""),
                    lambda: amend(bench, who, lower.code, "nothing was changed")):
            act()
            assert lower.line.release is not None and record_of(bench, lower.code).after.release is not None


def test_pair_check_before_either_release(tmp_path: Path) -> None:
    """Two jaws ask for the pair check; not right holds both until a later one is right; then both may go."""
    with two_jaws(tmp_path / "lab") as (upper, lower):
        bench, code = upper.bench, upper.opened.code
        with pytest.raises(NotYet, match="pair check is missing"):
            let_go(upper)
        check_pair(bench, seat(upper), code, "not-right")
        for jaw in (upper, lower):
            with pytest.raises(NotYet, match="not right"):
                let_go(jaw)
        upper.now[0] += 60_000
        check_pair(bench, seat(upper, "Łukasz Wiśniewski"), code, "right")
        let_go(upper)
        with pytest.raises(Refused, match="upper jaw is released"):
            check_pair(bench, seat(upper), code, "right")
        found = record_of(bench, upper.code)
    assert [one.said.partition(":")[0] for one in found.pair_checks] == ["not right", "bite of the pair right"]
    assert [one.settled for one in found.pair_checks] == [False, True]


def test_no_pair_check_at_the_wrong_time(tmp_path: Path) -> None:
    """One jaw, a jaw that is not through, a word that is none, and a lead without a bench role are refused."""
    with through(tmp_path / "one") as jaw, pytest.raises(Refused, match="no two jaws"):
        check_pair(jaw.bench, seat(jaw), jaw.opened.code, "right")
    with two_jaws(tmp_path / "two") as (upper, lower):
        lead = replace(seat(upper), person=replace(seat(upper).person, roles=("technique-lead",)))
        with pytest.raises(NotYours):
            check_pair(upper.bench, lead, upper.opened.code, "right")
        with pytest.raises(Refused, match="Say what was found"):
            check_pair(upper.bench, seat(upper), upper.opened.code, "fine")
        lower.fact("undo", undo=lower.line.state["log"][-1]["id"])
        assert "the lower jaw is not yet" in pair(upper.bench, upper.opened.code).why_not
        with pytest.raises(Refused, match="once both jaws are through"):
            check_pair(upper.bench, seat(upper), upper.opened.code, "right")


def test_work_after_a_pair_check_asks_for_another(tmp_path: Path) -> None:
    """A jaw that was taken up again after the pair check is another jaw: the check no longer counts."""
    with two_jaws(tmp_path / "lab") as (upper, lower):
        check_pair(upper.bench, seat(upper), upper.opened.code, "right")
        assert pair(upper.bench, upper.opened.code).settled
        lower.fact("undo", undo=lower.line.state["log"][-1]["id"])
        lower.run_to()
        assert pair(upper.bench, upper.opened.code).outcome == ""


def test_a_scrapped_jaw_leaves_the_other_alone(tmp_path: Path) -> None:
    """With one jaw scrapped there is no pair to check, and the other is released without."""
    with two_jaws(tmp_path / "lab") as (upper, lower):
        scrap(upper.bench, upper.code, seat(upper, ZOYA[0]).person.id, ZOYA[1], "damaged")
        let_go(lower)
        assert record_of(lower.bench, lower.code).standing.state == "released"


def test_two_jaws_go_together_or_not_at_all(tmp_path: Path) -> None:
    """Both are released in one act when both are ready; if one is not, neither is; jaws of two cases never."""
    with two_jaws(tmp_path / "lab") as (upper, lower):
        bench, who = upper.bench, seat(upper)
        check_pair(bench, who, upper.opened.code, "right")
        read = {jaw.code: reading(jaw, who) for jaw in (upper, lower)}
        before = tip(upper)
        with pytest.raises(NotYet, match="since you read the page"):
            release(bench, who, THIRD[1], {**read, lower.code: Reading(0)})
        other = next(j["code"] for b in bench.store.tagged("kind", "case") for j in _jaws(b.body))
        with pytest.raises(NotYet, match="belong to one case"):
            release(bench, who, THIRD[1], {upper.code: read[upper.code], other: Reading(0)})
        with pytest.raises(NotYet, match="belong to one case"):
            release(bench, who, THIRD[1], {})
        assert tip(upper) == before
        release(bench, who, THIRD[1], read)
        one, two = (record_of(bench, jaw.code) for jaw in (upper, lower))
    assert one.after.release and two.after.release
    assert one.after.release.together == two.identity.code and two.after.release.together == one.identity.code


def _jaws(body: bytes) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = json.loads(body)["event"]["data"]["jaws"]
    return found


def test_nothing_is_added_before_the_release(tmp_path: Path) -> None:
    """Amendment, sending and coming back belong to a released jaw only."""
    with through(tmp_path / "lab") as jaw:
        who, before = seat(jaw), tip(jaw)
        for act in (
            lambda: amend(jaw.bench, who, jaw.code, "words"),
            lambda: sent(jaw.bench, who, jaw.code, "2026-11-24", "post"),
            lambda: came_back(jaw.bench, who, jaw.code, "2026-11-24", "", "bite", ""),
        ):
            with pytest.raises(NotYet):
                act()
        assert tip(jaw) == before


def test_after_the_release_only_additions(tmp_path: Path) -> None:
    """Everything of the record but its additions, and when and where it was made, is as it was at the release."""
    with through(tmp_path / "lab") as jaw:
        let_go(jaw)
        whole_before = record_of(jaw.bench, jaw.code).model_dump()
        who = seat(jaw, "Łukasz Wiśniewski")
        jaw.now[0] += 3_600_000
        sent(jaw.bench, who, jaw.code, "2026-11-24", "the lab's driver")
        came_back(jaw.bench, who, jaw.code, "2026-11-24", "16-15", "broke", "dropped at the clinic")
        amend(jaw.bench, who, jaw.code, "Photo 12 belongs to this jaw")
        whole_after = record_of(jaw.bench, jaw.code).model_dump()
    added = whole_after.pop("after")
    whole_before.pop("after")
    changed = {name for name in whole_after if whole_after[name] != whole_before[name]}
    assert changed == {"made", "checkpoint"}
    assert [(s["on"], s["means"], s["who"]) for s in added["sent"]] == [
        ("2026-11-24", "the lab's driver", "Łukasz Wiśniewski")
    ]
    (back,) = added["back"]
    assert (back["reason"], back["place"], back["place_words"], back["words"]) == (
        "base or tooth broke", "16-15", "connector 16-15", "dropped at the clinic",
    )  # fmt: skip
    (more,) = added["amendments"]
    assert (more["words"], more["who"]) == ("Photo 12 belongs to this jaw", "Łukasz Wiśniewski")
    assert more["at"].startswith("2026-11-24T")


def test_bad_additions_are_refused_in_words(tmp_path: Path) -> None:
    """Days that are none, to come or out of order, unknown places and reasons, empty words, twice out: all named."""
    with through(tmp_path / "lab") as jaw:
        let_go(jaw)
        bench, who, code = jaw.bench, seat(jaw), jaw.code
        before = tip(jaw)
        for on in ("", "yesterday", "2026-02-30", "20261124", "2026-11-25"):
            with pytest.raises(NotYet, match="day"):
                sent(bench, who, code, on, "post")
        with pytest.raises(NotYet, match="With whom or what"):
            sent(bench, who, code, "2026-11-24", " ")
        with pytest.raises(NotYet, match="not sent out"):
            came_back(bench, who, code, "2026-11-24", "", "bite", "")
        for words in ("", " \n ", "x" * (LONGEST + 1)):
            with pytest.raises(NotYet, match="What is to be added"):
                amend(bench, who, code, words)
        assert tip(jaw) == before
        sent(bench, who, code, "2026-11-24", "post")
        with pytest.raises(NotYet, match="sent out already"):
            sent(bench, who, code, "2026-11-24", "post")
        with pytest.raises(NotYet) as refusal:
            came_back(bench, who, code, "2026-11-23", "99-98", "magic", "")
        assert len(refusal.value.faults) == 3
        with pytest.raises(NotYet, match="What was said about it"):
            came_back(bench, who, code, "2026-11-24", "", "other", " ")


def test_a_scrapped_jaw_is_not_sent_out(tmp_path: Path) -> None:
    """A released jaw that was scrapped afterwards stays in the laboratory."""
    with through(tmp_path / "lab") as jaw:
        let_go(jaw)
        scrap(jaw.bench, jaw.code, seat(jaw, ZOYA[0]).person.id, ZOYA[1], "damaged")
        with pytest.raises(NotYet, match="scrapped"):
            sent(jaw.bench, seat(jaw), jaw.code, "2026-11-24", "post")
        found = record_of(jaw.bench, jaw.code)
    assert found.standing.state == "scrapped" and "Released by" in found.standing.words
