"""A protocol file: what is refused, where, in which words; and that nothing that a person writes breaks the reader."""

import random
import re
import tomllib
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from benchapp.core.course import compile_table
from benchapp.core.faults import FileFaults
from benchapp.core.protocol import RESERVED, Protocol
from benchapp.core.protocol_rules import read_protocol
from benchapp.core.teeth import ROW
from benchapp.core.walk import walk_on
from benchapp.paths import PROTOCOLS
from tests.core.randoms import random_walk

DEFAULT = (PROTOCOLS / "green-splinted.toml").read_text("utf-8")

# Three cards, one of them a repair, with a clock, a value and a pick: as small as a file with everything can be.
SMALL = """
format = 1
id = "small"
edition = "1"
title = "Small"
jaws = ["upper"]
options = ["extra"]
undo = { minutes = 10, light_seconds = 10, source = "lab" }
sources = [{ id = "lab", kind = "lab", title = "Rule of this laboratory" }]
cautions = [{ id = "resin", title = "Resin", words = "Gloves." }]
stages = [{ id = "work", title = "Work" }]
reasons = [{ id = "other", title = "Other", asked = ["breach", "hold", "send-back", "stated", "scrap"] }]
[[steps]]
id = "wet"
stage = "work"
title = "Wet"
words = "Wet it."
picture = "fill"
cautions = ["resin"]
wet = true
minutes = { is = 1, source = "lab" }
places = ["connector"]
by = "sextant"
outcomes = [{ id = "wetted", title = "Wet", said = "wet", of = "each" }]
[[steps]]
id = "lit"
stage = "work"
title = "Light"
words = "Light it."
picture = "tack"
irreversible = true
minutes = { is = 1, source = "lab" }
ceilings = [{ since = "wet", minutes = 20, seconds = 5, grace = 30, breach = "deviation", source = "lab" }]
values = [{ name = "count", title = "Count", unit = "", usual = 8, min = 6, max = 20.5, step = 1, source = "lab" }]
picks = [{ name = "lamp", title = "Lamp", of = "device", kind = "lamp" }]
outcomes = [{ id = "lighted", title = "Lit", said = "lit" }, { id = "off", title = "Off", said = "off", leads = "hold" }]
[[steps]]
id = "mend"
stage = "work"
title = "Mend"
words = "Mend it."
picture = "repair"
minutes = { is = 1, source = "lab" }
places = ["connector"]
called = true
floors = [{ since = "lit", minutes = 1, breach = "stop", source = "lab" }]
outcomes = [{ id = "mended", title = "Mended", said = "mended", of = "each" }]
[[steps]]
id = "look"
stage = "work"
title = "Look"
words = "Look at it."
picture = "final-check"
option = "extra"
minutes = { is = 1, source = "lab" }
places = ["connector"]
outcomes = [
  { id = "fine", title = "Fine", said = "fine", of = "each" },
  { id = "bad", title = "Bad", said = "bad", of = "place", leads = "opens", to = "mend" },
]
"""

