"""Case sheet and lab sheet: what is refused, where, in which words; and that any text is read or reported."""

import datetime
import random
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from benchapp.core.faults import FileFaults
from benchapp.core.sheet import read_lab, read_sheet
from benchapp.paths import DEMO_CASES

CASE = """
format = 1
[case]
patient = "P-1"
prescriber = "Practice"
order = "O-1"
kind = "new"
due = 2031-01-15
shade = "light"
tint = "rose"
allergy = "no"
[[jaws]]
jaw = "upper"
teeth = [12, 11, 21, 22]
parts = [
  { part = "base", revision = "A", print_job = "J1" },
  { part = "arch", revision = "A", print_job = "J2" },
]
[[jaws]]
jaw = "lower"
teeth = [41, 31]
parts = [
  { part = "base", revision = "A", print_job = "J3" },
  { part = "arch", revision = "A", print_job = "J4" },
]
"""
LAB = """
format = 1
name = "Lab"
address = "Street"
zone = "Europe/Madrid"
[[people]]
name = "A"
roles = ["technician"]
pin = "2468"
[[people]]
name = "B"
roles = ["supervisor", "technician"]
[[devices]]
name = "Lamp one"
kind = "lamp"
[[materials]]
name = "Resin"
kind = "bonding-resin"
lot = "L1"
expiry = 2031-06-30
"""

