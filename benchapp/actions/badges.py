"""Badges: a code that signs its holder in at once. Only its hash is kept; the code itself is shown once."""

import hashlib

from benchapp.actions.bench import Bench, Refused
from benchapp.actions.desk import Seat, store
from benchapp.actions.lab import (
    WRONG_TRIES,
    Gone,
    Person,
    count_wrong,
    must_not_be_locked,
    note_sign_in,
    origin,
    people,
    why_gone,
)
from benchapp.actions.staff import known_person
from benchapp.core.codes import KINDS, CodeError, read_code
from benchapp.core.words import _, n_
from benchapp.store.journal import Tries, Writer

# A badge is found by its hash, so the salt is one for all badges of a lab. 16 MB and some 50 ms for each try make
# its 40 bits of chance dear to guess from a stolen database (scrypt, RFC 7914; these costs from memory: those that
# its author names for interactive logins).
SCRYPT = {"n": 2**14, "r": 8, "p": 1, "dklen": 32}


class WrongBadge(Refused):
    """The badge is nobody's."""

    status = 403


def give_badge(bench: Bench, seat: Seat, person_id: str) -> str:
    """Draw a badge in place of one that there may be; return its code, to be shown once."""
    seat.must("supervisor")
    code = bench.code("P")
    hashed = badge_hash(bench, code)
    with bench.store.writing() as writer:
        known = known_person(bench, person_id)
        if why := why_gone(bench, known):
            raise Gone(why)
        _store_badge(bench, writer, seat, known, 1)
        writer.put_secret(person_id, "badge", hashed)
    return code


def strike_badge(bench: Bench, seat: Seat, person_id: str) -> None:
    """Strike somebody's badge off: it opens nothing any more. Refused when there is none."""
    seat.must("supervisor")
    with bench.store.writing() as writer:
        known = known_person(bench, person_id)
        if not writer.drop_secret(person_id, "badge"):
            raise Refused(_("{name} has no badge.", name=known.name))
        _store_badge(bench, writer, seat, known, 0)


def badge_hash(bench: Bench, code: str) -> str:
    """Return the hash by which a badge is found (RFC 7914 scrypt, hexadecimal)."""
    return hashlib.scrypt(code.encode(), salt=f"badge {bench.store.lab_id}".encode(), **SCRYPT).hex()


def holder_of(bench: Bench, text: str) -> Person | None:
    """Return whose badge was typed or scanned; CodeError when it is no code of a badge."""
    read = read_code(text)
    if read.kind != KINDS["P"]:
        raise CodeError(_("that is the code of a {kind}, not of a badge; scan your badge", kind=_(read.kind)))
    held = bench.store.holder("badge", badge_hash(bench, read.code))
    return next((p for p in people(bench) if p.id == held), None)


def badge_in(bench: Bench, text: str, tablet: str) -> tuple[str, Person]:
    """Sign in by badge at a tablet; return the id of the sign-in and the person.

    WrongBadge, Locked, Gone or CodeError otherwise. Wrong badges are counted for the tablet: a badge alone does
    not say whose tries they are. A pause after wrong PINs does not keep the badge's owner out.
    """
    must_not_be_locked(bench, tablet, n_(
        "This tablet takes no badge after {n} wrong one.", "This tablet takes no badge after {n} wrong ones.",
        WRONG_TRIES,
    ))
    person = holder_of(bench, text)
    if person is None:
        by = {"person": "", "how": "badge", "signin": ""}
        more = count_wrong(bench, tablet, "badges", by=by, **origin(bench, tablet))
        nothing = _("That badge opens nothing here: it was struck off, or is another lab's.")
        raise WrongBadge(f"{nothing} {more}")
    if why := why_gone(bench, person):
        raise Gone(why)
    signin = note_sign_in(bench, person, "badge", tablet)
    with bench.store.writing() as writer:
        writer.put_tries(Tries(tablet))
    return signin, person


def _store_badge(bench: Bench, writer: Writer, seat: Seat, person: Person, given: int) -> None:
    # The newest entry of a person must name the roles: facts from tablets look them up there.
    store(bench, writer, seat, "badge", data={"thing": person.id, "roles": list(person.roles), "given": given})
