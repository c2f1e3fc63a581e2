"""What is made in `network/` of a data folder: the name for ever, the authority, the PC's certificate.

`network.toml` says name, ports and the address to listen on. `ca.pem` and `ca.key` are the authority that tablets
trust, `leaf.pem` and `leaf.key` what the server shows them. Only this user may read the keys.
"""

import os
import shutil
from collections.abc import Callable, Sequence
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives.asymmetric.ec import EllipticCurvePrivateKey
from cryptography.hazmat.primitives.serialization import (
    Encoding,
    NoEncryption,
    PrivateFormat,
    PublicFormat,
    load_pem_private_key,
)

from benchapp.network import certificates as made
from benchapp.network.addresses import LOOPBACK
from benchapp.network.place import FILE, PLACE, Network, NetworkFault, Place, place_of

Bytes = Callable[[int], bytes]


def make_network(data: Path, network: Network, addresses: Sequence[str], now: int, random: Bytes) -> None:
    """Make the network of a data folder: authority, certificate and file, all of it or nothing; `now` is UTC ms.

    NetworkFault when something of a network lies there already.
    """
    place = place_of(data)
    if place.path.exists():
        raise NetworkFault(
            f"{place.path} lies there without {FILE}: bring that file back, or move the folder away. Without "
            "the folder a new authority is made, which every tablet has to be given again."
        )
    fresh = Place(data / f"{PLACE}.new")
    if fresh.path.exists():
        shutil.rmtree(fresh.path)
    fresh.path.mkdir(parents=True, mode=0o700)
    key = made.new_key()
    authority = made.make_authority(key, network.name, now, random(16))
    write_file(fresh.authority_key, _pem(key), secret=True)
    write_file(fresh.authority, authority.public_bytes(Encoding.PEM))
    _write_leaf(fresh, authority, key, network, addresses, now, random)
    lines = ["# The name and the port are the address of all pages for ever; the certificates hold it."]
    lines += [f"{name} = {_toml(value)}" for name, value in network.model_dump().items()]
    write_file(fresh.file, "\n".join([*lines, ""]).encode())
    fresh.path.rename(place.path)


def _toml(value: str | int) -> str:
    return str(value) if isinstance(value, int) else f'"{value}"'


def read_authority(data: Path) -> x509.Certificate:
    """Return the certificate of the authority; NetworkFault when it is missing or no certificate."""
    return _certificate(place_of(data).authority)


def read_leaf(data: Path) -> x509.Certificate:
    """Return the certificate of the PC; NetworkFault when it is missing or no certificate."""
    return _certificate(place_of(data).leaf)


def _certificate(file: Path) -> x509.Certificate:
    try:
        return x509.load_pem_x509_certificate(file.read_bytes())
    except (OSError, ValueError) as error:
        raise NetworkFault(f"{file}: {error}. Bring the file back from a copy of the folder.") from None


def _key(file: Path) -> EllipticCurvePrivateKey:
    try:
        key = load_pem_private_key(file.read_bytes(), None)
    except (OSError, ValueError, TypeError) as error:
        raise NetworkFault(f"{file}: {error}. Bring the file back from a copy of the folder.") from None
    if not isinstance(key, EllipticCurvePrivateKey):
        raise NetworkFault(f"{file}: this is another kind of key. Bring the file back from a copy of the folder.")
    return key


def why_renew(data: Path, network: Network, addresses: Sequence[str], now: int) -> str:
    """Say why the PC's certificate has to be made anew at `now` (UTC ms), "" when it serves.

    Beside the reasons of `why_new_leaf`: "broken" when file or key cannot be used, or another authority signed it.
    """
    place = place_of(data)
    authority = read_authority(data)
    try:
        leaf, key = read_leaf(data), _key(place.leaf_key)
        leaf.verify_directly_issued_by(authority)
    except Exception:  # whatever is wrong with it, a new one mends that
        return "broken"
    if _public(key.public_key()) != _public(leaf.public_key()):
        return "broken"
    return made.why_new_leaf(leaf, network.name, addresses, now)


def _public(key: object) -> bytes:
    found: bytes = key.public_bytes(Encoding.DER, PublicFormat.SubjectPublicKeyInfo)  # type: ignore[attr-defined]
    return found


def renew(data: Path, network: Network, addresses: Sequence[str], now: int, random: Bytes) -> None:
    """Make a new certificate for the PC, with a new key, for its addresses of now and of earlier days.

    NetworkFault when the authority is not sound, has ended, or is not one for this name.
    """
    place = place_of(data)
    authority, key = read_authority(data), _key(place.authority_key)
    if _public(key.public_key()) != _public(authority.public_key()):
        raise NetworkFault(f"{place.authority_key} does not fit {place.authority}: bring both back from one copy.")
    if made.days_left(authority, now) < 1:
        raise NetworkFault(
            f"The authority in {place.path} has ended, or the PC's clock is wrong. If the clock is right, move that "
            "folder away and start again with --name: a new authority is made, which every tablet has to be given."
        )
    permitted = authority.extensions.get_extension_for_class(x509.NameConstraints).value.permitted_subtrees or []
    if network.name not in [one.value for one in permitted]:
        raise NetworkFault(f"{place.file}: the authority beside it is not one for {network.name}. Write the name back.")
    try:
        earlier = made.stands_for(read_leaf(data))[1]
    except (NetworkFault, x509.ExtensionNotFound):
        earlier = []
    _write_leaf(place, authority, key, network, made.together(addresses, earlier), now, random)


def _write_leaf(
    place: Place, authority: x509.Certificate, signer: EllipticCurvePrivateKey, network: Network,
    addresses: Sequence[str], now: int, random: Bytes,
) -> None:
    """Write key and then certificate: whoever waits for a new certificate finds its key there."""
    key = made.new_key()
    every = [LOOPBACK, *(one for one in addresses if one != LOOPBACK)]
    leaf = made.make_leaf(authority, signer, key.public_key(), network.name, every, now, random(16))
    write_file(place.leaf_key, _pem(key), secret=True)
    write_file(place.leaf, leaf.public_bytes(Encoding.PEM))


def _pem(key: EllipticCurvePrivateKey) -> bytes:
    return key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())


def write_file(file: Path, content: bytes, secret: bool = False) -> None:
    """Write a file whole and durably in the place of an older one; a secret one only this user may read.

    On Windows the rights of the data folder's own place count, as for the database.
    """
    fresh = file.with_name(f"{file.name}.new")
    fresh.unlink(missing_ok=True)
    mode = 0o600 if secret else 0o644
    with open(fresh, "wb", opener=lambda path, flags: os.open(path, flags, mode)) as stream:
        stream.write(content)
        stream.flush()
        os.fsync(stream.fileno())
    fresh.replace(file)
