"""What the fold makes of a day at the bench: each rule of the table, both halves of each refusal."""

from typing import Any

import pytest

from benchapp.core.fold import fold
from benchapp.core.walk import MINUTE, walk_on
from tests.core.jaw import SECOND, Jaw, refused, still


def test_a_whole_upper_jaw_takes_35_confirmations() -> None:
    """Fourteen teeth without an option need 35 taps in all, 8 to 10 of them while resin is wet, and no mark."""
    table = Jaw().table
    state, events = walk_on(table, [], 0)
    wet = {card["step"] for card in table["cards"] if card["wet"]}
    assert state["ended"] == "through" and state["marks"] == []
    assert len(events) <= 35
    assert 8 <= len([e for e in events if e["step"] in wet]) <= 10


@pytest.mark.parametrize(("what", "why"), [
    ({"outcome": "nobody-says-this", "places": ["-"]}, "unknown"),
    ({"kind": "dance", "places": ["-"]}, "unknown"),
    ({"kind": "__proto__", "outcome": "__proto__", "step": "__proto__", "places": ["__proto__"]}, "unknown"),
    ({"step": "dry-fit", "outcome": "seats-dry", "places": ["-"]}, "step"),
    ({"outcome": "order-accepted", "places": []}, "place"),
    ({"outcome": "order-accepted", "places": ["s1"]}, "place"),
    ({"outcome": "order-accepted", "places": ["__proto__"]}, "place"),
    ({"outcome": "order-accepted", "places": ["-", "-"]}, "place"),
    ({"outcome": "order-accepted", "places": ["-"], "round": 1}, "round"),
    ({"outcome": "order-accepted", "places": ["-"], "stated": 1, "t": 1}, "stated"),
    ({"kind": "resume", "step": ""}, "step"),
    ({"kind": "scrap", "step": "", "roles": ["technician"]}, "who"),
    ({"kind": "sendback", "step": "clean"}, "step"),
    ({"kind": "undo", "undo": "e0"}, "undo"),
])
def test_what_the_table_does_not_allow_is_marked_and_changes_nothing(what: dict[str, Any], why: str) -> None:
    """Each kind of event that cannot be taken gets one mark that says why, and leaves the state as it was."""
    jaw = Jaw()
    still(jaw, lambda: jaw.send(**what), why)


def test_the_same_id_twice_counts_once() -> None:
    """An event that arrives again, even with another outcome, is skipped without a mark."""
    jaw = Jaw()
    jaw.say("order-accepted")
    once = jaw.state
    jaw.events.append(jaw.events[0] | {"outcome": "order-unclear"})
    assert jaw.state == once


def test_only_the_last_effective_event_is_taken_back() -> None:
    """Taking back an earlier event is marked; taking back the last one restores the state before it."""
    jaw = Jaw()
    jaw.say("order-accepted")
    before = jaw.state
    jaw.say("parts-right")
    still(jaw, lambda: jaw.take_back("e0"), "undo")
    assert jaw.take_back("e1") == []
    assert jaw.now == "part-check"
    assert {k: v for k, v in jaw.state.items() if k != "marks"} == {k: v for k, v in before.items() if k != "marks"}


def test_refused_events_do_not_stand_in_the_way_of_taking_back() -> None:
    """The last effective event is meant, whatever was refused since."""
    jaw = Jaw()
    jaw.say("order-accepted")
    jaw.say("order-accepted")
    assert jaw.take_back("e0") == []
    assert jaw.now == "intake"


@pytest.mark.parametrize(("step", "limit"), [("clean", 10 * 60), ("tack-light", 10)])
def test_taking_back_has_its_time(step: str, limit: int) -> None:
    """An ordinary tap can be taken back for 10 minutes, first light for 10 seconds, and not a millisecond longer."""
    for more, answer in ((0, []), (1, refused("undo"))):
        jaw = Jaw().go_on(step)
        jaw.go_on({"clean": "second-fit", "tack-light": "cure-first-side"}[step])
        marks = jaw.send(kind="undo", step="", undo=jaw.state["log"][-1]["id"], at=jaw.t + limit * SECOND + more)
        assert marks == answer
        assert jaw.state["lit"] == int(step == "tack-light" and more)


def test_a_mark_goes_with_the_event_that_is_taken_back() -> None:
    """The marks of an event that was taken back are gone, those of others stay, and a stop's hold goes with it."""
    jaw = Jaw().go_on("tack-light")
    jaw.say("wrong-word")
    marks = jaw.say("tacked", after=60, values=[{"name": "seconds", "value": "5", "unit": "s"}])
    assert marks == [("late", "deviation"), ("limit", "deviation")]
    jaw.take_back(after=0.05)
    assert [m["why"] for m in jaw.state["marks"]] == ["unknown"]


