"""A jaw to which everything happened, at the bench and at the desk, for records and releases."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from benchapp.actions import marks, orders
from benchapp.actions.desk import Seat
from benchapp.actions.jaws import line, resolve
from benchapp.actions.lab import people
from benchapp.actions.release import Reading, amend, asked, came_back, release, sent
from benchapp.actions.remake import NewPart, remake_part
from tests.actions.worked import CASE, LAB, TABLET, Worked, eventful, worked

THIRD = ("Ines Prüfer", "9753")
_THIRD = f'  {{ name = "{THIRD[0]}", roles = ["supervisor"], pin = "{THIRD[1]}" }},\n'
LAB3 = LAB.replace('  { name = "Зоя Ким"', _THIRD + '  { name = "Зоя Ким"')
ALLERGIC = CASE.replace('allergy = "none stated"', 'allergy = "yes"')
DAY = 24 * 3_600_000


def seat(jaw: Worked, name: str = THIRD[0]) -> Seat:
    """Return somebody's seat at the desk."""
    return Seat(next(p for p in people(jaw.bench) if p.name == name))


def reading(jaw: Worked, who: Seat, code: str = "", reason: str = "read on the tablet") -> Reading:
    """Return the reading of somebody who ticked everything and gave every reason."""
    now = asked(jaw.bench, who, code or jaw.code)
    gaps = now.readiness.gaps
    read = {t.kind for t in now.readiness.ticks} | {g.kind for g in gaps if g.asks == "read"}
    return Reading(now.seen, frozenset(read), {g.kind: reason for g in gaps if g.asks == "reason"})


def let_go(jaw: Worked, name: str = THIRD[0], pin: str = THIRD[1], **how: Any) -> None:
    """Release the jaw by somebody who read everything."""
    who = seat(jaw, name)
    release(jaw.bench, who, pin, {jaw.code: reading(jaw, who, **how)})


def remade(jaw: Worked, who: Seat, part: str = "base") -> None:
    """Make a part of the jaw again; the jaw at work knows its new parts afterwards."""
    remake_part(jaw.bench, who, jaw.code, part, NewPart("B", "P-200"), "damaged", "lab")
    jaw.opened.jaws[0]["parts"] = line(jaw.bench, jaw.code).jaw["parts"]


def settle(jaw: Worked, who: Seat) -> None:
    """Decide on every refused entry and close every deviation."""
    for matter in marks.open_matters_of(jaw.bench, jaw.code):
        if matter.kind == "refused":
            resolve(jaw.bench, jaw.code, who.person.id, THIRD[1], matter.id, "aside")
        else:
            marks.close(jaw.bench, who, jaw.code, matter.id, "accepted", "Tack sat; <b>margins</b> looked at")


@contextmanager
def whole(place: Path, release_too: bool = True) -> Iterator[Worked]:
    """A jaw with one of each exception, an allergy, corrections, a remake; then released, sent, back, amended."""
    with worked(place, case=ALLERGIC, lab=LAB3) as jaw:
        who = seat(jaw)
        orders.decide(jaw.bench, who, jaw.opened.code, "Dr. Ostrów", "2026-11-24", True)
        first = orders.Correction({"shade": "light 3", "due": "2026-12-03"}, {"prescriber": "Клиника «Маяк»"}, {})
        orders.correct(jaw.bench, who, jaw.opened.code, first)
        remade(jaw, who)
        jaw.fact("opened")
        eventful(jaw)
        jaw.now[0] += 60_000
        settle(jaw, who)
        if release_too:
            let_go(jaw)
            jaw.now[0] += DAY
            sent(jaw.bench, who, jaw.code, "2026-11-25", "parcel 4711, by the lab's own driver")
            jaw.now[0] += 9 * DAY
            words = "Pressure spot is seen beside the void"
            came_back(jaw.bench, who, jaw.code, "2026-12-04", "m24l", "void", words)
            amend(jaw.bench, who, jaw.code, "Void filled at the chairside; the clinic's note lies in the file.")
        yield jaw


__all__ = ["ALLERGIC", "LAB3", "TABLET", "THIRD", "let_go", "reading", "remade", "seat", "settle", "whole"]
