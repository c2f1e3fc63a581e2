"""Where a request comes from, the lab's PC itself or its network, and the one origin under which pages are given."""

from urllib.parse import quote

from flask import current_app, redirect, request
from werkzeug.wrappers import Response as AnyResponse

from benchapp.actions.bench import Refused
from benchapp.core.words import _
from benchapp.network.addresses import is_loopback, is_own
from benchapp.network.place import Network

SAFE = "%/?:@!$&'()*+,;=-._~"  # what stands in a query as it is (RFC 3986 3.4)


class OtherName(Refused):
    """Something was sent to the PC under another name than its own."""

    status = 421  # misdirected request, RFC 9110 15.5.20


def network() -> Network | None:
    """Return the lab's network; None where the PC serves itself alone."""
    found: Network | None = current_app.config["NETWORK"]
    return found


def origin() -> str:
    """Return the origin under which tablets ask; of a PC that serves itself alone the one of this request."""
    served = network()
    return served.origin if served else request.host_url.rstrip("/")


def from_the_pc() -> bool:
    """Tell whether the request comes from this machine, and was asked under a name of this machine alone.

    The name is looked at too: a page of a stranger's site can be made to stand at a loopback address, and would then
    ask from this PC under the stranger's name. In the lab's network the PC's one name counts as well: only this PC
    has a certificate for it, so no stranger's page can stand under it. That name leads to an address in the network,
    and this PC then asks from the same one: whoever asks from an address that is this machine's now is on it, for no
    answer would reach another machine that only pretends to have it.
    """
    host = _without_port(request.host.lower())
    asks = request.remote_addr or ""
    if host == "localhost" or is_loopback(host.strip("[]")):
        return is_loopback(asks)
    served = network()
    return served is not None and request.host.lower() == served.host and is_own(asks)


def _without_port(host: str) -> str:
    name, _colon, port = host.rpartition(":")
    return name if port.isdigit() else host


def one_origin() -> AnyResponse | None:
    """Lead a page that is asked for under another name or address to the PC's own; refuse what was sent there.

    What a tablet holds (its outbox, its pages) belongs to the origin: under another name it would be a new, empty
    tablet. Only this PC itself may use `localhost`, so that its desk opens where the name leads nowhere. The answer
    is not kept by browsers, so that a lab can be given another name.
    """
    served = network()
    if served is None or request.host.lower() == served.host or from_the_pc():
        return None
    if request.blueprint == "local":  # commands on this PC, which hold its key, ask by an address of it
        return None
    if request.method not in ("GET", "HEAD"):
        raise OtherName(_(
            "This PC is asked under the name {name} alone. Open {address}, and repeat there what you did.",
            name=served.name, address=served.origin,
        ))
    query = request.query_string.decode("latin-1")  # as it came, one byte a letter
    asked = quote(request.path) + (f"?{quote(query, SAFE, 'latin-1')}" if query else "")
    answer = redirect(served.origin + asked, 308)
    answer.headers["Cache-Control"] = "no-store"
    return answer