# read, in its text, with what, where the fault is, a part of its words
BROKEN = [
    (CASE, "format = 1", "format = 3", "format", "reads format 1"),
    (CASE, 'patient = "P-1"\n', "", "case.patient", "key is missing"),
    (CASE, 'patient = "P-1"', 'patient = ""', "case.patient", "at least 1"),
    (CASE, 'patient = "P-1"', 'patient = "a\\u0007b"', "case.patient", "pattern"),
    (CASE, 'patient = "P-1"', f'patient = "{"x" * 81}"', "case.patient", "at most 80"),
    (CASE, 'patient = "P-1"', "patient = 1", "case.patient", "no text"),
    (CASE, 'kind = "new"', 'kind = "old"', "case.kind", "should be"),
    (CASE, "due = 2031-01-15", 'due = "2031-01-15"', "case.due", "valid date"),
    (CASE, "due = 2031-01-15", "due = 2031-01-15T10:00:00", "case.due", "valid date"),
    (CASE, "due = 2031-01-15", "due = 1931-01-15", "case.due", "not a day"),
    (CASE, "due = 2031-01-15", "due = 2031-02-30", "file", "not readable as TOML"),
    (CASE, 'allergy = "no"', 'allergy = "perhaps"', "case.allergy", "should be"),
    (CASE, 'allergy = "no"', 'allergy = "no"\noptions = ["Mark"]', "case.options[1]", "pattern"),
    (CASE, 'allergy = "no"', 'allergy = "no"\ntraining = 1', "case.training", "neither true nor false"),
    (CASE, 'allergy = "no"', 'allergy = "no"\nname = "N"', "case.name", "not known here"),
    (CASE, 'allergy = "no"', 'allergy = "no"\nsurgery = "soon"', "case.surgery", "valid date"),
    (CASE, 'allergy = "no"', 'allergy = "no"\nsurgery = 1931-01-15', "case.surgery", "not a day"),
    (CASE, 'allergy = "no"', 'allergy = "no"\nopposing = "none"', "case.opposing", "should be"),
    (CASE, 'allergy = "no"', 'allergy = "no"\nbite = "lost"', "case.bite", "should be"),
    (CASE, 'allergy = "no"', 'allergy = "no"\nmounting = true', "case.mounting", "should be"),
    (CASE, 'allergy = "no"', 'allergy = "no"\ntryin = "never"', "case.tryin", "should be"),
    (CASE, 'allergy = "no"', 'allergy = "no"\nmarking = true', "case.marking", "should be"),
    (CASE, 'allergy = "no"', 'allergy = "no"\nmarking_words = "AB 7"', "case", "without a mark"),
    (CASE, 'allergy = "no"', f'allergy = "no"\npan = "{"7" * 81}"', "case.pan", "at most 80"),
    (CASE, "teeth = [12, 11, 21, 22]", "teeth = [12, 11, 31]", "jaws[1]", "31 belongs to the lower jaw"),
    (CASE, "teeth = [12, 11, 21, 22]", "teeth = [12, 11, 19]", "jaws[1]", "19 is no tooth number of ISO 3950"),
    (CASE, "teeth = [12, 11, 21, 22]", "teeth = [12, 11, 11]", "jaws[1]", "listed twice"),
    (CASE, "teeth = [12, 11, 21, 22]", "teeth = [12]", "jaws[1]", "at least two teeth"),
    (CASE, "teeth = [12, 11, 21, 22]", 'teeth = ["12", 11]', "jaws[1].teeth[1]", "no whole number"),
    (CASE, "teeth = [12, 11, 21, 22]", f"teeth = [12, {9 * 10**40}]", "jaws[1]", "is no tooth number"),
    (CASE, 'part = "arch", revision = "A", print_job = "J2"', 'part = "base", revision = "A", print_job = "J2"',
     "jaws[1]", "one base and one arch"),
    (CASE, 'part = "arch", revision = "A", print_job = "J2"', 'part = "arch", revision = "A"',
     "jaws[1].parts[2].print_job", "key is missing"),
    (CASE, 'jaw = "upper"\nteeth = [12, 11, 21, 22]', 'jaw = "lower"\nteeth = [42, 41]', "jaws",
     "one jaw stands twice"),
    (LAB, 'zone = "Europe/Madrid"', 'zone = "Europe/Atlantis"', "zone", "no such time zone"),
    (LAB, 'zone = "Europe/Madrid"', 'zone = "../../etc/passwd"', "zone", "no such time zone"),
    (LAB, 'roles = ["technician"]', 'roles = ["boss"]', "people[A].roles[1]", "should be"),
    (LAB, 'roles = ["technician"]', "roles = []", "people[A].roles", "at least 1"),
    (LAB, 'pin = "2468"', 'pin = "12"', "people[A].pin", "pattern"),
    (LAB, 'pin = "2468"', 'pin = "１２３４"', "people[A].pin", "pattern"),
    (LAB, 'pin = "2468"', "pin = 2468", "people[A].pin", "no text"),
    (LAB, 'name = "B"', 'name = "A"', "people[A]", "stands twice"),
    (LAB, 'kind = "lamp"', 'kind = "Lamp"', "devices[Lamp one].kind", "pattern"),
    (LAB, 'lot = "L1"\n', "", "materials[Resin].lot", "key is missing"),
    (LAB, "expiry = 2031-06-30", 'expiry = "soon"', "materials[Resin].expiry", "valid date"),
    (LAB, 'address = "Street"', 'address = "Street"\ntown = "T"', "town", "not known here"),
]
READERS: dict[str, Callable[[str, str], Any]] = {CASE: read_sheet, LAB: read_lab}


@pytest.mark.parametrize(("text", "old", "new", "where", "what"), BROKEN, ids=range(len(BROKEN)))
def test_a_broken_sheet_says_where_what_and_how_to_mend_it(text: str, old: str, new: str, where: str,
                                                           what: str) -> None:
    """Each kind of fault is reported at its place, in words, with a remedy."""
    assert old in text
    with pytest.raises(FileFaults) as caught:
        READERS[text]("sheet.toml", text.replace(old, new, 1))
    found = [(fault.where, f"{fault.what}. {fault.mend}") for fault in caught.value.faults]
    assert any(at == where and what in words for at, words in found), found
    assert all(len(fault.mend) > 8 for fault in caught.value.faults)


