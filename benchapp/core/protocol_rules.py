"""Rules of a protocol file that need more than one entry, also those of the table compiled from it."""

from collections.abc import Iterable, Iterator
from typing import Any

from pydantic import ValidationError

from benchapp.core.course import can_be_said, compile_table
from benchapp.core.faults import Fault, FileFaults, parse_toml, shape_faults, sound_rest
from benchapp.core.protocol import Limit, Outcome, Protocol, Step
from benchapp.core.teeth import JAW_WORDS, ROW
from benchapp.core.walk import dead_ends
from benchapp.core.words import N_, _


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


_NO_SUCH = {
    "stage": N_("there is no stage {name}"), "caution": N_("there is no caution {name}"),
    "option": N_("there is no option {name}"), "source": N_("there is no source {name}"),
    "step": N_("there is no step {name}"),
}

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
    if not any(not step.called and step.option is None for step in protocol.steps):
        found.append(Fault("steps", _("no step is always asked"), _("Leave one step without `called` and `option`")))
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
            yield Fault(f"{where}[{name}]", _("stands twice"), _("Give each entry a name of its own"))


def _unknown(protocol: Protocol, pictures: frozenset[str] | None) -> Iterator[Fault]:
    sources = {s.id for s in protocol.sources}
    known = {
        "stage": {s.id for s in protocol.stages}, "caution": {c.id for c in protocol.cautions},
        "option": set(protocol.options), "source": sources,
    }
    wanted: list[tuple[str, str, str]] = [("undo.source", "source", protocol.undo.source)]
    limits = protocol.seating.named() if protocol.seating else []
    wanted += [(f"seating.{name}.source", "source", limit.source) for name, limit in limits]
    for step in protocol.steps:
        here = f"steps[{step.id}]"
        wanted += [(f"{here}.stage", "stage", step.stage), (f"{here}.minutes", "source", step.minutes.source)]
        wanted += [(f"{here}.cautions", "caution", caution) for caution in step.cautions]
        wanted += [(f"{here}.option", "option", step.option)] if step.option else []
        wanted += [(f"{here}.floors[{i.since}]", "source", i.source) for i in step.floors]
        wanted += [(f"{here}.ceilings[{i.since}]", "source", i.source) for i in step.ceilings]
        wanted += [(f"{here}.values[{v.name}]", "source", v.source) for v in step.values]
        if pictures is not None and step.picture not in pictures:
            yield Fault(f"{here}.picture", _("there is no drawing {name}", name=repr(step.picture)),
                        _("Use one of: {names}", names=", ".join(sorted(pictures))))
    for where, what, name in wanted:
        if name not in known[what]:
            yield Fault(where, _(_NO_SUCH[what], name=repr(name)),
                        _("List it, or use one of: {names}", names=_list(known[what])))


def _reasons(protocol: Protocol) -> Iterator[Fault]:
    for question in ("breach", "hold", "send-back", "stated", "scrap"):
        if not any(question in reason.asked for reason in protocol.reasons):
            what = _("no tile answers the question {question}", question=repr(question))
            yield Fault("reasons", what, _("Add a reason asked there"))
    answering = [step for step in protocol.steps if step.seating == "answers"]
    if answering and not any("finding" in reason.asked for reason in protocol.reasons):
        what = _("no tile answers the question {question}", question=repr("finding"))
        yield Fault("reasons", what, _("Add a reason asked there"))
    for step in answering[1:]:
        yield Fault(f"steps[{step.id}].seating", _("findings are answered once"), _("Take it out of all steps but one"))


def _step(protocol: Protocol, at: int, step: Step) -> Iterator[Fault]:
    here = f"steps[{step.id}]"
    if step.called and not any(
        o.to == step.id and o.leads in ("opens", "wakes") for s in protocol.steps for o in s.outcomes
    ):
        what = _("no outcome opens or wakes this step")
        yield Fault(f"{here}.called", what, _("Let one lead here, or take `called` out"))
    if step.by == "place" and not [kind for kind in step.places if kind != "jaw"]:
        yield Fault(f"{here}.places", _("a step by place names no places"), _("List kinds of places"))
    yield from _wet(protocol, at, step, f"{here}.wet")
    if not any(o.of in ("group", "each") and o.leads in ("on", "wakes") for o in step.outcomes):
        yield Fault(f"{here}.outcomes", _("nothing finishes a group"), _("Give one outcome of a group that leads on"))
    elif step.outcomes[0].of == "place" or step.outcomes[0].leads not in ("on", "wakes") or step.outcomes[0].left_out:
        yield Fault(f"{here}.outcomes[{step.outcomes[0].id}]", _("the first outcome is the main action"),
                    _("Put first the outcome of a group that leads on"))
    if step.load and step.wet:
        yield Fault(f"{here}.load", _("a load is not worked while resin is wet"), _("Take `load` out, or `wet`"))
    for outcome in step.outcomes:
        yield from _outcome(protocol, at, step, outcome)
    for kind, limits in (("floors", step.floors), ("ceilings", step.ceilings)):
        for limit in limits:
            yield from _limit(protocol, at, step, f"{here}.{kind}[{limit.since}]", kind, limit)


