"""What is asked of the desk: a person who signed in there, and requests stored in their name."""

from dataclasses import dataclass
from typing import Any

from benchapp.actions.bench import Bench, Refused
from benchapp.actions.jaws import REFUSALS, line_for_writing
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
    return bench.request(writer, kind, seat.person.id, seat.person.roles, by=_by(seat), **what)


def on_jaw(bench: Bench, writer: Writer, seat: Seat, case: str, code: str, kind: str, **what: Any) -> None:
    """Store a hold, a resume or a way back that somebody at the desk caused, folded as every event of a jaw is.

    Raises Refused where the jaw does not take it now; the caller's transaction then changes nothing.
    """
    known, now, roles = line_for_writing(bench, code, writer), bench.received(writer), list(seat.person.roles)
    event = bench.envelope(kind, seat.person.id, now) | {"case": case, "jaw": code, "by": _by(seat)} | what
    event["round"] = known.state["round"]
    marks = known.add({"event": event, "server": {"seq": known.seq, "when": now, "roles": roles}})
    if any(grade == "refused" for _, grade in marks):
        bench.forget()
        raise Refused(f"Jaw {code} does not take that now: {REFUSALS.get(marks[0][0], marks[0][0])}.")
    known.seq = bench.write(writer, event, now, now, marks, roles).seq


def _by(seat: Seat) -> dict[str, str]:
    return {"person": seat.person.id, "how": seat.how, "signin": seat.signin}
