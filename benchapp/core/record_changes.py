"""What a record says of changes of its case: corrections with the earlier value, the allergy, cancelling."""

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from pydantic import Field

from benchapp.core.orders_words import COLUMNS, choice_words
from benchapp.core.record_entries import Moment, Said
from benchapp.core.record_words import ORDER, Names
from benchapp.core.words import N_, _

Body = Mapping[str, Any]
ERASED = N_("(erased)")
NOTHING = N_("(nothing)")
FIELDS: dict[str, str] = {column.name: column.title for column in COLUMNS}
FURTHER = ("pan", "surgery", "opposing", "bite", "mounting", "tryin", "marking", "marking_words")
CHOSEN = frozenset(column.name for column in COLUMNS if column.of == "words")
# Titles of what the order says beyond patient, prescriber, teeth, shade and tint, for the statement's data.
PRESCRIBED = {
    "pan": N_("Prescribed: pan"), "surgery": N_("Prescribed: surgery"), "opposing": N_("Prescribed: other jaw"),
    "bite": N_("Prescribed: bite record"), "mounting": N_("Prescribed: mounting"), "tryin": N_("Prescribed: try-in"),
    "marking": N_("Prescribed: identification mark"), "marking_words": N_("Prescribed: words of the mark"),
}  # fmt: skip
OF_PART = {
    ("base", "revision"): N_("Base {make}, design revision"), ("base", "print_job"): N_("Base {make}, print job"),
    ("arch", "revision"): N_("Arch {make}, design revision"), ("arch", "print_job"): N_("Arch {make}, print job"),
}  # fmt: skip
VALUES_OF_PART = ("revision", "print_job")


class Detail(Said):
    """One more thing that the order says."""

    title: str = Field(description="what it is about")
    words: str = Field(description="what the order says")


class Correction(Said):
    """One field of the order that was corrected or completed; the earlier value stays readable."""

    seq: int = Field(description="number of the entry in the journal")
    title: str = Field(description="which field")
    earlier: str = Field(description="what stood there before")
    new: str = Field(description="what stands there since")
    at: Moment = Field(description="when")
    who: str = Field(description="by whom")
    late: bool = Field(description="whether it came after the release, so that this record stays as it was released")

    def what(self) -> str:
        """Return which field, and that it came after the release, as it is printed."""
        return _("{title} (after the release)", title=self.title) if self.late else self.title


class AllergyDecision(Said):
    """What a licensed professional decided about a stated allergy, as it was entered."""

    outcome: str = Field(description="whether work goes on")
    against: bool = Field(description="whether it was decided that the work does not go on")
    on: str = Field(description="day of the decision, YYYY-MM-DD; empty when none was entered")
    by: str = Field(description="the licensed professional who decided, as entered; empty when nobody was named")
    at: Moment = Field(description="when it was entered")
    who: str = Field(description="who entered it")

    def text(self) -> str:
        """Return the decision as it is printed."""
        if self.by and self.on:
            return _("{decision} ({by} on {day})", decision=self.outcome, by=self.by, day=self.on)
        if self.on:
            return _("{decision} (on {day})", decision=self.outcome, day=self.on)
        return self.outcome + (f" ({self.by})" if self.by else "")


class Turn(Said):
    """The case was cancelled, or it goes on."""

    what: str = Field(description="cancelled, or goes on")
    reason: str = Field(description="why; empty when nothing was said")
    at: Moment = Field(description="when")
    who: str = Field(description="by whom")


class Changes(Said):
    """Everything that changed about the case since it was accepted."""

    corrections: list[Correction] = Field(description="corrected or completed fields of the order, in order of time")
    allergy: list[AllergyDecision] = Field(description="decisions on a stated allergy; the last one counts")
    turns: list[Turn] = Field(description="cancelling and going on")


def case_changes(
    names: Names, accepted: Mapping[str, Any], changes: Iterable[Body], texts: Mapping[str, str], released: int
) -> Changes:
    """Return the changes of a case; `released` is the number of the jaw's release in the journal, 0 without one."""
    found = list(changes)
    return Changes(
        corrections=list(_corrections(names, accepted, found, texts, released)),
        allergy=[_allergy(names, b, texts) for b in found if b["event"]["kind"] == "allergy"],
        turns=[_turn(names, b, texts) for b in found if b["event"]["kind"] in ("cancel", "reopen")],
    )


def details(case: Mapping[str, Any], texts: Mapping[str, str]) -> list[Detail]:
    """Return what an order says beyond patient, prescriber, shade and tint."""
    return [Detail(title=_(FIELDS[name]), words=words) for name, words in _further(case, texts)]


