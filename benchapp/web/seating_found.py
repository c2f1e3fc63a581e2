"""The seating check of a jaw as its journal has it, made ready for its page: sentences, limits, answers, pictures."""

from benchapp.actions import seating
from benchapp.actions.bench import Bench
from benchapp.actions.jaws import JawLine, protocol_of
from benchapp.actions.lab import people, zone_of
from benchapp.core.findings import CUTS
from benchapp.core.protocol import Protocol
from benchapp.core.protocol_seating import Bounds
from benchapp.core.scales import Limits
from benchapp.core.seating_line import Answer, Told
from benchapp.core.stock import day_of
from benchapp.core.words import _
from benchapp.web.seating_page import Finding, SeatingPage

KINDS = ("depth", "connector", "gap", "clearance")


def page_of(bench: Bench, found: JawLine) -> SeatingPage:
    """Return the seating check of a jaw for its page; without a report it says in sentences how it stands."""
    now = seating.seating_of(bench, found)
    if now.report is None:
        return SeatingPage(None, _how_it_stands(now))
    protocol = protocol_of(bench, found)
    checks = seating.checks_of(bench)
    return SeatingPage(
        now.report, _how_it_stands(now), _limits(protocol),
        tuple(_finding(bench, protocol, one) for one in now.findings),
        {cut.place: _(CUTS[cut.how]) for cut in now.cuts}, now.drops,
        checks.picture(now.key, "glb"), checks.picture(now.key, "png"),
    )


def _how_it_stands(now: seating.Seating) -> tuple[str, ...]:
    if now.state == "refused":
        return (_("These files cannot be checked:"), *now.faults)
    if now.state in ("none", "half"):
        return (now.why,) if now.why else ()
    if now.state == "lost":
        return (_("The check ended without a result. It is begun anew."),)
    if now.state in ("waiting", "running"):
        return (_("The check is under way. Load this page again in a minute."),)
    return (_("A newer check is under way: these numbers are those of the last one."),) if now.anew else ()


def _limits(protocol: Protocol) -> dict[str, Limits]:
    found: dict[str, Limits] = {}
    for kind in KINDS:
        bounds: Bounds | None = getattr(protocol.seating, kind, None)
        if bounds:
            least, most = (None if one is None else float(one) for one in (bounds.least, bounds.most))
            found[kind] = Limits(least, most)
    return found


def _finding(bench: Bench, protocol: Protocol, told: Told) -> Finding:
    answer = told.answer
    if answer is None:
        return Finding(told.finding.words)
    return Finding(told.finding.words, answer.words(protocol.reasons), _by(bench, answer))


def _by(bench: Bench, answer: Answer) -> str:
    name = next((person.name for person in people(bench) if person.id == answer.person), answer.person)
    return f"{name}, {day_of(answer.at, zone_of(bench))}"
