"""The checks of a jaw as a whole, and whose confirmation of them was the last."""

from collections import Counter

from benchapp.core.protocol import Step
from benchapp.core.record_models import Check
from benchapp.core.record_trail import Deed, Trail
from benchapp.core.record_words import Names

CHECKS = 3  # as many questions in one stage make it a list of checks


def checks(names: Names, trail: Trail) -> list[Check]:
    """Return the checks of the jaw as a whole, in the protocol's order."""
    return [_check(names, trail, step.id) for step in check_steps(names)]


def check_steps(names: Names) -> list[Step]:
    """Return the steps that are checks.

    No protocol says which of its steps are checks, and no id is known here. A check is an attended step that
    is asked of the jaw as a whole from the start, neither wet nor lit, without numbers, picks or clocks, in a
    stage with three or more of its like: that is what a list of questions looks like.
    """
    known = {card["step"] for card in names.table["cards"]}
    asked = [step for step in names.protocol.steps if step.id in known and _is_question(step)]
    stages = Counter(step.stage for step in asked)
    return [step for step in asked if stages[step.stage] >= CHECKS]


def last_check(names: Names, trail: Trail) -> Deed | None:
    """Return the last confirmation that counts of the stage with the most checks: of any step at all, where
    the protocol has no checks; None where nothing was confirmed."""
    stages = Counter(step.stage for step in check_steps(names))
    stage = stages.most_common(1)[0][0] if stages else None
    own = {step.id for step in names.protocol.steps if stage in (None, step.stage)}
    said = [d for d in trail.deeds if d.kind == "confirm" and d.effective and d.event["step"] in own]
    return said[-1] if said else None


def _is_question(step: Step) -> bool:
    more = step.values or step.picks or step.floors or step.ceilings
    other = step.called or step.wet or step.irreversible or not step.attended
    return step.by == "jaw" and not more and not other


def _check(names: Names, trail: Trail, step: str) -> Check:
    said = [
        d
        for d in trail.deeds
        if d.kind == "confirm" and d.effective and d.event["step"] == step and d.act and d.act["of"] != "place"
    ]
    last = said[-1] if said else None
    cells = trail.state["cells"][step]
    return Check(
        step=names.step(step),
        answered=cells["-"] == "done" and not {"open", "wait"} & set(cells.values()),
        said=names.said(step, last.event["outcome"]) if last else "",
        at=names.at(last.t) if last else None,
        who=names.who(last) if last else "",
    )
