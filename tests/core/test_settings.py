"""Settings and lines of words: what may be typed, and what is said of the rest."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.core.lines import LONGEST, alike, fault_of, tidy
from benchapp.core.settings import SETTINGS


@pytest.mark.parametrize("name", SETTINGS)
def test_each_default_is_allowed_and_read_in_words(name: str) -> None:
    """A setting that nobody changed has a value that it may have, a meaning, and the rule that reads it."""
    one = SETTINGS[name]
    assert one.name == name and one.fault(one.default) == ""
    assert one.words(one.default) and one.meaning.endswith(".") and one.rule.endswith(".")


@pytest.mark.parametrize(("name", "right", "wrong"), [
    ("own_release", ["0", "1"], ["", "2", "yes", "01"]),
    ("numbers", ["fdi", "universal"], ["FDI", "", "iso"]),
    ("alarm_all", ["0", "5", "60"], ["61", "-1", "", "5.0", " 5", "05", "٣", "5" * 400]),
    ("idle_lock", ["0", "10", "240"], ["241", "ten", "1e1"]),
    ("csv_map", ["", '{"patient": "Код"}', "x" * 4000], ["x" * 4001, "a\nb", "\ud800"]),
])
def test_values_that_may_be_taken(name: str, right: list[str], wrong: list[str]) -> None:
    """Only listed values and whole numbers in plain form are taken; a refusal names the setting and the remedy."""
    assert [value for value in right if SETTINGS[name].fault(value)] == []
    for value in wrong:
        assert SETTINGS[name].title in SETTINGS[name].fault(value), value


@given(st.sampled_from(sorted(SETTINGS)), st.text(max_size=30))
def test_no_text_breaks_a_setting(name: str, value: str) -> None:
    """Any text is either taken or refused in a sentence; what is taken can be read as a number where one is meant."""
    one = SETTINGS[name]
    fault = one.fault(value)
    assert fault == "" or fault.endswith(".")
    if not fault and one.unit:
        assert one.least <= int(value) <= one.most


def test_a_kept_mapping_is_read_in_words() -> None:
    """Columns of a list of orders are shown as pairs, an empty one as none, and nonsense as it is."""
    one = SETTINGS["csv_map"]
    assert one.words('{"patient": "Код", "due": "Day"}') == "patient: Код, due: Day"
    assert (one.words(""), one.words("{}"), one.words("[1"), one.words("7")) == ("none yet", "none yet", "[1", "7")


@pytest.mark.parametrize("text", ["", "x" * (LONGEST + 1), "a\u202eb", "a\ud800", "a\u0007b"])
def test_lines_that_are_refused(text: str) -> None:
    """Nothing, too much, and characters that turn or spoil a line on paper are named with the remedy."""
    assert fault_of("The name", text).startswith("The name ")


NAMES = ["Łukasz Wiśniewski", "Зоя Ким", "می\u200cخواهم", "<script>alert(1)</script>", "x" * 80]


@pytest.mark.parametrize("text", NAMES)
def test_lines_that_are_taken(text: str) -> None:
    """Names of all scripts, joiners inside words, and signs of programs are plain words."""
    assert fault_of("The name", tidy(text)) == ""


def test_lines_that_read_the_same() -> None:
    """Blanks, capitals and the two ways to write an accent make no second name; another letter does."""
    assert alike("  Zoé  KIM", "Zoe\u0301 Kim") and not alike("Zoe Kim", "Zoé Kim")
