"""Which tablet asks: a random token in a cookie that no script can read, prolonged on use."""

import hashlib
import json
from contextlib import suppress
from typing import Any
from urllib.parse import urlsplit

from flask import Response, current_app, g, request

from benchapp.actions.bench import Refused
from benchapp.core.words import N_, _
from benchapp.store.errors import StoreError
from benchapp.web.app import the_bench
from benchapp.web.lan import from_the_pc

COOKIE = "tablet"
YEAR = 365 * 24 * 3600
ANOTHER_SITE = N_("This request comes from another site's page.")
HEARD_EVERY = 60_000  # ms; often enough to tell a silent tablet, seldom enough to cost nothing


class Stranger(Refused):
    """The request does not come from a page of ours on a known tablet."""

    status = 401


def tablet_of_request() -> str | None:
    """Return the id of the tablet whose token the request carries; looked up once in a request."""
    if "tablet" not in g:
        token = request.cookies.get(COOKIE, "")
        g.tablet = the_bench().store.tablet_by_token(token_hash(token)) if token else None
    found: str | None = g.tablet
    return found


def same_site() -> None:
    """Raise Stranger where another site's page sent the request."""
    origin = request.headers.get("Origin")
    if origin is not None and urlsplit(origin).netloc != request.host:
        raise Stranger(_(ANOTHER_SITE))
    if request.headers.get("Sec-Fetch-Site", "same-origin") not in ("same-origin", "none"):
        raise Stranger(_(ANOTHER_SITE))


def json_of_request() -> Any:
    """Return the JSON of a request, None where there is none that can be read: nested without end, or not in UTF-8."""
    try:
        found = request.get_json(silent=True)
        json.dumps(found, ensure_ascii=False).encode()  # a half of a sign alone can be stored nowhere
    except (RecursionError, UnicodeError):
        return None
    return found


def known_tablet() -> str:
    """Return the tablet's id; Stranger where there is none, or where another site sent the request."""
    same_site()
    tablet = tablet_of_request()
    if tablet is None:
        raise Stranger(
            _("The PC does not know this tablet. Open the first page once more while the PC can be reached.")
        )
    heard(tablet)
    return tablet


def heard(tablet: str) -> None:
    """Note now and then that a tablet was heard, and each time how many entries it says wait on it."""
    bench, now = the_bench(), the_bench().clock()
    waiting = request.args.get("waiting", type=int)
    if waiting is not None:
        bench.unsent[tablet] = max(0, waiting)
    last: dict[str, int] = current_app.extensions.setdefault("heard", {})
    if 0 <= now - last.get(tablet, -HEARD_EVERY) < HEARD_EVERY:
        return
    last[tablet] = now
    with suppress(StoreError), bench.store.writing() as writer:  # a full disk is said where something is stored
        writer.seen_tablet(tablet, now)


def welcome(response: Response) -> Response:
    """Prolong the token of a known tablet; give a browser on the PC itself one, which counts there only.

    Others get one by a code that a supervisor shows (`web/enrol.py`).
    """
    bench = the_bench()
    token = request.cookies.get(COOKIE, "")
    if tablet_of_request() is None:
        if not from_the_pc():
            return response
        token = bench.chance.random_bytes(32).hex()
        with bench.store.writing() as writer:
            writer.add_tablet(bench.code("T"), token_hash(token), bench.clock())
    return with_token(response, token)


def with_token(response: Response, token: str) -> Response:
    """Let the browser keep a token where no script can read it."""
    response.set_cookie(COOKIE, token, max_age=YEAR, httponly=True, samesite="Strict", secure=request.is_secure)
    return response


def token_hash(token: str) -> str:
    """Return by which name the store keeps a token (SHA-256, hexadecimal)."""
    return hashlib.sha256(token.encode()).hexdigest()
