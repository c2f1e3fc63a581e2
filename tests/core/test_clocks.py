"""Which clocks run, when, and until when."""

from benchapp.core.walk import MINUTE
from tests.core.jaw import Jaw


def seen(jaw: Jaw) -> list[tuple[str, str, str, int, str]]:
    """Return the running clocks, each with its end as whole minutes after its start."""
    stamps = jaw.state["stamps"]
    return [
        (c["kind"], c["since"], c["step"], (c["ends"] - stamps[c["since"]]) // MINUTE, c["grade"]) for c in jaw.clocks
    ]


def test_no_clock_runs_before_its_stamp() -> None:
    """A jaw that nobody touched has no clock."""
    assert Jaw().clocks == []


def test_the_open_time_runs_from_the_first_wet_tap_to_first_light() -> None:
    """The ceiling of the wet window is shown on every card until its own step is through."""
    jaw = Jaw().go_on("seat-arch")
    open_time = ("ceiling", "wet-sockets", "tack-light", 20, "deviation")
    for step in ("seat-arch", "fill-gaps", "bubble-check", "shape-papillae", "last-look", "tack-light"):
        assert open_time in seen(jaw.go_on(step))
    assert open_time not in seen(jaw.go_on("cure-first-side"))


def test_a_floor_is_shown_only_on_the_step_that_waits() -> None:
    """The flash-off of the solvent is a clock of the second dry fit and of no other card."""
    jaw = Jaw().go_on("second-fit")
    assert seen(jaw) == [("floor", "clean", "second-fit", 5, "stop")]
    assert seen(jaw.go_on("wet-sockets")) == []


def test_clocks_come_soonest_first_and_each_once() -> None:
    """On the second side the floor of 30 minutes ends before the ceiling of 45, and no clock is listed twice."""
    jaw = Jaw("barrier").go_on("cure-second-side")
    assert seen(jaw) == [
        ("floor", "cure-first-side", "cure-second-side", 30, "stop"),
        ("ceiling", "cure-first-side", "cure-second-side", 45, "note"),
    ]


def test_a_clock_that_has_run_out_stays() -> None:
    """The end of a clock does not depend on when it is read: someone who comes late still sees since when."""
    jaw = Jaw().go_on("tack-light")
    before = jaw.clocks
    jaw.t += 1000 * MINUTE
    jaw.say("no-such-word")
    assert jaw.clocks == before


def test_a_way_back_stops_the_clocks_it_undoes() -> None:
    """Sent back before the wet window, the jaw has no open time running."""
    jaw = Jaw().go_on("last-look")
    jaw.send(kind="sendback", step="cut-back")
    assert jaw.clocks == []


def test_nothing_runs_when_a_jaw_is_through_or_scrapped() -> None:
    """A jaw that ended has no clock."""
    assert Jaw().go_on().clocks == []
    jaw = Jaw().go_on("tack-light")
    jaw.send(kind="scrap", step="", roles=["supervisor"])
    assert jaw.clocks == []
