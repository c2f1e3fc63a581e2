"""What the printed messages are made of: calls in modules and templates, words of protocols; bad calls are said."""

import pytest

from benchapp import devwords
from benchapp.devwords import Unmarked, in_module, in_protocol, in_template
from benchapp.store.catalogue import parsed, text_of


def texts(found: object) -> list[object]:
    """Return the texts that were found."""
    return [text for _line, text, _filled in found]  # type: ignore[attr-defined]


def test_modules_give_their_calls() -> None:
    """Texts, both forms, constants, and calls within calls; what is a name is marked elsewhere."""
    code = (
        '_("one {a}", a=", ".join(_("two") for b in c))\nX = {"k": N_("three" \n "four")}\n_(X["k"])\n'
        'n_("{n} day", "{n} days", 3)\nNN_("a", "b")\n_("")\nwords._("five")\nn_(*FORMS, 3)'
    )
    assert sorted(texts(in_module(code)), key=str) == [
        ("a", "b"), ("{n} day", "{n} days"), "one {a}", "threefour", "two"]


def test_templates_give_their_calls() -> None:
    """In texts, attributes, blocks and conditions, with and without values."""
    page = (
        '{% block t %}{{ _("one") }}{% endblock %}<p title="{{ _("two {a}", a=_("three")) }}">'
        '{% set x %}{{ n_("{n} day", "{n} days", 2, a=1) }}{% endset %}{{ _("four") if a else _(x.title) }}'
    )
    assert sorted(texts(in_template(page)), key=str) == [("{n} day", "{n} days"), "four", "one", "three", "two {a}"]


def test_protocols_give_their_words() -> None:
    """Titles, words and said at every depth, as they are read later; no id."""
    file = 'id = "x"\ntitle = " One "\n[[steps]]\nid = "y"\nwords = "Two"\noutcomes = [{ id = "z", said = "Three" }]'
    assert texts(in_protocol(file)) == ["One", "Two", "Three"]


@pytest.mark.parametrize("code", ['_(f"a {b}")', '_("a" + b)', '_("a %s" % b)', 'n_("a", f"{b}", 2)'])
def test_a_text_that_is_no_plain_text_is_said(code: str) -> None:
    """With its line and the remedy."""
    with pytest.raises(Unmarked, match=r"line 2.*by name"):
        list(in_module(f"\n{code}"))


@pytest.mark.parametrize(
    ("code", "said"),
    [('_("{a.b} c", a=1)', "plain names"), ('_("day")\nn_("day", "days", 2)', "other forms")],
)
def test_messages_that_contradict_are_said(code: str, said: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Fields that a catalogue could misuse, one text with and without a plural: file and line are named."""
    monkeypatch.setattr(devwords, "sources", lambda: iter([("here.py", in_module(code))]))
    with pytest.raises(Unmarked, match=f"here.py, line .*{said}"):
        devwords.messages()


def test_the_file_is_the_same_each_time() -> None:
    """Read and written again it does not change; it has no date, no line and no version of a tool."""
    catalog = devwords.messages()
    once = text_of(catalog)
    assert text_of(catalog) == once == text_of(parsed("x.pot", once))
    assert b"Creation-Date" not in once and b"Generated-By" not in once and b".py:" not in once
