"""A protocol file: what is refused, where, in which words, and with which remedy."""

import tomllib
from decimal import Decimal

import pytest

from benchapp.core.faults import FileFaults
from benchapp.core.protocol import RESERVED, Value
from benchapp.core.protocol_rules import read_protocol
from benchapp.paths import PROTOCOLS
from tests.core.small import SMALL

DEFAULT = (PROTOCOLS / "green-splinted.toml").read_text("utf-8")

# what, in DEFAULT, with what, where the fault is, a part of its words
BROKEN = [
    ("not toml", "format = 1\n", "format = \n", "file", "not readable as TOML"),
    ("format", "format = 1\n", "format = 2\n", "format", "reads format 1"),
    ("format as truth", "format = 1\n", "format = true\n", "format", "no whole number"),
    ("format as text", "format = 1\n", 'format = "1"\n', "format", "no whole number"),
    ("no edition", 'edition = "2026-11c"\n', "", "edition", "key is missing"),
    ("unknown key above", 'edition = "2026-11c"\n', 'edition = "2026-11b"\ncolour = 1\n', "colour", "not known here"),
    ("a jaw unknown", 'jaws = ["upper", "lower"]', 'jaws = ["upper", "left"]', "jaws[2]", "'upper' or 'lower'"),
    ("a jaw twice", 'jaws = ["upper", "lower"]', 'jaws = ["upper", "upper"]', "jaws[upper]", "stands twice"),
    ("no jaw", 'jaws = ["upper", "lower"]', "jaws = []", "jaws", "at least 1"),
    ("an id with capitals", 'id = "green-splinted"', 'id = "Green"', "id", "match pattern"),
    ("undo without source", 'light_seconds = 10, source = "lab" }', "light_seconds = 10 }", "undo.source",
     "key is missing"),
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
     "steps[cut-back].minutes.source", "key is missing"),
    ("minutes as text", "minutes = { is = 14,", 'minutes = { is = "14",', "steps[cut-back].minutes.is",
     "no whole number"),
    ("minutes below zero", "minutes = { is = 14,", "minutes = { is = -1,", "steps[cut-back].minutes.is",
     "greater than"),
    ("minutes alone", "minutes = { is = 14, source = \"cp\" }", "minutes = 14", "steps[cut-back].minutes", "valid"),
    ("floor without source", 'minutes = 5, grace = 10, breach = "stop", source = "cp" }',
     'minutes = 5, grace = 10, breach = "stop" }', "steps[second-fit].floors[1].source", "key is missing"),
    ("floor without length", "minutes = 5, grace = 10", "grace = 10", "steps[second-fit].floors[1]", "no length"),
    ("grade unknown", 'grace = 10, breach = "stop"', 'grace = 10, breach = "halt"',
     "steps[second-fit].floors[1].breach", "should be"),
    ("floor from nowhere", '{ since = "clean"', '{ since = "rinse"', "steps[second-fit].floors[rinse]", "no step"),
    ("floor from later", '{ since = "clean"', '{ since = "pack-up"', "steps[second-fit].floors[pack-up]",
     "does not come before"),
    ("floor from a called step", 'since = "cool-down"', 'since = "repair-cure"',
     "steps[finish-off].floors[repair-cure]",
     "only done when called"),
    ("value without source", "step = 1, source = \"cp\" }", "step = 1 }", "steps[tack-light].values[positions].source",
     "key is missing"),
    ("value as text", "usual = 8", 'usual = "8"', "steps[tack-light].values[positions].usual", "not a number"),
    ("value true", "usual = 8", "usual = true", "steps[tack-light].values[positions].usual", "not a number"),
    ("value beyond all", "usual = 8", "usual = 1e9999999", "steps[tack-light].values[positions].usual", "read off"),
    ("value nan", "usual = 8", "usual = nan", "steps[tack-light].values[positions].usual", "read off"),
    ("value too fine", "usual = 8", "usual = 8.0001", "steps[tack-light].values[positions].usual", "read off"),
    ("value out of its limits", "usual = 8", "usual = 80", "steps[tack-light].values[positions]", "not between"),
    ("value that stands still", "step = 5", "step = 0", "steps[tack-light].values[seconds]", "does not move"),
    ("value twice", 'name = "seconds"', 'name = "positions"', "steps[tack-light].values[positions]", "stands twice"),
    ("pick of a sort unknown", 'of = "part", kind = "arch"', 'of = "tool"', "steps[part-check].picks[arch].of",
     "should be"),
    ("pick twice", 'name = "arch"', 'name = "base"', "steps[part-check].picks[base]", "stands twice"),
    ("outcome twice", 'id = "rocks"', 'id = "seats-dry"', "steps[dry-fit].outcomes[seats-dry]", "stands twice"),
    ("outcome leads nowhere", 'leads = "again"', 'leads = "astray"',
     "steps[dry-fit].outcomes[tight-spot-eased].leads", "should be"),
    ("back without a target", 'leads = "back", to = "seat-arch"', 'leads = "back"',
     "steps[last-look].outcomes[floated-up]",
     "`to` goes with"),
    ("back to nowhere", 'to = "seat-arch"', 'to = "press"', "steps[last-look].outcomes[floated-up].to", "no step"),
    ("back to later", 'to = "seat-arch"', 'to = "tack-light"', "steps[last-look].outcomes[floated-up].to",
     "later step"),
    ("until without opens", 'leads = "again"', 'leads = "again", until = "clean"',
     "steps[dry-fit].outcomes[tight-spot-eased]", "`until` goes with opens"),
    ("back after light", 'said = "rocks on the model", leads = "hold"',
     'said = "rocks on the model", leads = "back", to = "finish-off"', "steps[check-seat].outcomes[model-rocks].to",
     "no way back after first light"),
    ("opens before light",
     'said = "void laid bare, repair", of = "place", leads = "opens", to = "repair-void", until = "repair-cure"',
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
    ("wet after light", 'picture = "pack"\n', 'picture = "pack"\nwet = true\n', "steps[pack-up].wet",
     "after the last irreversible step"),
    ("by place without places", 'picture = "pack"\n', 'picture = "pack"\nby = "place"\n', "steps[pack-up].places",
     "names no places"),
    ("wet as a number", 'picture = "pack"\n', 'picture = "pack"\nwet = 1\n', "steps[pack-up].wet",
     "neither true nor false"),
    ("unknown key in a step", 'picture = "pack"\n', 'picture = "pack"\ncolour = 1\n', "steps[pack-up].colour",
     "not known here"),
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
    sense = [row for row in BROKEN if row[0] in {"stage unknown", "floor from nowhere", "back to nowhere",
                                                 "picture unknown"}]
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


@pytest.mark.parametrize(("usual", "step", "filled", "decimals"), [
    ("8", "1", "8", 0), ("2", "0.5", "2.0", 1), ("0.125", "1", "0.125", 3), ("1e2", "1", "100", 0),
    ("2.50", "0.5", "2.5", 1), ("0", "0.25", "0.00", 2), ("-1.5", "1e1", "-1.5", 1),
])
def test_a_value_is_filled_in_with_the_decimals_of_its_step(
    usual: str, step: str, filled: str, decimals: int
) -> None:
    """The usual number stands there with a point, never with an exponent, and as fine as a tap can move it."""
    value = Value.model_validate({
        "name": "n", "title": "N", "unit": "", "usual": Decimal(usual), "min": Decimal(-100), "max": Decimal(100),
        "step": Decimal(step), "source": "lab",
    })
    assert (value.filled, value.decimals) == (filled, decimals)
