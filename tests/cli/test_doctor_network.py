"""The doctor at a network's files: real certificates, a server that shows them, and what is broken in them."""

import http.server
import ssl
import threading
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat
from cryptography.x509.oid import NameOID

from benchapp.cli.doctor_network import answers, of_network
from tests.live import free_port

BEGUN = datetime(2026, 1, 1, tzinfo=UTC)
NOW = round((BEGUN + timedelta(days=10)).timestamp() * 1000)


def named(name: str) -> x509.Name:
    """Return a name as certificates have it."""
    return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, name)])


def certified(folder: Path, days: int, begun: datetime = BEGUN) -> None:
    """Write an authority and a certificate for localhost into a folder."""
    folder.mkdir(exist_ok=True)
    keys = ec.generate_private_key(ec.SECP256R1()), ec.generate_private_key(ec.SECP256R1())
    for file, key, authority in (("ca", keys[0], True), ("leaf", keys[1], False)):
        made = (
            x509.CertificateBuilder(named("The lab's own"), named(file if not authority else "The lab's own"),
                                    key.public_key(), x509.random_serial_number())
            .not_valid_before(begun).not_valid_after(begun + timedelta(days=3650 if authority else days))
            .add_extension(x509.BasicConstraints(authority, None), critical=True)
        )
        if not authority:
            made = made.add_extension(x509.SubjectAlternativeName([x509.DNSName("localhost")]), critical=False)
        (folder / f"{file}.pem").write_bytes(made.sign(keys[0], hashes.SHA256()).public_bytes(Encoding.PEM))
    (folder / "leaf.key").write_bytes(
        keys[1].private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption()))


class Answer(http.server.BaseHTTPRequestHandler):
    """Answers as the server does: with its header."""

    def do_GET(self) -> None:
        """Answer anything."""
        self.send_response(200)
        self.send_header("Seat-And-Cure", "x")
        self.end_headers()

    def log_message(self, format: str, *args: object) -> None:
        """Say nothing."""


@pytest.fixture
def served(tmp_path: Path) -> Iterator[tuple[Path, str]]:
    """A data folder with a network for localhost, and the address of a server that shows its certificate."""
    now = datetime.now(UTC)
    certified(tmp_path / "network", 300, now - timedelta(days=1))
    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Answer)
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(tmp_path / "network" / "leaf.pem", tmp_path / "network" / "leaf.key")
    server.socket = context.wrap_socket(server.socket, server_side=True)
    thread = threading.Thread(target=server.serve_forever, args=(0.01,))
    thread.start()
    written(tmp_path, server.server_port)
    yield tmp_path, f"https://127.0.0.1:{server.server_port}"
    server.shutdown()
    thread.join()
    server.server_close()


def written(data: Path, port: int, name: str = "localhost") -> None:
    """Write the file of a network, with more in it than the doctor asks for."""
    text = f'format = 1\nname = "{name}"\nport = {port}\nsetup_port = 8322\nbind = "127.0.0.1"\nmore = 1\n'
    (data / "network" / "network.toml").write_text(text, "utf-8")


def levels(data: Path, address: str, now: int) -> dict[str, str]:
    """Return the level of each check."""
    return {one.check: one.level for one in of_network(data, address, now)}


def test_no_network_is_nothing_to_say(tmp_path: Path) -> None:
    """A lab without a network gets no line about one."""
    assert of_network(tmp_path, "", NOW) == []


def test_all_is_well_while_the_server_answers(served: tuple[Path, str]) -> None:
    """Name, certificates and the way by the lab's authority are ok while the server runs."""
    data, address = served
    now = round(datetime.now(UTC).timestamp() * 1000)
    assert levels(data, address, now) == dict.fromkeys(("network", "authority", "certificate", "name", "way"), "ok")
    assert answers(address) and not answers(address.replace("https", "http"))


def test_a_certificate_of_another_authority_is_wrong(served: tuple[Path, str]) -> None:
    """What answers by another authority's certificate is not the lab's server."""
    data, address = served
    certified(data / "network", 300, datetime.now(UTC) - timedelta(days=1))
    now = round(datetime.now(UTC).timestamp() * 1000)
    assert levels(data, address, now)["way"] == "wrong"


def test_ended_and_not_begun_by_a_clock_that_is_handed_in(tmp_path: Path) -> None:
    """A certificate is judged by the time that is handed in; no server answers here."""
    certified(tmp_path / "network", 100)
    written(tmp_path, free_port())
    day = 86_400_000
    at = {days: levels(tmp_path, "", NOW + days * day) for days in (-20, 0, 80, 100)}
    assert [at[days]["certificate"] for days in (-20, 0, 80, 100)] == ["wrong", "ok", "look", "wrong"]
    assert at[-20]["authority"] == "wrong" and at[0]["way"] == "look"


@pytest.mark.parametrize("text", [
    "", "name = 1\nport = 2\nsetup_port = 3\n", 'name = "x"\nport = 0\nsetup_port = 3\n', "\x00", "name = ",
    'name = "x"\nport = true\nsetup_port = 3\n',
])
def test_a_file_that_is_not_sound_is_one_wrong_line(tmp_path: Path, text: str) -> None:
    """Whatever stands in the files of a network, the doctor says what is wrong and goes on."""
    (tmp_path / "network").mkdir()
    (tmp_path / "network" / "network.toml").write_text(text, "utf-8")
    (tmp_path / "network" / "ca.pem").write_text("no certificate", "utf-8")
    assert levels(tmp_path, "", NOW) == {"network": "wrong", "authority": "wrong"}
