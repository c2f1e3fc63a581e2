"""What a seating check asks of the steps of one jaw: places to watch, why, and figures filled in. Pure."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from typing import Any, Final, Literal, get_args

from benchapp.core.findings import CutHere, Depth, Report
from benchapp.core.protocol import Outcome, Step, Value
from benchapp.core.protocol_seating import SeatingLimits
from benchapp.core.words import N_

Why = Literal["thin", "wide", "deep", "shallow"]
WHYS: Final[dict[Why, str]] = {"thin": N_("thin"), "wide": N_("wide"), "deep": N_("deep"), "shallow": N_("shallow")}
DROPS: Final = "resin-drops"  # the value that is filled in with the drops that a jaw takes


def whys(report: Report, limits: SeatingLimits | None) -> dict[str, Why]:
    """Return for each margin that is watched why: its gap is thin or wide, or its tooth sits deep or shallow.

    The same margins as `findings.watched`, in the same order; where several hold, the gap comes first.
    """
    found: dict[str, Why] = {}
    for tooth in report["teeth"]:
        why = _why(tooth, limits) if limits and tooth["tooth"] is not None else None
        if why:
            found |= {f"m{tooth['tooth']}b": why, f"m{tooth['tooth']}l": why}
    return found


def _why(tooth: Mapping[str, Any], limits: SeatingLimits) -> Why | None:
    told: tuple[tuple[Any, float | None, Why, Why], ...] = (
        (limits.gap, tooth["gap_median_mm"], "thin", "wide"),
        (limits.depth, tooth["depth_median_mm"], "shallow", "deep"),
    )
    for bounds, value, under, over in told:
        if bounds is None or value is None:
            continue
        if bounds.least is not None and value < float(bounds.least):
            return under
        if bounds.most is not None and value > float(bounds.most):
            return over
    return None


def watches(
    step: Step, steps: Sequence[Step], table: Mapping[str, Any], places: Iterable[str]
) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Return which outcomes of a step say that places are watched at a step that fills, each with its places.

    `steps` are those of the jaw with the outcomes that its table knows; only places that both cards have.
    """
    wanted, fills = tuple(places), {one.id for one in steps if one.seating == "fill"}
    there = {card["step"]: frozenset(card["places"]) for card in table["cards"]}
    found = (
        (one.id, tuple(place for place in wanted if place in there[step.id] and place in there[one.to]))
        for one in step.outcomes if one.of == "place" and one.leads == "wakes" and one.to in fills
    )
    return tuple((outcome, chosen) for outcome, chosen in found if chosen)


def holding(step: Step) -> Outcome | None:
    """Return the outcome of a step by which the jaw as a whole is put on hold, None where it has none."""
    return next((one for one in step.outcomes if one.leads == "hold" and one.of != "place"), None)


def tally(cuts: Iterable[CutHere]) -> tuple[tuple[Depth, int], ...]:
    """Return how many connectors are cut how deep, from those that are left to the deep ones; none that are not."""
    counted = Counter(cut.how for cut in cuts)
    return tuple((how, counted[how]) for how in get_args(Depth) if counted[how])


def filled(value: Value, drops: int | None) -> Value:
    """Return a value as it is filled in beforehand: the resin's with the jaw's drops, where these lie in its limits."""
    if value.name != DROPS or drops is None or not value.min <= drops <= value.max:
        return value
    return value.model_copy(update={"usual": Decimal(drops)})
