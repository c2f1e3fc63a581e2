"""What a compiled table makes of each step of a protocol: where its outcomes lead, which clocks it is asked by."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final, Literal

from benchapp.core.protocol import Protocol, Step
from benchapp.core.record_words import SOURCE
from benchapp.core.words import N_, _

Table = Mapping[str, Any]
Kind = Literal["plain", "wet", "light", "alone", "called"]


@dataclass(frozen=True)
class Leads:
    """Where an outcome leads: `how` as in Arrow, or hold or again, the target's id, and the step that returns it."""

    how: Literal["on", "again", "hold", "opens", "wakes", "back"]
    to: str
    until: str


@dataclass(frozen=True)
class Clock:
    """A clock that a step is asked by: kind, the step that starts it, ms, grace in ms, grade, source in words."""

    kind: Literal["floor", "ceiling"]
    since: str
    ms: int
    grace: int
    grade: str
    source: str


def leads(table: Table, step: str, outcome: str) -> Leads:
    """Return where an outcome leads, as the table has it."""
    act = _act(table, step, outcome)
    if act["reset"]:
        return Leads("back", act["reset"][0], "")
    if act["held"]:
        return Leads("hold", "", "")
    target = next((card for card, froms, to in act["also"] if to == "open" and "off" in froms), "")
    if target:
        opens = act["to"] == "wait"
        return Leads("opens" if opens else "wakes", target, _returns(table, step, target) if opens else "")
    return Leads("on" if act["to"] == "done" else "again", "", "")


def _returns(table: Table, step: str, target: str) -> str:
    """Return the step whose finish gives a waiting place back; the target itself where it does so too."""
    givers = [
        act["step"] for act in table["acts"]
        if act["kind"] == "confirm" and any(card == step and froms == ["wait"] for card, froms, _to in act["also"])
    ]
    return target if target in givers or not givers else str(givers[0])


def clocks_of(protocol: Protocol, table: Table, step: str) -> list[Clock]:
    """Return the clocks of a step with their sources, each once."""
    limits = step_of(protocol, step)
    sources = {s.id: f"{_(SOURCE[s.kind])}: {s.title}" for s in protocol.sources}
    found: list[Clock] = []
    for act in table["acts"]:
        if act["kind"] == "confirm" and act["step"] == step:
            for kind, listed in (("floor", limits.floors), ("ceiling", limits.ceilings)):
                for since, ms, grace, grade in act[f"{kind}s"]:
                    source = next((i.source for i in listed if i.since == since and i.breach == grade), "")
                    clock = Clock(kind, since, ms, grace, grade, sources.get(source, ""))  # type: ignore[arg-type]
                    if clock not in found:
                        found.append(clock)
    return found


def kind_of(protocol: Protocol, card: Mapping[str, Any]) -> Kind:
    """Return as what a card is drawn: first light before wet before called before running by itself."""
    if card["light"]:
        return "light"
    if card["wet"]:
        return "wet"
    if step_of(protocol, card["step"]).called:
        return "called"
    return "plain" if card["attended"] else "alone"


def kind_words(protocol: Protocol, table: Table, card: Mapping[str, Any]) -> str:
    """Return in words as what a card is drawn; "" for a plain one."""
    kind = kind_of(protocol, card)
    if kind == "light":
        first = next(one["step"] for one in table["cards"] if one["light"]) == card["step"]
        return _("FIRST LIGHT: no way back from here") if first else _("LIGHT: no way back from here")
    return _(_WORDS[kind])


_WORDS: Final[dict[Kind, str]] = {
    "plain": "", "wet": N_("wet window"), "alone": N_("runs by itself"), "called": N_("only when called"),
}


def step_of(protocol: Protocol, step: str) -> Step:
    """Return the step of that id."""
    return next(s for s in protocol.steps if s.id == step)


def _act(table: Table, step: str, outcome: str) -> Mapping[str, Any]:
    found: Mapping[str, Any] = next(
        a for a in table["acts"] if a["kind"] == "confirm" and (a["step"], a["outcome"]) == (step, outcome)
    )
    return found
