"""Loads: several jaws in one chamber run, worked together with single taps."""

from typing import Any

from flask import Blueprint, Response, make_response, render_template

from benchapp.actions.bench import Bench, Unknown
from benchapp.actions.jaws import JawLine, line, protocol_of, texts_of
from benchapp.actions.lab import lab_of
from benchapp.actions.stock import things
from benchapp.core.codes import read_code, spaced
from benchapp.core.protocol import Protocol
from benchapp.core.stock import Thing
from benchapp.core.teeth import JAW_WORDS
from benchapp.core.words import _, for_scripts
from benchapp.web.app import the_bench
from benchapp.web.people import people_plain
from benchapp.web.tablets import known_tablet, welcome
from benchapp.web.words import BENCH_WORDS, LOAD_WORDS

views = Blueprint("chamber", __name__)

KIND = "chamber"


def chambers(bench: Bench) -> list[Thing]:
    """Return the chambers of the lab."""
    return [thing for thing in things(bench) if thing.of == "device" and thing.kind == KIND]


@views.get("/chamber")
def every() -> Response:
    """List the chambers, to put a load into one."""
    page = render_template("chamber/list.html", chambers=chambers(the_bench()), words=for_scripts(BENCH_WORDS))
    return welcome(make_response(page))


@views.get("/chamber/<code>")
def page(code: str) -> Response:
    """Show the page of one chamber; the load itself is kept by the tablet."""
    bench = the_bench()
    wanted = read_code(code).code
    found = next((thing for thing in chambers(bench) if thing.code == wanted), None)
    if found is None:
        raise Unknown(_(
            "No chamber has the code {code}. Read its label again, or list it among the devices.", code=spaced(wanted)
        ))
    data = {"code": found.code, "zone": lab_of(bench).zone, "people": people_plain(),
            "words": for_scripts(BENCH_WORDS | {"load": LOAD_WORDS})}
    shown = render_template("chamber/chamber.html", chamber=found, data=data, people=people_plain())
    return welcome(make_response(shown))


@views.get("/chamber/<code>/jaw/<jaw>")
def of_load(code: str, jaw: str) -> dict[str, Any]:
    """Send what a chamber's page needs of a jaw: its table, its titles, and its steps that a load goes through."""
    known_tablet()
    bench = the_bench()
    read_code(code)
    found = line(bench, read_code(jaw).code)
    protocol = protocol_of(bench, found)
    patient = texts_of(bench, [found.case["texts"]["patient"]])
    return {
        "code": found.code, "spaced": spaced(found.code), "case": found.case["code"], "table": found.table,
        "tableHash": found.table_hash, "zone": lab_of(bench).zone,
        "whose": f"{_(JAW_WORDS[found.jaw['jaw']])} · {next(iter(patient.values()))}",
        "titles": {step.id: step.title for step in protocol.steps}, "loads": _loads(found, protocol),
    }


def _loads(found: JawLine, protocol: Protocol) -> list[dict[str, Any]]:
    """Return the steps of a jaw that a load goes through: main action, pick of a chamber, values that are read off."""
    wanted = {card["step"] for card in found.table["cards"] if card.get("load")}
    return [
        {
            "step": step.id, "words": step.words, "outcome": step.outcomes[0].id, "title": step.outcomes[0].title,
            "pick": next((pick.name for pick in step.picks if pick.of == "device" and pick.kind in (None, KIND)), ""),
            "values": [
                {"name": value.name, "title": value.title, "unit": value.unit, "usual": value.filled,
                 "size": str(value.step), "decimals": value.decimals}
                for value in step.values
            ],
        }
        for step in protocol.steps if step.id in wanted
    ]
