"""What templates say in the language in use: `_`, `n_` and `language`; a sentence and its values are escaped here."""

from typing import Any

from jinja2 import Environment
from markupsafe import Markup, escape

from benchapp.core import words
from benchapp.core.teeth import JAW_WORDS


def _(text: str, /, **values: Any) -> Markup:
    """Return a text for a page, its fields filled; markup comes only from values that are markup already."""
    return words.fill(escape(words.known(text)), escape(text), values)


def n_(one: str, many: str, n: int, /, **values: Any) -> Markup:
    """Return the form for `n` of a text for a page, `{n}` filled like the other fields."""
    english = one if n == 1 else many
    return words.fill(escape(words.known_plural(one, many, n)), escape(english), {"n": n, **values})


def jaw_words(jaw: str) -> Markup:
    """Return what a jaw is called in a sentence: "upper jaw", "lower jaw"."""
    return _(JAW_WORDS[jaw])


def dress(environment: Environment) -> None:
    """Let the templates of an environment speak."""
    environment.globals |= {"_": _, "n_": n_, "language": words.language, "jaw_words": jaw_words}
