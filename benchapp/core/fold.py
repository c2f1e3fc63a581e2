"""Table and events folded into the state of a jaw: the same few lines stand in static/js/fold.js.

State: cells[step][place] is off, open, wait or done; stamps; the step that is on; round; held; lit; dark (since
when the light of a load is off, ms, or 0); ended;
log (effective events, for undo); marks (what was not ordinary: id, why, grade, resolved, reason).
An event: {id, kind, step, outcome, places, round, t, when, stated, values, undo, allow, roles}, times in ms.
"""

import re
from collections.abc import Iterable
from typing import Any

State = dict[str, Any]
Event = dict[str, Any]

_NUMBER = re.compile(r"-?[0-9]{1,9}(\.[0-9]{1,6})?")


def start(table: dict[str, Any]) -> State:
    """Return the state of a jaw to which nothing has happened yet."""
    cells = {
        card["step"]: {p: "off" if p in card["asleep"] else "open" for p in card["places"]} for card in table["cards"]
    }
    return _settle(table, {
        "cells": cells, "stamps": {}, "now": "", "round": 0, "held": 0, "lit": 0, "dark": 0, "ended": "",
        "log": [], "marks": [], "refused": [],
    })


def fold(table: dict[str, Any], events: Iterable[Event]) -> State:
    """Fold events in their order into the state of the jaw; an id that was seen before is skipped."""
    acts = acts_of(table)
    state, seen = start(table), set()
    for event in events:
        if event["id"] not in seen:
            seen.add(event["id"])
            state = take(table, acts, state, event)
    return state


def acts_of(table: dict[str, Any]) -> dict[Any, Any]:
    """Return the acts by what an event names; of two alike the first one counts."""
    return {(a["kind"], a["step"], a["outcome"]): a for a in reversed(table["acts"])}


def take(table: dict[str, Any], acts: dict[Any, Any], s: State, e: Event) -> State:
    """Return the state after one more event, whose id was not seen before; `s` is used up."""
    if e["kind"] == "undo":
        return _undo(table, acts, s, e)
    if e["kind"] == "resolve":
        return _resolve(table, acts, s, e)
    if e["kind"] == "reason":
        for mark in s["marks"]:
            if mark["id"] == e["allow"] and mark["grade"] != "refused":
                mark["reason"] = e["outcome"]
        return s
    act = acts.get((e["kind"], e["step"], e["outcome"]))
    why = _refusal(table, s, act, e)
    if why:
        s["refused"].append(e)
        _mark(s, e, why, "refused")
        return s
    _breaches(s, act, e)
    return _settle(table, _set(table, acts, s, act, e))


def _refusal(table: dict[str, Any], s: State, act: Any, e: Event) -> str:
    """Say in one word why an event cannot be taken, or "" when it can."""
    if act is None:
        return "unknown"
    if s["ended"] and not (s["ended"] == "through" and act["kind"] == "scrap"):
        return "ended"
    if e["round"] != s["round"]:
        return "round"
    if act["who"] and not any(role in act["who"] for role in e["roles"]):
        return "who"
    if s["held"] and act["kind"] not in ("resume", "scrap") and not _wet(table, s["now"]):
        return "held"
    if e["stated"] and (e["t"] > e["when"] or (s["log"] and e["t"] < s["log"][-1]["t"])):
        return "stated"
    if act["kind"] in ("dark", "bright") and not _may_turn(s, act):
        return "step"
    if act["kind"] == "confirm":
        if s["dark"]:
            return "dark"
        cells = s["cells"].get(e["step"], {})
        if e["step"] != s["now"]:
            return "step"
        if s["lit"] and act["reset"]:
            return "light"
        if not e["places"] or len(set(e["places"])) != len(e["places"]):
            return "place"
        if any(cells.get(p, "none") not in act["from"] for p in e["places"]):
            return "place"
        if not all(_fits(table, act, p) for p in e["places"]):
            return "place"
        if any(f[3] == "stop" and _early(s, f, e) for f in act["floors"]):
            return "early"
    if act["kind"] == "hold" and s["held"]:
        return "held"
    if act["kind"] == "resume" and not s["held"]:
        return "step"
    if act["kind"] == "sendback" and (s["lit"] or _at(table, act["step"]) > _at(table, s["now"])):
        return "light" if s["lit"] else "step"
    return ""


