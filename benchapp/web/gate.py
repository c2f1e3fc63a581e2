"""The one gate before every request from the network: nothing answers there but to tablets that were enrolled."""

from contextlib import suppress
from ipaddress import ip_address, ip_network
from typing import Any

from flask import Response, g, jsonify, redirect, request

from benchapp.actions.bench import Refused
from benchapp.actions.guesses import CODES, Caller, count_guess, is_paused, must_not_guess
from benchapp.actions.overview import jaws_in_work
from benchapp.actions.tablets import PC, Standing, standings
from benchapp.core.words import N_, _
from benchapp.store.errors import StoreError
from benchapp.web.app import the_bench
from benchapp.web.lan import from_the_pc
from benchapp.web.local import holds_key
from benchapp.web.tablets import Stranger, heard, tablet_of_request

# What a page needs that is shown to a stranger, and the page itself.
OPEN = frozenset({"static", "worker.service_worker", "worker.manifest", "enrol.page", "enrol.enter"})
# Where a code is looked up; one that leads nowhere counts as a guess.
LOOKUPS = frozenset({
    "home.find", "bench.what", "bench.jaw_page", "labels.sheet", "labels.picture", "records.page", "records.pdf",
    "records.plain", "chamber.page", "seating.at_bench", "seating.solid", "seating.picture",
})  # fmt: skip
# Pages that make facts by being opened: a display is shown what says the same.
WORKED = {"bench.jaw_page": "/record/{code}", "chamber.page": "/chamber"}

UNKNOWN = N_("The PC does not know this device. A supervisor enrols it with a code: Desk, Tablets, at the PC.")
STRUCK = N_("This tablet was struck off. What waits on it is kept, and is sent once a supervisor has enrolled it anew: "
            "Desk, Tablets, at the PC.")


class OnlyShows(Refused):
    """A display asked for more than to see something."""

    status = 403


def standing_of_request() -> Standing | None:
    """Return how the tablet stands whose token the request carries; None for a stranger, also for a token that was
    given to a browser on the PC itself: it counts there only."""
    tablet = tablet_of_request()
    known = standings(the_bench()).get(tablet) if tablet else None
    return None if known is None or known.kind == PC else known


def caller() -> Caller:
    """Return whose tries a request counts as: of the tablet, or of the address where there is none."""
    return Caller(tablet_of_request() or "", _address())


def _address() -> str:
    """Return where the request comes from; of an IPv6 address the half that its owner does not choose."""
    try:
        found = ip_address(request.remote_addr or "")
    except ValueError:
        return ""
    return str(found if found.version == 4 else ip_network((found, 64), strict=False))


def only_ours() -> Any:
    """Let the PC itself pass, and tablets that were enrolled; a display only sees."""
    if from_the_pc() or request.endpoint in OPEN or (request.blueprint == "local" and holds_key()):
        return None
    known = standing_of_request()
    if known is None or known.struck:
        return _not_ours(known is not None)
    heard(tablet_of_request() or "")
    if known.kind == "display" and (shown := _only_shows()):
        return shown
    if request.endpoint in LOOKUPS:
        _not_guessing()
    return None


def _not_ours(struck: bool) -> Any:
    """Answer a stranger: a page that asks for a code where a person asks for a page, words for everything else."""
    from benchapp.web.enrol import enrol_page

    words = _(STRUCK if struck else UNKNOWN)
    if _asks_json():
        return jsonify(error=words, struck=struck), Stranger.status
    if request.method in ("GET", "HEAD"):
        return enrol_page(), Stranger.status
    raise Stranger(words)


def _asks_json() -> bool:
    return request.accept_mimetypes.best_match(["text/html", "application/json"]) == "application/json"


def _only_shows() -> Any:
    if request.method not in ("GET", "HEAD"):
        words = _("This is a display: it only shows. Do that on a tablet or at the PC.")
        if _asks_json():
            return jsonify(error=words, display=True), OnlyShows.status
        raise OnlyShows(words)
    if request.endpoint in WORKED:
        return redirect(WORKED[request.endpoint].format(**(request.view_args or {})))
    return None


def _not_guessing() -> None:
    """Raise Locked during a pause; jaws that the first page lists are opened all the same, since no guess is needed."""
    if not is_paused(the_bench(), caller(), CODES):
        return
    code = (request.view_args or {}).get("code", "")
    if request.endpoint == "bench.jaw_page" and any(code == jaw.code for _case, jaw in jaws_in_work(the_bench())):
        return
    must_not_guess(the_bench(), caller(), CODES)


def leads_nowhere(it_does: bool) -> None:
    """Say of a code that was looked up whether it led nowhere, where the answer is no 404 for all that."""
    g.lost = it_does


def count_lost(response: Response) -> Response:
    """Count a code that led nowhere, for a tablet of the network."""
    lost = response.status_code == 404 or g.get("lost")
    if lost and request.endpoint in LOOKUPS and not from_the_pc():
        with suppress(StoreError):  # the answer itself is right
            count_guess(the_bench(), caller(), CODES)
    return response
