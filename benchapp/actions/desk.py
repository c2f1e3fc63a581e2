"""What is asked of the desk: a person who signed in there, and requests stored in their name."""

from dataclasses import dataclass
from typing import Any

from benchapp.actions.bench import Bench, Refused
from benchapp.actions.lab import Person
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
            raise NotYours(f"That takes a {' or a '.join(roles)}. Ask one, or sign in as one.")


def store(bench: Bench, writer: Writer, seat: Seat, kind: str, **what: Any) -> Entry:
    """Store a request in the name of who sits at the desk; `what` are keys of the event."""
    by = {"person": seat.person.id, "how": seat.how, "signin": seat.signin}
    return bench.request(writer, kind, seat.person.id, seat.person.roles, by=by, **what)
