"""Nothing that a person writes breaks the reader of protocols, and whatever it accepts works to the end."""

import random
import re
import tomllib
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from benchapp.core.course import compile_table
from benchapp.core.faults import FileFaults
from benchapp.core.protocol import Protocol
from benchapp.core.protocol_rules import read_protocol
from benchapp.core.teeth import ROW
from benchapp.core.walk import walk_on
from benchapp.paths import PROTOCOLS
from tests.core.randoms import random_walk
from tests.core.small import SMALL
from tests.counts import count

DEFAULT = (PROTOCOLS / "green-splinted.toml").read_text("utf-8")


def read_or_faults(text: str) -> Protocol | None:
    """Return the protocol of a text, or None when its faults were reported; nothing else may happen."""
    try:
        return read_protocol("fuzz", text)
    except FileFaults as error:
        assert error.faults and all(f.where and f.what and f.mend for f in error.faults)
        return None


def walks_to_the_end(protocol: Protocol) -> None:
    """Assert that each jaw of an accepted protocol compiles and is walked to its end, without and with options."""
    for jaw in protocol.jaws:
        for teeth in (ROW[jaw], ROW[jaw][7:9]):
            for options in ((), tuple(protocol.options)):
                state, _ = walk_on(compile_table(protocol, jaw, teeth, options), [], 0)
                assert state["ended"] == "through"
                assert not [mark for mark in state["marks"] if mark["grade"] == "refused"]
        wanders_to_the_end(compile_table(protocol, jaw, ROW[jaw][6:10], protocol.options))


def wanders_to_the_end(table: dict[str, Any]) -> None:
    """Assert that main actions lead to the end also after random taps, legal or not."""
    for seed in range(4):
        events = random_walk(random.Random(seed), table, 25)
        state, way = walk_on(table, events, events[-1]["t"])
        waits = [(step, p) for step, cells in state["cells"].items() for p, cell in cells.items() if cell == "wait"]
        assert state["ended"] == "scrap" or (state["ended"] == "through" and not waits), (seed, waits,
                                                                                          state["now"], len(way))


CALM = settings(deadline=None, suppress_health_check=list(HealthCheck), max_examples=count(75, 150))


@CALM
@given(st.one_of(st.text(max_size=200), st.binary(max_size=200).map(lambda b: b.decode("utf-8", "surrogateescape"))))
def test_any_text_is_read_or_reported(text: str) -> None:
    """Any text at all, even one that is no text, gives faults and never another exception."""
    assert read_or_faults(text) is None


@pytest.mark.parametrize("text", [
    "a = " + "[" * 5000, "a = " + "{b=" * 5000, ".".join("a" * 5000) + " = 1", "[" + ".".join("a" * 5000) + "]",
    "format = " + "9" * 5000, "a = 1e99999999999999999999", "a = 9999-99-99", "a = \x00", "\ufeffformat = 1",
    "[[steps]]\n" * 3000,
    "steps = 1", "steps = [1, [], {}]", "format = 0x1\nid = ''", "a = '\ud800'",
], ids=range(14))
def test_extremes_are_reported(text: str) -> None:
    """Deep nesting, numbers without end, half characters and lists of the wrong things are faults like any other."""
    assert read_or_faults(text) is None


TOKEN = re.compile(r'"[^"\n]*"|\b[0-9]+\b|\btrue\b|\bfalse\b')
WORDS_OF_THE_FORMAT = ['"opens"', '"wakes"', '"back"', '"on"', '"again"', '"hold"', '"group"', '"place"',
                       '"each"', '"jaw"',
                       '"sextant"', '"stop"', '"note"', '"tooth"', '"margin"', '"base"', "0", "1", "true", "false"]


def mutated(source: random.Random, text: str) -> str:
    """Return a text with one to three of its lines deleted, doubled or exchanged, or of its words altered."""
    for _ in range(source.randint(1, 3)):
        lines = text.splitlines(keepends=True)
        at, to = source.randrange(len(lines)), source.randrange(len(lines))
        match source.choice("-+=.######"):
            case "-":
                del lines[at]
            case "+":
                lines.insert(to, lines[at])
            case "=":
                lines[at], lines[to] = lines[to], lines[at]
            case ".":
                words = lines[at].split(" ")
                words[source.randrange(len(words))] = source.choice(["-1", "1.5", "[]", "{}", "=", "#", "nan", '"""'])
                lines[at] = " ".join(words)
            case _:
                lines = [_other_word(source, text)]
        text = "".join(lines)
    return text


def _other_word(source: random.Random, text: str) -> str:
    """Return a text with one of its names, numbers or truths exchanged for another one."""
    tokens = list(TOKEN.finditer(text))
    token = source.choice(tokens)
    alike = [t.group() for t in tokens if t.group()[0] == token.group()[0]]
    return text[:token.start()] + source.choice([*alike, *WORDS_OF_THE_FORMAT]) + text[token.end():]


@pytest.mark.parametrize("chunk", range(2))
def test_a_mutated_file_is_reported_or_walks_to_the_end(chunk: int) -> None:
    """Whatever a slip of the hand makes of a sound file, it is reported, or it is a protocol that works to the end."""
    accepted = 0
    tries = count(350, 700)
    for seed in range(tries):
        source = random.Random(f"{chunk} {seed}")
        protocol = read_or_faults(mutated(source, DEFAULT if seed % 12 == 0 else SMALL))
        if protocol is not None:
            accepted += 1
            walks_to_the_end(protocol)
    assert tries / 14 < accepted < tries * 6 / 7


