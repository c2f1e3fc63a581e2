"""Random well-formed tables and random walks through them, for whoever hands in a seeded `random.Random`.

The tables are wilder than any protocol compiles to, and their names are such that an object of JavaScript or a
sort of keys could trip over them; the walks are half legal, half not.
"""

from collections.abc import Callable
from functools import cache
from pathlib import Path
from random import Random
from typing import Any

from benchapp.core.course import compile_table
from benchapp.core.fold import acts_of, start, take
from benchapp.core.protocol import Protocol
from benchapp.core.protocol_rules import read_protocol
from benchapp.core.teeth import JAWS, ROW
from benchapp.paths import PROTOCOLS

Table = dict[str, Any]
Event = dict[str, Any]

STEPS = ["constructor", "prototype", "valueof", "a", "b-2", "zz", "now", "m1", "cells"]
SINGLES = ["11", "7", "0", "m11b", "11-21", "b-palate", "constructor", "open", "21"]
GROUPS = ["s1", "s2", "s3", "-"]
OUTCOMES = ["ok", "no", "constructor", "again", "x1"]
ODD_NAMES = ["", "__proto__", "toString", "hasOwnProperty", "constructor", "é", "e\u0301", "１１", "none", "off",
             "\u2028"]
ODD_NUMBERS = ["", "1e3", "-0.5", "-0", "5", "5.0", "05", "10.", ".5", "٣", "５", " 5", "5\n", "+5", "0x10", "Infinity",
               "999999999.999999", "1234567890", "0.1000001", "NaN"]
CELLS = ["off", "open", "wait", "done"]
GRADES = ["note", "deviation", "stop"]
ROLES = ["technician", "supervisor", "technique-lead"]
SECONDS = [0, 1, 500, 1000, 10_000, 60_000]


@cache
def protocols() -> tuple[Protocol, ...]:
    """Return the protocols that come with the package, read once."""
    found = sorted(Path(PROTOCOLS).glob("*.toml"), key=lambda path: path.stem)  # so that the default one is the first
    return tuple(read_protocol(path.name, path.read_text("utf-8")) for path in found)


def some(random: Random, pool: list[Any], least: int = 0, most: int | None = None) -> list[Any]:
    """Return `least` to `most` different members of a pool, in random order."""
    most = len(pool) if most is None else min(most, len(pool))
    return random.sample(pool, random.randint(min(least, most), most))


def random_table(random: Random) -> Table:
    """Return a table that no protocol compiles to, but that a fold must be able to run."""
    steps = some(random, STEPS, 2, 6)
    singles = some(random, SINGLES, 1)
    cards = [_card(random, step, singles) for step in steps]
    acts = [_act(random, steps, card, n) for card in cards for n in range(random.randint(1, 4))]
    acts += [_plain(random, "hold", held=1), _plain(random, "resume", held=-1)]
    acts += [_plain(random, "scrap", who=["supervisor"], undo=0)]
    together = some(random, steps, 1)
    acts += [_plain(random, kind, shift=together) for kind in ("dark", "bright")]
    acts += [
        _plain(random, "sendback", step=step, reset=steps[at:], round=1) for at, step in enumerate(steps) if at < 3
    ]
    return {
        "format": random.choice([1, 2]), "protocol": {"id": "random", "edition": "1"}, "jaw": "upper", "speed": 1,
        "groups": [[name, random.choice(["s1", "s2", "s3", ""])] for name in singles], "cards": cards, "acts": acts,
    }


def compiled_table(random: Random) -> Table:
    """Return a table compiled from a protocol of the package for a random jaw with random options."""
    protocol = random.choice(protocols())
    jaw = random.choice([jaw for jaw in JAWS if jaw in protocol.jaws])
    speed = random.choice([1, 1, 60])
    return compile_table(protocol, jaw, some(random, list(ROW[jaw]), 2), some(random, protocol.options), speed)


def _card(random: Random, step: str, singles: list[str]) -> dict[str, Any]:
    places = some(random, GROUPS, 1, 2) + some(random, singles)
    return {
        "step": step, "stage": "s", "by": random.choice(["place", "sextant", "jaw"]), "places": places,
        "asleep": some(random, places, 0, len(places) - random.randint(0, 1)), "wet": int(random.random() < 0.3),
        "light": int(random.random() < 0.2), "attended": random.randint(0, 1),
    }


def _act(random: Random, steps: list[str], card: dict[str, Any], number: int) -> dict[str, Any]:
    often: Callable[[float], bool] = lambda share: random.random() < share  # noqa: E731
    main = number == 0
    also = [[random.choice(steps), some(random, CELLS, 1),
             random.choice(CELLS)] for _ in range(random.choice([0, 0, 1, 2]))]
    tail = steps[random.randrange(len(steps)):] if not main and often(0.2) else []
    return {
        "kind": "confirm", "step": card["step"], "outcome": OUTCOMES[0] if main else random.choice(OUTCOMES),
        "of": "each" if main else random.choice(["group", "place", "each"]),
        "from": ["open"] if main else some(random, CELLS, 1),
        "to": "done" if main else random.choice(["done", "wait", "", "off", "open"]),
        "also": also, "stamp": card["step"] if main or often(0.3) else "",
        "floors": _limits(random, steps), "ceilings": _limits(random, steps),
        "limits": [[random.choice(["n", "constructor"]), "-1", "5.5", random.choice(GRADES)]] if often(0.4) else [],
        "reset": tail, "held": random.choice([0, 0, 0, 0, 1, -1]), "light": int(often(0.1)),
        "round": int(bool(tail)), "undo": random.choice([0, 10_000, 600_000]),
        "who": some(random, ROLES, 1) if often(0.1) else [],
    }


