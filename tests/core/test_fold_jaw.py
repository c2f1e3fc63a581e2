"""What the fold makes of marks and of acts on a jaw as a whole: resolved, explained, stated, scrapped."""

from benchapp.core.walk import MINUTE
from tests.core.jaw import Jaw, refused, still


def test_a_supervisor_takes_a_refused_event_in() -> None:
    """An early tap taken in counts at its own time, without a hold; what was taken in can be taken back."""
    jaw = Jaw().go_on("cure-second-side")
    assert jaw.say("second-side-on", after=20) == refused("early")
    early, t = jaw.events[-1]["id"], jaw.t
    jaw.send(kind="resolve", step="", allow=early, outcome="in")
    assert jaw.now == "cool-down"
    assert jaw.state["stamps"]["cure-second-side"] == t
    assert [(m["why"], m["resolved"]) for m in jaw.state["marks"]] == [("early", "in")]
    jaw.send(kind="resolve", step="", allow=early, outcome="aside")
    assert jaw.state["marks"][0]["resolved"] == "in"
    assert jaw.take_back(early) == []
    assert jaw.now == "cure-second-side"
    assert [m["why"] for m in jaw.state["marks"]] == ["early"]


def test_taking_back_leaves_an_event_that_was_taken_in_as_it_was() -> None:
    """Replaying an early tap that a supervisor took in does not hold the jaw."""
    jaw = Jaw().go_on("cure-second-side")
    jaw.say("second-side-on", after=20)
    jaw.send(kind="resolve", step="", allow=jaw.events[-1]["id"], outcome="in")
    taken_in = jaw.state
    jaw.say("light-off", after=31)
    jaw.take_back()
    assert jaw.state["held"] == 0
    assert jaw.state["log"] == taken_in["log"] and jaw.state["marks"] == taken_in["marks"]


def test_a_supervisor_sets_a_refused_event_aside() -> None:
    """Set aside, an event stays without effect, and its mark is resolved for good."""
    jaw = Jaw().go_on("cure-second-side")
    jaw.say("second-side-on", after=20)
    before = jaw.state
    jaw.send(kind="resolve", step="", allow=jaw.events[-1]["id"], outcome="aside")
    assert jaw.state["cells"] == before["cells"]
    jaw.send(kind="resolve", step="", allow=jaw.events[-2]["id"], outcome="in")
    assert (jaw.now, jaw.state["marks"][0]["resolved"]) == ("cure-second-side", "aside")


def test_a_reason_is_kept_with_the_breach_it_explains() -> None:
    """A reason tile is written beside every breach of its event, and never beside a refusal."""
    jaw = Jaw().go_on("tack-light")
    jaw.say("tacked", after=60)
    late = jaw.events[-1]["id"]
    jaw.say("tacked", step="tack-light")
    jaw.send(kind="reason", step="", allow=late, outcome="called-away")
    jaw.send(kind="reason", step="", allow=jaw.events[-2]["id"], outcome="called-away")
    assert [(m["why"], m["reason"]) for m in jaw.state["marks"]] == [("late", "called-away"), ("step", "")]


def test_a_stated_time_counts_and_is_marked() -> None:
    """A time that a person states is used for the clocks; it lies after the last event and not in the future."""
    jaw = Jaw().go_on("cure-second-side")
    last = jaw.state["log"][-1]["t"]
    jaw.t += 45 * MINUTE
    still(jaw, lambda: jaw.send(outcome="second-side-on", places=["-"], stated=1, t=last - 1), "stated")
    still(jaw, lambda: jaw.send(outcome="second-side-on", places=["-"], stated=1, t=jaw.t + 1), "stated")
    stated = last + 31 * MINUTE
    assert jaw.send(outcome="second-side-on", places=["-"], stated=1, t=stated) == [("stated", "note")]
    assert jaw.state["stamps"]["cure-second-side"] == stated


def test_scrap_takes_a_supervisor_and_ends_the_jaw() -> None:
    """Only a supervisor scraps, also a held or finished jaw; after that nothing is taken, not even taken back."""
    jaw = Jaw().go_on("clean")
    jaw.send(kind="hold", step="")
    still(jaw, lambda: jaw.send(kind="scrap", step="", roles=["technician", "technique-lead"]), "who")
    assert jaw.send(kind="scrap", step="", roles=["supervisor"]) == []
    assert jaw.state["ended"] == "scrap"
    still(jaw, lambda: jaw.say("wiped"), "ended")
    still(jaw, lambda: jaw.take_back(after=0), "undo")
    done = Jaw().go_on()
    still(done, lambda: done.send(kind="hold", step=""), "ended")
    assert done.send(kind="scrap", step="", roles=["supervisor"]) == []


def test_the_last_tap_can_be_taken_back_from_a_jaw_that_is_through() -> None:
    """A slip on the last card does not close the jaw for ever."""
    jaw = Jaw().go_on()
    assert jaw.take_back() == []
    assert (jaw.now, jaw.state["ended"]) == ("pack-up", "")


def test_a_door_opened_in_mid_cure_moves_the_clock_on_by_the_time_without_light() -> None:
    """21 min of open door make the turn-over 21 min later; while it is open the turn is not taken (common practice,
    no source: the cure is a time of light)."""
    jaw = Jaw().go_on("cure-second-side")
    began = jaw.state["stamps"]["cure-first-side"]
    jaw.t = began + 10 * MINUTE
    assert jaw.send(kind="dark", step="") == []
    assert jaw.say("second-side-on", after=21) == refused("dark")
    assert jaw.send(kind="dark", step="") == refused("step")
    assert jaw.send(kind="bright", step="") == []
    assert jaw.state["stamps"]["cure-first-side"] == began + 21 * MINUTE
    assert jaw.clocks[0]["ends"] == began + 51 * MINUTE
    jaw.t = began + 50 * MINUTE
    assert jaw.say("second-side-on", after=0) == refused("early")
    assert ("early", "refused") not in jaw.say("second-side-on", after=1)
    assert jaw.now == "cool-down"


def test_a_door_can_be_taken_back() -> None:
    """An opening or a closing that was a slip is taken back, and the clock runs as before."""
    jaw = Jaw().go_on("cure-second-side")
    began = jaw.state["stamps"]["cure-first-side"]
    jaw.send(kind="dark", step="")
    jaw.take_back()
    assert jaw.state["dark"] == 0
    jaw.send(kind="dark", step="")
    jaw.t += 3 * MINUTE
    jaw.send(kind="bright", step="")
    jaw.take_back()
    assert (jaw.state["stamps"]["cure-first-side"], jaw.state["dark"] > 0) == (began, True)


def test_the_door_of_an_idle_chamber_is_nobodys_pause() -> None:
    """Before the first side is on, and after the light is off, there is no light that could go off."""
    jaw = Jaw().go_on("cure-first-side")
    assert jaw.send(kind="dark", step="") == refused("step")
    assert jaw.send(kind="bright", step="") == refused("step")
    jaw.go_on("finish-off")
    assert jaw.send(kind="dark", step="") == refused("step")
