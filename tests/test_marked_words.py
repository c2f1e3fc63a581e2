"""Words are marked for the catalogue where the code makes them: read from the sources, so no branch is forgotten."""

import ast
from pathlib import Path

import pytest

from benchapp import devwords, paths
from tests.marked import amiss, bare_in_template, shown_classes
from tests.test_house import files, named

# The command line speaks English, and what is wrong with a catalogue is said before there is one.
ENGLISH_ONLY = ("benchapp/cli/", "benchapp/demo.py", "benchapp/store/catalogue.py")

# Not wrapped yet: this list only gets shorter. A line is taken out when its file is done.
STILL_TO_WRAP = {
}

MODULES = [
    path for path in files("benchapp", ".py")
    if named(path) not in STILL_TO_WRAP and not named(path).startswith(ENGLISH_ONLY)
]
PAGES = [path for path in files("templates", ".html") if named(path) not in STILL_TO_WRAP]


def test_no_module_shows_bare_words() -> None:
    """What `Refused`, its kin and `Fault` say is looked up, when it is said, by a `_` that is no throwaway name."""
    shown = shown_classes()
    assert {"Unknown", "NotYours", "CannotRemake"} <= shown
    found = [f"{named(path)}:{what}" for path in MODULES for what in amiss(ast.parse(path.read_text("utf-8")), shown)]
    assert found == []


@pytest.mark.parametrize("path", PAGES, ids=named)
def test_no_template_shows_bare_words(path: Path) -> None:
    """Every text, spoken attribute and text within an expression of a template is looked up."""
    assert bare_in_template(path.read_text("utf-8")) == []


def test_the_list_of_what_is_to_be_wrapped_is_true() -> None:
    """Each file that is still listed exists and has something to wrap; the others are read by the tests above."""
    shown = shown_classes()
    idle = []
    for name in sorted(STILL_TO_WRAP):
        text = (paths.HERE.parent / name).read_text("utf-8")
        rest = list(amiss(ast.parse(text), shown)) if name.endswith(".py") else bare_in_template(text)
        idle += [] if rest else [name]
    assert idle == []


def test_bare_words_would_be_found() -> None:
    """The search sees texts, f-strings, sums, choices, lookups that come too early, and throwaway names."""
    shown = shown_classes()
    for code in (
        'raise Refused("no")', 'raise Unknown(f"no {a}")', 'raise Refused("no " + a)', 'Fault(w, "no", _("x"))',
        'raise Refused(_("a") if b else "no")', 'raise bench.Refused("{} no".format(a))', 'Fault(w, _("x"), mend="no")',
        'TITLE = _("early")', 'class A:\n    title = n_("a", "b", 2)', 'def f(a=_("early")): pass',
        'def f():\n    a, _, b = c\n    return _("x")', '@cache\ndef f():\n    return _("x")',
        "raise Refused(f\"{a if b else 'no'}\")",
    ):
        assert list(amiss(ast.parse(code), shown)), code
    for code in (
        'def f():\n    raise Refused(_("yes {a}", a=b))', 'raise Refused(words)', 'raise Refused(f"{a} {b}")',
        "Fault('key', what, mend)",
        'def f():\n    return _("x")', 'A = lambda: _("x")', 'def f():\n    a, _rest = b\n    return _("x")',
        'TITLE = N_("late")', "for _ in range(3):\n    pass",
    ):
        assert list(amiss(ast.parse(code), shown)) == [], code
    for page in ("<p>Bare", '<p title="Bare {{ a }}">', '{{ "Bare" if a else _("x") }}', '{{ _("x", a="Bare one") }}',
                 '<input type="submit" value="Bare">', "{% set a = 'Bare' %}"):
        assert bare_in_template(page), page
    for page in ('<p>{{ _("x") }} · {{ a }}', '<p class="{{ "late" if a }}">', '{% if a == "Bare" %}{% endif %}',
                 "<title>Seat &amp; Cure</title>", '{% include "A b.html" %}', "<script>const bare = 1</script>"):
        assert bare_in_template(page) == [], page


def test_every_word_for_scripts_is_marked() -> None:
    """Each text in the dictionaries of `web/words.py` is in `N_` or `NN_`."""
    tree = ast.parse((paths.HERE / "web" / "words.py").read_text("utf-8"))
    values = [value for node in ast.walk(tree) if isinstance(node, ast.Dict) for value in node.values]
    assert len(values) > 80
    assert [value.lineno for value in values if isinstance(value, ast.Constant | ast.JoinedStr | ast.BinOp)
            and not (isinstance(value, ast.BinOp) and isinstance(value.op, ast.BitOr))] == []


def test_the_messages_are_fresh() -> None:
    """`words/seat-and-cure.pot` holds what the sources have now."""
    assert devwords.main(["--check"]) == 0, "run python -m benchapp.devwords"
