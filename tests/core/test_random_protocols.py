"""Protocols made up at random: what the rules accept is walked to its end by the fold, what they refuse says why.

Many at once: `python -m tests.core.test_random_protocols --count 5000`.
"""

import argparse
import json
from collections import Counter
from dataclasses import dataclass, field
from random import Random
from typing import Any

import pytest

from benchapp.core import course
from benchapp.core.course import can_be_said, compile_table
from benchapp.core.faults import FileFaults
from benchapp.core.fold import acts_of, fold, take
from benchapp.core.protocol import Protocol
from benchapp.core.protocol_rules import read_protocol
from benchapp.core.teeth import JAWS, ROW, places
from benchapp.core.walk import MINUTE, event, ready_at, walk_on
from tests.core.randoms import some

COUNT = 150
ACROSS = 20  # more of them, in which a way leads across light
TAPS = 12  # random taps before the plain way is taken to the end
KINDS = ("tooth", "margin", "connector", "base")
GRADES = ("note", "deviation", "stop")


def random_protocol(random: Random, across: bool = False) -> dict[str, Any]:
    """Return a protocol as plain data: mostly one that makes sense, with a slip in some of them.

    With `across` its first light is one of an option, and a step after it leads to one before it.
    """
    names = [f"step-{n}" for n in range(random.randint(3 if across else 2, 9))]
    lights = sorted(random.sample(range(len(names)), min(len(names), random.choice([0, 1, 1, 1, 2, 2, 3]))))
    lights = sorted({random.randint(1, len(names) - 2), *lights[2:]}) if across else lights
    called = {name for name in names[1:-1] if random.random() < 0.2}
    stages = sorted(random.randint(1, 3) for _ in names)
    protocol = {
        "format": 1, "id": "made-up", "edition": "1", "title": "Made up", "jaws": some(random, list(JAWS), 1),
        "options": some(random, ["one", "two"], int(across)),
        "undo": {"minutes": 10, "light_seconds": 10, "source": "lab"},
        "sources": [{"id": "lab", "kind": "lab", "title": "Rule of this laboratory"}],
        "cautions": [{"id": "resin", "title": "Resin", "words": "Gloves."}],
        "stages": [{"id": f"stage-{n}", "title": f"Stage {n}"} for n in (1, 2, 3)],
        "reasons": [
            {"id": "other", "title": "Other", "asked": ["breach", "hold", "send-back", "stated", "scrap"]}
        ],
    }
    shared = some(random, list(KINDS), 1) if random.random() < 0.8 else []
    protocol["steps"] = [
        _step(random, protocol, names, at, stages[at], lights, called, shared) for at in range(len(names))
    ]
    for step in protocol["steps"]:  # a step that is only done when called is called by somebody
        if step["id"] in called and random.random() < 0.9:
            _call(random, protocol["steps"], step["id"])
    if across:
        _cross(random, protocol)
    elif random.random() < 0.2:
        _slip(random, protocol)
    return protocol


def _step(
    random: Random, protocol: dict[str, Any], names: list[str], at: int, stage: int, lights: list[int],
    called: set[str], shared: list[str],
) -> dict[str, Any]:
    where = shared if random.random() < 0.7 else some(random, list(KINDS))
    by = random.choice(["jaw", "sextant", "place"]) if where else random.choice(["jaw", "sextant"])
    wet = random.random() < 0.4 and (not lights or at <= lights[-1])
    step: dict[str, Any] = {
        "id": names[at], "stage": f"stage-{stage}", "title": f"Step {at}", "words": "Do it.", "picture": "fill",
        "cautions": ["resin"], "minutes": {"is": 1, "source": "lab"}, "wet": wet, "irreversible": at in lights,
        "attended": random.random() < 0.8, "called": names[at] in called, "places": where, "by": by,
    }
    if protocol["options"] and random.random() < (0.4 if at in lights[:-1] else 0.15) and at:
        step["option"] = random.choice(protocol["options"])
    step["outcomes"] = [_outcome("done", of="each" if where else "group", leads="on")]
    if at in lights and random.random() < 0.4:
        step["outcomes"].append(_outcome("none", of="each" if where else "group", leads="on", left_out=True))
    for n in range(random.choice([0, 0, 1, 2])):
        step["outcomes"].append(_exception(random, names, at, lights, bool(where), n))
    since = [name for name in names[:at] if name not in called or step["called"]]
    for kind in ("floors", "ceilings"):
        if since and random.random() < 0.25:
            breach = random.choice(GRADES if kind == "ceilings" or not wet else GRADES[:2])
            step[kind] = [{
                "since": random.choice(since), "minutes": random.randint(0, 40), "seconds": random.randint(1, 59),
                "grace": random.choice([0, 10]), "breach": breach, "source": "lab",
            }]
    if random.random() < 0.2:
        step["values"] = [{
            "name": "count", "title": "Count", "unit": "", "usual": 8, "min": 6, "max": 20, "source": "lab",
            "breach": random.choice(GRADES),
        }]
    return step


