"""A table walked by the fold: the plain way to the end, and once through every exception (for `protocol check`)."""

from collections.abc import Iterator
from typing import Any

from benchapp.core.course import Table
from benchapp.core.fold import State, acts_of, fold, start, take
from benchapp.core.words import _

MINUTE = 60_000


def event(state: State, number: int, t: int, kind: str, step: str, outcome: str, places: list[str]) -> dict[str, Any]:
    """Return a fold event of round `state["round"]` at `t` ms, numbered for its id."""
    return {
        "id": f"e{number}", "kind": kind, "step": step, "outcome": outcome, "places": places, "round": state["round"],
        "t": t, "when": t, "stated": 0, "values": [], "undo": "", "allow": "", "roles": [],
    }


def main_act(table: Table, step: str) -> dict[str, Any]:
    """Return the act of a step's main action: its first one."""
    return next(act for act in table["acts"] if act["kind"] == "confirm" and act["step"] == step)


def next_places(table: Table, state: State) -> list[str]:
    """Return the places that the main action covers next: one group, or the asked places of one sextant."""
    card = next(card for card in table["cards"] if card["step"] == state["now"])
    asked = [place for place in card["places"] if state["cells"][card["step"]][place] == "open"]
    group = dict(map(tuple, table["groups"]))
    if card["by"] == "place" or not asked or asked[0] not in group:
        return asked[:1]
    return [place for place in asked if group.get(place) == group[asked[0]]]


def ready_at(state: State, outcome: dict[str, Any], t: int) -> int:
    """Return the first moment from `t` on at which no floor stands in the way of an act."""
    ends: list[int] = [state["stamps"][f[0]] + f[1] for f in outcome["floors"] if f[0] in state["stamps"]]
    return max([t, *ends])


def walk_on(
    table: Table, events: list[dict[str, Any]], t: int, most: int = 2000
) -> tuple[State, list[dict[str, Any]]]:
    """Go on with main actions from `events` until nothing is asked; return the last state and all events.

    At most `most` events are made, and a main action that changes nothing ends the walk: a table that
    runs in circles is found as well.
    """
    events, acts = list(events), acts_of(table)
    state = fold(table, events)
    after = _shape(state)
    while not state["ended"] and len(events) < most:
        act = main_act(table, state["now"])
        t = ready_at(state, act, t + MINUTE)
        before = after
        if state["held"]:
            events.append(event(state, len(events), t, "resume", "", "", []))
        else:
            places = next_places(table, state)
            events.append(event(state, len(events), t, "confirm", act["step"], act["outcome"], places))
        state = take(table, acts, state, events[-1])
        after = _shape(state)
        if after == before:
            break
    return state, events


def _shape(state: State) -> tuple[str, int, list[list[str]]]:
    """Return what a main action may change; the names of cards and places are those of the table, and stay."""
    return state["now"], state["held"], [list(cells.values()) for cells in state["cells"].values()]


def dead_ends(table: Table) -> Iterator[tuple[str, str, str]]:
    """Yield (step, outcome, why) for each outcome from which the main actions do not lead to the end."""
    state, plain = walk_on(table, [], 0)
    if not _through(state):
        now = state["now"]
        yield now or "?", main_act(table, now)["outcome"] if now else "?", _why(state)
        return
    seen: set[str] = set()
    acts, before = acts_of(table), start(table)
    for count, following in enumerate(plain):
        if before["now"] not in seen:
            seen.add(before["now"])
            yield from _exceptions(table, before, plain[:count])
        before = take(table, acts, before, following)


def _exceptions(table: Table, before: State, events: list[dict[str, Any]]) -> Iterator[tuple[str, str, str]]:
    step, t = before["now"], events[-1]["t"] if events else 0
    single = {name for name, _sextant in table["groups"]}
    for act in table["acts"]:
        if act["kind"] != "confirm" or act["step"] != step or act is main_act(table, step):
            continue
        places = [
            place for place, cell in before["cells"][step].items()
            if cell in act["from"] and (act["of"] == "group" or place in single)
        ]
        if places:
            moment = ready_at(before, act, t + MINUTE)
            taken = event(before, len(events), moment, "confirm", step, act["outcome"], places[:1])
            after, _events = walk_on(table, [*events, taken], moment)
            if not _through(after):
                yield step, act["outcome"], _why(after)


def _through(state: State) -> bool:
    waits = any("wait" in cells.values() for cells in state["cells"].values())
    return state["ended"] == "through" and not waits


def _why(state: State) -> str:
    if state["now"]:
        return _("the work does not get past step {step}", step=repr(state["now"]))
    waiting = [step for step, cells in state["cells"].items() if "wait" in cells.values()]
    return _("places of step {steps} wait for ever", steps=repr(", ".join(waiting)))
