"""What became of an order since it was accepted: each change with what stood there before, who made it, and when."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from benchapp.actions.bench import Bench
from benchapp.actions.jaws import texts_of
from benchapp.actions.lab import people
from benchapp.core import events
from benchapp.core.caseline import case_now
from benchapp.core.codes import spaced
from benchapp.core.orders import COLUMNS
from benchapp.core.orders_words import PART_WORDS, choice_words
from benchapp.core.words import N_, _

WHATS = {"case": N_("Accepted"), "correct": N_("Corrected"), "allergy": N_("Decision on the allergy entered"),
         "cancel": N_("Cancelled"), "reopen": N_("Goes on after it was cancelled")}
TITLES = {column.name: column.title for column in COLUMNS}
PART = N_("part")
CHOICES = {column.name for column in COLUMNS if column.of == "words"}
PART_TITLES = {"revision": N_("{part} {code}, revision"), "print_job": N_("{part} {code}, print job")}


@dataclass(frozen=True)
class Change:
    """One thing that happened to an order: when (UTC ms), who, what, words, and lines of (title, before, after)."""

    when: int
    person: str
    what: str
    words: str = ""
    lines: tuple[tuple[str, str, str], ...] = ()


def order_story(bench: Bench, code: str) -> list[Change]:
    """Return what happened to the order of a case, oldest first; empty where there is no such case."""
    first = bench.store.first_tagged("case", code)
    if first is None:
        return []
    accepted = events.read_body(first.body)
    bodies = [accepted, *(events.read_body(entry.body) for entry in bench.store.tagged("order", code))]
    names = {person.id: person.name for person in people(bench)}
    ids = [text for body in bodies for text in body["event"].get("data", {}).get("texts", {}).values()]
    words = texts_of(bench, ids)
    story: list[Change] = []
    before: list[dict[str, Any]] = []
    for body in bodies:
        event, server = body["event"], body["server"]
        if event["kind"] in WHATS:
            case = case_now(accepted["event"]["data"], before)
            person = names.get(event["by"]["person"], _("on the PC"))
            lines = tuple(_lines(event, case, words)) if event["kind"] == "correct" else ()
            story.append(Change(server["when"], person, _(WHATS[event["kind"]]), _words(event, words), lines))
        if event["kind"] != "case":
            before.append(body)
    return story


def _words(event: dict[str, Any], words: dict[str, str]) -> str:
    data = event.get("data", {})
    if event["kind"] == "cancel":
        return _("Why: {words}", words=words.get(data["texts"]["why"], ""))
    if event["kind"] == "allergy":
        who, day = words.get(data["texts"]["by"], ""), data["on"]
        if data["goes_on"]:
            return _("Decided by {name} on {day}: work goes on", name=who, day=day)
        return _("Decided by {name} on {day}: work does not go on", name=who, day=day)
    return ""


def _lines(event: dict[str, Any], case: dict[str, Any], words: dict[str, str]) -> Iterable[tuple[str, str, str]]:
    data = event["data"]
    for name, value in data.get("set", {}).items():
        old = case.get(name, "")
        said = (choice_words(old), choice_words(value)) if name in CHOICES else (old, value)
        yield _(TITLES.get(name, name)), *said
    for name, text in data.get("texts", {}).items():
        old = case["texts"].get(name)
        yield _(TITLES.get(name, name)), words.get(old, _("(erased)")) if old else "", words.get(text, "")
    parts = {part["code"]: part for jaw in case["jaws"] for part in jaw["parts"]}
    for part, said in data.get("parts", {}).items():
        for name, value in said.items():
            old = parts.get(part, {}).get(name, "")
            if old != value:
                which = PART_WORDS.get(parts.get(part, {}).get("part", ""), PART)
                yield _(PART_TITLES[name], part=_(which), code=spaced(part)), old, value
