"""Words: English where nothing is translated, fields filled, forms by number, nothing a catalogue can break."""

import json
from gettext import c2py
from typing import Any

import pytest
from babel import Locale
from hypothesis import given
from hypothesis import strategies as st
from playwright.sync_api import Page

from benchapp.core import words
from benchapp.core.protocol_rules import read_protocol
from benchapp.core.protocol_words import spoken, texts
from benchapp.core.words import N_, NN_, Catalogue, _, fields, for_scripts, n_, using
from benchapp.paths import PROTOCOLS

POLISH = {
    "Jaw {code} is held": "Praca {code} stoi", "Broken {code}": "Zepsute {kod}", "Worse {code}": "Gorsze {code",
    "Open": "Otwórz", "Pack up": "Spakuj",
}
FORMS = ("{n} miejsce", "{n} miejsca", "{n} miejsc")
# Rule for Polish as gettext files have it; which numbers go together is checked against CLDR below.
RULE = c2py("n==1 ? 0 : n%10>=2 && n%10<=4 && (n%100<12 || n%100>14) ? 1 : 2")


def polish(one: str, many: str, n: int) -> str:
    """Return the Polish form for places, English for the rest."""
    return FORMS[RULE(n)] if one == "{n} place" else (one if n == 1 else many)


PL = Catalogue("pl", "pl-1", lambda text: POLISH.get(text, text), polish)


def test_english_stands_as_written() -> None:
    """Without a catalogue a text is itself, with its fields filled; without values braces stay."""
    assert _("Open") == N_("Open") == "Open" and _("") == ""
    assert _("Jaw {code} is held", code="7K") == "Jaw 7K is held"
    assert _("a {b} {") == "a {b} {"
    assert n_("{n} place", "{n} places", 1) == "1 place"
    assert n_("{n} place at {where}", "{n} places at {where}", 0, where="{n}") == "0 places at {n}"
    assert words.language() == "en" and words.in_use() == ""


def test_a_catalogue_is_asked_where_the_words_are_shown() -> None:
    """Constants are looked up late; what is missing stays English; afterwards all is as before."""
    constant, forms = N_("Open"), NN_("{n} place", "{n} places")
    with using(PL):
        assert _(constant) == "Otwórz" and _("Close") == "Close" and _("") == ""
        assert _("Jaw {code} is held", code="7K") == "Praca 7K stoi"
        assert [n_(*forms, n) for n in (1, 2, 5, 22)] == ["1 miejsce", "2 miejsca", "5 miejsc", "22 miejsca"]
        assert words.language() == "pl" and words.in_use() == "pl-1"
    assert _(constant) == "Open" and words.language() == "en"


@pytest.mark.parametrize("text", ["Broken {code}", "Worse {code}"])
def test_a_translation_that_cannot_be_filled_gives_way(text: str) -> None:
    """Another field's name, or a brace too few: English is shown, and nothing is raised."""
    with using(PL):
        assert _(text, code="7K") == text.format(code="7K")


@given(st.text(alphabet="{}abn!:.[]0 ", max_size=20), st.text(max_size=8))
def test_no_translation_raises(translation: str, value: str) -> None:
    """Whatever stands in a catalogue, a text with fields is said."""
    with using(Catalogue("pl", "x", lambda text: translation, lambda one, many, n: translation)):
        assert isinstance(_("Jaw {a}", a=value), str)
        assert isinstance(n_("{n} jaw {a}", "{n} jaws {a}", 3, a=value), str)


@pytest.mark.parametrize(
    ("text", "found"),
    [("none", set()), ("{a} and {b_2}", {"a", "b_2"}), ("{{a}}", set()), ("{a", None), ("{}", None), ("{0}", None),
     ("{a.b}", None), ("{a[0]}", None), ("{a!r}", None), ("{a:.1f}", None)],
)
def test_fields_are_plain_names(text: str, found: set[str] | None) -> None:
    """A field with an attribute, an index, a conversion or a format is none that a catalogue may have."""
    assert fields(text) == found


def test_words_for_scripts() -> None:
    """A dictionary keeps its shape; English forms come as two, others with a digit for each number."""
    constants: dict[str, Any] = {"a": N_("Open"), "b": {"c": NN_("{n} place", "{n} places")}, "d": 5}
    assert for_scripts(constants) == {"a": "Open", "b": {"c": {"forms": ["{n} place", "{n} places"]}}, "d": 5}
    with using(PL):
        found = for_scripts(constants)
    assert found["a"] == "Otwórz" and found["d"] == 5
    assert sorted(found["b"]["c"]["forms"]) == sorted(FORMS) and len(found["b"]["c"]["by"]) == words.COUNTED


def test_scripts_count_as_unicode_does(page: Page, static_url: str) -> None:
    """The form that the script takes goes with the CLDR category of the number (Unicode CLDR, by Babel) up to 1200."""
    with using(PL):
        found = for_scripts({"places": NN_("{n} place", "{n} places")})
    english = for_scripts({"places": NN_("{n} place", "{n} places")})
    page.route("**/counted.html", lambda route: route.fulfill(
        content_type="text/html",
        body=f'<script type="application/json" id="data">{json.dumps({"words": {}})}</script>',
    ))
    page.goto(f"{static_url}/counted.html")
    said = page.evaluate(
        """async ([polish, english]) => {
          const { counted } = await import("/js/page.js");
          return [...Array(1200).keys()].map((n) => [counted(polish, n), counted(english, n)]);
        }""",
        [found["places"], english["places"]],
    )
    rule = Locale("pl").plural_form
    form = {"one": FORMS[0], "few": FORMS[1], "many": FORMS[2]}
    assert [one for one, _english in said] == [form[rule(n)].format(n=n) for n in range(1200)]
    assert [two for _polish, two in said] == [f"{n} place{'' if n == 1 else 's'}" for n in range(1200)]


def test_a_protocol_is_shown_in_the_language_in_use() -> None:
    """Titles, words and said are looked up wherever they stand, ids and numbers stay; in English it is itself."""
    file = PROTOCOLS / "green-splinted.toml"
    protocol = read_protocol(file.name, file.read_text("utf-8"))
    assert spoken(protocol) is protocol
    with using(Catalogue("xx", "xx", lambda text: f"*{text}", polish)):
        shown = spoken(protocol)
    plain, other = protocol.model_dump(mode="json"), shown.model_dump(mode="json")
    said = sorted(texts(plain))
    assert len(said) > 200 and sorted(texts(other)) == sorted(f"*{text}" for text in said)
    assert json.dumps(other, ensure_ascii=False).replace('"*', '"') == json.dumps(plain, ensure_ascii=False)
