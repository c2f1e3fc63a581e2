"""What of a jaw waits for a supervisor: refused entries and breaches, from the state and its entries."""

from typing import Any

import pytest

from benchapp.core.fold import fold
from benchapp.core.matters import Matter, if_taken_in, matters, open_matters
from benchapp.core.walk import MINUTE
from tests.core.jaw import Jaw


def body(event: dict[str, Any], marks: list[list[str]] | None = None, **more: Any) -> dict[str, Any]:
    """Return an entry's body for a folded event, as the journal has it."""
    full = {"picks": {}, "by": {"person": "p1"}} | event | more
    return {"event": full, "server": {"seq": 1, "when": event["when"], "marks": marks or [], "tablet": "T1"}}


def bodies(jaw: Jaw) -> list[dict[str, Any]]:
    """Return the bodies of all entries of a jaw."""
    return [body(event) for event in jaw.events]


def of(jaw: Jaw, entries: list[dict[str, Any]] | None = None) -> list[Matter]:
    """Return the matters of a jaw."""
    return matters(jaw.table, jaw.state, jaw.events, bodies(jaw) if entries is None else entries)


def closing(allow: str, outcome: str = "accepted", kind: str = "close", at: int = 5, **more: Any) -> dict[str, Any]:
    """Return the body of a decision about an entry."""
    event = {"id": f"c-{allow}-{at}", "kind": kind, "allow": allow, "outcome": outcome, "when": at} | more
    return body(event, by={"person": "p2"})


def late_jaw() -> Jaw:
    """A jaw whose tack came 25 minutes after the sockets were wet; asked are 20 (the default protocol's numbers)."""
    jaw = Jaw().go_on("tack-light")
    wet = next(e["t"] for e in jaw.events if e["step"] == "wet-sockets")
    jaw.t = wet + 25 * MINUTE
    jaw.send(outcome="tacked", places=["-"])
    return jaw


def test_an_ordinary_jaw_has_no_matters() -> None:
    """A jaw that went its plain way to the end has nothing for a supervisor."""
    assert of(Jaw().go_on("")) == []


def test_a_late_tack_says_limit_and_time_taken() -> None:
    """The late tack is one open breach with the clock's start, 20 min asked and 25 min taken."""
    (matter,) = of(late_jaw())
    (mark,) = matter.marks
    assert (matter.kind, matter.step, matter.open, matter.person, matter.tablet) == (
        "breach", "tack-light", True, "p1", "T1")
    assert (mark.why, mark.grade, mark.since) == ("late", "deviation", "wet-sockets")
    assert (mark.asked, mark.took) == (20 * MINUTE, 25 * MINUTE)


def test_a_value_outside_says_its_limits() -> None:
    """A value outside its limits is a breach that carries what was said and the limits of the protocol."""
    jaw = Jaw().go_on("tack-light")
    jaw.say("tacked", "-", values=[{"name": "positions", "value": "4", "unit": ""},
                                   {"name": "seconds", "value": "20", "unit": "s"}])
    (matter,) = of(jaw)
    (mark,) = matter.marks
    assert (mark.why, mark.name, mark.said, mark.least, mark.most) == ("limit", "positions", "4", "6", "20")


def test_a_breach_that_was_taken_back_is_none() -> None:
    """Undo of the late tack leaves nothing to close."""
    jaw = late_jaw()
    jaw.take_back()
    assert jaw.now == "tack-light" and of(jaw) == []


def test_the_reason_tile_is_told() -> None:
    """A reason that was given stands in the matter, from its own entry or from a tile picked with the entry."""
    jaw = late_jaw()
    late = jaw.events[-1]["id"]
    assert of(jaw)[0].reason == ""
    picked = [body(e, picks={"reason": "called-away"} if e["id"] == late else {}) for e in jaw.events]
    assert of(jaw, picked)[0].reason == "called-away"
    jaw.send(kind="reason", step="", outcome="more-to-fill", allow=late)
    assert of(jaw)[0].reason == "more-to-fill"