# what, in DEFAULT, with what, where the fault is, a part of its words
BROKEN = [
    ("not toml", "format = 1\n", "format = \n", "file", "not readable as TOML"),
    ("format", "format = 1\n", "format = 2\n", "format", "should be 1"),
    ("format as text", "format = 1\n", 'format = "1"\n', "format", "should be 1"),
    ("no edition", 'edition = "2026-11"\n', "", "edition", "required"),
    ("unknown key above", 'edition = "2026-11"\n', 'edition = "2026-11"\ncolour = 1\n', "colour", "not permitted"),
    ("a jaw unknown", 'jaws = ["upper", "lower"]', 'jaws = ["upper", "left"]', "jaws[2]", "'upper' or 'lower'"),
    ("a jaw twice", 'jaws = ["upper", "lower"]', 'jaws = ["upper", "upper"]', "jaws[upper]", "stands twice"),
    ("no jaw", 'jaws = ["upper", "lower"]', "jaws = []", "jaws", "at least 1"),
    ("an id with capitals", 'id = "green-splinted"', 'id = "Green"', "id", "match pattern"),
    ("undo without source", 'light_seconds = 10, source = "lab" }', "light_seconds = 10 }", "undo.source", "required"),
    ("undo for ever", "undo = { minutes = 10", "undo = { minutes = 1000", "undo.minutes", "less than or equal to 720"),
    ("undo source unknown", 'light_seconds = 10, source = "lab"', 'light_seconds = 10, source = "me"', "undo.source",
     "no source 'me'"),
    ("source kind", 'kind = "lab"', 'kind = "hearsay"', "sources[lab].kind", "should be"),
    ("source twice", 'id = "lab"\nkind', 'id = "cp"\nkind', "sources[cp]", "stands twice"),
    ("reason question", 'asked = ["hold"]', 'asked = ["lunch"]', "reasons[ask-the-clinic].asked[1]", "should be"),
    ("question without a tile", 'asked = ["send-back"]', 'asked = []', "reasons[wrong-tap].asked", "at least 1"),
    ("stage unknown", 'stage = "stage-tack"', 'stage = "stage-tick"', "steps[tack-light].stage", "no stage"),
    ("stage twice", 'id = "stage-tack"', 'id = "stage-look"', "stages[stage-look]", "stands twice"),
    ("caution unknown", 'cautions = ["waste"]', 'cautions = ["wast"]', "steps[pack-up].cautions", "no caution"),
    ("option unknown", 'option = "mark"', 'option = "marks"', "steps[put-mark].option", "no option"),
    ("picture unknown", 'picture = "pack"', 'picture = "crate"', "steps[pack-up].picture", "no drawing"),
    ("minutes without source", "minutes = { is = 14, source = \"cp\" }", "minutes = { is = 14 }",
     "steps[cut-back].minutes.source", "required"),
    ("minutes as text", "minutes = { is = 14,", 'minutes = { is = "14",', "steps[cut-back].minutes.is", "valid integer"),
    ("minutes below zero", "minutes = { is = 14,", "minutes = { is = -1,", "steps[cut-back].minutes.is", "greater than"),
    ("minutes alone", "minutes = { is = 14, source = \"cp\" }", "minutes = 14", "steps[cut-back].minutes", "valid"),
    ("floor without source", 'minutes = 5, grace = 10, breach = "stop", source = "cp" }',
     'minutes = 5, grace = 10, breach = "stop" }', "steps[second-fit].floors[1].source", "required"),
    ("floor without length", "minutes = 5, grace = 10", "grace = 10", "steps[second-fit].floors[1]", "no length"),
    ("grade unknown", 'grace = 10, breach = "stop"', 'grace = 10, breach = "halt"',
     "steps[second-fit].floors[1].breach", "should be"),
    ("floor from nowhere", '{ since = "clean"', '{ since = "rinse"', "steps[second-fit].floors[rinse]", "no step"),
    ("floor from later", '{ since = "clean"', '{ since = "pack-up"', "steps[second-fit].floors[pack-up]",
     "does not come before"),
    ("floor from a called step", 'since = "cool-down"', 'since = "repair-cure"', "steps[finish-off].floors[repair-cure]",
     "only done when called"),
    ("value without source", "step = 1, source = \"cp\" }", "step = 1 }", "steps[tack-light].values[positions].source",
     "required"),
    ("value as text", "usual = 8", 'usual = "8"', "steps[tack-light].values[positions].usual", "not a number"),
    ("value true", "usual = 8", "usual = true", "steps[tack-light].values[positions].usual", "not a number"),
    ("value beyond all", "usual = 8", "usual = 1e9999999", "steps[tack-light].values[positions].usual", "read off"),
    ("value nan", "usual = 8", "usual = nan", "steps[tack-light].values[positions].usual", "read off"),
    ("value too fine", "usual = 8", "usual = 8.0001", "steps[tack-light].values[positions].usual", "read off"),
    ("value out of its limits", "usual = 8", "usual = 80", "steps[tack-light].values[positions]", "not between"),
    ("value that stands still", "step = 5", "step = 0", "steps[tack-light].values[seconds]", "does not move"),
    ("value twice", 'name = "seconds"', 'name = "positions"', "steps[tack-light].values[positions]", "stands twice"),
    ("pick of a sort unknown", 'of = "part", kind = "arch"', 'of = "tool"', "steps[part-check].picks[arch].of", "should be"),
    ("pick twice", 'name = "arch"', 'name = "base"', "steps[part-check].picks[base]", "stands twice"),
    ("outcome twice", 'id = "rocks"', 'id = "seats-dry"', "steps[dry-fit].outcomes[seats-dry]", "stands twice"),
    ("outcome leads nowhere", 'leads = "again"', 'leads = "astray"',
     "steps[dry-fit].outcomes[tight-spot-eased].leads", "should be"),
    ("back without a target", 'leads = "back", to = "seat-arch"', 'leads = "back"', "steps[last-look].outcomes[floated-up]",
     "`to` goes with"),
    ("back to nowhere", 'to = "seat-arch"', 'to = "press"', "steps[last-look].outcomes[floated-up].to", "no step"),
    ("back to later", 'to = "seat-arch"', 'to = "tack-light"', "steps[last-look].outcomes[floated-up].to", "later step"),
    ("until without opens", 'leads = "again"', 'leads = "again", until = "clean"',
     "steps[dry-fit].outcomes[tight-spot-eased]", "`until` goes with opens"),
    ("back after light", 'said = "rocks on the model", leads = "hold"',
     'said = "rocks on the model", leads = "back", to = "finish-off"', "steps[check-seat].outcomes[model-rocks].to",
     "no way back after first light"),
    ("opens before light", 'said = "void laid bare, repair", of = "place", leads = "opens", to = "repair-void", until = "repair-cure"',
     'said = "void laid bare", of = "place", leads = "opens", to = "cut-back"',
     "steps[finish-off].outcomes[void-bare].to", "before first light"),
    ("opens without the places", 'of = "place", leads = "opens", to = "fill-gaps"',
     'of = "place", leads = "opens", to = "wet-sockets"', "steps[bubble-check].outcomes[bubble-left].to",
     "does not have the places"),
    ("opens itself", 'leads = "opens", to = "fill-gaps"', 'leads = "opens", to = "bubble-check"',
     "steps[bubble-check].outcomes[bubble-left].to", "leads to itself"),
    ("places unknown", 'places = ["connector"]\nby', 'places = ["gum"]\nby', "steps[cut-back].places[1]", "should be"),
    ("by unknown", 'by = "jaw"', 'by = "mouth"', "steps[fill-gaps].by", "should be"),
    ("step twice", 'id = "put-mark"', 'id = "pack-up"', "steps[pack-up]", "stands twice"),
    ("called by nobody", 'picture = "pack"\n', 'picture = "pack"\ncalled = true\n', "steps[pack-up].called",
     "no outcome opens or wakes"),
    ("wet after light", 'picture = "pack"\n', 'picture = "pack"\nwet = true\n', "steps[pack-up].wet", "after first light"),
    ("light twice", 'picture = "pack"\n', 'picture = "pack"\nirreversible = true\n', "steps", "more than one"),
    ("by place without places", 'picture = "pack"\n', 'picture = "pack"\nby = "place"\n', "steps[pack-up].places",
     "names no places"),
    ("wet as a number", 'picture = "pack"\n', 'picture = "pack"\nwet = 1\n', "steps[pack-up].wet", "valid boolean"),
    ("unknown key in a step", 'picture = "pack"\n', 'picture = "pack"\ncolour = 1\n', "steps[pack-up].colour",
     "not permitted"),
    ("first outcome is no main action", '{ id = "wiped", title = "Clean, drying off", said = "cleaned" }',
     '{ id = "w", title = "W", said = "w", leads = "hold" }, { id = "wiped", title = "Clean", said = "cleaned" }',
     "steps[clean].outcomes[w]", "main action"),
    ("nothing finishes", '{ id = "wiped", title = "Clean, drying off", said = "cleaned" }',
     '{ id = "w", title = "W", said = "w", leads = "hold" }', "steps[clean].outcomes", "nothing finishes"),
    ("no outcome", '{ id = "wiped", title = "Clean, drying off", said = "cleaned" },', "", "steps[clean].outcomes",
     "at least 1"),
    ("said of places that are not there", 'title = "Clean, drying off", said = "cleaned" }',
     'title = "Clean", said = "cleaned", of = "each" }', "steps[clean].outcomes[wiped]", "the step names none"),
    ("a floor refuses while wet", "minutes = { is = 1, source = \"cp\" }\noutcomes = [\n  { id = \"seated-home\"",
     "minutes = { is = 1, source = \"cp\" }\nfloors = [{ since = \"wet-sockets\", minutes = 1, breach = \"stop\", "
     "source = \"cp\" }]\noutcomes = [\n  { id = \"seated-home\"", "steps[seat-arch].floors[wet-sockets]",
     "while resin is wet"),
    ("a place waits for ever", 'said = "smear, refinish", of = "place", leads = "opens", to = "finish-off"',
     'said = "smear, refinish", of = "place", leads = "opens", to = "finish-off", until = "repair-void"',
     "steps[check-smear].outcomes[smear-seen]", "wait for ever"),
]


