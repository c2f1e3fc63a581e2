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
from benchapp.core.course import compile_table, with_its_outcomes
from benchapp.core.protocol import Protocol, Step
from benchapp.core.record_words import SOURCE, length, quoted
from benchapp.core.teeth import ROW
from benchapp.core.words import N_, _
from benchapp.paper import blank as paper
from benchapp.web.app import the_bench
from benchapp.web.desk import EVERYBODY, page, seated

views = Blueprint("course", __name__)

PLACES = {"tooth": N_("teeth"), "margin": N_("margin sides"), "connector": N_("connectors"),
          "base": N_("areas of the base"), "jaw": N_("the jaw")}
ASKED = {"place": N_("{places}; asked place by place"), "sextant": N_("{places}; asked sextant by sextant"),
         "jaw": N_("{places}; asked once for the jaw")}
NO_PLACES = N_("none")
GRADES = {"note": N_("note"), "deviation": N_("deviation"), "stop": N_("stop")}
LEADS = {"on": N_("on"), "again": N_("asked again"), "hold": N_("the jaw is held")}
CLOCKS = {  # by kind, and whether there is grace
    ("floor", False): N_("at least {time} after {step}, {grade} if missed ({source})"),
    ("floor", True): N_("at least {time} after {step}, {grace} of grace, {grade} if missed ({source})"),
    ("ceiling", False): N_("at most {time} after {step}, {grade} if missed ({source})"),
    ("ceiling", True): N_("at most {time} after {step}, {grace} of grace, {grade} if missed ({source})"),
}


@dataclass(frozen=True)
class Way:
    """One outcome in words: the button, where it leads."""

    title: str
    leads: str


@dataclass(frozen=True)
class StepRow:
    """One step of the table in words; `exceptions` says at which places, and how they are asked about."""

    step: Step
    stage: str
    kind: str
    exceptions: str
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
        sources=[(_(SOURCE[s.kind]), s.title) for s in protocol.sources],
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
    kind = [ways.kind_words(protocol, table, card)]
    kind += [_("only with option {option}", option=quoted(step.option))] if step.option else []
    places = ", ".join(_(PLACES[kind]) for kind in step.places) or _(NO_PLACES)
    return StepRow(
        step, next(s.title for s in protocol.stages if s.id == step.stage), ", ".join(word for word in kind if word),
        _(ASKED[step.by], places=places),
        tuple(Way(o.title, _leads(protocol, table, step.id, o.id)) for o in with_its_outcomes(step, table).outcomes),
        tuple(_limits(protocol, table, step)), tuple(titles[caution] for caution in step.cautions),
    )


def _leads(protocol: Protocol, table: dict[str, Any], step: str, outcome: str) -> str:
    way = ways.leads(table, step, outcome)
    titles = {s.id: quoted(s.title) for s in protocol.steps}
    if way.how == "opens":
        if not way.until:
            return _("that place goes to {step}", step=titles[way.to])
        return _("that place goes to {step} and comes back here after {until}", step=titles[way.to],
                 until=titles[way.until])
    if way.how == "wakes":
        return _("done here; that place goes on at {step}", step=titles[way.to])
    if way.how == "back":
        return _("the jaw goes back to {step}", step=titles[way.to])
    return _(LEADS[way.how])


def _limits(protocol: Protocol, table: dict[str, Any], step: Step) -> list[str]:
    titles = {s.id: quoted(s.title) for s in protocol.steps}
    sources = {s.id: f"{_(SOURCE[s.kind])}: {s.title}" for s in protocol.sources}
    said = []
    for clock in ways.clocks_of(protocol, table, step.id):
        said.append(_(
            CLOCKS[clock.kind, bool(clock.grace)], time=length(clock.ms), step=titles[clock.since],
            grace=length(clock.grace), grade=_(GRADES[clock.grade]), source=clock.source,
        ))
    for value in step.values:
        most = f"{value.max:f} {value.unit}" if value.unit else f"{value.max:f}"
        said.append(_(
            "{value}: {least} to {most}, usually {usual}, {grade} outside ({source})", value=value.title,
            least=f"{value.min:f}", most=most, usual=f"{value.usual:f}", grade=_(GRADES[value.breach]),
            source=sources[value.source],
        ))
    minutes = step.minutes
    said.append(_("usually {minutes} min ({source})", minutes=minutes.is_, source=sources[minutes.source]))
    return said
