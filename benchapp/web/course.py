"""The protocol in force, drawn from its table; the same as a table for whoever reads that better; a blank sheet."""

from dataclasses import dataclass
from typing import Any, Literal

from flask import Blueprint, Response, request

from benchapp.actions.bench import Bench
from benchapp.actions.editions import edition, in_force
from benchapp.actions.jaws import line, protocol_of
from benchapp.core import ways
from benchapp.core.chart import chart as drawn
from benchapp.core.codes import read_code
from benchapp.core.course import compile_table
from benchapp.core.protocol import Protocol, Step
from benchapp.core.record_words import SOURCE, length, quoted
from benchapp.core.teeth import ROW
from benchapp.paper import blank as paper
from benchapp.web.app import the_bench
from benchapp.web.desk import EVERYBODY, page, seated

views = Blueprint("course", __name__)

PLACES = {"tooth": "teeth", "margin": "margin sides", "connector": "connectors", "base": "areas of the base",
          "jaw": "the jaw"}
ASKED = {"place": "place by place", "sextant": "sextant by sextant", "jaw": "once for the jaw"}
GRADES = {"note": "note", "deviation": "deviation", "stop": "stop"}


@dataclass(frozen=True)
class Way:
    """One outcome in words: the button, where it leads."""

    title: str
    leads: str


@dataclass(frozen=True)
class StepRow:
    """One step of the table in words."""

    step: Step
    stage: str
    kind: str
    places: str
    asked: str
    ways: tuple[Way, ...]
    limits: tuple[str, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True)
class InForce:
    """A protocol with the table of one jaw; `code` is that jaw's, "" for the file that new cases get."""

    protocol: Protocol
    table: dict[str, Any]
    code: str
    jaw: str


@views.get("/desk/protocol")
@seated(*EVERYBODY)
def chart() -> str:
    """Show the protocol that new cases are worked by, or with ?jaw= the edition that a jaw runs by."""
    bench = the_bench()
    shown = _in_force(bench, request.args.get("jaw", ""), request.args.get("edition", ""))
    protocol = shown.protocol
    return page(
        "course/chart.html", shown=shown, looked_at=request.args.get("edition", ""),
        protocol=protocol, chart=drawn(protocol, shown.table),
        rows=[_row(protocol, shown.table, card) for card in shown.table["cards"]],
        sources=[(f"{SOURCE[s.kind]}", s.title) for s in protocol.sources],
        cautions=protocol.cautions, undo=protocol.undo,
    )


@views.get("/desk/protocol/blank.pdf")
@seated(*EVERYBODY)
def blank() -> Response:
    """Send the blank step sheet of a jaw as PDF: ?jaw=CODE, and ?paper=Letter for US paper."""
    size: Literal["A4", "Letter"] = "Letter" if request.args.get("paper") == "Letter" else "A4"
    sheet = paper.sheet_of(the_bench(), read_code(request.args.get("jaw", "")).code)
    return Response(paper.pdf(sheet, size), mimetype="application/pdf")


def _in_force(bench: Bench, code: str, name: str) -> InForce:
    if code:
        found = line(bench, read_code(code).code)
        return InForce(protocol_of(bench, found), found.table, found.code, found.jaw["jaw"])
    protocol = edition(bench, name).protocol if name else in_force(bench)[1]
    jaw = protocol.jaws[0]
    return InForce(protocol, compile_table(protocol, jaw, ROW[jaw][1:-1], protocol.options), "", jaw)


def _row(protocol: Protocol, table: dict[str, Any], card: dict[str, Any]) -> StepRow:
    step = next(s for s in protocol.steps if s.id == card["step"])
    titles = {c.id: c.title for c in protocol.cautions}
    kind = [ways.KIND_WORDS[ways.kind_of(protocol, card)]]
    kind += [f"only with option “{step.option}”"] if step.option else []
    return StepRow(
        step, next(s.title for s in protocol.stages if s.id == step.stage), ", ".join(word for word in kind if word),
        ", ".join(PLACES[kind] for kind in step.places), ASKED[step.by],
        tuple(Way(o.title, _leads(protocol, table, step.id, o.id)) for o in step.outcomes),
        tuple(_limits(protocol, table, step)), tuple(titles[caution] for caution in step.cautions),
    )


def _leads(protocol: Protocol, table: dict[str, Any], step: str, outcome: str) -> str:
    way = ways.leads(table, step, outcome)
    titles = {s.id: quoted(s.title) for s in protocol.steps}
    if way.how == "opens":
        until = f" and comes back here after {titles[way.until]}" if way.until else ""
        return f"that place goes to {titles[way.to]}{until}"
    if way.how == "wakes":
        return f"done here; that place goes on at {titles[way.to]}"
    if way.how == "back":
        return f"the jaw goes back to {titles[way.to]}"
    return {"on": "on", "again": "asked again", "hold": "the jaw is held"}[way.how]


def _limits(protocol: Protocol, table: dict[str, Any], step: Step) -> list[str]:
    titles = {s.id: quoted(s.title) for s in protocol.steps}
    sources = {s.id: f"{SOURCE[s.kind]}: {s.title}" for s in protocol.sources}
    said = []
    for clock in ways.clocks_of(protocol, table, step.id):
        word = "at least" if clock.kind == "floor" else "at most"
        grace = f", {length(clock.grace)} of grace" if clock.grace else ""
        grade = f"{GRADES[clock.grade]} if missed"
        said.append(f"{word} {length(clock.ms)} after {titles[clock.since]}{grace}, {grade} ({clock.source})")
    for value in step.values:
        unit = f" {value.unit}" if value.unit else ""
        said.append(
            f"{value.title}: {value.min:f} to {value.max:f}{unit}, usually {value.usual:f}, {GRADES[value.breach]} "
            f"outside ({sources[value.source]})"
        )
    said.append(f"usually {step.minutes.is_} min ({sources[step.minutes.source]})")
    return said
