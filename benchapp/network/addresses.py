"""The PC's addresses in its networks, as the system tells them at this moment."""

import socket
from ipaddress import IPv4Address, ip_address

import ifaddr

LOOPBACK = "127.0.0.1"


def own_addresses() -> list[str]:
    """Return the PC's IPv4 addresses that tablets could reach, private ones first, without loopback."""
    found = {str(ip.ip) for adapter in ifaddr.get_adapters() for ip in adapter.ips if ip.is_IPv4}
    kept = [IPv4Address(one) for one in found if not IPv4Address(one).is_loopback]
    return [str(one) for one in sorted(kept, key=lambda one: (one.is_link_local, not one.is_private, one))]


def is_loopback(address: str) -> bool:
    """Tell whether an address is one of this machine alone."""
    try:
        return ip_address(address).is_loopback
    except ValueError:
        return False


def is_own(address: str) -> bool:
    """Tell whether an address belongs to this machine at this moment; asked anew each time.

    A list that is a minute old would not do: by then another machine may have been given the address. A socket can
    be bound to an own address alone, which is found out fast; where a PC is set to allow more, its list decides.
    """
    try:
        asked = ip_address(address)
        if asked.is_loopback:
            return True
        with socket.socket(socket.AF_INET6 if asked.version == 6 else socket.AF_INET, socket.SOCK_DGRAM) as probe:
            probe.bind((address, 0))
    except (OSError, ValueError):
        return False
    return any(asked == ip_address(_plain(ip.ip)) for adapter in ifaddr.get_adapters() for ip in adapter.ips)


def _plain(found: str | tuple[str, int, int]) -> str:
    """Return an address as text; of IPv6 the library also tells flow and scope."""
    return found if isinstance(found, str) else found[0]