def _wet(protocol: Protocol, at: int, step: Step, here: str) -> Iterator[Fault]:
    """Wet after light is fine as long as more light is to come, in every case in which both steps stand."""
    later = [s for s in protocol.steps[at + 1:] if s.irreversible]
    for light in protocol.steps[:at] if step.wet and not step.irreversible else []:
        if light.irreversible and not any(s.option in (None, step.option, light.option) for s in later):
            what = _("wet after the last irreversible step")
            if later:
                option = repr(later[0].option)
                what = _("wet after the last irreversible step in cases without option {option}", option=option)
            mend = _("Let an irreversible step that is in every case come after it, or take `wet` out")
            yield Fault(here, what, mend)
            return


def _outcome(protocol: Protocol, at: int, step: Step, outcome: Outcome) -> Iterator[Fault]:
    here = f"steps[{step.id}].outcomes[{outcome.id}]"
    if outcome.of != "group" and not step.places:
        yield Fault(here, _("it is said of single places, but the step names none"), _("List `places` on the step"))
    if outcome.of != "group" and outcome.leads == "back":
        yield Fault(here, _("back is said of the whole jaw"), _('Use `of = "group"`'))
    if outcome.left_out and not step.irreversible:
        yield Fault(here, _("left_out is said of light only"), _("Take `left_out` out, or make the step irreversible"))
    if outcome.of == "group" and outcome.leads in ("opens", "wakes"):
        yield Fault(here, _("{leads} works on single places", leads=outcome.leads), _('Use `of = "place"`'))
    for key, name in (("to", outcome.to), ("until", outcome.until)):
        if name is None:
            continue
        target = next((i for i, s in enumerate(protocol.steps) if s.id == name), None)
        if target is None:
            yield Fault(f"{here}.{key}", _(_NO_SUCH["step"], name=repr(name)), _("Use the id of a step"))
            continue
        yield from _target(protocol, at, target, step, outcome, f"{here}.{key}")


def _target(protocol: Protocol, at: int, target: int, step: Step, outcome: Outcome, here: str) -> Iterator[Fault]:
    other = protocol.steps[target]
    # Options bring light and never take it away: what the case with the fewest steps does not have, none has.
    case = [s for s in protocol.steps if s.option is None or s.option == step.option]
    if outcome.leads == "back":
        if target > at:
            yield Fault(here, _("back leads to a later step"), _("Use an earlier step"))
        if not can_be_said(case, step, outcome):
            yield Fault(here, _("there is no way back after first light"), _("Use `hold`, or open a repair step"))
        return
    missing = set(step.places) - set(other.places)
    if missing:
        what = _("step {step} does not have the places {places}", step=repr(other.id), places=_list(missing))
        yield Fault(here, what, _("Add them to its `places`"))
    # The main action must be there in every case, so it crosses no light at all.
    asked = protocol.steps if outcome is step.outcomes[0] else case
    if any(s.irreversible and s in asked for s in protocol.steps[target:at]):
        yield Fault(here, _("step {step} lies before first light", step=repr(other.id)),
                    _("Use a step after the irreversible one"))
    if target == at:
        yield Fault(here, _("it leads to itself"), _("Use another step, or `again`"))
    if target > at and outcome.leads == "opens":
        yield Fault(here, _("opens leads to a later step"), _("Use `wakes`, or an earlier step"))
    if other.option is not None and other.option != step.option:
        yield Fault(here, _("step {step} is not in every case", step=repr(other.id)), _("Take its `option` out"))


def _limit(protocol: Protocol, at: int, step: Step, here: str, kind: str, limit: Limit) -> Iterator[Fault]:
    since = next((i for i, s in enumerate(protocol.steps) if s.id == limit.since), None)
    if since is None:
        yield Fault(here, _(_NO_SUCH["step"], name=repr(limit.since)), _("Use the id of a step"))
    elif since >= at:
        yield Fault(here, _("step {step} does not come before this one", step=repr(limit.since)),
                    _("A clock runs from an earlier step"))
    elif protocol.steps[since].called and not step.called:
        yield Fault(here, _("step {step} is only done when called", step=repr(limit.since)),
                    _("A clock runs from a step always done"))
    if kind == "floors" and step.wet and limit.breach == "stop":
        yield Fault(here, _("a floor refuses the tap while resin is wet"), _("Use note or deviation, or ask it before"))


def _table(protocol: Protocol) -> Iterator[Fault]:
    """Compile for each jaw, with no option and with all, and walk the tables."""
    for jaw in protocol.jaws:
        for options in ((), tuple(protocol.options)) if protocol.options else ((),):
            table = compile_table(protocol, jaw, ROW[jaw][1:-1], options)
            for step, outcome, why in dead_ends(table):
                which = _(JAW_WORDS[jaw])
                what = _("{jaw} with every option: {why}", jaw=which, why=why) if options else f"{which}: {why}"
                yield Fault(f"steps[{step}].outcomes[{outcome}]", what, _("Let a later finish lead back here"))


def _list(names: Iterable[str]) -> str:
    return ", ".join(sorted(names)) or _("(none)")
