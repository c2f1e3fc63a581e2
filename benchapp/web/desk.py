"""The desk: who sits there, what they may open, and the frame of its pages.

Every view says by `@seated(...)` which roles may use it; views without it are listed in `tests/web/test_authority.py`.
"""

import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from functools import wraps
from threading import Lock
from typing import Any, TypeVar
from urllib.parse import urlsplit

from flask import Blueprint, Response, current_app, g, make_response, redirect, render_template, request, url_for
from werkzeug.wrappers import Response as AnyResponse

from benchapp.actions.badges import badge_in
from benchapp.actions.bench import Bench, Refused
from benchapp.actions.desk import NotYours, Seat
from benchapp.actions.lab import Gone, Person, people, sign_in, why_gone, workers
from benchapp.core.codes import CodeError
from benchapp.core.words import N_, _, for_scripts
from benchapp.web.app import the_bench
from benchapp.web.tablets import known_tablet, same_site, tablet_of_request, welcome
from benchapp.web.words import HOME_WORDS

views = Blueprint("desk", __name__, url_prefix="/desk")

COOKIE = "desk"
IDLE_MS = 30 * 60_000
EVERYBODY = ("technician", "supervisor", "technique-lead")
DESK = (  # address, words, roles: the line of links at the top
    ("/desk/today", N_("Today"), EVERYBODY), ("/desk/cases", N_("Cases"), EVERYBODY),
    ("/desk/marks", N_("Marks"), ("supervisor", "technique-lead")),
    ("/desk/deviations", N_("Deviations"), ("supervisor", "technique-lead")),
    ("/desk/materials", N_("Materials"), EVERYBODY), ("/desk/devices", N_("Devices"), EVERYBODY),
    ("/desk/people", N_("People"), ("supervisor",)), ("/desk/tablets", N_("Tablets"), ("supervisor",)),
    ("/desk/settings", N_("Settings"), ("supervisor", "technique-lead")),
    ("/desk/protocol", N_("Protocol"), EVERYBODY), ("/desk/printing", N_("Printing"), ("supervisor",)),
    ("/desk/network", N_("Network"), ("supervisor",)),
)

View = TypeVar("View", bound=Callable[..., Any])


class NobodyHere(Refused):
    """Nobody is signed in at the desk."""

    status = 401


@dataclass
class Sitting:
    """One sign-in at the desk: who, when last heard of (UTC ms), and what the next page says once."""

    person: str
    how: str
    signin: str
    used: int
    said: str = ""


