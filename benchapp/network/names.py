"""The one name under which tablets ask the PC for ever, and what is made of it."""

import re
from ipaddress import ip_address

from benchapp.core.words import _

MOST = 60  # letters: people type it, and it stands in a QR code
LABEL = re.compile(r"[a-z0-9]([a-z0-9-]{0,61}[a-z0-9])?", re.ASCII)
EXAMPLES = "bench.lan, bench.home.arpa, bench.local"


class NameFault(ValueError):
    """A host name cannot be the PC's; the message says why and what to write instead."""


def read_name(typed: str) -> str:
    """Return a host name in small letters, without a point at its end; NameFault when tablets could not use it.

    Labels by RFC 1123 2.1: letters, digits and hyphens. A last label of digits alone would be read as an address
    (WHATWG URL, "ends in a number"), and `localhost` leads every tablet to itself (RFC 6761 6.3).
    """
    name = typed.strip().lower().removesuffix(".")
    labels = name.split(".")
    if not name:
        raise NameFault(_("The name is empty. Write one like {examples}.", examples=EXAMPLES))
    if _is_address(name) or labels[-1].isdigit():
        raise NameFault(_("{name} is an address, which can change. Write a name like {examples}.",
                          name=name, examples=EXAMPLES))
    if labels[-1] == "localhost":
        raise NameFault(_("{name} leads every tablet to itself. Write a name like {examples}.",
                          name=name, examples=EXAMPLES))
    if len(name) > MOST:
        raise NameFault(_("{name} is longer than {most} letters. Write a shorter one.", name=name, most=MOST))
    for label in labels:
        if not LABEL.fullmatch(label):
            raise NameFault(_(
                "{name} cannot be a host name: between the points stand letters a to z, digits, and hyphens inside. "
                "Write one like {examples}.", name=name, examples=EXAMPLES,
            ))
    return name


def _is_address(name: str) -> bool:
    try:
        ip_address(name.strip("[]"))
    except ValueError:
        return False
    return True


def local_name(name: str) -> str:
    """Return the name that is published without a name server (RFC 6762): the first label under `local`."""
    return f"{name.split('.')[0]}.local"


def names_of(name: str) -> tuple[str, ...]:
    """Return every name that the PC's certificate carries: its own, the one under `local`, and `localhost`."""
    return tuple(dict.fromkeys((name, local_name(name), "localhost")))


def authority_of(name: str, port: int) -> str:
    """Return name and port as a browser writes them in `Host`: the port of https is left out (RFC 9110 4.2.2)."""
    return name if port == 443 else f"{name}:{port}"