def _may_turn(s: State, act: Any) -> bool:
    """Light goes off only while it is on for a load, and comes on again only where it went off."""
    if act["kind"] == "bright":
        return bool(s["dark"])
    return not s["dark"] and s["now"] in act["shift"] and _last_lit(s, act) != ""


def _last_lit(s: State, act: Any) -> str:
    """The step whose stamp is the latest of those that a time without light moves on."""
    found = ""
    for step in act["shift"]:
        if step in s["stamps"] and (not found or s["stamps"][step] >= s["stamps"][found]):
            found = step
    return found


def _early(s: State, limit: list[Any], e: Event) -> bool:
    return limit[0] in s["stamps"] and e["t"] + limit[2] < s["stamps"][limit[0]] + limit[1]


def _late(s: State, limit: list[Any], e: Event) -> bool:
    return limit[0] in s["stamps"] and e["t"] - limit[2] > s["stamps"][limit[0]] + limit[1]


def _breaches(s: State, act: Any, e: Event) -> None:
    """Mark what is out of the ordinary in an event that is taken all the same."""
    if e["stated"]:
        _mark(s, e, "stated", "note")
    for limit in act["floors"]:
        if _early(s, limit, e):
            _mark(s, e, "early", limit[3])
    for limit in act["ceilings"]:
        if _late(s, limit, e):
            _mark(s, e, "late", limit[3])
    for name, least, most, grade in act["limits"]:
        for value in e["values"]:
            if value["name"] == name and not _within(value["value"], least, most):
                _mark(s, e, "limit", grade)


def _within(value: str, least: str, most: str) -> bool:
    return bool(_NUMBER.fullmatch(value)) and float(least) <= float(value) <= float(most)


def _mark(s: State, e: Event, why: str, grade: str) -> None:
    s["marks"].append({"id": e["id"], "why": why, "grade": grade, "resolved": "", "reason": ""})
    if grade == "stop":
        s["held"] = 1


def _set(table: dict[str, Any], acts: dict[Any, Any], s: State, act: Any, e: Event) -> State:
    """Do what the act says, whatever the state; the caller has asked whether it may."""
    for place in e["places"] if act["kind"] == "confirm" and act["to"] else []:
        s["cells"][e["step"]][place] = act["to"]
    _elsewhere(s, act, e, s["cells"])
    fresh = start(table)["cells"] if act["reset"] else {}
    for card in act["reset"]:
        s["cells"][card] = fresh[card]
        s["stamps"].pop(card, None)
    if act["reset"]:
        s["now"], s["dark"] = "", 0
    for before in _standing(acts, s["log"], act["reset"]) if act["reset"] and table["format"] > 1 else []:
        _elsewhere(s, acts[before["kind"], before["step"], before["outcome"]], before, act["reset"])
    if act["stamp"]:
        s["stamps"][act["stamp"]] = e["t"]
    if act["kind"] == "dark":
        s["dark"] = e["t"]
    if act["kind"] == "bright":
        s["stamps"][_last_lit(s, act)] += max(0, e["t"] - s["dark"])
        s["dark"] = 0
    s["round"] += act["round"]
    s["held"] = max(0, min(1, s["held"] + act["held"]))
    s["lit"] = max(s["lit"], act["light"])
    if act["kind"] == "scrap":
        s["ended"] = "scrap"
    s["log"].append(e)
    return s


