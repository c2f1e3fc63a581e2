"""Where a request comes from: the lab's PC itself, or its network."""

from ipaddress import ip_address

from flask import request


def from_the_pc() -> bool:
    """Tell whether the request comes from this machine, and was asked under a name of this machine alone.

    The name is looked at too: a page of a stranger's site can be made to stand at a loopback address, and would then
    ask from this PC under the stranger's name.
    """
    host = request.host.rpartition(":")[0] if request.host.rpartition(":")[2].isdigit() else request.host
    own = host == "localhost" or _loopback(host.strip("[]"))
    return own and _loopback(request.remote_addr or "")


def _loopback(address: str) -> bool:
    try:
        return ip_address(address).is_loopback
    except ValueError:
        return False
