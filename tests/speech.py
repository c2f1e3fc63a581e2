"""A language made up for tests: each text of this version in ⟦brackets⟧, so that what was never looked up is seen."""

import json
import re
import tomllib
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from functools import cache
from html.parser import HTMLParser
from typing import Any

from benchapp.actions.cases import all_cases
from benchapp.actions.stock import things
from benchapp.core.codes import spaced
from benchapp.core.words import Catalogue, using
from benchapp.store.catalogue import shipped
from tests.actions.worked import CASE, LAB, Worked

BRAND = "Seat & Cure"
SPOKEN_ATTRIBUTES = ("aria-label", "aria-description", "title", "placeholder", "alt", "label")
SILENT = ("script", "style")
FREE = ("name", "address", "patient", "prescriber", "order", "shade", "tint", "lot", "print_job", "revision", "zone")


def made_up() -> Catalogue:
    """Return the language: only what is in the messages of this version is in brackets."""
    known: set[str] = set()
    for message in shipped():
        known |= {message.id} if isinstance(message.id, str) else {"\0".join(message.id)}

    def text(english: str) -> str:
        return f"⟦{english}⟧" if english in known else english

    def plural(one: str, many: str, n: int) -> str:
        form = one if n == 1 else many
        return f"⟦{form}⟧" if f"{one}\0{many}" in known else form

    return Catalogue("en", "made-up", text, plural)


@contextmanager
def speaking() -> Iterator[None]:
    """Speak the language for a while."""
    with using(made_up()):
        yield


def unspoken_text(text: str, data: Iterable[str] = ()) -> list[str]:
    """Return what of a text a person reads as words although it was never looked up; `data` are no words of ours."""
    bare, depth, _end = _outside(text, 0)
    return _words_in(bare, data) + (["brackets that do not close"] if depth else [])


def _outside(text: str, depth: int) -> tuple[str, int, int]:
    """Return what stands outside the brackets, how deep the end is, and how deep it went."""
    found, most = [], depth
    for letter in text:
        if letter == "⟦":
            depth += 1
        found.append(" " if depth else letter)
        if letter == "⟧":
            depth -= 1
            found[-1] = " "
        most = max(most, depth)
    return "".join(found), depth, most


@cache
def _any_of(data: frozenset[str]) -> re.Pattern[str]:
    """Return what finds data in a text, the longest first: one pattern, since a page may offer 600 time zones."""
    return re.compile(rf"(?<!\w)(?:{'|'.join(re.escape(one) for one in sorted(data, key=len, reverse=True))})(?!\w)")


def _words_in(bare: str, data: Iterable[str]) -> list[str]:
    if bare.strip():
        bare = _any_of(frozenset({BRAND, *data} - {""})).sub(" ", bare)
    return [re.sub(r"\s+", " ", bare).strip()] if re.search(r"[^\W\d_]", bare) else []


class _Page(HTMLParser):
    """Reads a page as a person sees or hears it; a sentence may run through elements inside it."""

    def __init__(self, data: Iterable[str]) -> None:
        super().__init__()
        self.data, self.depth, self.found, self.within = list(data), 0, [], [""]
        self.kept = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Look at the attributes that are read out or shown."""
        given = {name: value or "" for name, value in attrs}
        spoken = [given[name] for name in SPOKEN_ATTRIBUTES if name in given]
        if tag == "button" or (tag == "input" and given.get("type") in ("submit", "button", "reset")):
            spoken += [given["value"]] if tag == "input" and "value" in given else []
        for text in spoken:
            self.found += [f"<{tag}> {one}" for one in unspoken_text(text, self.data)]
        if tag in SILENT:
            self.within.append(tag)
            self.kept = given.get("id", "") if given.get("type") == "application/json" else ""

    def handle_endtag(self, tag: str) -> None:
        """Leave what is not shown."""
        if self.within[-1] == tag:
            self.within.pop()

    def handle_data(self, data: str) -> None:
        """Look at a text; the words of scripts too."""
        if self.within[-1] not in SILENT:
            bare, self.depth, _most = _outside(data, self.depth)
            self.found += _words_in(bare, self.data)
        elif self.kept == "data":
            words = json.loads(data).get("words", {})
            self.found += [f"words: {one}" for text in _leaves(words) for one in unspoken_text(text, self.data)]


def _leaves(tree: Any) -> Iterator[str]:
    if isinstance(tree, str):
        yield tree
    elif isinstance(tree, dict):
        for value in tree.values():
            yield from _leaves(value)
    elif isinstance(tree, list):
        for value in tree:
            yield from _leaves(value)


def unspoken(page: str, data: Iterable[str] = ()) -> list[str]:
    """Return every text of a page that a person sees, hears or gets from a script, and that was never looked up."""
    reader = _Page(data)
    reader.feed(page)
    reader.close()
    return reader.found + (["brackets that do not close"] if reader.depth else [])


def data_of(jaw: Worked) -> list[str]:
    """Return what on a page is the lab's own: names, numbers, codes of the lab and the case of the tests."""
    lab = tomllib.loads(LAB)
    sheet = tomllib.loads(CASE.format(training="false", jaw="upper", teeth=[11]))
    cases = all_cases(jaw.bench)
    jaws = [one for case in cases for one in case["jaws"]]
    codes = [one["code"] for one in (*cases, *jaws, *(part for one in jaws for part in one["parts"]))]
    codes += [thing.code for thing in things(jaw.bench)]
    return [*_free(lab), *_free(sheet), *codes, *(spaced(code) for code in codes)]


def _free(tree: Any) -> Iterator[str]:
    if isinstance(tree, dict):
        for key, value in tree.items():
            if key in FREE and isinstance(value, str):
                yield value
            else:
                yield from _free(value)
    elif isinstance(tree, list):
        for value in tree:
            yield from _free(value)
