"""Until when a jaw keeps the PC awake: by its clocks, by wet resin, and not for ever."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from benchapp.actions.awake import lab_awake_until
from benchapp.core.awake import RINGS, WET, awake_until
from benchapp.core.clocks import clocks
from tests.actions.worked import Worked, worked


@pytest.fixture
def jaw(tmp_path: Path) -> Iterator[Worked]:
    """A jaw at its first step."""
    with worked(tmp_path / "data") as made:
        yield made


def until(jaw: Worked) -> int:
    """Return until when the jaw keeps the PC awake, as the lab says it too."""
    found = awake_until(jaw.line.table, jaw.line.state, jaw.now[0])
    assert found == lab_awake_until(jaw.bench)
    return found


def test_a_dry_step_without_clocks_lets_it_sleep(jaw: Worked) -> None:
    """While nothing runs the PC may sleep."""
    assert until(jaw) == 0


def test_clocks_keep_it_awake_until_they_have_rung(jaw: Worked) -> None:
    """While a jaw lies in the chamber the PC is awake until the alarm was to be heard for a while."""
    jaw.run_to("cure-second-side")
    (clock,) = [one for one in clocks(jaw.line.table, jaw.line.state) if one["kind"] == "floor"][-1:]
    assert until(jaw) >= clock["ends"] + RINGS > jaw.now[0]


def test_wet_resin_keeps_it_awake_and_not_for_ever(jaw: Worked) -> None:
    """In a wet step the PC is awake for some time after the last entry, whether clocks run there or not."""
    wet = next(card["step"] for card in jaw.line.table["cards"] if card["wet"])
    jaw.run_to(wet)
    latest = max((one["ends"] + RINGS for one in clocks(jaw.line.table, jaw.line.state)), default=0)
    assert until(jaw) == max(latest, jaw.now[0] + WET)


def test_a_jaw_that_is_through_lets_it_sleep(jaw: Worked) -> None:
    """At the end nothing is waited for."""
    jaw.run_to()
    assert until(jaw) == 0