def with_change(text: str, old: str, new: str) -> str:
    """Return the text with its first `old` replaced; the text must hold it."""
    assert old in text, f"{old!r} does not stand in the file any more"
    return text.replace(old, new, 1)


def faults_of(text: str, pictures: frozenset[str] | None = None) -> list[tuple[str, str, str]]:
    """Return the faults of a protocol text as (where, what, mend); it must have some."""
    with pytest.raises(FileFaults) as caught:
        read_protocol("broken.toml", text, pictures)
    assert str(caught.value).count("broken.toml: ") == len(caught.value.faults)
    return [(fault.where, fault.what, fault.mend) for fault in caught.value.faults]


def drawings() -> frozenset[str]:
    """Return the names of the drawings that the default protocol uses."""
    return frozenset(step["picture"] for step in tomllib.loads(DEFAULT)["steps"])


def test_at_least_thirty_kinds_of_fault_are_tried() -> None:
    """The table of broken files tries as many kinds as it claims, each under a name of its own."""
    assert len({row[0] for row in BROKEN}) == len(BROKEN) >= 30


@pytest.mark.parametrize(("old", "new", "where", "what"), [row[1:] for row in BROKEN], ids=[row[0] for row in BROKEN])
def test_a_broken_file_says_where_what_and_how_to_mend_it(old: str, new: str, where: str, what: str) -> None:
    """Each kind of fault is reported at its place, in words, with a remedy."""
    found = faults_of(with_change(DEFAULT, old, new), drawings())
    here = [fault for fault in found if fault[0] == where]
    assert any(what in fault[1] for fault in here), found
    assert all(len(mend) > 8 for _, _, mend in found)


