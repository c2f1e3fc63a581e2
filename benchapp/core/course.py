"""Protocol and jaw compiled to the table: cards and acts, plain data that the fold can run (spine of the tool).

All knowledge of the trade ends here. Lists, never key order; integers and strings only.
"""

import json
from collections.abc import Iterable, Mapping
from typing import Any

from benchapp.core.protocol import Limit, Outcome, Protocol, Step
from benchapp.core.teeth import SEXTANTS, Jaw, Place, places

TABLE_FORMAT = 2  # 1: a way back forgot what earlier steps had said of the steps that begin anew
Table = dict[str, Any]


def compile_table(
    protocol: Protocol, jaw: Jaw, teeth: Iterable[int], options: Iterable[str] = (), speed: int = 1
) -> Table:
    """Compile a protocol for one jaw.

    `teeth` are ISO 3950 numbers; `options` those of the case sheet; `speed` divides every duration
    (training), never the clock. The protocol must have passed `read_protocol`.
    """
    wanted = frozenset(options)
    steps = [step for step in protocol.steps if step.option is None or step.option in wanted]
    known = places(jaw, teeth, ("tooth", "margin", "connector", "base", "sextant", "jaw"))
    cards = [_card(step, known) for step in steps]
    acts = [
        _act(protocol, steps, step, outcome, speed)
        for step in steps for outcome in step.outcomes if can_be_said(steps, step, outcome)
    ]
    return {
        "format": TABLE_FORMAT,
        "protocol": {"id": protocol.id, "edition": protocol.edition},
        "jaw": jaw,
        "speed": speed,
        "groups": [[place.name, place.sextant] for place in known if place.kind not in ("sextant", "jaw")],
        "cards": cards,
        "acts": acts + _jaw_acts(steps, protocol.undo.minutes * 60_000 // speed),
    }


def table_bytes(table: Table) -> bytes:
    """Return the one way to write a table, so that its hash is its name."""
    return json.dumps(table, ensure_ascii=False, separators=(",", ":"), sort_keys=True).encode()


def can_be_said(steps: list[Step], step: Step, outcome: Outcome) -> bool:
    """Return whether an outcome has a place in a case of these steps: none leads across light that is always given.

    The whole jaw goes back only where no light lies before, or where it can be left out (the fold refuses then what
    was lit in fact); single places never go back to a step before light of this case, whether it can be left out or
    not.
    """
    ids = [s.id for s in steps]
    at = ids.index(step.id)
    if outcome.leads == "back":
        return not any(s.irreversible and not can_be_left_out(s) for s in steps[: at + 1])
    targets = [ids.index(name) for name in (outcome.to, outcome.until) if name in ids]
    return not any(s.irreversible for s in steps[min([at, *targets]): at])


def can_be_left_out(step: Step) -> bool:
    """Return whether an irreversible step has an outcome that says it was not done."""
    return any(outcome.left_out for outcome in step.outcomes)


def with_its_outcomes(step: Step, table: Mapping[str, Any]) -> Step:
    """Return a step with those outcomes only that the table of a case knows; for whoever shows them."""
    known = {act["outcome"] for act in table["acts"] if act["kind"] == "confirm" and act["step"] == step.id}
    return step.model_copy(update={"outcomes": [o for o in step.outcomes if o.id in known]})


def exceptions(step: Step, known: Iterable[Place]) -> list[Place]:
    """Return the single places at which this step can name an exception, in anatomical order."""
    return [place for place in known if place.kind in step.places and place.kind != "jaw"]


def _groups(step: Step, known: tuple[Place, ...], single: list[Place]) -> list[str]:
    if step.by == "place":
        return [place.name for place in single]
    if step.by == "jaw":
        return ["-"]
    filled = {place.sextant for place in known if place.kind == "tooth"}
    return [name for name in SEXTANTS if name in filled]


def _card(step: Step, known: tuple[Place, ...]) -> dict[str, Any]:
    single = exceptions(step, known)
    groups = _groups(step, known, single)
    names = [*groups, *(p.name for p in single if p.name not in groups)]
    return {
        "step": step.id,
        "stage": step.stage,
        "by": step.by,
        "places": names,
        "asleep": names if step.called else [name for name in names if name not in groups],
        "wet": int(step.wet),
        "light": int(step.irreversible),
        "attended": int(step.attended),
        "load": int(step.load),
    }


def _limits(limits: Iterable[Limit], known: frozenset[str], speed: int) -> list[list[Any]]:
    return [
        [limit.since, (limit.minutes * 60 + limit.seconds) * 1000 // speed, limit.grace * 1000 // speed, limit.breach]
        for limit in limits
        if limit.since in known  # a clock of an option that this case does not have never starts
    ]


def _act(protocol: Protocol, steps: list[Step], step: Step, outcome: Outcome, speed: int) -> dict[str, Any]:
    known = frozenset(s.id for s in steps)
    finishes = outcome.leads in ("on", "wakes")
    lights = step.irreversible and not outcome.left_out
    seconds = protocol.undo.light_seconds if lights else protocol.undo.minutes * 60
    # A slip of the finger takes as long in training as at the bench; only the ordinary time is scaled.
    undo = seconds * 1000 if lights else seconds * 1000 // speed
    return {
        "kind": "confirm",
        "step": step.id,
        "outcome": outcome.id,
        "of": outcome.of,
        "from": _froms(outcome),
        "to": {"on": "done", "wakes": "done", "opens": "wait"}.get(outcome.leads, ""),
        "also": _also(steps, step, outcome, known),
        "stamp": step.id if finishes and outcome.of != "place" and not outcome.left_out else "",
        "floors": _limits(step.floors, known, speed) if finishes else [],
        "ceilings": _limits(step.ceilings, known, speed) if finishes else [],
        "limits": [[v.name, f"{v.min:f}", f"{v.max:f}", v.breach] for v in step.values] if finishes else [],
        "reset": _from(steps, outcome.to) if outcome.leads == "back" and outcome.to in known else [],
        "held": int(outcome.leads == "hold"),
        "light": int(lights and finishes),
        "round": int(outcome.leads == "back"),
        "undo": undo,
        "who": [],
        "shift": [],
    }


def _froms(outcome: Outcome) -> list[str]:
    """An exception can be named whatever its place is at, so that a slip is mended by the next tap."""
    if outcome.of != "place":
        return ["open"]
    return ["off", "open", "done"] if outcome.leads == "opens" else ["off", "open", "done", "wait"]


def _also(steps: list[Step], step: Step, outcome: Outcome, known: frozenset[str]) -> list[list[Any]]:
    """What an act does to the same place elsewhere: open it there, or give it back to the step that waits."""
    also: list[list[Any]] = []
    if outcome.leads in ("opens", "wakes") and outcome.to in known:
        also.append([outcome.to, ["off", "done"], "open"])
    if outcome.leads in ("on", "wakes"):
        for other in steps:
            for back in other.outcomes:
                returns = back.leads == "opens" and (back.until or back.to) == step.id
                if returns and can_be_said(steps, other, back):
                    entry = [other.id, ["wait"], "open"]
                    if entry not in also:
                        also.append(entry)
    return also


def _from(steps: list[Step], target: str | None) -> list[str]:
    ids = [step.id for step in steps]
    return ids[ids.index(target):] if target in ids else []


def _jaw_acts(steps: list[Step], undo: int) -> list[dict[str, Any]]:
    """Acts on the jaw as a whole: hold, resume, scrap, and one way back to each step before first light."""
    acts = [
        _plain("hold", held=1, undo=undo),
        _plain("resume", held=-1, undo=undo),
        _plain("scrap", undo=0, who=["supervisor"]),
    ]
    together = [step.id for step in steps if step.load]
    if together:
        acts += [_plain(kind, undo=undo, shift=together) for kind in ("dark", "bright")]
    for step in steps:
        if not step.called:
            acts.append(_plain("sendback", step=step.id, reset=_from(steps, step.id), round=1, undo=undo))
        if step.irreversible and not can_be_left_out(step):
            break  # from first light on there is no way back; where it can be left out, the fold knows whether it was
    return acts


def _plain(kind: str, **what: Any) -> dict[str, Any]:
    return {
        "kind": kind, "step": "", "outcome": "", "of": "group", "from": [], "to": "", "also": [], "stamp": "",
        "floors": [], "ceilings": [], "limits": [], "reset": [], "held": 0, "light": 0, "round": 0, "undo": 0,
        "who": [], "shift": [],
    } | what
