"""Signing in by tile and PIN, or by badge."""

from contextlib import suppress
from typing import Any

from flask import Blueprint, Response, request

from benchapp.actions.badges import badge_in
from benchapp.actions.bench import Refused
from benchapp.actions.jaws import resolve, scrap
from benchapp.actions.lab import Person, sign_in, workers
from benchapp.actions.leaving import over
from benchapp.core.codes import read_code
from benchapp.core.words import _
from benchapp.store.errors import StoreError
from benchapp.web.app import the_bench
from benchapp.web.tablets import json_of_request, known_tablet

views = Blueprint("people", __name__)


@views.get("/people.json")
def tiles() -> dict[str, Any]:
    """List the people for the sign-in tiles; never a PIN or its hash."""
    return {"people": people_plain()}


def people_plain() -> list[dict[str, Any]]:
    """Return who may sign in today as plain data for a page."""
    return [{"id": p.id, "name": p.name, "roles": list(p.roles)} for p in workers(the_bench())]


def _asked(name: str) -> str:
    data = json_of_request()
    value = data.get(name) if isinstance(data, dict) else None
    if not isinstance(value, str) or not value or len(value) > 80:
        raise Refused(_("The request does not say `{name}`. Load the page again.", name=name))
    return value


@views.post("/signin")
def enter() -> dict[str, Any]:
    """Sign a person in by PIN: {person, pin} gives {signin, person, name, roles}."""
    signin, person = sign_in(the_bench(), _asked("person"), _asked("pin"), known_tablet())
    return _signed(signin, person)


@views.post("/badge")
def by_badge() -> dict[str, Any]:
    """Sign a person in by badge: {badge} gives {signin, person, name, roles}."""
    tablet = known_tablet()
    signin, person = badge_in(the_bench(), _asked("badge"), tablet)
    return _signed(signin, person)


@views.after_app_request
def say_over(response: Response) -> Response:
    """Tell a page with any answer that its sign-in is over, and why: `Sign-In: person signin` asks for that."""
    person, _blank, signin = request.headers.get("Sign-In", "")[:200].partition(" ")
    if person and response.status_code == 200:
        with suppress(StoreError):  # the answer itself is right: the next one will say it
            if why := over(the_bench(), person, signin):
                response.headers["Signed-Out"] = why
    return response


def _signed(signin: str, person: Person) -> dict[str, Any]:
    return {"signin": signin, "person": person.id, "name": person.name, "roles": list(person.roles)}


@views.post("/jaw/<code>/scrap")
def scrap_jaw(code: str) -> dict[str, Any]:
    """Scrap a jaw as a whole: {person, pin, reason}; asks for the person again, since it cannot be taken back."""
    known_tablet()
    scrap(the_bench(), read_code(code).code, _asked("person"), _asked("pin"), _asked("reason"))
    return {"scrapped": True}


@views.post("/jaw/<code>/resolve")
def resolve_mark(code: str) -> dict[str, Any]:
    """Decide on a refused entry: {person, pin, event, outcome: in or aside}; for supervisors."""
    known_tablet()
    jaw = read_code(code).code
    resolve(the_bench(), jaw, _asked("person"), _asked("pin"), _asked("event"), _asked("outcome"))
    return {"resolved": True}
