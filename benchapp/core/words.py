"""Words in the language of the lab: English stands in the code, the catalogue in use (gettext) gives the other one.

`_` and `n_` look a text up where it is shown, never at import. `N_` and `NN_` only mark constants, so that they
get into the catalogue; who shows them looks them up.
"""

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from string import Formatter
from typing import Any, NamedTuple, TypeVar

TextT = TypeVar("TextT", bound=str)
COUNTED = 200  # gettext's plural rules ask for n, n mod 10 and n mod 100: what holds for these holds for all above


@dataclass(frozen=True)
class Catalogue:
    """One language: `language` is its tag (BCP 47), `name` changes with every change of the catalogue.

    `text` gives the words for an English text, `plural` those for (one, many, n); what they do not know they give
    back in English.
    """

    language: str
    name: str
    text: Callable[[str], str]
    plural: Callable[[str, str, int], str]


class Plural(NamedTuple):
    """A constant in two English forms, looked up where it is shown."""

    one: str
    many: str


ENGLISH = Catalogue("en", "", str, lambda one, many, n: one if n == 1 else many)
_in_use = ENGLISH


def use(catalogue: Catalogue | None) -> None:
    """Let this process speak by a catalogue; None: English as written."""
    global _in_use
    _in_use = catalogue or ENGLISH


@contextmanager
def using(catalogue: Catalogue | None) -> Iterator[None]:
    """Speak by a catalogue for a while, and then as before."""
    before = _in_use
    use(catalogue)
    try:
        yield
    finally:
        use(before)


def language() -> str:
    """Return the tag of the language in use, for `lang` of a page."""
    return _in_use.language


def in_use() -> str:
    """Return what tells the catalogue in use from every other one, "" for English; for keys of what is kept."""
    return _in_use.name


def _(text: str, /, **values: Any) -> str:
    """Return an English text in the language in use, with its `{name}` fields filled.

    Without values nothing is filled in, so that braces stay. A translation that cannot be filled gives way to English.
    """
    return fill(known(text), text, values)


def n_(one: str, many: str, n: int, /, **values: Any) -> str:
    """Return the form for `n` of a text in two English forms; `{n}` is filled like the other fields."""
    return fill(known_plural(one, many, n), one if n == 1 else many, {"n": n, **values})


def N_(text: str) -> str:
    """Mark a constant for the catalogue; `_` looks it up where it is shown."""
    return text


def NN_(one: str, many: str) -> Plural:
    """Mark a constant of two forms for the catalogue; `n_(*constant, n)` looks it up where it is shown."""
    return Plural(one, many)


def known(text: str) -> str:
    """Return what the catalogue in use has for a text, its fields not filled."""
    return _in_use.text(text) if text else ""  # gettext would give its header for an empty text


def known_plural(one: str, many: str, n: int) -> str:
    """Return what the catalogue in use has for `n`, its fields not filled."""
    return _in_use.plural(one, many, n)


def fill(found: TextT, english: TextT, values: Mapping[str, Any]) -> TextT:
    """Fill the fields of a text; what fails in another language is said in English."""
    if not values:
        return found
    try:
        return type(found)(found.format(**values))
    except (LookupError, ValueError, TypeError, AttributeError):
        return type(english)(english.format(**values))


def fields(text: str) -> frozenset[str] | None:
    """Return the names of the `{name}` fields of a text, None where it is not made to be filled.

    A field is a plain name: no attribute, index, conversion or format of its own, which a catalogue could misuse.
    """
    try:
        parsed = [(field, spec, conversion) for _text, field, spec, conversion in Formatter().parse(text)]
    except ValueError:
        return None
    found = [(field, spec, conversion) for field, spec, conversion in parsed if field is not None]
    if any(spec or conversion or not field.isidentifier() for field, spec, conversion in found):
        return None
    return frozenset(field for field, _spec, _conversion in found)


def for_scripts(constants: Mapping[str, Any]) -> dict[str, Any]:
    """Return a dictionary of constants in the language in use, as `tojson` hands it to the scripts of a page.

    A constant of two forms becomes {forms, by}: `by` has a digit for each number below COUNTED that says which of
    the forms it takes, and is left out in English (see `counted` in static/js/page.js).
    """
    return {key: _for_scripts(value) for key, value in constants.items()}


def _for_scripts(value: Any) -> Any:
    if isinstance(value, Plural):
        return _counted(value)
    if isinstance(value, Mapping):
        return for_scripts(value)
    return known(value) if isinstance(value, str) else value


def _counted(constant: Plural) -> dict[str, Any]:
    if _in_use is ENGLISH:
        return {"forms": list(constant)}
    every = [known_plural(*constant, n) for n in range(COUNTED)]
    forms = list(dict.fromkeys(every))
    return {"forms": forms, "by": "".join(str(forms.index(form)) for form in every)}
