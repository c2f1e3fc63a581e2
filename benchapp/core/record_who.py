"""Who worked on a jaw, as its record says it, and how many confirmations count."""

from collections import Counter

from benchapp.core.record_models import Counts, Way, Who
from benchapp.core.record_trail import Deed, Trail
from benchapp.core.record_words import Names


def who_worked(names: Names, trail: Trail) -> list[Who]:
    """Return who worked on a jaw, in the order of their first entries."""
    by: dict[str, list[Deed]] = {}
    for deed in trail.deeds:
        by.setdefault(deed.event["by"]["person"], []).append(deed)
    return [_person(names, person, deeds) for person, deeds in by.items()]


def _person(names: Names, person: str, deeds: list[Deed]) -> Who:
    ways = Counter(names.how(deed) for deed in deeds if deed.kind == "confirm")
    return Who(
        name=names.person(person),
        roles=list(deeds[-1].server["roles"]),
        ways=[Way(how=how, confirmations=count) for how, count in ways.items()],
        confirmations=ways.total(),
        first=names.at(deeds[0].server["when"]),
        last=names.at(deeds[-1].server["when"]),
    )


def counts(trail: Trail) -> Counts:
    """Return how many confirmations are stored, and what became of them."""
    fates = Counter(deed.fate for deed in trail.deeds if deed.kind == "confirm")
    return Counts(
        stored=fates.total(),
        count=fates["counts"] + fates["taken in"],
        taken_back=fates["taken back"],
        not_taken=fates["not taken"],
    )
