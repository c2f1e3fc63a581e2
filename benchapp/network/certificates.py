"""The lab's own certificate authority and the PC's certificate, as pure functions: time, keys and numbers handed in.

Fields by RFC 5280. The authority may sign for the lab's names and for private addresses alone (4.2.1.10), so that a
stolen key opens nothing else: nobody's bank, no address of the internet. Without a subtree for addresses it could
sign for any of them, since a constraint counts only for names of its own form.
"""

import ipaddress
from collections.abc import Iterable, Sequence
from datetime import UTC, datetime, timedelta

from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric.ec import SECP256R1, EllipticCurvePrivateKey, EllipticCurvePublicKey
from cryptography.hazmat.primitives.asymmetric.ec import generate_private_key as _generate
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from benchapp.network.names import names_of

AUTHORITY_DAYS = 3653  # ten years
LEAF_DAYS = 397  # what browsers take from public authorities too (CA/Browser Forum baseline requirements, from memory)
BACKDATED = timedelta(days=1)  # so that a tablet whose clock stands some hours behind takes it
RENEW_DAYS = 30
PRIVATE = tuple(ipaddress.IPv4Network(net) for net in (
    "10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16",  # RFC 1918
    "127.0.0.0/8",  # this machine alone, RFC 1122 3.2.1.3
    "169.254.0.0/16",  # what machines give themselves, RFC 3927
))
MOST_ADDRESSES = 16  # of earlier days too, newest kept: a PC that goes back to one of them needs no new certificate


def new_key() -> EllipticCurvePrivateKey:
    """Return a fresh key; its randomness is the system's, for the library takes no other."""
    return _generate(SECP256R1())


def may_stand(address: str) -> bool:
    """Tell whether the authority may sign for an address (IPv4 in dotted form)."""
    try:
        return any(ipaddress.IPv4Address(address) in net for net in PRIVATE)
    except ValueError:
        return False


def make_authority(key: EllipticCurvePrivateKey, name: str, now: int, serial: bytes) -> x509.Certificate:
    """Return the authority for a host name, valid ten years from `now` (UTC ms); `serial` is 16 random bytes."""
    subject = x509.Name([
        x509.NameAttribute(NameOID.ORGANIZATION_NAME, "Seat & Cure"),
        x509.NameAttribute(NameOID.COMMON_NAME, f"Lab of {name}"[:64]),
    ])
    usage = x509.KeyUsage(
        digital_signature=False, content_commitment=False, key_encipherment=False, data_encipherment=False,
        key_agreement=False, key_cert_sign=True, crl_sign=True, encipher_only=False, decipher_only=False,
    )
    permitted = [*(x509.DNSName(one) for one in names_of(name)), *(x509.IPAddress(net) for net in PRIVATE)]
    start = _moment(now) - BACKDATED
    return (
        x509.CertificateBuilder(subject, subject, key.public_key(), _number(serial))
        .not_valid_before(start).not_valid_after(start + timedelta(days=AUTHORITY_DAYS))
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(usage, critical=True)
        .add_extension(x509.NameConstraints(permitted, None), critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .sign(key, hashes.SHA256())
    )


def make_leaf(
    authority: x509.Certificate, signer: EllipticCurvePrivateKey, key: EllipticCurvePublicKey, name: str,
    addresses: Sequence[str], now: int, serial: bytes,
) -> x509.Certificate:
    """Return the PC's certificate for a host name and its addresses, valid 397 days from a day before `now` (UTC ms).

    It never outlives the authority. Addresses for which the authority may not sign are left out; `serial` is 16
    random bytes.
    """
    usage = x509.KeyUsage(
        digital_signature=True, content_commitment=False, key_encipherment=False, data_encipherment=False,
        key_agreement=False, key_cert_sign=False, crl_sign=False, encipher_only=False, decipher_only=False,
    )
    known = [ipaddress.IPv4Address(one) for one in addresses if may_stand(one)]
    alternatives = [*(x509.DNSName(one) for one in names_of(name)), *(x509.IPAddress(one) for one in known)]
    identifier = authority.extensions.get_extension_for_class(x509.SubjectKeyIdentifier).value
    start = max(_moment(now) - BACKDATED, authority.not_valid_before_utc)
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, name)])
    return (
        x509.CertificateBuilder(authority.subject, subject, key, _number(serial))
        .not_valid_before(start)
        .not_valid_after(min(start + timedelta(days=LEAF_DAYS), authority.not_valid_after_utc))
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(usage, critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.SubjectAlternativeName(alternatives), critical=False)
        .add_extension(x509.AuthorityKeyIdentifier.from_issuer_subject_key_identifier(identifier), critical=False)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key), critical=False)
        .sign(signer, hashes.SHA256())
    )


def why_new_leaf(leaf: x509.Certificate, name: str, addresses: Iterable[str], now: int) -> str:
    """Say why the PC needs a new certificate at `now` (UTC ms): "ends", "clock", "name", "addresses"; "" when not."""
    if days_left(leaf, now) < RENEW_DAYS:
        return "ends"
    if _moment(now) < leaf.not_valid_before_utc:
        return "clock"
    names, known = stands_for(leaf)
    if not set(names_of(name)) <= set(names):
        return "name"
    return "addresses" if {one for one in addresses if may_stand(one)} - set(known) else ""


def stands_for(leaf: x509.Certificate) -> tuple[list[str], list[str]]:
    """Return the names and the addresses of a certificate."""
    found = leaf.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    return found.get_values_for_type(x509.DNSName), [str(ip) for ip in found.get_values_for_type(x509.IPAddress)]


def together(now_known: Sequence[str], earlier: Sequence[str]) -> list[str]:
    """Return the addresses of now and then those of earlier days, at most sixteen."""
    return list(dict.fromkeys([*now_known, *earlier]))[:MOST_ADDRESSES]


def days_left(certificate: x509.Certificate, now: int) -> int:
    """Return whole days until a certificate ends, counted from `now` (UTC ms); negative afterwards."""
    return (certificate.not_valid_after_utc - _moment(now)).days


def fingerprint(certificate: x509.Certificate) -> list[str]:
    """Return the SHA-256 of a certificate as sixteen groups of four hexadecimal digits, to be read aloud."""
    digits = certificate.fingerprint(hashes.SHA256()).hex().upper()
    return [digits[at:at + 4] for at in range(0, len(digits), 4)]


def _moment(now: int) -> datetime:
    return datetime.fromtimestamp(now // 1000, UTC)


def _number(serial: bytes) -> int:
    """Return a serial number: positive and not zero, of at most 20 bytes (RFC 5280 4.1.2.2)."""
    return int.from_bytes(b"\x01" + serial[:16], "big")
