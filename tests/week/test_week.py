"""A small week against a real server, with a real page; and that the comparison of its end would find a difference."""

import json
from copy import deepcopy
from pathlib import Path
from typing import Any

import pytest

from benchapp.actions.records import record_of
from tests.actions.whole import whole
from tests.week.account import differences, of_journal
from tests.week.ledger import Ledger
from tests.week.proof import Proof, compare_marks
from tests.week.replay import Jaw
from tests.week.rows import Journal
from tests.week.slips import SLIPS, spread
from tests.week.week import Size, run_week

MADE = (
    "wrong PIN", "the wrong jaw of the case", "a tap before the floor is over", "tacked after the open time",
    "into the chamber late", "taken back", "taken back too late", "a tap on a held jaw",
    "sent back, and a tap of the round before", "bubbles mended and left open", "a repair", "an expired lot",
    "a blocked lot", "a part made again", "a jaw made again", "a tap before an allergy was decided",
    "a correction of the order", "a tap on a cancelled case", "the same list twice", "a stated time",
    "a stated time to come", "facts sent twice", "a leaver's badge", "a tap of somebody who had left",
    "a tap while the light was off",
    "the door was opened, and the time counted without it", "pair check not right at first", "too early, but taken in",
    "a fact that nobody can read", "a jaw that is not known", "claimed without a PIN", "sent by another tablet",
    "a number outside its limits", "locked after wrong PINs",
)


@pytest.mark.long
@pytest.mark.browser
def test_a_small_week_leaves_what_was_done_and_nothing_else(tmp_path: Path) -> None:
    """After a week of mistakes every record is what the journal says, and every mark has its mistake and no other."""
    ran = run_week(tmp_path, 1, Size(people=4, cases=6, browsers=1, of_a_page=1, asked=3))
    assert ran.wrong == [] and ran.proof.wrong == []
    assert ran.proof.verified.startswith("Holds.")
    # Two cases have two jaws, one jaw was made again, and a leaver has a case of their own.
    assert (ran.proof.cases, ran.proof.jaws) == (7, 10)
    assert ran.taps > 25 and ran.proof.doubles > 0 and ran.proof.released >= 7
    assert [kind for kind in MADE if not ran.kinds[kind]] == []
    assert all(len(ms) == 3 for ms in ran.times.values()) and len(ran.times) == 8


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> tuple[Jaw, dict[str, Any]]:
    """A jaw to which everything happened, by the second reading, and its record as JSON."""
    place = tmp_path_factory.mktemp("told") / "data"
    with whole(place) as jaw:
        record: dict[str, Any] = json.loads(record_of(jaw.bench, jaw.code).model_dump_json())
        code = jaw.code
    return Jaw(Journal.read(place), code), record


def test_the_second_reading_agrees_on_a_jaw_with_one_of_each(told: tuple[Jaw, dict[str, Any]]) -> None:
    """Record and second reading say the same of a jaw that was undone, held, remade, released, sent and back."""
    jaw, record = told
    assert differences(jaw, record) == []
    ours = of_journal(jaw)
    assert ours["state"] == "released" and ours["old parts"] and ours["sent"] and ours["back"] and ours["amended"]
    assert ours["confirmations"][2] == 1 and ours["confirmations"][3] == 2


@pytest.mark.parametrize("path", [
    "confirmations.count", "confirmations.taken_back", "standing.state", "standing.round", "standing.lit",
    "identity.parts.0.make", "old_parts.0.code", "who.0.confirmations", "checks.0.answered", "steps.3.fate",
    "after.release.seq", "after.sent.0.on", "after.back.0.place",
])
def test_a_record_that_says_something_else_is_found(told: tuple[Jaw, dict[str, Any]], path: str) -> None:
    """Each field that is compared is: one that is changed makes one difference."""
    jaw, record = told[0], deepcopy(told[1])
    *way, last = path.split(".")
    at: Any = record
    for name in way:
        at = at[int(name)] if isinstance(at, list) else at[name]
    at[last] = not at[last] if isinstance(at[last], bool) else at[last] + 1 if isinstance(at[last], int) else "else"
    assert len(differences(jaw, record)) == 1


def test_a_mark_without_a_mistake_and_a_mistake_without_a_mark_are_found(told: tuple[Jaw, dict[str, Any]]) -> None:
    """With an empty list of mistakes every mark is strange, and a mistake that left nothing is missed."""
    jaw = told[0]
    marks = {(d.event["id"], why, grade) for d in jaw.deeds for why, grade in d.body["server"]["marks"]}
    ledger = Ledger(marks=dict.fromkeys(marks, "known"))
    ledger.undone = {d.event["id"] for d in jaw.deeds if d.fate == "taken back"}
    assert marks and compare_marks(ledger, jaw.journal, {jaw.code: jaw}, Proof()) == []
    gone = ledger.marks.popitem()[0]
    assert any("no cause" in words for words in compare_marks(ledger, jaw.journal, {jaw.code: jaw}, Proof()))
    ledger.marks |= {gone: "known", ("week-nothing", "late", "note"): "left nothing"}
    assert any("left no mark" in words for words in compare_marks(ledger, jaw.journal, {jaw.code: jaw}, Proof()))


def test_every_slip_is_made_by_somebody() -> None:
    """However few jaws there are, each slip is given to one, and no jaw gets two at one step."""
    for jaws in (6, 60):
        given = spread(jaws, 3)
        assert {slip for jaw in given for _, slip in jaw} == {slip for _, slip in SLIPS}
        assert all(len({step for step, _ in jaw}) == len(jaw) >= 3 for jaw in given)