def prescribed_further(case: Mapping[str, Any], texts: Mapping[str, str]) -> list[Detail]:
    """Return the same with the titles that it has among the data for the statement."""
    return [Detail(title=_(PRESCRIBED[name]), words=words) for name, words in _further(case, texts)]


def _further(case: Mapping[str, Any], texts: Mapping[str, str]) -> list[tuple[str, str]]:
    said = {name: case.get(name) or "" for name in FURTHER}
    said |= {name: texts.get(id, _(ERASED)) for name, id in case["texts"].items() if name in FURTHER and id}
    return [(name, _shown(name, _plain(said[name]))) for name in FURTHER if said[name]]


def decided_against(decided: Mapping[str, Any] | None) -> bool:
    """Tell whether the decision on an allergy was that the work does not go on."""
    return decided is not None and not decided.get("goes_on")


def _corrections(
    names: Names, accepted: Mapping[str, Any], changes: list[Body], texts: Mapping[str, str], released: int
) -> Iterator[Correction]:
    values: dict[str, str] = {name: _plain(accepted.get(name, "")) for name in FIELDS}
    values |= {name: texts.get(id, _(ERASED)) for name, id in accepted["texts"].items() if id}
    for jaw in accepted["jaws"]:
        values |= _of_parts(jaw["parts"])
    for body in changes:
        if body["event"]["kind"] == "remake":
            values |= _of_parts([body["event"]["data"]["made"]])
        for name, title, value in _said(names, body, texts):
            if value != values.get(name, ""):
                yield _correction(names, body, name, title, values.get(name, ""), value, released)
            values[name] = value


def _of_parts(parts: Iterable[Mapping[str, Any]]) -> dict[str, str]:
    return {f"{part['code']} {name}": _plain(part[name]) for part in parts for name in VALUES_OF_PART}


def _said(names: Names, body: Body, texts: Mapping[str, str]) -> Iterator[tuple[str, str, str]]:
    """Yield key, title and new value of what a correction says; parts of other jaws are left out."""
    data = body["event"].get("data", {})
    if body["event"]["kind"] != "correct":
        return
    for name, value in data.get("set", {}).items():
        yield name, _(FIELDS.get(name, name)), _plain(value)
    for name, id in data.get("texts", {}).items():
        if name in FIELDS:
            yield name, _(FIELDS[name]), texts.get(id, _(ERASED)) if id else ""
    for part in [*names.jaw["parts"], *names.jaw.get("old_parts", [])]:
        for name, value in data.get("parts", {}).get(part["code"], {}).items():
            title = _(OF_PART.get((part["part"], name), name), make=part["make"])
            yield f"{part['code']} {name}", title, _plain(value)


def _correction(
    names: Names, body: Body, name: str, title: str, earlier: str, new: str, released: int
) -> Correction:
    return Correction(
        seq=body["server"]["seq"],
        title=title,
        earlier=_shown(name, earlier) or _(NOTHING),
        new=_shown(name, new) or _(NOTHING),
        at=names.at(body["server"]["when"]),
        who=names.person(body["event"]["by"]["person"]),
        late=bool(released and body["server"]["seq"] > released),
    )


def _allergy(names: Names, body: Body, texts: Mapping[str, str]) -> AllergyDecision:
    data = body["event"].get("data", {})
    against = decided_against(data)
    said = {name: texts.get(id, _(ERASED)) for name, id in data.get("texts", {}).items() if id}
    return AllergyDecision(
        outcome=_("does not go on") if against else _("goes on"),
        against=against,
        on=data.get("on", ""),
        by=said.get("by", ""),
        at=names.at(body["server"]["when"]),
        who=names.person(body["event"]["by"]["person"]),
    )


def _turn(names: Names, body: Body, texts: Mapping[str, str]) -> Turn:
    event = body["event"]
    why = event.get("data", {}).get("texts", {}).get("why", "")
    return Turn(
        what=_("cancelled") if event["kind"] == "cancel" else _("goes on"),
        reason=texts.get(why, _(ERASED)) if why else "",
        at=names.at(body["server"]["when"]),
        who=names.person(event["by"]["person"]),
    )


def _shown(name: str, value: str) -> str:
    """Return what stood in a field as people read it; free words stay as they are."""
    if name == "kind":
        return _(ORDER.get(value, value))
    return choice_words(value) if name in CHOSEN else value


def _plain(value: Any) -> str:
    return ", ".join(map(str, value)) if isinstance(value, list) else str(value)