def _outcome(name: str, **what: Any) -> dict[str, Any]:
    return {"id": name, "title": name, "said": name, **what}


def _exception(
    random: Random, names: list[str], at: int, lights: list[int], where: bool, number: int
) -> dict[str, Any]:
    free = not lights or at < lights[0] or (at < lights[-1] and random.random() < 0.5)
    ways = ["again", "hold"] + (["back"] if free else []) + (["opens", "wakes", "mended"] if where else [])
    way = random.choice(ways)
    name = f"other-{number}"
    if way == "mended":
        return _outcome(name, of="place", leads="on")
    if way == "back":
        return _outcome(name, of="group", leads="back", to=random.choice(names[: at + 1]))
    if way in ("opens", "wakes"):
        pool = names[:at] if way == "opens" else names[at + 1:]
        if pool:
            return _outcome(name, of="place", leads=way, to=random.choice(pool))
        way = "again"
    return _outcome(name, of="group", leads=way)


def _call(random: Random, steps: list[dict[str, Any]], target: str) -> None:
    """Let a later step open a called one, as a check opens a repair."""
    later = [s for s in steps[[s["id"] for s in steps].index(target) + 1:] if s["places"]]
    if later:
        step = random.choice(later)
        until = {"until": random.choice([target, step["id"]])} if random.random() < 0.1 else {}
        step["outcomes"].append(_outcome("call", of="place", leads="opens", to=target, **until))


def _cross(random: Random, protocol: dict[str, Any]) -> None:
    """Make the first light one of an option, and let a step after it lead to one before it, as it may without."""
    steps = protocol["steps"]
    at = max(1, next(at for at, step in enumerate(steps) if step["irreversible"]))
    if at == len(steps) - 1:
        return
    light, before, after = steps[at], random.choice(steps[:at]), steps[at + 1]
    light |= {"option": random.choice(protocol["options"]), "wet": False}
    for step in (before, after):
        step.pop("option", None)
    after |= {"places": before["places"], "by": before["by"], "called": False}
    opens = before["places"] and random.random() < 0.7
    after["outcomes"] = [
        _outcome("done", of="each" if before["places"] else "group", leads="on"),
        _outcome("across", of="place" if opens else "group", leads="opens" if opens else "back", to=before["id"]),
    ]


def _slip(random: Random, protocol: dict[str, Any]) -> None:
    """Make one slip that a person could make."""
    step = random.choice(protocol["steps"])
    outcome = random.choice(step["outcomes"])
    random.choice([
        lambda: step.update(stage="nowhere"), lambda: step.update(id=protocol["steps"][0]["id"]),
        lambda: outcome.update(to="nobody"), lambda: outcome.update(leads="opens"), lambda: step.update(called=True),
        lambda: step.update(irreversible=True), lambda: step.pop("title"), lambda: step.update(places=[]),
        lambda: step.update(floors=[{"since": step["id"], "minutes": 1, "breach": "stop", "source": "lab"}]),
        lambda: outcome.update(left_out=True),
        lambda: step.update(option="unknown"), lambda: step["outcomes"].clear(), lambda: step.update(colour="red"),
    ])()


def toml(tree: dict[str, Any]) -> str:
    """Return plain data as TOML: strings as JSON writes them, lists of tables inline."""
    return "".join(f"{key} = {_inline(value)}\n" for key, value in tree.items())


def _inline(value: Any) -> str:
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {_inline(one)}" for key, one in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(_inline(one) for one in value) + "]"
    return json.dumps(value)


