"""What of a jaw was carried over: work that lay open over a night, and a jaw that changed hands within a stage.

Both are common practice to ask about, no source: what lies open gathers dust, stays green or loses its solvent, and
whoever takes over has not seen what was done. Where only a clock runs, in the chamber say, nothing lies open; but a
jaw that nobody has put in there yet does.
"""

from dataclasses import dataclass
from itertools import pairwise

from benchapp.core.record_models import Item
from benchapp.core.record_trail import Deed, Handed, Trail
from benchapp.core.record_words import Names, minute, quoted
from benchapp.core.stock import day_of
from benchapp.core.words import _, n_


@dataclass
class _Change:
    """One pair of people between whom a jaw changed hands within a stage: first when, at which step, and how often."""

    stage: str
    old: str
    new: str
    at: int
    step: str
    times: int = 1


def carried_over(names: Names, trail: Trail) -> list[Item]:
    """Return one item for each night over which a step lay open, and for each two people and stage."""
    return [*_nights(names, trail), *_hands(names, trail)]


def _nights(names: Names, trail: Trail) -> list[Item]:
    """Return the nights between two confirmations that count; days are those of the lab's zone.

    The step that lay is the one that was on when the jaw was left, not the one with which it was gone on with.
    """
    waits = {act["step"] for act in names.table["acts"] if act["floors"]}
    lies = {card["step"] for card in names.table["cards"] if card["attended"] or card["step"] not in waits}
    left_at = {deed.id: after.stood for deed, after in pairwise(trail.deeds)}
    found: dict[tuple[str, str], Item] = {}
    for left, on in pairwise(_counting(trail)):
        days = day_of(left.t, names.zone).isoformat(), day_of(on.t, names.zone).isoformat()
        step = left_at[left.id]
        if days[0] < days[1] and step in lies and days not in found:
            found[days] = _item(
                names, on.server["when"], step, names.who(on),
                _(
                    "{step} lay open from {first} to {last}: left by {left_by} on {left_at}, gone on with by "
                    "{went_on} on {on_at}", step=quoted(names.step(step)), first=days[0], last=days[1],
                    left_by=names.who(left), left_at=minute(left.t, names.zone),
                    went_on=names.who(on), on_at=minute(on.t, names.zone),
                ),
            )
    return list(found.values())


def _hands(names: Names, trail: Trail) -> list[Item]:
    """Return who took a jaw over from whom while a stage was under way."""
    found: dict[tuple[str, frozenset[str]], _Change] = {}
    holder, stage = "", ""
    told: list[Deed | Handed] = sorted([*_counting(trail), *trail.handed], key=lambda one: one.seq)
    for one in told:
        handed = isinstance(one, Handed)
        new = one.to if isinstance(one, Handed) else str(one.event["by"]["person"])
        step = one.stood if isinstance(one, Handed) else str(one.event["step"])
        here = names.stage(step)
        if holder and new != holder and here == stage:
            key = here, frozenset((holder, new))
            if key in found:
                found[key].times += 1
            else:
                found[key] = _Change(here, holder, new, one.server["when"], step)
        holder, stage = new, stage if handed else here
    return [_changed(names, change) for change in found.values()]


def _changed(names: Names, change: _Change) -> Item:
    more = change.times - 1
    words = _(
        "changed hands within the stage {stage}, at {step}: from {old} to {new}", stage=quoted(change.stage),
        step=quoted(names.step(change.step)), old=names.person(change.old), new=names.person(change.new),
    )
    if more:
        words = n_("{words}, and once more between the two", "{words}, and {n} times more between the two", more,
                   words=words)
    return _item(names, change.at, change.step, names.person(change.new), words)


def _counting(trail: Trail) -> list[Deed]:
    return [deed for deed in trail.deeds if deed.kind == "confirm" and deed.effective]


def _item(names: Names, when: int, step: str, who: str, words: str) -> Item:
    return Item(
        kind="carried over", grade="", at=names.at(when), step=names.step(step), words=words, reason="", who=who,
        lasted_ms=None, open=False,
    )
