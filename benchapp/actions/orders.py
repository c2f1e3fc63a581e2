"""What happens to an order after it was accepted: corrections, cancelling, a decision on an allergy; and lists."""

import datetime
import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from benchapp.actions.bench import Bench, Refused
from benchapp.actions.cases import MORE_TEXTS, TEXTS, Added, add_cases, orders_known
from benchapp.actions.desk import Seat, on_jaw, store
from benchapp.actions.editions import in_force
from benchapp.actions.jaws import case_as_it_is, line_for_writing
from benchapp.actions.lab import today
from benchapp.actions.settings import change, setting
from benchapp.core import events
from benchapp.core.caseline import CORRECTABLE, PART_FIELDS
from benchapp.core.codes import spaced
from benchapp.core.faults import Fault, FileFaults
from benchapp.core.orders import COLUMNS, Row, guess, sheet_of
from benchapp.core.orders_words import day_of
from benchapp.core.words import N_, _
from benchapp.store.journal import Writer

CORRECTS = ("technician", "supervisor")
DECIDES = ("supervisor",)
TITLES = {column.name: column.title for column in COLUMNS}
DECIDED_BY, DECIDED_ON = N_("Decided by"), N_("Decided on")
MOST_WORDS = 200


@dataclass(frozen=True)
class Correction:
    """What is to be corrected: plain fields, texts, and parts by code as {code: {revision, print_job}}."""

    fields: Mapping[str, str]
    texts: Mapping[str, str]
    parts: Mapping[str, Mapping[str, str]]


def correct(bench: Bench, seat: Seat, code: str, wanted: Correction) -> list[str]:
    """Correct what a case was ordered as; return the titles of what is another now, none when all is the same.

    FileFaults with every fault at once; Refused when a jaw of the case is released, when the order is another
    case's, or when a stated allergy would be taken back. A stated allergy holds every jaw that is in work.
    """
    seat.must(*CORRECTS)
    with bench.writing() as writer:
        case = case_as_it_is(writer, code)
        _not_released(bench, writer, case)
        old = {name: _shown(writer, text) for name, text in case["texts"].items()}
        fields, texts, parts = _sound(case, old, wanted)
        data: dict[str, Any] = {}
        data |= {"set": fields} if fields else {}
        data |= {"parts": parts} if parts else {}
        if not (fields or texts or parts):
            return []
        _no_other(writer, code, {**old, **texts})
        if texts:
            data["texts"] = {name: bench.text(writer, words) for name, words in texts.items()}
        store(bench, writer, seat, "correct", case=code, data=data)
        if fields.get("allergy") == "yes":
            _hold(bench, writer, seat, case, "allergy")
    changed = [_(TITLES[name]) for name in (*fields, *texts)]
    return changed + [_("part {code}", code=spaced(part)) for part in parts]


def _shown(writer: Writer, text: str) -> str:
    """Return a text as the form shows it: an erased one that is sent back as it was is no correction."""
    words = writer.text(text)
    return _("(erased)") if words is None else words