@dataclass
class Tally:
    """What became of random protocols: accepted, refused by what, and what an accepted one broke."""

    accepted: int = 0
    lit: Counter[int] = field(default_factory=Counter)  # of accepted ones, how many have as many irreversible steps
    ways: Counter[str] = field(default_factory=Counter)  # of accepted ones, how many have an outcome that leads so
    refused: Counter[str] = field(default_factory=Counter)
    walks: int = 0
    taps: int = 0
    given: int = 0
    across: int = 0  # accepted ones in which the light of some case takes a way out of its table
    broken: list[str] = field(default_factory=list)

    def add(self, seed: int, across: bool = False) -> None:
        """Make the protocol of a seed, read it, and walk it in every jaw where it is accepted."""
        random = Random(seed)
        text = toml(random_protocol(random, across))
        try:
            protocol = read_protocol(f"protocol of seed {seed}", text)
        except FileFaults as error:
            self.refused[error.faults[0].what if error.faults else "nothing"] += 1
            if not error.faults or not all(f.where and f.what and f.mend for f in error.faults):
                self.broken.append(f"seed {seed}: refused without a word: {error}")
            return
        self.accepted += 1
        self.lit[sum(step.irreversible for step in protocol.steps)] += 1
        self.across += any(
            not can_be_said([s for s in protocol.steps if s.option in (None, step.option, option)], step, outcome)
            for step in protocol.steps for outcome in step.outcomes for option in protocol.options
        )
        self.ways.update({outcome.leads for step in protocol.steps for outcome in step.outcomes})
        for jaw in protocol.jaws:
            for teeth in (ROW[jaw], tuple(sorted(some(random, list(ROW[jaw]), 2, 6), key=ROW[jaw].index))):
                for options in dict.fromkeys([(), *((one,) for one in protocol.options), tuple(protocol.options)]):
                    self._walk(seed, random, protocol, compile_table(protocol, jaw, teeth, options))

    def _walk(self, seed: int, random: Random, protocol: Protocol, table: dict[str, Any]) -> None:
        self.walks += 1
        for start in ([], self._tapped(random, table)):
            state, events = walk_on(table, start, start[-1]["t"] if start else 0, most=4000)
            waits = [s for s, cells in state["cells"].items() if "wait" in cells.values()]
            if state["ended"] != "through" or waits:
                way = [(e["kind"], e["step"], e["outcome"], e["places"]) for e in start]
                self.broken.append(f"seed {seed}, {table['jaw']}: stands at {state['now']!r}, waits {waits}, "
                                   f"after {len(events)} events, begun with {way}")
            self._back_from_light(seed, table, events)
            refused = [m["why"] for m in state["marks"] if m["grade"] == "refused"]
            if refused:
                self.broken.append(f"seed {seed}, {table['jaw']}: the plain way was refused: {refused}")

    def _back_from_light(self, seed: int, table: dict[str, Any], events: list[dict[str, Any]]) -> None:
        """No step that lies before light which was given may ask again: read from the table, not from the fold."""
        acts, order = acts_of(table), [card["step"] for card in table["cards"]]
        opening = {act["step"] for act in table["acts"] if act["to"] == "wait"}
        state, lit, given = fold(table, []), -1, set()
        for one in events:
            state = take(table, acts, state, one)
            act = acts.get((one["kind"], one["step"], one["outcome"]), {"light": 0})
            self.given += act["light"]
            # A step of light may itself open places that it has not lit yet, and is not looked at here.
            given |= {one["step"]} if act["light"] and one["step"] not in opening else set()
            through = [order.index(s) for s in given if not {"open", "wait"} & set(state["cells"][s].values())]
            lit = max([lit, *through])
            behind = [step for step in order[:max(lit, 0)] if "open" in state["cells"][step].values()]
            if behind:
                self.broken.append(f"seed {seed}, {table['jaw']}: {behind} ask again after light at {order[lit]}")
                return

    def _tapped(self, random: Random, table: dict[str, Any]) -> list[dict[str, Any]]:
        """Tap at random what the card in hand allows, exceptions included, each legal when it is tapped."""
        acts, events, t = acts_of(table), [], 0
        state, single = fold(table, []), {name for name, _ in table["groups"]}
        for number in range(TAPS):
            if state["ended"]:
                break
            if state["held"]:
                choice, fit = {"kind": "resume", "step": "", "outcome": ""}, []
            else:
                # What leads back is not offered any more once something was lit.
                of_card = [a for a in table["acts"] if a["kind"] == "confirm" and a["step"] == state["now"]
                           and not (a["reset"] and state["lit"])]
                choice = random.choice(of_card)
                cells = state["cells"][state["now"]]
                fit = [p for p, cell in cells.items()
                       if cell in choice["from"] and (choice["of"] != "place" or p in single)]
                if not fit:
                    continue
                t = ready_at(state, choice, t + MINUTE)
            events.append(event(state, number, t, choice["kind"], choice["step"], choice["outcome"],
                                some(random, fit, 1, 3) if fit else []))
            state = take(table, acts, state, events[-1])
            self.taps += 1
        return events


