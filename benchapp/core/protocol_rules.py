"""Rules of a protocol file that need more than one entry, also those of the table compiled from it."""

from collections.abc import Iterable, Iterator
from typing import Any

from pydantic import ValidationError

from benchapp.core.course import compile_table
from benchapp.core.faults import Fault, FileFaults, parse_toml, shape_faults, sound_rest
from benchapp.core.protocol import Limit, Outcome, Protocol, Step
from benchapp.core.teeth import ROW
from benchapp.core.walk import dead_ends


def read_protocol(name: str, text: str, pictures: frozenset[str] | None = None) -> Protocol:
    """Read a protocol file; raise FileFaults with every fault of shape and of sense at once.

    `pictures` are the names of the drawings at hand (None: not checked). The tables are compiled and walked
    only where nothing else is wrong.
    """
    tree = parse_toml(name, text)
    try:
        protocol = Protocol.model_validate(tree)
    except ValidationError as error:
        raise FileFaults(name, [*shape_faults(tree, error), *_of_the_rest(tree, error, pictures)]) from None
    found = faults(protocol, pictures) or list(_table(protocol))
    if found:
        raise FileFaults(name, found)
    return protocol


# Used for what is faulty itself at the top of a file, so that the rest can be asked all the same.
_STAND_IN: dict[str, Any] = {
    "format": 1, "id": "protocol", "edition": "1", "title": "protocol", "jaws": ["upper", "lower"], "options": [],
    "undo": {"minutes": 1, "light_seconds": 1, "source": "protocol"},
}


def _of_the_rest(
    tree: dict[str, Any], error: ValidationError, pictures: frozenset[str] | None
) -> Iterator[Fault]:
    """Yield faults of sense among the entries that are sound, none that only comes of an entry taken out."""
    rest, gone, stood = sound_rest(tree, error, Protocol, _STAND_IN)
    for fault in faults(rest, pictures) if rest else []:
        if fault.where in ("steps", "reasons") or fault.where.split(".")[0] in stood:
            continue  # said of the list as a whole, or of a stand-in
        if not any(f"'{name}'" in f"{fault.what} {fault.mend}" for name in gone):
            yield fault


def faults(protocol: Protocol, pictures: frozenset[str] | None = None) -> list[Fault]:
    """Return every fault of sense: names that lead nowhere, limits that cannot run."""
    found = [*_twice(protocol), *_unknown(protocol, pictures), *_reasons(protocol)]
    for at, step in enumerate(protocol.steps):
        found += _step(protocol, at, step)
    if sum(step.irreversible for step in protocol.steps) > 1:
        found.append(Fault("steps", "more than one step is irreversible", "First light comes once: leave one"))
    if not any(not step.called and step.option is None for step in protocol.steps):
        found.append(Fault("steps", "no step is always asked", "Leave one step without `called` and `option`"))
    return found


def _twice(protocol: Protocol) -> Iterator[Fault]:
    lists: dict[str, list[str]] = {
        "sources": [s.id for s in protocol.sources], "cautions": [c.id for c in protocol.cautions],
        "stages": [s.id for s in protocol.stages], "reasons": [r.id for r in protocol.reasons],
        "steps": [s.id for s in protocol.steps], "options": list(protocol.options), "jaws": list(protocol.jaws),
    }
    for step in protocol.steps:
        lists[f"steps[{step.id}].outcomes"] = [o.id for o in step.outcomes]
        lists[f"steps[{step.id}].values"] = [v.name for v in step.values]
        lists[f"steps[{step.id}].picks"] = [p.name for p in step.picks]
        lists[f"steps[{step.id}].places"] = list(step.places)
    for where, ids in lists.items():
        for name in sorted({i for i in ids if ids.count(i) > 1}):
            yield Fault(f"{where}[{name}]", "stands twice", "Give each entry a name of its own")


def _unknown(protocol: Protocol, pictures: frozenset[str] | None) -> Iterator[Fault]:
    sources = {s.id for s in protocol.sources}
    known = {
        "stage": {s.id for s in protocol.stages}, "caution": {c.id for c in protocol.cautions},
        "option": set(protocol.options), "source": sources,
    }
    wanted: list[tuple[str, str, str]] = [("undo.source", "source", protocol.undo.source)]
    for step in protocol.steps:
        here = f"steps[{step.id}]"
        wanted += [(f"{here}.stage", "stage", step.stage), (f"{here}.minutes", "source", step.minutes.source)]
        wanted += [(f"{here}.cautions", "caution", caution) for caution in step.cautions]
        wanted += [(f"{here}.option", "option", step.option)] if step.option else []
        wanted += [(f"{here}.floors[{i.since}]", "source", i.source) for i in step.floors]
        wanted += [(f"{here}.ceilings[{i.since}]", "source", i.source) for i in step.ceilings]
        wanted += [(f"{here}.values[{v.name}]", "source", v.source) for v in step.values]
        if pictures is not None and step.picture not in pictures:
            yield Fault(f"{here}.picture", f"there is no drawing {step.picture!r}",
                        f"Use one of: {', '.join(sorted(pictures))}")
    for where, what, name in wanted:
        if name not in known[what]:
            yield Fault(where, f"there is no {what} {name!r}", f"List it, or use one of: {_list(known[what])}")


def _reasons(protocol: Protocol) -> Iterator[Fault]:
    for question in ("breach", "hold", "send-back", "stated", "scrap"):
        if not any(question in reason.asked for reason in protocol.reasons):
            yield Fault("reasons", f"no tile answers the question {question!r}", "Add a reason asked there")