def test_late_is_done_and_marked() -> None:
    """After the ceiling's minutes and its grace a tap counts as it is and is marked; at the edge it is not."""
    for over, marks in ((0, []), (1, [("late", "deviation")])):
        jaw = Jaw().go_on("tack-light")
        wet_at = jaw.state["stamps"]["wet-sockets"]
        assert jaw.send(outcome="tacked", places=["-"], at=wet_at + 20 * MINUTE + 30 * SECOND + over) == marks
        assert jaw.now == "cure-first-side"
        assert jaw.state["held"] == 0


@pytest.mark.parametrize(("since", "step", "outcome"), [
    # 30 minutes, turn over, 30 minutes, 60 in all: common practice, no source.
    ("cure-first-side", "cure-second-side", "second-side-on"),
    ("cure-second-side", "cool-down", "light-off"),
])
def test_both_halves_of_the_final_cure_are_kept(since: str, step: str, outcome: str) -> None:
    """Before 30 minutes (less the grace of 15 seconds) the tap is refused, from then on it is taken."""
    jaw = Jaw().go_on(step)
    lit = jaw.state["stamps"][since]
    clock = [(c["kind"], c["ends"] - lit, c["ms"]) for c in jaw.clocks if c["kind"] == "floor"]
    assert clock == [("floor", 30 * MINUTE, 30 * MINUTE)]
    still(jaw, lambda: jaw.send(outcome=outcome, places=["-"], at=lit + 30 * MINUTE - 15 * SECOND - 1), "early")
    assert jaw.send(outcome=outcome, places=["-"], at=lit + 30 * MINUTE - 15 * SECOND) == []
    assert jaw.now != step


def test_the_wet_window_refuses_nothing_for_a_hold() -> None:
    """A held jaw goes on while resin is wet, to first light; on a dry step a hold refuses."""
    jaw = Jaw().go_on("wet-sockets")
    jaw.send(kind="hold", step="")
    for outcome in ("sockets-wet", "seated-home", "gaps-filled"):
        assert jaw.say(outcome) == []
    for group in ("s1", "s2", "s3"):
        assert jaw.say("none-seen", group) == []
    for outcome in ("gum-shaped", "fit-for-light", "tacked"):
        assert jaw.say(outcome) == []
    assert jaw.now == "cure-first-side"
    still(jaw, lambda: jaw.say("first-side-on"), "held")
    assert jaw.send(kind="resume", step="") == []
    assert jaw.say("first-side-on") == []


def test_hold_and_resume() -> None:
    """A hold refuses taps and a second hold; resume lets the work go on; an outcome can hold as well."""
    jaw = Jaw()
    assert jaw.say("order-unclear") == []
    assert jaw.state["held"] == 1 and jaw.now == "intake"
    still(jaw, lambda: jaw.say("order-accepted"), "held")
    still(jaw, lambda: jaw.send(kind="hold", step=""), "held")
    assert jaw.send(kind="resume", step="") == []
    assert jaw.say("order-accepted") == []


def test_a_value_that_is_off_is_marked() -> None:
    """A value at the edge of its limits is fine; outside, or written so that it is no number, it is marked."""
    for value, count in (("6", 0), ("20", 0), ("20.000001", 1), ("5.9", 1), ("", 1), ("1e1", 1), ("１０", 1),
                         ("-8", 1)):
        jaw = Jaw().go_on("tack-light")
        marks = jaw.say("tacked", values=[{"name": "positions", "value": value, "unit": ""}])
        assert marks == [("limit", "deviation")] * count, value
        assert jaw.now == "cure-first-side"


def test_after_first_light_there_is_no_way_back() -> None:
    """Before light a jaw is sent back to any earlier step; from light on the same event is marked, light."""
    jaw = Jaw().go_on("last-look")
    assert jaw.send(kind="sendback", step="cut-back") == []
    assert jaw.now == "cut-back"
    jaw.go_on("cure-first-side")
    still(jaw, lambda: jaw.send(kind="sendback", step="cut-back"), "light")
    still(jaw, lambda: jaw.send(kind="sendback", step="tack-light"), "light")
    assert jaw.send(kind="sendback", step="cool-down") == refused("unknown")


def test_not_even_a_supervisor_takes_a_way_back_in_after_light() -> None:
    """A `back` that was refused stays without effect when it is taken in after first light."""
    jaw = Jaw().go_on("second-fit").go_on("wet-sockets")
    late = jaw.send(step="second-fit", outcome="back-to-cut", places=["-"])
    assert late == refused("step")
    event = jaw.events[-1]["id"]
    jaw.go_on("cure-first-side")
    jaw.send(kind="resolve", step="", allow=event, outcome="in")
    assert jaw.now == "cure-first-side"
    assert jaw.state["marks"][0]["resolved"] == "in"