def tally(seeds: range, across: bool = False) -> Tally:
    """Return what became of the protocols of these seeds."""
    found = Tally()
    for seed in seeds:
        found.add(seed, across)
    return found


def test_accepted_protocols_are_walked_to_the_end_and_refused_ones_say_why() -> None:
    """Accepted random protocols (a quarter at least) lead to the end from anywhere, the others say why."""
    found = tally(range(COUNT))
    assert found.broken == []
    assert COUNT / 4 <= found.accepted < COUNT
    assert found.accepted + found.refused.total() == COUNT
    assert min(found.ways[way] for way in ("on", "again", "hold", "opens", "wakes", "back")) >= 5
    assert len(found.refused) >= 5 and found.taps > 500
    assert found.lit[2] + found.lit[3] >= 10 and found.given > 500


def test_ways_across_light_that_only_some_cases_have_are_walked_in_all_of_them() -> None:
    """Where the first light is one of an option and a way leads across it, every case comes to its end all the same."""
    found = tally(range(ACROSS), across=True)
    assert found.broken == [] and found.across >= 4


def test_the_tally_finds_a_protocol_that_leads_nowhere() -> None:
    """A table whose called step is never given back is told as broken: the check can fail."""
    random, found = Random(1), Tally()
    protocol = next(p for p in _accepted(random) if len(p.steps) > 3)
    table = compile_table(protocol, protocol.jaws[0], ROW[protocol.jaws[0]])
    first = table["cards"][0]["step"]
    for act in table["acts"]:
        if act["step"] == first:
            act["to"] = ""
    found._walk(1, random, protocol, table)
    assert found.broken and "stands at" in found.broken[0]


def test_the_tally_finds_a_table_that_leads_across_light(monkeypatch: pytest.MonkeyPatch) -> None:
    """Were no way left out of a table for the light of its case, steps before it would ask again, and that is told."""
    monkeypatch.setattr(course, "can_be_said", lambda *_: True)
    assert any("ask again after light" in line for line in tally(range(ACROSS), across=True).broken)


def _accepted(random: Random) -> Any:
    while True:
        try:
            yield read_protocol("made up", toml(random_protocol(random)))
        except FileFaults:
            continue


def test_places_of_random_protocols_are_those_of_the_jaw() -> None:
    """Every place that a compiled card names is one of its jaw's places, so random walks tap real ones."""
    random = Random(2)
    for protocol, _ in zip(_accepted(random), range(10), strict=False):
        jaw = protocol.jaws[0]
        known = {p.name for p in places(jaw, ROW[jaw], ("tooth", "margin", "connector", "base"))} | {"-", "s1", "s2",
                                                                                                      "s3"}
        for card in compile_table(protocol, jaw, ROW[jaw])["cards"]:
            assert set(card["places"]) <= known and card["places"]


def main() -> None:
    """Run many and say what became of them."""
    asked = argparse.ArgumentParser(description=main.__doc__)
    asked.add_argument("--count", type=int, default=5000)
    asked.add_argument("--first", type=int, default=0)
    count, first = (given := asked.parse_args()).count, given.first
    found = tally(range(first, first + count))
    print(f"{count} random protocols: {found.accepted} accepted ({found.accepted / count:.0%}), "
          f"{found.refused.total()} refused; {found.walks} tables, {found.taps} random taps, "
          f"{len(found.broken)} broken")
    print(f"  {found.across} lead across light that only some of their cases have")
    print("  accepted ones have irreversible steps " + ", ".join(f"{n}: {k}" for n, k in sorted(found.lit.items())))
    print("  accepted ones lead " + ", ".join(f"{way}: {times}" for way, times in found.ways.most_common()))
    for what, times in found.refused.most_common(12):
        print(f"  {times} refused first for: {what}")
    for line in found.broken[:20]:
        print(line)
    raise SystemExit(bool(found.broken))


if __name__ == "__main__":
    main()
