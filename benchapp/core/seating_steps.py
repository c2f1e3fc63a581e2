"""What a seating check asks of the steps of one jaw: places to watch, and figures filled in. Pure."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from typing import Any, Final, get_args

from benchapp.core.findings import CutHere, Depth
from benchapp.core.protocol import Outcome, Step, Value

DROPS: Final = "resin-drops"  # the value that is filled in with the drops that a jaw takes


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