def _sound(
    case: Mapping[str, Any], old: Mapping[str, str], wanted: Correction
) -> tuple[dict[str, str], dict[str, str], dict[str, dict[str, str]]]:
    """Return what differs, checked by the models of the case sheet as a whole."""
    fields = {name: value.strip() for name, value in wanted.fields.items() if name in CORRECTABLE}
    texts = {name: value.strip() for name, value in wanted.texts.items() if name in (*TEXTS, *MORE_TEXTS)}
    said = {part: {n: v.strip() for n, v in new.items() if n in PART_FIELDS} for part, new in wanted.parts.items()}
    now = {name: case[name] for name in CORRECTABLE} | dict(old) | fields | texts
    days = {name: day_of(now[name]) or now[name] or None for name in ("due", "surgery")}
    order = now | days | {"options": case["options"], "training": bool(case["training"])}
    jaws = [
        {"jaw": jaw["jaw"], "teeth": jaw["teeth"], "parts": [
            {name: part[name] for name in ("part", *PART_FIELDS)} | said.get(part["code"], {}) for part in jaw["parts"]
        ]} for jaw in case["jaws"]
    ]
    found: list[Fault] = []
    for at in range(0, len(jaws), 2):  # a sheet has two jaws at most, a case with jaws made again more
        some = _faults({"format": 1, "case": order, "jaws": jaws[at: at + 2]})
        found += [fault for fault in some if fault not in found]
    if case["allergy"] == "yes" and now["allergy"] != "yes":
        found.append(Fault(_(TITLES["allergy"]), _("a stated allergy is not taken back"),
                           _("Enter below what a licensed professional decided")))
    if found:
        raise FileFaults("order", found)
    fields |= {name: day.isoformat() for name, day in days.items() if isinstance(day, datetime.date) and name in fields}
    parts = {part["code"]: part for jaw in case["jaws"] for part in jaw["parts"]}
    return (
        {name: value for name, value in fields.items() if value != case[name]},
        {name: value for name, value in texts.items() if value != old.get(name, "")},
        {code: new for code, new in said.items() if code in parts and any(parts[code][n] != v for n, v in new.items())},
    )


def _faults(tree: dict[str, Any]) -> list[Fault]:
    faults: list[Fault] = []
    sheet_of(tree, {name: _(title) for name, title in TITLES.items()}, faults)
    return faults


def _no_other(writer: Writer, code: str, texts: Mapping[str, str]) -> None:
    other = orders_known(writer).get((texts["order"], texts["patient"]), code)
    if other != code:
        raise Refused(_("Order {order} of {patient} is case {code} already. Use its number.",
                        order=texts["order"], patient=texts["patient"], code=spaced(other)))


def _not_released(bench: Bench, writer: Writer, case: Mapping[str, Any]) -> None:
    for jaw in case["jaws"]:
        if line_for_writing(bench, jaw["code"], writer).release is not None:
            raise Refused(_("Jaw {code} is released: what its record says stays. Amend the record instead.",
                            code=spaced(jaw["code"])))


def cancel(bench: Bench, seat: Seat, code: str, why: str) -> None:
    """Cancel a case, with the reason in words; every jaw in work is put on hold. Refused when a jaw is released."""
    seat.must(*DECIDES)
    words = _words(_("Why"), why, MOST_WORDS)
    with bench.writing() as writer:
        case = case_as_it_is(writer, code)
        if case["cancelled"]:
            raise Refused(_("Case {code} is cancelled already. Load the page again.", code=spaced(code)))
        _not_released(bench, writer, case)
        store(bench, writer, seat, "cancel", case=code, data={"texts": {"why": bench.text(writer, words)}})
        _hold(bench, writer, seat, case, "cancel")


def reopen(bench: Bench, seat: Seat, code: str) -> None:
    """Let a cancelled case go on; its jaws stay on hold until somebody goes on with them at the bench."""
    seat.must(*DECIDES)
    with bench.store.writing() as writer:
        if not case_as_it_is(writer, code)["cancelled"]:
            raise Refused(_("Case {code} is not cancelled. Load the page again.", code=spaced(code)))
        store(bench, writer, seat, "reopen", case=code)


def decide(bench: Bench, seat: Seat, code: str, by: str, on: str, goes_on: bool) -> list[str]:
    """Enter what a licensed professional decided on a stated allergy; return the codes of jaws that go on.

    `by` is who decided, `on` the day. Jaws that were held for the allergy go on when it says so, unless the case
    is cancelled; FileFaults for what cannot be so, Refused where no allergy was stated.
    """
    seat.must(*DECIDES)
    day = day_of(on)
    faults = []
    if not day or day.year < 2000:
        faults.append(Fault(_(DECIDED_ON), _("no day stands here"), _("Write 2026-12-01")))
    if day and day > today(bench):
        what = _("that day is still to come")
        faults.append(Fault(_(DECIDED_ON), what, _("Enter the decision once it is made")))
    try:
        who = _words(_(DECIDED_BY), by, 80)
    except FileFaults as error:
        faults = [*error.faults, *faults]
    if faults or day is None:
        raise FileFaults("decision", faults)
    with bench.writing() as writer:
        case = case_as_it_is(writer, code)
        if case["allergy"] != "yes":
            raise Refused(_("No allergy is stated for this case, so there is nothing to decide."))
        data = {"on": day.isoformat(), "texts": {"by": bench.text(writer, who)}, "goes_on": int(goes_on)}
        store(bench, writer, seat, "allergy", case=code, data=data)
        return _go_on(bench, writer, seat, case) if goes_on and not case["cancelled"] else []