def _elsewhere(s: State, act: Any, e: Event, cards: Iterable[str]) -> None:
    """Do what an act says of the same places on some cards."""
    for place in e["places"] if act["kind"] == "confirm" else []:
        for card, froms, to in act["also"]:
            if card in cards and s["cells"].get(card, {}).get(place, "none") in froms:
                s["cells"][card][place] = to


def _standing(acts: dict[Any, Any], log: list[Event], reset: list[str]) -> list[Event]:
    """Return the events whose steps neither begin anew now nor did after them."""
    kept: list[Event] = []
    for e in log:
        kept.append(e)
        anew = acts[e["kind"], e["step"], e["outcome"]]["reset"]
        if anew:
            kept = [one for one in kept if one["step"] not in anew]
    return [one for one in kept if one["step"] not in reset]


def _undo(table: dict[str, Any], acts: dict[Any, Any], s: State, e: Event) -> State:
    """Take back the last effective event by replaying the ones before it."""
    last = s["log"][-1] if s["log"] else None
    act = acts.get((last["kind"], last["step"], last["outcome"])) if last else None
    if last is None or act is None or last["id"] != e["undo"] or _old(act, last, e):
        _mark(s, e, "undo", "refused")
        return s
    back = start(table)
    for before in s["log"][:-1]:
        if any(m["id"] == before["id"] and m["grade"] == "stop" for m in s["marks"]):
            back["held"] = 1
        _settle(table, _set(table, acts, back, acts[before["kind"], before["step"], before["outcome"]], before))
    back["refused"] = s["refused"]
    back["marks"] = [m for m in s["marks"] if m["id"] != last["id"] or m["grade"] == "refused"]
    back["round"] = s["round"] + act["round"]  # a round is never counted twice, or a late tap could slip into it
    return back


def _old(act: Any, last: Event, e: Event) -> bool:
    return not act["undo"] or bool(e["when"] - last["when"] > act["undo"])


def _resolve(table: dict[str, Any], acts: dict[Any, Any], s: State, e: Event) -> State:
    """A supervisor takes a refused event in as if it had been legal, or sets it aside."""
    for mark in s["marks"]:
        if mark["id"] == e["allow"] and mark["grade"] == "refused" and not mark["resolved"]:
            mark["resolved"] = e["outcome"]
            for event in s["refused"]:
                act = acts.get((event["kind"], event["step"], event["outcome"]))
                if event["id"] == e["allow"] and e["outcome"] == "in" and _can_take_in(s, act):
                    known = s["cells"].get(event["step"], {})
                    taken = {**event, "places": [p for p in event["places"] if p in known and _fits(table, act, p)]}
                    s = _settle(table, _set(table, acts, s, act, taken))
    return s


def _can_take_in(s: State, act: Any) -> bool:
    """Only what was said of places, while the jaw is under way; and after first light nothing goes back."""
    return act is not None and act["kind"] == "confirm" and not s["ended"] and not (s["lit"] and act["reset"])


def _settle(table: dict[str, Any], s: State) -> State:
    """Stay on the card while it asks for anything, then the first card in order that asks."""
    if not s["now"] or not _asks(s, s["now"]):
        s["now"] = next((card["step"] for card in table["cards"] if _asks(s, card["step"])), "")
    if not s["now"] and not s["ended"]:
        s["ended"] = "through"
    return s


def _asks(s: State, step: str) -> bool:
    return "open" in s["cells"][step].values()


def _wet(table: dict[str, Any], step: str) -> bool:
    return any(card["wet"] for card in table["cards"] if card["step"] == step)


def _fits(table: dict[str, Any], act: Any, place: str) -> bool:
    """An exception is said of single places: a group that it sent elsewhere could never come back."""
    return act["of"] != "place" or any(place == single for single, _ in table["groups"])


def _at(table: dict[str, Any], step: str) -> int:
    steps = [card["step"] for card in table["cards"]]
    return steps.index(step) if step in steps else len(steps)