def test_all_faults_of_a_file_come_at_once() -> None:
    """Six faults of shape in one file are six entries of one report, and so are four of sense."""
    shape = [row for row in BROKEN if row[0] in {
        "no edition", "source kind", "undo for ever", "minutes as text", "value as text", "wet as a number",
    }]
    sense = [row for row in BROKEN if row[0] in {"stage unknown", "floor from nowhere", "back to nowhere", "picture unknown"}]
    for rows in (shape, sense):
        text = DEFAULT
        for _, old, new, _, _ in rows:
            text = with_change(text, old, new)
        assert sorted(where for where, _, _ in faults_of(text, drawings())) == sorted(row[3] for row in rows)


@pytest.mark.parametrize("key", RESERVED)
def test_a_reserved_key_is_refused_in_its_own_words(key: str) -> None:
    """A key that a later format will use is not just unknown, whatever it holds."""
    for value in ("1", "[]", "{}", '""'):
        text = with_change(DEFAULT, 'picture = "pack"\n', f'picture = "pack"\n{key} = {value}\n')
        assert faults_of(text) == [(f"steps[pack-up].{key}", "this key is reserved for a later format", "Remove it")]


def test_no_number_of_the_default_protocol_lacks_a_source() -> None:
    """Every clock, value and length of the file names one of its sources; none invents an outside authority."""
    tree = tomllib.loads(DEFAULT)
    sources = {source["id"] for source in tree["sources"]}
    numbers = [tree["undo"]]
    for step in tree["steps"]:
        numbers += [step["minutes"], *step.get("floors", []), *step.get("ceilings", []), *step.get("values", [])]
    assert len(numbers) > 40
    assert {number["source"] for number in numbers} <= sources


def test_the_final_cure_is_twice_thirty_minutes() -> None:
    """30 min, turn over, 30 min, 60 in all; common practice, no source."""
    steps = {step.id: step for step in read_protocol("x", DEFAULT).steps}
    for step, since in (("cure-second-side", "cure-first-side"), ("cool-down", "cure-second-side")):
        assert [(f.since, f.minutes, f.breach, f.source) for f in steps[step].floors] == [(since, 30, "stop", "cp")]


def test_a_dead_end_is_found_by_walking() -> None:
    """A protocol whose every entry is sound, but in which a place waits for ever, is refused at that outcome."""
    spare = """
[[steps]]
id = "spare"
stage = "work"
title = "Spare"
words = "Spare."
picture = "pack"
minutes = { is = 1, source = "lab" }
places = ["connector"]
outcomes = [{ id = "spared", title = "Spared", said = "spared", of = "each" }]
[[steps]]
id = "look\""""
    text = with_change(SMALL, '[[steps]]\nid = "look"', spare.lstrip())
    assert read_protocol("sound", text)
    found = faults_of(with_change(text, 'to = "mend"', 'to = "mend", until = "spare"'))
    assert [fault[0] for fault in found] == ["steps[look].outcomes[bad]"]
    assert "upper jaw with every option" in found[0][1] and "wait for ever" in found[0][1]


def test_both_sound_files_are_read() -> None:
    """The default protocol and the small one of these tests have no fault."""
    assert read_protocol("x", DEFAULT, drawings()).id == "green-splinted"
    assert read_protocol("x", SMALL).id == "small"


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
        assert state["ended"] == "scrap" or (state["ended"] == "through" and not waits), (seed, waits, state["now"], len(way))


