"""What is asked of the desk: a person who signed in there, and requests stored in their name."""

from dataclasses import dataclass
from typing import Any

from benchapp.actions.bench import Bench, Refused
from benchapp.actions.jaws import store_on_jaw
from benchapp.actions.lab import Person
from benchapp.core.protocol import ROLE_WORDS
from benchapp.core.words import _
from benchapp.store.journal import Entry, Writer


class NotYours(Refused):
    """The person's roles do not allow this."""

    status = 403


@dataclass(frozen=True)
class Seat:
    """Who sits at the desk: the person, how they signed in (pin, badge, pc), and the id of that sign-in."""

    person: Person
    how: str = "pc"
    signin: str = ""

    def must(self, *roles: str) -> None:
        """Raise NotYours unless the person has one of these roles."""
        if not set(roles) & set(self.person.roles):
            named = _(ROLE_WORDS[roles[0]])
            for role in roles[1:]:
                named = _("{role} or a {other}", role=named, other=_(ROLE_WORDS[role]))
            raise NotYours(_("That takes a {role}. Ask one, or sign in as one.", role=named))


def store(bench: Bench, writer: Writer, seat: Seat, kind: str, **what: Any) -> Entry:
    """Store a request in the name of who sits at the desk; `what` are keys of the event."""
    return bench.request(writer, kind, seat.person.id, seat.person.roles, by=_by(seat), **what)


def on_jaw(bench: Bench, writer: Writer, seat: Seat, case: str, code: str, kind: str, **what: Any) -> None:
    """Store a hold, a resume or a way back that somebody at the desk caused (see `jaws.store_on_jaw`)."""
    store_on_jaw(bench, writer, code, kind, seat.person, case=case, by=_by(seat), **what)


def _by(seat: Seat) -> dict[str, str]:
    return {"person": seat.person.id, "how": seat.how, "signin": seat.signin}
