"""Both jaws of a case checked together, after the final checks of both and before either is released."""

from dataclasses import dataclass

from benchapp.actions.bench import Bench, Refused
from benchapp.actions.desk import Seat, store
from benchapp.actions.jaws import case_as_it_is, line
from benchapp.core.codes import spaced
from benchapp.core.readiness import Sibling, pair_of, paired
from benchapp.core.release_words import PAIR, PAIR_SETTLED
from benchapp.core.teeth import JAW_WORDS
from benchapp.core.words import _

MAY = ("technician", "supervisor")


@dataclass(frozen=True)
class Pair:
    """The pair of a case: codes of its jaws, the outcome that counts ("" without one), and why no check can be
    entered now ("" when one can)."""

    codes: tuple[str, ...]
    outcome: str
    why_not: str

    @property
    def settled(self) -> bool:
        """Whether the pair lets its jaws be released."""
        return self.outcome in PAIR_SETTLED


def siblings_of(bench: Bench, code: str) -> list[Sibling]:
    """Return every jaw of a case, those that were made again as a whole included."""
    found = []
    for jaw in case_as_it_is(bench.store, code)["jaws"]:
        state = line(bench, jaw["code"]).state
        last = max((event["when"] for event in state["log"]), default=0)
        found.append(Sibling(jaw["code"], jaw["jaw"], state["ended"], last))
    return found


def pair(bench: Bench, code: str) -> Pair:
    """Return how the pair of a case stands; Unknown where there is no such case."""
    siblings = siblings_of(bench, code)
    both = pair_of(siblings)
    if both is None:
        return Pair((), "", _("This case has no two jaws in work, so there is no pair to check."))
    outcome = paired(case_as_it_is(bench.store, code), siblings)
    codes = tuple(jaw.code for jaw in both)
    waiting = [jaw.jaw for jaw in both if jaw.ended != "through"]
    gone = [jaw.jaw for jaw in both if line(bench, jaw.code).release]
    return Pair(codes, outcome, _waits_for(waiting) if waiting else _is_released(gone) if gone else "")


def _waits_for(jaws: list[str]) -> str:
    if len(jaws) > 1:
        return _("The pair is checked once both jaws are through; the upper and the lower jaw is not yet.")
    return _("The pair is checked once both jaws are through; the {jaw} is not yet.", jaw=_(JAW_WORDS[jaws[0]]))


def _is_released(jaws: list[str]) -> str:
    if len(jaws) > 1:
        return _("The upper and the lower jaw is released: its record says what the pair check was.")
    return _("The {jaw} is released: its record says what the pair check was.", jaw=_(JAW_WORDS[jaws[0]]))


def check_pair(bench: Bench, seat: Seat, code: str, outcome: str) -> None:
    """Store what was found when both jaws were put together; Refused when it is not the time for it."""
    seat.must(*MAY)
    if outcome not in PAIR:
        raise Refused(_("Say what was found: right, not mounted, or not right."))
    with bench.store.writing() as writer:
        now = pair(bench, code)
        if now.why_not:
            raise Refused(now.why_not)
        store(bench, writer, seat, "pair", case=code, outcome=outcome, data={"pair": list(now.codes)})


def pair_words(now: Pair) -> str:
    """Return in a sentence how a pair stands."""
    if not now.codes:
        return now.why_not
    jaws = _("{first} and {second}", first=spaced(now.codes[0]), second=spaced(now.codes[1]))
    if now.outcome:
        return f"{jaws}: {_(PAIR[now.outcome])}."
    return now.why_not or _("{jaws}: not checked together yet.", jaws=jaws)