CALM = settings(deadline=None, suppress_health_check=list(HealthCheck), max_examples=150)


@CALM
@given(st.one_of(st.text(max_size=200), st.binary(max_size=200).map(lambda b: b.decode("utf-8", "surrogateescape"))))
def test_any_text_is_read_or_reported(text: str) -> None:
    """Any text at all, even one that is no text, gives faults and never another exception."""
    assert read_or_faults(text) is None


@pytest.mark.parametrize("text", [
    "a = " + "[" * 5000, "a = " + "{b=" * 5000, ".".join("a" * 5000) + " = 1", "[" + ".".join("a" * 5000) + "]",
    "format = " + "9" * 5000, "a = 1e99999999999999999999", "a = 9999-99-99", "a = \x00", "\ufeffformat = 1", "[[steps]]\n" * 3000,
    "steps = 1", "steps = [1, [], {}]", "format = 0x1\nid = ''", "a = '\ud800'",
], ids=range(14))
def test_extremes_are_reported(text: str) -> None:
    """Deep nesting, numbers without end, half characters and lists of the wrong things are faults like any other."""
    assert read_or_faults(text) is None


TOKEN = re.compile(r'"[^"\n]*"|\b[0-9]+\b|\btrue\b|\bfalse\b')
WORDS_OF_THE_FORMAT = ['"opens"', '"wakes"', '"back"', '"on"', '"again"', '"hold"', '"group"', '"place"', '"each"', '"jaw"',
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
    for seed in range(700):
        source = random.Random(f"{chunk} {seed}")
        protocol = read_or_faults(mutated(source, DEFAULT if seed % 12 == 0 else SMALL))
        if protocol is not None:
            accepted += 1
            walks_to_the_end(protocol)
    assert 50 < accepted < 600


def random_protocol(source: random.Random) -> str:
    """Return the text of a protocol that has the right shape, with steps and ways between them drawn at random."""
    ids = ["constructor", "two", "three", "four", "five", "six"][:source.randint(2, 6)]
    light = source.choice([*ids[:2], ""])
    tree = tomllib.loads(SMALL)
    return toml(tree | {"steps": [_random_step(source, ids, at, light) for at in range(len(ids))]})


def _random_step(source: random.Random, ids: list[str], at: int, light: str) -> dict[str, Any]:
    places = source.choice([["connector", "tooth"]] * 5 + [["connector"], ["base"], []])
    outcomes = [_random_outcome(source, ids, at, number, bool(places)) for number in range(source.randint(1, 3))]
    before = ids[:at]
    limits = [{"since": source.choice(before or ids), "minutes": 5, "breach": source.choice(["note", "deviation"]), "source": "lab"}]
    return {
        "id": ids[at], "stage": "work", "title": "T", "words": "W", "picture": "p", "minutes": {"is": 1, "source": "lab"},
        "places": places, "outcomes": outcomes, "irreversible": ids[at] == light, "called": source.random() < 0.25,
        "wet": source.random() < 0.1, "by": source.choice(["jaw", "jaw", "sextant", *(["place"] if places else [])]),
        "floors": limits if before and source.random() < 0.2 else [],
        "ceilings": limits if before and source.random() < 0.2 else [],
        "option": "extra" if source.random() < 0.1 else None,
    }


def _random_outcome(source: random.Random, ids: list[str], at: int, number: int, places: bool) -> dict[str, Any]:
    leads = source.choice(["on", "on", "wakes"] if number == 0 else ["on", "again", "hold", "opens", "opens", "back", "wakes"])
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


KEYS = ("id", "stage", "title", "words", "picture", "wet", "by", "called", "places", "outcomes", "floors", "values", "minutes",
        "format", "edition", "jaws", "options", "undo", "sources", "steps", "is", "source", "to", "leads", "since")
SCALARS = st.one_of(
    st.booleans(), st.integers(-5, 2**70), st.floats(allow_nan=True), st.none(), st.text(max_size=5), st.dates(), st.datetimes(),
    st.sampled_from(["wet", "lab", "opens", "upper", "tooth", "each", "back", "jaw"]),
)
TREES = st.recursive(
    SCALARS, lambda below: st.one_of(st.lists(below, max_size=3), st.dictionaries(st.sampled_from(KEYS), below, max_size=5)),
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
        return '"' + "".join(f"\\U{ord(c):08X}" if c in '"\\' or ord(c) < 32 or ord(c) == 127 else c for c in value) + '"'
    if isinstance(value, bool):
        return str(value).lower()
    return value.isoformat() if hasattr(value, "isoformat") else repr(value)