def random_protocol(source: random.Random) -> str:
    """Return the text of a protocol that has the right shape, with steps and ways between them drawn at random."""
    ids = ["constructor", "two", "three", "four", "five", "six"][:source.randint(2, 6)]
    lights = source.sample(ids, min(len(ids), source.choice([0, 1, 1, 1, 2, 3])))
    tree = tomllib.loads(SMALL)
    return toml(tree | {"steps": [_random_step(source, ids, at, lights) for at in range(len(ids))]})


def _random_step(source: random.Random, ids: list[str], at: int, lights: list[str]) -> dict[str, Any]:
    places = source.choice([["connector", "tooth"]] * 5 + [["connector"], ["base"], []])
    outcomes = [_random_outcome(source, ids, at, number, bool(places)) for number in range(source.randint(1, 3))]
    before = ids[:at]
    limits = [{"since": source.choice(before or ids), "minutes": 5,
               "breach": source.choice(["note", "deviation"]), "source": "lab"}]
    return {
        "id": ids[at], "stage": "work", "title": "T", "words": "W", "picture": "p",
        "minutes": {"is": 1, "source": "lab"},
        "places": places, "outcomes": outcomes, "irreversible": ids[at] in lights, "called": source.random() < 0.25,
        "wet": source.random() < 0.1, "by": source.choice(["jaw", "jaw", "sextant", *(["place"] if places else [])]),
        "floors": limits if before and source.random() < 0.2 else [],
        "ceilings": limits if before and source.random() < 0.2 else [],
        "option": "extra" if source.random() < (0.3 if ids[at] in lights else 0.1) else None,
    }


def _random_outcome(source: random.Random, ids: list[str], at: int, number: int, places: bool) -> dict[str, Any]:
    leads = source.choice(["on", "on", "wakes"] if number == 0 else ["on", "again", "hold", "opens", "opens",
                                                                     "back", "wakes"])
    if not places and leads in ("opens", "wakes"):
        leads = "on"
    of = "group" if leads == "back" or not places else "each" if number == 0 or leads == "wakes" else "place"
    target = {"opens": ids[:at], "wakes": ids[at + 1:], "back": ids[:at + 1]}.get(leads)
    if target == []:
        leads, target = "on", None
    outcome: dict[str, Any] = {"id": f"o{number}", "title": "T", "said": "S", "of": of, "leads": leads}
    outcome["to"] = source.choice(target) if target else None
    outcome["until"] = source.choice([None, None, *ids]) if leads == "opens" else None
    return outcome


def test_random_protocols_are_reported_or_walk_to_the_end() -> None:
    """Steps and ways drawn at random are reported, or work to the end from wherever random taps lead first."""
    accepted = opened = 0
    for seed in range(1500):
        protocol = read_or_faults(random_protocol(random.Random(seed)))
        if protocol is not None:
            accepted += 1
            opened += any(o.leads == "opens" for step in protocol.steps for o in step.outcomes)
            walks_to_the_end(protocol)
    assert accepted > 100 and opened > 20, (accepted, opened)


KEYS = ("id", "stage", "title", "words", "picture", "wet", "by", "called", "places", "outcomes", "floors",
        "values", "minutes",
        "format", "edition", "jaws", "options", "undo", "sources", "steps", "is", "source", "to", "leads", "since")
SCALARS = st.one_of(
    st.booleans(), st.integers(-5, 2**70), st.floats(allow_nan=True), st.none(), st.text(max_size=5),
    st.dates(), st.datetimes(),
    st.sampled_from(["wet", "lab", "opens", "upper", "tooth", "each", "back", "jaw"]),
)
TREES = st.recursive(
    SCALARS, lambda below: st.one_of(st.lists(below, max_size=3), st.dictionaries(st.sampled_from(KEYS), below,
                                                                                  max_size=5)),
    max_leaves=12,
)


@CALM
@given(st.data())
def test_trees_in_the_shape_of_a_protocol_are_read_or_reported(data: st.DataObject) -> None:
    """A sound tree with random trees put in at random places is reported, or walks to its end."""
    tree: Any = tomllib.loads(SMALL)
    for _ in range(data.draw(st.integers(1, 3))):
        spot = tree
        while True:
            keys = list(spot) if isinstance(spot, dict) else list(range(len(spot)))
            key = data.draw(st.sampled_from(keys)) if keys else None
            if key is None or not isinstance(spot[key], dict | list) or data.draw(st.booleans()):
                break
            spot = spot[key]
        if key is not None:
            spot[key] = data.draw(TREES)
    protocol = read_or_faults(toml(tree))
    if protocol is not None:
        walks_to_the_end(protocol)


def toml(tree: dict[str, Any]) -> str:
    """Return a tree as TOML text, tables written in line; what TOML lacks is left out."""
    return "\n".join(f"{key} = {_inline(value)}" for key, value in tree.items() if value is not None)


def _inline(value: Any) -> str:
    if isinstance(value, dict):
        return "{" + ", ".join(f"{key} = {_inline(v)}" for key, v in value.items() if v is not None) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(_inline(v) for v in value if v is not None) + "]"
    if isinstance(value, str):
        return f'"{"".join(c if c.isalnum() else chr(92) + f"U{ord(c):08X}" for c in value)}"'
    if isinstance(value, bool):
        return str(value).lower()
    return value.isoformat() if hasattr(value, "isoformat") else repr(value)