def test_the_first_closing_counts() -> None:
    """A closed breach says who, when and with which words; a second closing changes nothing."""
    jaw = late_jaw()
    late = jaw.events[-1]["id"]
    entries = [*bodies(jaw), closing(late, data={"texts": {"words": "w1"}}), closing(late, "followed-up", at=9)]
    (matter,) = of(jaw, entries)
    assert matter.closed is not None and not matter.open
    assert (matter.closed.outcome, matter.closed.person, matter.closed.at, matter.closed.words) == (
        "accepted", "p2", 5, "w1")
    assert open_matters(jaw.table, jaw.state, jaw.events, entries) == []


def test_the_closing_of_another_entry_closes_nothing() -> None:
    """Only a closing that names the entry closes it."""
    jaw = late_jaw()
    assert of(jaw, [*bodies(jaw), closing("e0"), closing("")])[0].open


def test_a_refused_entry_is_open_until_it_is_resolved() -> None:
    """A tap about a step that is not on is a matter; a close does not settle it, a resolve does."""
    jaw = Jaw().go_on("cut-back")
    jaw.send(step="pack-up", outcome="packed-up", places=["-"])
    refused = jaw.events[-1]["id"]
    (matter,) = of(jaw, [*bodies(jaw), closing(refused)])
    assert (matter.kind, matter.open, matter.marks[0].why) == ("refused", True, "step")
    jaw.send(kind="resolve", step="", allow=refused, outcome="aside")
    resolved = [*bodies(jaw)[:-1], closing(refused, "aside", "resolve")]
    (matter,) = of(jaw, resolved)
    assert matter.closed is not None and matter.closed.outcome == "aside" and matter.closed.person == "p2"
    (matter,) = of(jaw, bodies(jaw)[:-1])  # also where the decision's entry is not at hand
    assert not matter.open


def test_marks_of_the_server_count_while_the_entry_does() -> None:
    """A lamp that was not fit is a breach of the entry that named it, and none once that entry is taken back."""
    jaw = Jaw().go_on("lay-out")
    jaw.say("all-at-hand")
    named = jaw.events[-1]["id"]

    def told() -> list[dict[str, Any]]:
        marks = [["unfit", "deviation"], ["claimed", "note"]]
        return [body(e, marks if e["id"] == named else []) for e in jaw.events]

    (matter,) = of(jaw, told())
    assert [(mark.why, mark.grade) for mark in matter.marks] == [("unfit", "deviation")]
    jaw.take_back()
    assert of(jaw, told()) == []


def test_marks_that_the_fold_made_are_not_told_twice() -> None:
    """A late entry whose stored marks repeat the fold's is one mark, not two."""
    jaw = late_jaw()
    entries = [body(e, [["late", "deviation"]] if e is jaw.events[-1] else []) for e in jaw.events]
    assert len(of(jaw, entries)[0].marks) == 1


@pytest.mark.parametrize("lit", [False, True])
def test_what_taking_in_would_do(lit: bool) -> None:
    """Taking a refused entry in is tried on a copy: its state where it counts, None where it changes nothing."""
    jaw = Jaw().go_on("cure-first-side" if lit else "cut-back")
    before = repr(jaw.state)
    step, outcome = ("second-fit", "back-to-cut") if lit else ("lay-out", "all-at-hand")
    jaw.send(step=step, outcome=outcome, places=["-"])
    state = jaw.state
    after = if_taken_in(jaw.table, state, jaw.events[-1]["id"])
    assert state == jaw.state and before != repr(state)
    assert after is None if lit else after is not None and after["cells"]["lay-out"]["-"] == "done"
    assert if_taken_in(jaw.table, state, "nobody") is None


def test_stops_are_breaches_too() -> None:
    """A ceiling of grade stop that was missed holds the jaw and waits for a supervisor."""
    jaw = Jaw()
    for act in jaw.table["acts"]:
        act["ceilings"] = [[*limit[:3], "stop"] for limit in act["ceilings"]]
    jaw.go_on("tack-light")
    jaw.say("tacked", "-", after=40)
    (matter,) = of(jaw)
    assert matter.marks[0].grade == "stop" and jaw.state["held"] == 1
    assert fold(jaw.table, jaw.events) == jaw.state
