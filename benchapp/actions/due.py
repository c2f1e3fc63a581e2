"""Clocks that run by themselves: which jaw must be turned or taken out when, and whom that concerns."""

from dataclasses import dataclass

from benchapp.actions.bench import Bench
from benchapp.actions.jaws import protocol_of
from benchapp.actions.overview import lines_in_work
from benchapp.core import words
from benchapp.core.clocks import clocks


@dataclass(frozen=True)
class Due:
    """One clock of a jaw that nobody holds: its step, that step's title, its end (UTC ms), who has it in hand, and
    whether it was handed to them."""

    code: str
    case: str
    step: str
    title: str
    ends: int
    charge: str
    handed: bool


def due(bench: Bench) -> list[Due]:
    """Return the floors that run while nobody holds the jaw, over all jaws in work, soonest first.

    While a chamber's door is open its clock stands, and is left out.
    """
    tip = bench.store.tip().seq  # the state of a jaw hangs on entries alone, and every page asks every few seconds
    stand = tip, words.in_use()
    if bench.running is None or bench.running[0] != stand:
        bench.running = stand, _due(bench)
    return list(bench.running[1])


def _due(bench: Bench) -> list[Due]:
    found: list[Due] = []
    for known in lines_in_work(bench):
        state = known.state
        alone = any(c["step"] == state["now"] and not c["attended"] for c in known.table["cards"])
        if state["held"] or state["dark"] or not alone:
            continue
        ends = [c["ends"] for c in clocks(known.table, state) if c["kind"] == "floor"]
        if ends:
            title = next(s.title for s in protocol_of(bench, known).steps if s.id == state["now"])
            case = known.case["code"]
            found.append(Due(known.code, case, state["now"], title, max(ends), known.charge, known.handed))
    return sorted(found, key=lambda one: (one.ends, one.code))
