"""Guessing from the network: tries that lead nowhere are counted for a tablet or an address, then there is a pause.

PINs and badges have their own counts (`lab.count_wrong`). What a tablet delivers is never counted and never slowed.
"""

from dataclasses import dataclass

from benchapp.actions.bench import Bench
from benchapp.actions.lab import Locked, must_not_be_locked, origin
from benchapp.core.words import N_, _
from benchapp.store.journal import Tries

MINUTE = 60_000


@dataclass(frozen=True)
class Limit:
    """How many tries may lead nowhere within how long, how long the pause is then (ms), and what is said of it."""

    name: str
    most: int
    within: int
    pause: int
    words: str


# Numbers: common practice, no source. Five as with PINs; nobody scans thirty unknown labels in ten minutes by mistake.
ENROL = Limit("enrol", 5, 10 * MINUTE, 5 * MINUTE, N_("Too many codes that enrol nothing came from here."))
CODES = Limit("codes", 30, 10 * MINUTE, 10 * MINUTE, N_("Too many codes that lead nowhere came from here."))


@dataclass(frozen=True)
class Caller:
    """Whose tries are counted: the tablet, or where there is none the address in the network."""

    tablet: str
    address: str

    def holder(self, limit: Limit) -> str:
        """Return by which name the tries of one sort are kept."""
        return f"{limit.name} {self.tablet or self.address}"


def must_not_guess(bench: Bench, who: Caller, limit: Limit) -> None:
    """Raise Locked, which says for how long, while a tablet or an address has a pause."""
    must_not_be_locked(bench, who.holder(limit), _(limit.words))


def is_paused(bench: Bench, who: Caller, limit: Limit) -> bool:
    """Tell whether a tablet or an address has a pause."""
    try:
        must_not_guess(bench, who, limit)
    except Locked:
        return True
    return False


def count_guess(bench: Bench, who: Caller, limit: Limit) -> None:
    """Count a try that led nowhere; one more than the most begins the pause, which is stored as one event."""
    holder, now = who.holder(limit), bench.clock()
    with bench.store.writing() as writer:
        known = writer.tries(holder)
        if known.locked_until > now:
            return
        counts = known.wrong > 0 and 0 <= now - known.since < limit.within
        wrong, since = (known.wrong + 1, known.since) if counts else (1, now)
        if wrong <= limit.most:
            writer.put_tries(Tries(holder, wrong, since, 0))
            return
        writer.put_tries(Tries(holder, 0, now, now + limit.pause))
        data = {"what": limit.name, "address": who.address}
        bench.request(writer, "locked", data=data, **origin(bench, who.tablet))