def test_a_late_tap_of_an_earlier_round_closes_nothing() -> None:
    """Each way back starts a round and its clocks afresh; a tap made in an earlier round is marked."""
    jaw = Jaw().go_on("second-fit")
    assert jaw.say("back-to-cut", after=10) == []
    assert (jaw.now, jaw.state["round"]) == ("cut-back", 1)
    assert "clean" not in jaw.state["stamps"]
    still(jaw, lambda: jaw.say("thinned", "s1", round=0), "round")
    assert jaw.say("thinned", "s1") == []


def test_taking_back_a_way_back_uses_up_its_round() -> None:
    """After a send-back was taken back, a tap that was made within it is still told from one made after it."""
    jaw = Jaw().go_on("clean")
    jaw.send(kind="sendback", step="cut-back")
    assert jaw.take_back() == []
    assert jaw.now == "clean"
    jaw.send(kind="sendback", step="cut-back")
    still(jaw, lambda: jaw.say("thinned", "s1", round=1), "round")
    assert jaw.say("thinned", "s1") == []


def test_an_open_place_goes_to_filling_and_comes_back() -> None:
    """A bubble left opens its place at filling; filling that place asks for it again at the bubble check."""
    jaw = Jaw().go_on("bubble-check")
    assert jaw.say("bubble-left", "11-21") == []
    assert (jaw.cell("bubble-check", "11-21"), jaw.cell("fill-gaps", "11-21")) == ("wait", "open")
    for group in ("s1", "s2", "s3"):
        assert jaw.say("none-seen", group) == []
    assert jaw.now == "fill-gaps"
    assert jaw.say("gaps-filled", "11-21") == []
    assert (jaw.now, jaw.cell("bubble-check", "11-21")) == ("bubble-check", "open")
    assert jaw.say("bubble-left", "11-21") == []
    assert jaw.say("gaps-filled", "11-21") == []
    assert jaw.say("none-seen", "11-21") == []
    assert jaw.now == "shape-papillae"


def test_a_place_that_was_mended_at_once_opens_nothing() -> None:
    """An exception that leads on closes its own place and leaves the group's tap to be made."""
    jaw = Jaw().go_on("bubble-check")
    assert jaw.say("bubble-mended", "m11b", "m11l") == []
    assert jaw.cell("bubble-check", "m11b") == "done"
    assert jaw.cell("fill-gaps", "m11b") == "off"
    assert jaw.now == "bubble-check"


def test_an_exception_is_said_of_single_places_only() -> None:
    """A sextant cannot be opened for filling, which has no sextants and could never give it back."""
    jaw = Jaw().go_on("bubble-check")
    still(jaw, lambda: jaw.say("bubble-left", "s1"), "place")


def test_a_repair_comes_back_when_the_step_named_by_until_is_through() -> None:
    """A void goes to repair, its cure and finishing, and is asked for again only after those."""
    jaw = Jaw().go_on("check-voids")
    assert jaw.say("void-seen", "b-palate") == []
    assert jaw.say("no-void") == []
    way = []
    while jaw.cell("check-voids", "b-palate") == "wait":
        way.append(jaw.now)
        act = {"repair-void": "void-refilled", "repair-cure": "repair-cured", "finish-off": "finished-off"}[jaw.now]
        assert jaw.say(act, "b-palate", after=31) == []
    assert way == ["repair-void", "repair-cure", "finish-off"]
    assert jaw.now == "check-voids"
    assert jaw.say("no-void", "b-palate") == []
    jaw.go_on()
    assert jaw.state["ended"] == "through"


def test_a_repair_is_cured_for_its_own_time() -> None:
    """The floor of a repair's cure runs from that repair, not from an earlier one."""
    jaw = Jaw().go_on("check-voids")
    jaw.say("void-seen", "b-palate")
    jaw.say("no-void")
    jaw.say("void-refilled", "b-palate")
    still(jaw, lambda: jaw.say("repair-cured", "b-palate", after=29), "early")
    assert jaw.say("repair-cured", "b-palate", after=1) == []


def test_folding_leaves_table_and_events_alone() -> None:
    """Folding the same list twice gives the same state, and changes neither the table nor an event."""
    jaw = Jaw().go_on("check-voids")
    before = repr((jaw.table, jaw.events))
    assert fold(jaw.table, jaw.events) == fold(jaw.table, jaw.events)
    assert repr((jaw.table, jaw.events)) == before