def _step(protocol: Protocol, at: int, step: Step) -> Iterator[Fault]:
    here = f"steps[{step.id}]"
    if step.called and not any(
        o.to == step.id and o.leads in ("opens", "wakes") for s in protocol.steps for o in s.outcomes
    ):
        yield Fault(f"{here}.called", "no outcome opens or wakes this step", "Let one lead here, or take `called` out")
    if step.by == "place" and not [kind for kind in step.places if kind != "jaw"]:
        yield Fault(f"{here}.places", "a step by place names no places", "List kinds of places")
    if step.wet and protocol.steps[at].irreversible is False and _light_at(protocol) < at:
        yield Fault(f"{here}.wet", "wet after first light", "Put it before the irreversible step")
    if not any(o.of in ("group", "each") and o.leads in ("on", "wakes") for o in step.outcomes):
        yield Fault(f"{here}.outcomes", "nothing finishes a group", "Give one outcome of a group that leads on")
    elif step.outcomes[0].of == "place" or step.outcomes[0].leads not in ("on", "wakes"):
        yield Fault(f"{here}.outcomes[{step.outcomes[0].id}]", "the first outcome is the main action",
                    "Put first the outcome of a group that leads on")
    if step.load and step.wet:
        yield Fault(f"{here}.load", "a load is not worked while resin is wet", "Take `load` out, or `wet`")
    for outcome in step.outcomes:
        yield from _outcome(protocol, at, step, outcome)
    for kind, limits in (("floors", step.floors), ("ceilings", step.ceilings)):
        for limit in limits:
            yield from _limit(protocol, at, step, f"{here}.{kind}[{limit.since}]", kind, limit)


def _light_at(protocol: Protocol) -> int:
    return next((at for at, step in enumerate(protocol.steps) if step.irreversible), len(protocol.steps))


def _outcome(protocol: Protocol, at: int, step: Step, outcome: Outcome) -> Iterator[Fault]:
    here = f"steps[{step.id}].outcomes[{outcome.id}]"
    if outcome.of != "group" and not step.places:
        yield Fault(here, "it is said of single places, but the step names none", "List `places` on the step")
    if outcome.of != "group" and outcome.leads == "back":
        yield Fault(here, "back is said of the whole jaw", "Use `of = \"group\"`")
    if outcome.of == "group" and outcome.leads in ("opens", "wakes"):
        yield Fault(here, f"{outcome.leads} works on single places", "Use `of = \"place\"`")
    for key, name in (("to", outcome.to), ("until", outcome.until)):
        if name is None:
            continue
        target = next((i for i, s in enumerate(protocol.steps) if s.id == name), None)
        if target is None:
            yield Fault(f"{here}.{key}", f"there is no step {name!r}", "Use the id of a step")
            continue
        yield from _target(protocol, at, target, step, outcome, f"{here}.{key}")


def _target(protocol: Protocol, at: int, target: int, step: Step, outcome: Outcome, here: str) -> Iterator[Fault]:
    other, light = protocol.steps[target], _light_at(protocol)
    if outcome.leads == "back":
        if target > at:
            yield Fault(here, "back leads to a later step", "Use an earlier step")
        if at > light or (at == light and target <= light and protocol.steps[at].irreversible):
            yield Fault(here, "there is no way back after first light", "Use `hold`, or open a repair step")
        return
    missing = set(step.places) - set(other.places)
    if missing:
        yield Fault(here, f"step {other.id!r} does not have the places {_list(missing)}", "Add them to its `places`")
    if target < at and target <= light < at:
        yield Fault(here, f"step {other.id!r} lies before first light", "Use a step after the irreversible one")
    if target == at:
        yield Fault(here, "it leads to itself", "Use another step, or `again`")
    if target > at and outcome.leads == "opens":
        yield Fault(here, "opens leads to a later step", "Use `wakes`, or an earlier step")
    if other.option is not None and other.option != step.option:
        yield Fault(here, f"step {other.id!r} is not in every case", "Take its `option` out")


def _limit(protocol: Protocol, at: int, step: Step, here: str, kind: str, limit: Limit) -> Iterator[Fault]:
    since = next((i for i, s in enumerate(protocol.steps) if s.id == limit.since), None)
    if since is None:
        yield Fault(here, f"there is no step {limit.since!r}", "Use the id of a step")
    elif since >= at:
        yield Fault(here, f"step {limit.since!r} does not come before this one", "A clock runs from an earlier step")
    elif protocol.steps[since].called and not step.called:
        yield Fault(here, f"step {limit.since!r} is only done when called", "A clock runs from a step always done")
    if kind == "floors" and step.wet and limit.breach == "stop":
        yield Fault(here, "a floor refuses the tap while resin is wet", "Use note or deviation, or ask it before")


def _table(protocol: Protocol) -> Iterator[Fault]:
    """Compile for each jaw, with no option and with all, and walk the tables."""
    for jaw in protocol.jaws:
        for options in ((), tuple(protocol.options)) if protocol.options else ((),):
            table = compile_table(protocol, jaw, ROW[jaw][1:-1], options)
            for step, outcome, why in dead_ends(table):
                with_options = " with every option" if options else ""
                yield Fault(f"steps[{step}].outcomes[{outcome}]", f"{jaw} jaw{with_options}: {why}",
                            "Let a later finish lead back here")


def _list(names: Iterable[str]) -> str:
    return ", ".join(sorted(names)) or "(none)"
