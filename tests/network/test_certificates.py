"""The lab's authority and the PC's certificate, as OpenSSL (module ssl) and the verifier of `cryptography` see them."""

import ssl
from datetime import UTC, datetime, timedelta
from ipaddress import ip_address
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat
from cryptography.x509.verification import PolicyBuilder, Store, VerificationError

from benchapp.network import certificates as made
from benchapp.network.certificates import days_left, fingerprint, make_authority, make_leaf, new_key, why_new_leaf

NAME = "bench.lan"
DAY = 86_400_000
NOW = 1_795_747_200_000  # 2026-11-27T02:40:00Z
ADDRESSES = ["192.168.1.20", "10.0.0.7"]
SIGNER, KEY = new_key(), new_key()
AUTHORITY = make_authority(SIGNER, NAME, NOW, bytes(range(16)))
LEAF = make_leaf(AUTHORITY, SIGNER, KEY.public_key(), NAME, ["127.0.0.1", *ADDRESSES], NOW, bytes(16))


def forged(name: str, addresses: list[str]) -> x509.Certificate:
    """Return a certificate for names that the authority may not sign for, signed all the same with its key."""
    names = [x509.DNSName(name), *(x509.IPAddress(ip_address(one)) for one in addresses)]
    start = datetime.fromtimestamp(NOW / 1000, UTC) - timedelta(hours=1)
    builder = x509.CertificateBuilder(AUTHORITY.subject, AUTHORITY.subject, KEY.public_key(), 77)
    for extension in LEAF.extensions:
        if not isinstance(extension.value, x509.SubjectAlternativeName):
            builder = builder.add_extension(extension.value, extension.critical)
    builder = builder.not_valid_before(start).not_valid_after(start + timedelta(days=90))
    builder = builder.add_extension(x509.SubjectAlternativeName(names), critical=False)
    return builder.sign(SIGNER, AUTHORITY.signature_hash_algorithm)


def handshake(place: Path, leaf: x509.Certificate, name: str, trust: x509.Certificate | None) -> None:
    """Let a client shake hands in memory with a server that shows `leaf`; raises what the client says against it."""
    files = place / "leaf.pem", place / "leaf.key"
    files[0].write_bytes(leaf.public_bytes(Encoding.PEM))
    files[1].write_bytes(KEY.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption()))
    serving = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    serving.load_cert_chain(*files)
    asking = ssl.create_default_context(cadata=trust.public_bytes(Encoding.PEM).decode() if trust else None)
    there, back = ssl.MemoryBIO(), ssl.MemoryBIO()
    client = asking.wrap_bio(back, there, server_hostname=name)
    server = serving.wrap_bio(there, back, server_side=True)
    waits = {client: client.do_handshake, server: server.do_handshake}
    for _turn in range(10):
        for side, step in list(waits.items()):
            try:
                step()
                del waits[side]
            except ssl.SSLWantReadError:
                continue
    assert not waits


