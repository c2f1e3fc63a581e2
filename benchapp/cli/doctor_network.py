"""What the doctor looks up about the lab's network: files in `network/`, the name, the server's answer."""

import http.client
import socket
import ssl
import tomllib
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from benchapp.core import doctor_network as judge
from benchapp.core.doctor import Finding
from benchapp.network.addresses import is_own
from benchapp.network.place import place_of

PATIENCE_S = 5.0


def of_network(data: Path, address: str, now: int) -> list[Finding]:
    """Judge the network of a data folder, nothing where it has none; `address` is where the server says it answers."""
    place = place_of(data)
    if not place.path.exists():
        return []
    network = _network(place.file)
    authority = _certificate(place.authority)
    found = [judge.on_network(network), judge.on_authority(authority, now)]
    if network.fault:
        return found
    running = address.startswith("https:") and answers(address)
    trusted = None if authority.fault else place.authority
    way = _way(network, trusted)
    return [*found, judge.on_certificate(_certificate(place.leaf), network.name, now),
            judge.on_name(network, way), judge.on_way(network, way, running)]


def answers(address: str) -> bool:
    """Tell whether a server of ours answers at an address of this PC: every answer of ours carries our header.

    Only the header is looked at, so an ended certificate does not hide the server.
    """
    parts = urlsplit(address)
    context = ssl.create_default_context()
    context.check_hostname, context.verify_mode = False, ssl.CERT_NONE
    try:
        return _asked(parts.hostname or "", parts.port or 0, context if parts.scheme == "https" else None)
    except (OSError, http.client.HTTPException):
        return False


def _asked(host: str, port: int, context: ssl.SSLContext | None) -> bool:
    made = (http.client.HTTPConnection(host, port, timeout=PATIENCE_S) if context is None
            else http.client.HTTPSConnection(host, port, timeout=PATIENCE_S, context=context))
    try:
        made.request("GET", "/people.json")
        return made.getresponse().getheader("Seat-And-Cure") is not None
    finally:
        made.close()


def _network(file: Path) -> judge.Network:
    """Read the file of the network, whatever else stands in it."""
    try:
        tree: dict[str, Any] = tomllib.loads(file.read_text("utf-8"))
        name, port, setup_port = tree["name"], tree["port"], tree["setup_port"]
    except KeyError as error:
        return judge.Network("", 0, 0, f"{error.args[0]} is missing")
    except (OSError, ValueError) as error:
        return judge.Network("", 0, 0, str(error))
    if not isinstance(name, str) or not name or not all(type(p) is int and 0 < p < 65536 for p in (port, setup_port)):
        return judge.Network("", 0, 0, "name, port or setup_port is none")
    return judge.Network(name, port, setup_port)


def _certificate(file: Path) -> judge.Certificate:
    from cryptography import x509  # a second of start that only this check needs

    try:
        read = x509.load_pem_x509_certificate(file.read_bytes())
    except (OSError, ValueError) as error:
        return judge.Certificate(0, 0, (), str(error))
    try:
        names = read.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
        known = tuple(names.get_values_for_type(x509.DNSName))
    except x509.ExtensionNotFound:
        known = ()
    begins, ends = read.not_valid_before_utc.timestamp(), read.not_valid_after_utc.timestamp()
    return judge.Certificate(round(begins * 1000), round(ends * 1000), known)


def _way(network: judge.Network, authority: Path | None) -> judge.Way:
    """Look the name up, and ask what answers there by the lab's authority."""
    try:
        found = socket.getaddrinfo(network.name, network.port, type=socket.SOCK_STREAM)
    except OSError:
        return judge.Way((), False, "")
    addresses = tuple(dict.fromkeys(str(one[4][0]) for one in found))
    answer = ""
    try:
        context = ssl.create_default_context(cafile=authority)
        answer = "ours" if _asked(network.name, network.port, context) else "untrusted"
    except ssl.SSLCertVerificationError:
        answer = "untrusted"
    except (OSError, http.client.HTTPException):
        answer = ""
    return judge.Way(addresses, any(is_own(one) for one in addresses), answer)
