"""A jaw of the default protocol at a bench without a page: its helpers read as the story of a day."""

from collections.abc import Callable
from typing import Any

from benchapp.core.clocks import clocks
from benchapp.core.course import compile_table
from benchapp.core.fold import State, fold
from benchapp.core.walk import MINUTE, main_act, next_places, ready_at
from tests.core.randoms import protocols

TEETH = (17, 16, 15, 14, 13, 12, 11, 21, 22, 23, 24, 25, 26, 27)
SECOND = 1000


class Jaw:
    """A table and its events; `t` is the time in ms, which goes on by a minute with each tap."""

    def __init__(self, *options: str, teeth: tuple[int, ...] = TEETH, table: dict[str, Any] | None = None) -> None:
        self.table = table or compile_table(protocols()[0], "upper", teeth, options)
        self.events: list[dict[str, Any]] = []
        self.t = 0

    @property
    def state(self) -> State:
        """The state, folded afresh."""
        return fold(self.table, self.events)

    @property
    def now(self) -> str:
        """The step that is on."""
        return str(self.state["now"])

    @property
    def clocks(self) -> list[dict[str, Any]]:
        """The clocks that run."""
        return clocks(self.table, self.state)

    def cell(self, step: str, place: str) -> str:
        """What a place of a step is at."""
        return str(self.state["cells"][step][place])

    def send(self, **what: Any) -> list[tuple[str, str]]:
        """Send one event as the round and the step that are on would; return its marks as (why, grade)."""
        state = self.state
        event = {
            "id": f"e{len(self.events)}", "kind": "confirm", "step": state["now"], "outcome": "", "places": [],
            "round": state["round"], "values": [], "t": what.get("at", self.t), "when": what.get("at", self.t),
            "stated": 0, "undo": "", "allow": "", "roles": [],
        } | {key: value for key, value in what.items() if key != "at"}
        self.events.append(event)
        return [(m["why"], m["grade"]) for m in self.state["marks"] if m["id"] == event["id"]]

    def say(self, outcome: str, *places: str, after: float = 1, **what: Any) -> list[tuple[str, str]]:
        """Tap an outcome at places (the jaw when none are given), `after` minutes; return the marks."""
        self.t += round(after * MINUTE)
        return self.send(outcome=outcome, places=list(places) or ["-"], **what)

    def go_on(self, to: str = "") -> "Jaw":
        """Tap main actions, each as soon as its floors allow, until step `to` is on (or the end is reached)."""
        while (state := self.state)["now"] != to and not state["ended"]:
            act = main_act(self.table, state["now"])
            self.t = ready_at(state, act, self.t + MINUTE)
            marks = self.send(outcome=act["outcome"], places=next_places(self.table, state))
            assert not [mark for mark in marks if mark[1] == "refused"], (self.events[-1], marks)
        assert self.now == to
        return self

    def take_back(self, event: str = "", after: float = 0.1) -> list[tuple[str, str]]:
        """Take an event back (the last effective one when none is named); return the marks."""
        self.t += round(after * MINUTE)
        return self.send(kind="undo", step="", undo=event or self.state["log"][-1]["id"])


def refused(why: str) -> list[tuple[str, str]]:
    """Return the marks of an event that was not taken, for one reason."""
    return [(why, "refused")]


def still(jaw: Jaw, send: Callable[[], list[tuple[str, str]]], why: str) -> None:
    """Assert that an event is marked as refused for `why`, and that nothing else of the state changed."""
    before = jaw.state
    assert send() == refused(why)
    after = jaw.state
    for key in ("cells", "stamps", "now", "round", "held", "lit", "ended", "log"):
        assert after[key] == before[key], key
    assert after["marks"][:-1] == before["marks"]