def _words(where: str, said: str, most: int) -> str:
    words = " ".join(said.split())
    if not words:
        raise FileFaults("form", [Fault(where, _("nothing stands here"), _("Fill it in"))])
    if len(words) > most or not words.isprintable():
        what = _("longer than {most} signs, or signs that cannot be printed", most=most)
        raise FileFaults("form", [Fault(where, what, _("Shorten it"))])
    return words


def _hold(bench: Bench, writer: Writer, seat: Seat, case: Mapping[str, Any], why: str) -> None:
    for jaw in case["jaws"]:
        state = line_for_writing(bench, jaw["code"], writer).state
        if not state["ended"] and not state["held"]:
            on_jaw(bench, writer, seat, case["code"], jaw["code"], "hold", data={"why": why})


def _go_on(bench: Bench, writer: Writer, seat: Seat, case: Mapping[str, Any]) -> list[str]:
    gone: list[str] = []
    for jaw in case["jaws"]:
        known = line_for_writing(bench, jaw["code"], writer)
        hold = next((e for e in reversed(known.state["log"]) if e["kind"] in ("hold", "resume")), None)
        entry = writer.find(hold["id"]) if hold and known.state["held"] and not known.state["ended"] else None
        event = events.read_body(entry.body)["event"] if entry else {}
        # A hold of the PC without a tile and without a word is the one of before the journal said why.
        why = event.get("data", {}).get("why", "" if event.get("picks") or event.get("from", {}).get("tablet") else "-")
        if event.get("kind") == "hold" and why in ("allergy", "-"):
            on_jaw(bench, writer, seat, case["code"], jaw["code"], "resume")
            gone.append(jaw["code"])
    return gone


def import_orders(bench: Bench, seat: Seat, rows: Iterable[Row]) -> Added:
    """Accept the sound ones among rows of a list, by the protocol in force; orders known already are left."""
    seat.must("supervisor")
    return add_cases(bench, [(row.number, row.sheet) for row in rows if row.sheet], in_force(bench)[0], seat)


def csv_map(bench: Bench, headings: Iterable[str]) -> dict[str, str]:
    """Return which heading holds which column, as the lab said once; a guess for columns that it never named."""
    here = tuple(headings)
    kept = _read_map(setting(bench, "csv_map"))
    if not any(heading in here for heading in kept.values()):
        return guess(here)
    return {column: heading for column, heading in kept.items() if heading in here}


def _read_map(value: str) -> dict[str, str]:
    try:
        found = json.loads(value or "{}")
    except ValueError:
        return {}
    return {str(k): str(v) for k, v in found.items() if k in TITLES} if isinstance(found, dict) else {}


def keep_csv_map(bench: Bench, seat: Seat, mapping: Mapping[str, str]) -> None:
    """Remember which heading of the lab's lists holds which column; FileFaults when one is used twice or missing."""
    seat.must("supervisor")
    used = [heading for heading in mapping.values() if heading]
    faults = [
        Fault(_(TITLES[column]), _("the heading {heading} is used twice", heading=heading),
              _("Choose another for one of the two"))
        for column, heading in mapping.items() if heading and used.count(heading) > 1
    ]
    faults += [
        Fault(_(column.title), _("no heading is chosen"), _("Choose the one that holds it"))
        for column in COLUMNS if column.must and not mapping.get(column.name)
    ]
    if faults:
        raise FileFaults("columns", faults)
    value = json.dumps({column: heading for column, heading in mapping.items() if heading and column in TITLES},
                       ensure_ascii=False)
    change(bench, seat, "csv_map", value)