class Sittings:
    """All sign-ins at the desk, by the hash of a random token; they end with the server, or when idle."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._by_token: dict[str, Sitting] = {}

    def add(self, token: str, sitting: Sitting) -> None:
        """Begin a sitting; idle ones go."""
        with self._lock:
            self._by_token = {t: s for t, s in self._by_token.items() if sitting.used - s.used < IDLE_MS}
            self._by_token[_hash(token)] = sitting

    def of(self, token: str, now: int, prolong: bool) -> Sitting | None:
        """Return the sitting of a token, None when it is idle or unknown; to be heard of prolongs it."""
        with self._lock:
            found = self._by_token.get(_hash(token))
            if found is None or now - found.used >= IDLE_MS:
                return None
            if prolong:
                found.used = now
            return found

    def end(self, token: str) -> None:
        """End a sitting."""
        with self._lock:
            self._by_token.pop(_hash(token), None)

    def end_of(self, person: str, but: str = "", how: str = "") -> None:
        """End every sitting of a person, or those that began in one way; not the one that the sign-in `but` began."""
        with self._lock:
            self._by_token = {
                t: s for t, s in self._by_token.items()
                if s.person != person or s.signin == but or (how and s.how != how)
            }


def _hash(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()


def _sittings() -> Sittings:
    found: Sittings = current_app.extensions.setdefault("sittings", Sittings())
    return found


def sitting(prolong: bool = True) -> Sitting | None:
    """Return the sitting of this request, if somebody is signed in at the desk; looked up once in a request."""
    if "sitting" not in g:
        token = request.cookies.get(COOKIE, "")
        g.sitting = _sittings().of(token, the_bench().clock(), prolong) if token else None
    found: Sitting | None = g.sitting
    return found


def seat(prolong: bool = True) -> Seat:
    """Return who sits at the desk, with the roles they have now; NobodyHere when nobody does.

    The sitting of somebody who left ends at once: Gone says why.
    """
    here = sitting(prolong)
    person = next((p for p in people(the_bench()) if here and p.id == here.person), None)
    if here is None or person is None:
        raise NobodyHere(
            _("Nobody is signed in at the desk, or for half an hour nothing was done. Sign in again.")
        )
    if why := why_gone(the_bench(), person):
        _sittings().end(request.cookies.get(COOKIE, ""))
        raise Gone(why)
    return Seat(person, here.how, here.signin)


def seated(*roles: str, prolongs: bool = True) -> Callable[[View], View]:
    """Let a view be used only by people with one of these roles; it finds the seat in `g.seat`.

    A view that a page asks for by itself does not prolong: nobody may be there any more.
    """

    def wrap(view: View) -> View:
        @wraps(view)
        def guarded(*args: Any, **kwargs: Any) -> Any:
            if request.method != "GET":
                same_site()
            try:
                g.seat = seat(prolongs)
            except NobodyHere:
                if "HX-Request" in request.headers:
                    return Response("", headers={"HX-Redirect": url_for("desk.door")})
                if request.method == "GET":
                    return redirect(url_for("desk.door", next=request.full_path.rstrip("?")))
                raise
            g.seat.must(*roles)
            return view(*args, **kwargs)

        guarded.roles = roles  # type: ignore[attr-defined]
        return guarded  # type: ignore[return-value]

    return wrap


def end_sittings(person: str, how: str = "") -> None:
    """End what somebody has open at the desk, after a new PIN or when they left; this very sitting goes on.

    With `how` only what they opened in that way: a badge that was struck off opens nothing any more.
    """
    _sittings().end_of(person, g.seat.signin, how)


def say(words: str) -> None:
    """Let the next page that is shown at this desk say something, once."""
    here = sitting()
    if here is not None:
        here.said = words


def page(template: str, **what: Any) -> str:
    """Render a page of the desk in its frame."""
    here = sitting()
    said = here.said if here else ""
    if here:
        here.said = ""
    links = [(to, _(name)) for to, name, roles in DESK if set(roles) & set(g.seat.person.roles)]
    words = for_scripts(HOME_WORDS)
    return render_template(template, seat=g.seat, links=links, at=request.path, said=said, words=words, **what)


def done(words: str, address: str) -> AnyResponse:
    """Lead to a page after something was done, and let it say so."""
    say(words)
    return redirect(address, 303)


@views.get("/")
def first() -> AnyResponse:
    """Lead to the day's list."""
    return redirect("/desk/today")


@views.get("/signin")
def door() -> Response:
    """Ask who sits down at the desk."""
    return welcome(make_response(_door(request.args.get("next", ""))))


def _door(then: str, error: str = "", chosen: str = "") -> str:
    return render_template(
        "desk/signin.html", everybody=workers(the_bench()), next=_own(then), error=error, chosen=chosen,
        words=for_scripts(HOME_WORDS),
    )


@views.post("/signin")
def enter() -> Any:
    """Sign in at the desk by PIN or badge: a fresh token each time, so that nobody can hand one over beforehand."""
    same_site()
    bench, form = the_bench(), request.form
    how = "badge" if "badge" in form else "pin"
    try:
        signin, person = _let_in(bench, how)
    except Refused as error:
        return _door(form.get("next", ""), str(error), form.get("person", "")), error.status
    except CodeError:  # its own words would show on the screen what was typed
        return _door(form.get("next", ""), _(HOME_WORDS["badgeBad"])), 422
    token = bench.chance.random_bytes(32).hex()
    _sittings().end(request.cookies.get(COOKIE, ""))
    _sittings().add(token, Sitting(person.id, how, signin, bench.clock()))
    answer = redirect(_own(form.get("next", "")), 303)
    answer.set_cookie(COOKIE, token, httponly=True, samesite="Strict", secure=request.is_secure)
    return answer


def _let_in(bench: Bench, how: str) -> tuple[str, Person]:
    form = request.form
    if how == "badge":
        return badge_in(bench, form["badge"], known_tablet())  # wrong ones are counted for the tablet, as at the bench
    return sign_in(bench, form.get("person", ""), form.get("pin", ""), tablet_of_request() or "")


@views.post("/signout")
def leave() -> AnyResponse:
    """End the sitting."""
    same_site()
    _sittings().end(request.cookies.get(COOKIE, ""))
    answer = redirect("/desk/signin", 303)
    answer.delete_cookie(COOKIE)
    return answer


def _own(address: str) -> str:
    """Return an address of ours, the day's list in place of any other."""
    split = urlsplit(address)
    plain = address.startswith("/") and not address.startswith(("//", "/\\")) and not split.netloc and not split.scheme
    return address if plain else "/desk/today"


__all__ = ["EVERYBODY", "NotYours", "done", "end_sittings", "page", "say", "seat", "seated", "sitting"]