def _limits(random: Random, steps: list[str]) -> list[list[Any]]:
    return [
        [random.choice(steps), random.choice(SECONDS), random.choice([0, 0, 500]), random.choice(GRADES)]
        for _ in range(random.choice([0, 0, 0, 1, 2]))
    ]


def _plain(random: Random, kind: str, **what: Any) -> dict[str, Any]:
    return {
        "kind": kind, "step": "", "outcome": "", "of": "group", "from": [], "to": "", "also": [], "stamp": "",
        "floors": [], "ceilings": [], "limits": [], "reset": [], "held": 0, "light": 0, "round": 0,
        "undo": random.choice([0, 60_000]), "who": [],
    } | what


def random_walk(random: Random, table: Table, length: int) -> list[Event]:
    """Return `length` events made with the state before each at hand, so that about half of them are legal."""
    acts, state, t = acts_of(table), start(table), 1_700_000_000_000
    events: list[Event] = []
    for number in range(length):
        t += random.choice([0, 1, 999, 1000, 5000, 30_000, 60_000, 1_800_000, -400])
        event = _event(random, table, state, events, number, t)
        if event["id"] not in {e["id"] for e in events}:
            state = take(table, acts, state, event)
        events.append(event)
    return events


def _event(random: Random, table: Table, state: Any, events: list[Event], number: int, t: int) -> Event:
    event = {
        "id": f"e{number}", "kind": "confirm", "step": state["now"], "outcome": "", "places": [],
        "round": state["round"], "values": [], "t": t, "when": t, "stated": 0, "undo": "", "allow": "",
        "roles": some(random, ROLES, 0, 2),
    }
    random.choices([_said, _odd, _undo, _resolve, _reason, _jaw], [60, 10, 10, 6, 3, 11])[0](random, table,
                                                                                             state, event)
    if events and random.random() < 0.03:
        event["id"] = random.choice(events)["id"]
    if random.random() < 0.04:
        event["round"] += random.choice([-1, 1])
    if random.random() < 0.08:
        event |= {"stated": 1, "t": t - random.choice([0, 1, 2000, 60_000, -1])}
    return event


def _said(random: Random, table: Table, state: Any, event: Event) -> None:
    """What a tap says: mostly something that an act of the card in hand allows."""
    of_card = [a for a in table["acts"] if a["kind"] == "confirm" and a["step"] == state["now"]]
    act = random.choice(of_card or table["acts"])
    if of_card and random.random() < 0.5:
        act = of_card[0]
    cells = state["cells"].get(act["step"], {})
    fit = [place for place, cell in cells.items() if cell in act["from"]]
    pool = fit if fit and random.random() < 0.9 else list(cells)
    names = [name for name, *_ in act["limits"]] or ["n"]
    event |= {
        "step": act["step"], "outcome": act["outcome"], "places": some(random, pool, 1, random.choice([1, 2, 40])),
        "values": [{"name": random.choice(names), "value": random.choice(ODD_NUMBERS), "unit": ""}
                   for _ in range(random.choice([0, 0, 1, 2]))],
    }


def _odd(random: Random, table: Table, state: Any, event: Event) -> None:
    """What no page sends: names that the table does not have, places twice or none."""
    act = random.choice(table["acts"])
    for key, pool in (("step", STEPS), ("outcome", OUTCOMES), ("kind", ["confirm", "sendback", "opened"])):
        event[key] = random.choice([act[key], act[key], random.choice(pool), random.choice(ODD_NAMES)])
    event["places"] = random.choices([*SINGLES, *GROUPS, *ODD_NAMES], k=random.randint(0, 3))


def _undo(random: Random, table: Table, state: Any, event: Event) -> None:
    log = [e["id"] for e in state["log"]]
    event |= {"kind": "undo", "undo": random.choice([*log[-1:] * 3, *log[:1], "nobody", ""])}
    if log and event["undo"] == log[-1] and random.random() < 0.2:  # at the very edge
        last = state["log"][-1]
        act = acts_of(table)[last["kind"], last["step"], last["outcome"]]
        event["t"] = event["when"] = last["when"] + act["undo"]


def _resolve(random: Random, table: Table, state: Any, event: Event) -> None:
    open_marks = [m["id"] for m in state["marks"] if m["grade"] == "refused"]
    event |= {
        "kind": "resolve", "allow": random.choice([*open_marks, "nobody"]),
        "outcome": random.choice(["in", "in", "aside", "__proto__", ""]),
    }


def _reason(random: Random, table: Table, state: Any, event: Event) -> None:
    event |= {
        "kind": "reason", "allow": random.choice([*(m["id"] for m in state["marks"]), "nobody"]),
        "outcome": random.choice(["called-away", *ODD_NAMES]),
    }


def _jaw(random: Random, table: Table, state: Any, event: Event) -> None:
    """Hold, resume, light off and on, scrap and send back; scrap least, since nothing can be done to a scrapped jaw."""
    kinds = ["resume"] * 6 if state["held"] else ["hold"] * 3
    kinds += ["bright"] * 3 if state["dark"] else ["dark"] * 2
    kind = random.choices([random.choice(kinds), "sendback", "scrap"], [10, 4, 1])[0]
    step = random.choice([a["step"] for a in table["acts"] if a["kind"] == kind] or [""])
    event |= {"kind": kind, "step": step}