# OpenSSL compares with the clock of this machine: certificates of this moment.
@pytest.fixture
def of_now(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let authority and certificates of this file be made at this moment."""
    import time

    now = time.time_ns() // 1_000_000
    authority = make_authority(SIGNER, NAME, now, bytes(range(16)))
    monkeypatch.setitem(globals(), "NOW", now)
    monkeypatch.setitem(globals(), "AUTHORITY", authority)
    leaf = make_leaf(authority, SIGNER, KEY.public_key(), NAME, ["127.0.0.1", *ADDRESSES], now, bytes(16))
    monkeypatch.setitem(globals(), "LEAF", leaf)


@pytest.mark.parametrize("name", [NAME, "bench.local", "localhost", "127.0.0.1", *ADDRESSES])
def test_a_tablet_that_trusts_the_authority_shakes_hands(tmp_path: Path, of_now: None, name: str) -> None:
    """OpenSSL takes the certificate for each of the PC's names and addresses."""
    handshake(tmp_path, LEAF, name, AUTHORITY)


def test_a_tablet_without_the_authority_refuses(tmp_path: Path, of_now: None) -> None:
    """OpenSSL refuses the certificate where the authority was not installed, or another lab's was."""
    other = make_authority(new_key(), NAME, NOW, bytes(16))
    for trust in (None, other):
        with pytest.raises(ssl.SSLCertVerificationError):
            handshake(tmp_path, LEAF, NAME, trust)


def test_another_name_is_refused(tmp_path: Path, of_now: None) -> None:
    """OpenSSL refuses the PC's certificate for any name or address that is not in it."""
    for name in ("bank.example", "other.lan", "x.bench.lan", "192.168.1.21"):
        with pytest.raises(ssl.SSLCertVerificationError, match="mismatch"):
            handshake(tmp_path, LEAF, name, AUTHORITY)


@pytest.mark.parametrize(("name", "addresses"), [("bank.example", []), (NAME, ["8.8.8.8"]), (NAME, ["2001:db8::1"])])
def test_a_stolen_key_opens_nothing_else(tmp_path: Path, of_now: None, name: str, addresses: list[str]) -> None:
    """OpenSSL refuses what the authority's own key signed for a name or address outside its constraints."""
    with pytest.raises(ssl.SSLCertVerificationError, match="permitted subtree violation"):
        handshake(tmp_path, forged(name, addresses), name, AUTHORITY)


def verified(leaf: x509.Certificate, name: str, at: int = NOW + DAY) -> int:
    """Return the length of the chain that the verifier of `cryptography` builds at a moment (UTC ms)."""
    policy = PolicyBuilder().store(Store([AUTHORITY])).time(datetime.fromtimestamp(at / 1000, UTC))
    return len(policy.build_server_verifier(x509.DNSName(name)).verify(leaf, []))


def test_a_second_verifier_agrees() -> None:
    """The verifier of `cryptography` takes what is right, and refuses other names, forged ones, and other days."""
    right = [(LEAF, NAME), (LEAF, "bench.local"), (forged("bench.local", []), "bench.local")]
    assert [verified(*one) for one in right] == [2, 2, 2]
    for leaf, name, at in ((LEAF, "bank.example", NOW), (forged("bank.example", []), "bank.example", NOW),
                           (forged(NAME, ["8.8.8.8"]), NAME, NOW), (LEAF, NAME, NOW + 400 * DAY),
                           (LEAF, NAME, NOW - 2 * DAY)):
        with pytest.raises(VerificationError):
            verified(leaf, name, at)


def test_how_long_they_hold() -> None:
    """Ten years the authority, 397 days the certificate, both from a day before; none outlives the authority."""
    assert AUTHORITY.not_valid_after_utc - AUTHORITY.not_valid_before_utc == timedelta(days=3653)
    assert LEAF.not_valid_after_utc - LEAF.not_valid_before_utc == timedelta(days=397)
    assert LEAF.not_valid_before_utc == datetime.fromtimestamp(NOW / 1000, UTC) - timedelta(days=1)
    late = make_leaf(AUTHORITY, SIGNER, KEY.public_key(), NAME, [], NOW + 3500 * DAY, bytes(16))
    assert late.not_valid_after_utc == AUTHORITY.not_valid_after_utc


def test_when_a_new_one_is_due() -> None:
    """Due with less than 30 days left, a clock set back, another name or a new private address; else not."""
    known = [*ADDRESSES, "127.0.0.1"]
    assert why_new_leaf(LEAF, NAME, known, NOW) == "" == why_new_leaf(LEAF, NAME, ADDRESSES[:1], NOW + 365 * DAY)
    assert days_left(LEAF, NOW + 366 * DAY) == 30 and why_new_leaf(LEAF, NAME, known, NOW + 366 * DAY) == ""
    assert why_new_leaf(LEAF, NAME, known, NOW + 366 * DAY + 1000) == "ends"
    assert why_new_leaf(LEAF, NAME, known, NOW + 500 * DAY) == "ends"
    assert why_new_leaf(LEAF, NAME, known, NOW - 2 * DAY) == "clock"
    assert why_new_leaf(LEAF, "other.lan", known, NOW) == "name"
    assert why_new_leaf(LEAF, NAME, [*known, "192.168.7.7"], NOW) == "addresses"
    assert why_new_leaf(LEAF, NAME, [*known, "203.0.113.9"], NOW) == ""  # no private one: it could not stand in it


def test_addresses_of_the_internet_are_left_out() -> None:
    """Only private addresses come in, and serial numbers are positive and of at most 20 bytes (RFC 5280 4.1.2.2)."""
    asked = ["203.0.113.9", "fe80::1", "172.16.0.1"]
    leaf = make_leaf(AUTHORITY, SIGNER, KEY.public_key(), NAME, asked, NOW, b"\xff" * 16)
    assert made.stands_for(leaf) == ([NAME, "bench.local", "localhost"], ["172.16.0.1"])
    assert 0 < leaf.serial_number < 1 << 159 and verified(leaf, NAME) == 2


def test_the_fingerprint_is_that_of_openssl() -> None:
    """Sixteen groups of four digits are the SHA-256 of the certificate's bytes, as hashlib has it."""
    import hashlib

    groups = fingerprint(AUTHORITY)
    assert len(groups) == 16 and {len(group) for group in groups} == {4}
    assert "".join(groups).lower() == hashlib.sha256(AUTHORITY.public_bytes(Encoding.DER)).hexdigest()


def test_earlier_addresses_stay() -> None:
    """Addresses of now come first, those of earlier days stay, sixteen at most."""
    earlier = [f"10.0.0.{n}" for n in range(40)]
    kept = made.together(["192.168.1.1", "10.0.0.3"], earlier)
    assert kept[:3] == ["192.168.1.1", "10.0.0.3", "10.0.0.0"] and len(kept) == 16 == len(set(kept))