def test_all_faults_of_a_sheet_come_at_once() -> None:
    """Three faults in three places are three entries of one report."""
    text = CASE.replace('patient = "P-1"', 'patient = ""').replace('kind = "new"',
                                                                   'kind = "old"').replace("[41, 31]", "[41, 11]")
    with pytest.raises(FileFaults) as caught:
        read_sheet("sheet.toml", text)
    assert [fault.where for fault in caught.value.faults] == ["case.patient", "case.kind", "jaws[2]"]


def test_sound_sheets_are_read() -> None:
    """The sheets of these tests and those of the demo have no fault."""
    assert [jaw.jaw for jaw in read_sheet("x", CASE).jaws] == ["upper", "lower"]
    assert [person.pin for person in read_lab("x", LAB).people] == ["2468", None]
    for path in sorted(set(DEMO_CASES.glob("*.toml")) - {DEMO_CASES / "seating.toml"}):
        read = read_lab if path.name == "lab.toml" else read_sheet
        assert read(path.name, path.read_text("utf-8"))


def test_what_an_order_may_add_is_empty_until_it_is_said() -> None:
    """Pan, surgery, other jaw, bite, mounting, try-in and mark may be left out, and are read where they stand."""
    bare = read_sheet("x", CASE).case
    assert (bare.pan, bare.surgery, bare.opposing, bare.bite, bare.mounting, bare.tryin, bare.marking) == (
        "", None, "", "", "", "", ""
    )
    more = """allergy = "no"
pan = " 12 "
surgery = 2031-01-20
opposing = "natural teeth"
bite = "scanned"
mounting = "mounted"
tryin = "done"
marking = "yes"
marking_words = "AB 7"
"""
    full = read_sheet("x", CASE.replace('allergy = "no"', more)).case
    assert full.pan == "12" and full.surgery == datetime.date(2031, 1, 20) and full.marking_words == "AB 7"


def test_a_demo_sheet_is_marked_as_an_exercise() -> None:
    """No sheet of the demo can be taken for an order."""
    sheets = [path for path in DEMO_CASES.glob("*.toml") if path.name not in ("lab.toml", "seating.toml")]
    assert sheets and all(read_sheet(path.name, path.read_text("utf-8")).case.training for path in sheets)


@settings(deadline=None, suppress_health_check=list(HealthCheck), max_examples=150)
@given(st.one_of(st.text(max_size=200), st.binary(max_size=200).map(lambda b: b.decode("utf-8", "surrogateescape"))))
def test_any_text_is_reported(text: str) -> None:
    """Any text at all gives faults and never another exception."""
    for read in READERS.values():
        with pytest.raises(FileFaults):
            read("fuzz", text)


VALUES = ["-1", "1.5", "1e99999999", "nan", "true", "[]", "[[]]", "{}", '""', '"x"', '"\\u0000"', "0001-01-01",
          "2031-01-15T00:00:00Z",
          "12:00:00", "9" * 4500, '"' + "y" * 10000 + '"', "=", "#", "[1, 2", "[" * 3000]


def test_a_mutated_sheet_is_read_or_reported() -> None:
    """Lines deleted, doubled or exchanged and values replaced by odd ones give a sheet or faults, nothing else."""
    accepted = 0
    for seed in range(1200):
        source = random.Random(seed)
        text, read = source.choice(list(READERS.items()))
        lines = text.strip().splitlines()
        for _ in range(source.randint(1, 2)):
            at, to = source.randrange(len(lines)), source.randrange(len(lines))
            match source.randrange(4):
                case 0:
                    lines.insert(to, lines[at])
                case 1:
                    lines[at], lines[to] = lines[to], lines[at]
                case 2:
                    lines[at] = ""
                case _:
                    lines[at] = f"{lines[at].split('=')[0]}= {source.choice(VALUES)}"
        try:
            accepted += bool(read("fuzz", "\n".join(lines)))
        except FileFaults as error:
            assert error.faults and all(f.where and f.what and f.mend for f in error.faults)
            assert str(error).encode()
    assert 20 < accepted < 1000
