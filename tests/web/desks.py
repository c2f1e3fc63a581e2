"""The desk asked without a browser: a lab with a jaw at work, and people who sit down at the desk."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from flask.testing import FlaskClient

from benchapp.actions.desk import Seat
from benchapp.actions.lab import people
from benchapp.actions.tablets import Tablet, show_code, tablets
from tests.actions.worked import Worked
from tests.web.clients import asked

SUPERVISOR, TECHNICIAN = ("Зоя Ким", "1357"), ("Łukasz Wiśniewski", "2468")


@dataclass
class Desk:
    """A client with a tablet's token, and the jaw behind it (its bench, its clock)."""

    client: FlaskClient
    jaw: Worked

    def sit(self, name: str, pin: str) -> "Desk":
        """Sign somebody in at the desk."""
        person = next(p.id for p in people(self.jaw.bench) if p.name == name)
        answer = self.client.post("/desk/signin", data={"person": person, "pin": pin, "next": ""})
        assert answer.status_code == 303, answer.text
        return self

    def seat(self, name: str = SUPERVISOR[0]) -> Seat:
        """Return a seat for calling actions directly."""
        return Seat(next(p for p in people(self.jaw.bench) if p.name == name))

    def tablets(self) -> list[Tablet]:
        """Return the tablets as the desk lists them."""
        return tablets(self.jaw.bench)

    def get(self, address: str, status: int = 200) -> str:
        """Return the words of a page."""
        answer = self.client.get(address)
        assert answer.status_code == status, (answer.status_code, answer.text[:400])
        return answer.text

    def post(self, address: str, status: int = 303, **form: Any) -> str:
        """Send a form; return the words of the answer."""
        answer = self.client.post(address, data=form)
        assert answer.status_code == status, (answer.status_code, answer.text[:400])
        return answer.text


def from_network(at: Desk, address: str = "192.168.7.20") -> FlaskClient:
    """Return a device on the lab's network that nobody enrolled."""
    client = at.client.application.test_client()
    client.environ_base["REMOTE_ADDR"] = address
    return client


def enrolled(at: Desk, name: str, kind: str = "tablet", address: str = "192.168.7.20") -> FlaskClient:
    """Return a tablet, or a display, on the lab's network."""
    client = from_network(at, address)
    answer = client.post("/enrol", data={"code": show_code(at.jaw.bench, at.seat(), kind).code, "name": name})
    assert answer.status_code == 303, answer.text
    return client


@contextmanager
def desk(place: Path, who: tuple[str, str] = SUPERVISOR, **how: Any) -> Iterator[Desk]:
    """Open a lab with a jaw, and let somebody sit down at its desk."""
    with asked(place, **how) as (client, jaw):
        yield Desk(client, jaw).sit(*who)
