"""Served in the lab's network: one origin, who asks from the PC, the page at the desk and the sheets of the door."""

from collections.abc import Iterator
from dataclasses import dataclass
from html import unescape
from pathlib import Path

import pytest
from cryptography import x509
from flask.testing import FlaskClient

from benchapp.core.words import Catalogue, using
from benchapp.network import addresses
from benchapp.network.certificates import fingerprint
from benchapp.network.door import door
from benchapp.network.folder import make_network, read_authority
from benchapp.web import lan
from benchapp.web.app import create_app
from benchapp.web.network_door import sheets
from tests.network.test_folder import CHANCE, NETWORK
from tests.speech import unspoken
from tests.web.clients import app_over
from tests.web.desks import SUPERVISOR, TECHNICIAN, Desk, desk

PEOPLE = (SUPERVISOR[0], TECHNICIAN[0])
BRACKETS = Catalogue("en", "brackets", "⟦{}⟧".format, lambda one, many, n: f"⟦{one if n == 1 else many}⟧")
PC, OWN, TABLET = "127.0.0.1", "192.168.1.20", "192.168.1.77"


@dataclass
class Asked:
    """A desk whose PC serves the lab's network, and its client."""

    desk: Desk
    client: FlaskClient

    def by(self, host: str, remote: str, address: str = "/people.json", method: str = "GET", **more: object) -> object:
        """Ask under a host name from a machine; return the answer."""
        return self.client.open(
            address, method=method, base_url=f"https://{host}", environ_base={"REMOTE_ADDR": remote}, **more)


@pytest.fixture
def served(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Asked]:
    """The application as `benchapp serve --lan` makes it, at a PC with one address in the lab's network."""
    monkeypatch.setattr(lan, "is_own", lambda address: address in (PC, OWN))
    with desk(tmp_path / "data") as found:
        make_network(tmp_path / "data", NETWORK, [OWN], found.jaw.bench.clock(), CHANCE)
        with app_over(found.jaw.bench, "key", NETWORK) as app:
            client = app.test_client()
            yield Asked(Desk(client, found.jaw), client)


@pytest.mark.parametrize("host", ["bench.local:8321", "bench.lan", "192.168.1.20:8321", "elsewhere.example:8321"])
def test_pages_have_one_origin(served: Asked, host: str) -> None:
    """Under any other name or address a page leads to the one origin, for good but not kept; nothing else is done."""
    for method in ("GET", "HEAD"):
        answer = served.by(host, TABLET, "/bench/x?a=1&b=%20", method)
        assert (answer.status_code, answer.headers["Location"]) == (308, "https://bench.lan:8321/bench/x?a=1&b=%20")
        assert answer.headers["Cache-Control"] == "no-store" and "Set-Cookie" not in answer.headers
    bench = served.desk.jaw.bench
    before = bench.store.tip()
    answer = served.by(host, TABLET, "/outbox/1", "POST", data=b"[]", headers={"Accept": "application/json"})
    assert answer.status_code == 421 and "https://bench.lan:8321" in answer.get_json()["error"]
    assert bench.store.tip() == before


@pytest.mark.parametrize(("asked", "led"), [
    ("/a%0D%0ASet-Cookie:x=1", "/a%0D%0ASet-Cookie%3Ax%3D1"), ("/x//elsewhere.example", "/x//elsewhere.example"),
    ("/ż?x=ż&y=%2F", "/%C5%BC?x=%C5%BC&y=%2F"), ("/%5Celsewhere.example", "/%5Celsewhere.example"), ("/?", "/"),
])
def test_whatever_is_asked_for_leads_nowhere_else(served: Asked, asked: str, led: str) -> None:
    """Signs that could break out of the address are written as numbers, and the host is always the PC's own."""
    answer = served.by("192.168.1.20:8321", TABLET, asked)
    assert (answer.status_code, answer.headers["Location"]) == (308, f"https://bench.lan:8321{led}")


def test_the_canonical_name_is_answered(served: Asked) -> None:
    """Under its own name, in letters of any size, the PC answers; no answer keeps a browser from the door in HTTP."""
    for host in ("bench.lan:8321", "Bench.LAN:8321"):
        answer = served.by(host, PC)
        assert answer.status_code == 200 and "Strict-Transport-Security" not in answer.headers


@pytest.mark.parametrize(("host", "remote", "on_the_pc"), [
    ("localhost:8321", PC, True), ("127.0.0.1:8321", PC, True), ("[::1]:8321", "::1", True),
    ("bench.lan:8321", PC, True), ("bench.lan:8321", OWN, True), ("BENCH.lan:8321", OWN, True),
    ("bench.lan:8321", TABLET, False), ("bench.lan:8321", "", False), ("localhost:8321", TABLET, False),
    ("localhost:8321", OWN, False), ("bench.lan", OWN, False), ("bench.local:8321", OWN, False),
    ("192.168.1.20:8321", OWN, False), ("elsewhere.example:8321", PC, False), ("bench.lan.example:8321", PC, False),
])
def test_who_asks_from_the_pc(served: Asked, host: str, remote: str, on_the_pc: bool) -> None:
    """The PC is known by its own address together with `localhost` or its one name; a tablet under neither."""
    environ = {"base_url": f"https://{host}", "environ_base": {"REMOTE_ADDR": remote}}
    with served.client.application.test_request_context("/", **environ):
        assert lan.from_the_pc() is on_the_pc
    other = create_app(served.desk.jaw.bench, "key")
    with other.test_request_context("/", **environ):  # without --lan the name counts for nothing
        assert lan.from_the_pc() is (on_the_pc and "bench" not in host.lower())


def test_own_addresses_are_those_of_this_machine() -> None:
    """Loopback and what the system lists are its own; addresses of others, of nobody and of all are not."""
    assert all(addresses.is_own(one) for one in ("127.0.0.1", "::1", *addresses.own_addresses()))
    for other in ("198.51.100.7", "0.0.0.0", "255.255.255.255", "224.0.0.251", "", "bench.lan", "1.2.3"):
        assert not addresses.is_own(other)


def test_commands_hand_sheets_in_by_any_address(served: Asked) -> None:
    """Who holds the key of the data folder asks by an address of the PC, and is led nowhere."""
    served.client.application.config["LOCAL_KEY"] = "key"
    for key, status in (("key", 409), ("guess", 401)):
        said = {"Accept": "application/json", "X-Local-Key": key}
        assert served.by("192.168.1.20:8321", OWN, "/local/add", "POST", json={}, headers=said).status_code == status


def seated(served: Asked, who: tuple[str, str]) -> Desk:
    """Let somebody sit down at the PC's desk under `localhost`."""
    served.client.environ_base["HTTP_HOST"] = "localhost:8321"
    return served.desk.sit(*who)


def test_the_page_at_the_desk(served: Asked, tmp_path: Path) -> None:
    """A supervisor sees name, door, the authority's fingerprint and how long both certificates hold."""
    page = unescape(seated(served, SUPERVISOR).get("/desk/network"))
    for words in ("https://bench.lan:8321", "bench.local", "http://bench.lan:8322/", "<td>396</td>", "data-door="):
        assert words in page
    for group in fingerprint(read_authority(tmp_path / "data")):
        assert f"<span>{group}</span>" in page
    (tmp_path / "data" / "network" / "leaf.pem").unlink()
    assert page.count("<tr>") - 1 == unescape(served.desk.get("/desk/network")).count("<tr>")


def test_others_do_not_see_it(served: Asked) -> None:
    """A technician is refused, and without the lab's network the page says how it is served."""
    seated(served, TECHNICIAN).get("/desk/network", 403)
    with served.client.application.app_context():
        served.client.application.config["NETWORK"] = None
    assert "benchapp serve --lan --data DIR" in served.desk.sit(*SUPERVISOR).get("/desk/network")


def test_the_door_gives_the_authority_and_the_steps(served: Asked, tmp_path: Path) -> None:
    """The certificate as DER and PEM, its fingerprint, the address afterwards; no script, nothing from elsewhere."""
    authority = read_authority(tmp_path / "data")
    given = sheets(NETWORK, authority)
    assert set(given) == {"/", "/ca.crt", "/ca.pem"}
    assert x509.load_der_x509_certificate(given["/ca.crt"].content) == authority
    assert x509.load_pem_x509_certificate(given["/ca.pem"].content) == authority
    assert given["/ca.crt"].kind == "application/x-x509-ca-cert"
    steps = given["/"].content.decode()
    assert all(f"<span>{group}</span>" in steps for group in fingerprint(authority))
    assert 'href="https://bench.lan:8321/"' in steps and "<script" not in steps and "PRIVATE" not in steps
    assert "script-src" not in (policy := dict(given["/"].more)["Content-Security-Policy"]) and "sha256-" in policy


def test_the_doors_words_come_from_the_catalogue(served: Asked, tmp_path: Path) -> None:
    """In a made-up language every word of the steps and of the page at the desk is from the catalogue."""
    authority = read_authority(tmp_path / "data")
    data = (*fingerprint(authority), "https://bench.lan:8321/", "Seat & Cure", "·")
    with using(BRACKETS):
        steps = sheets(NETWORK, authority)["/"].content.decode()
        page = seated(served, SUPERVISOR).get("/desk/network")
    assert unspoken(steps, data) == []
    doors = [f"http://{one}:8322/" for one in (*addresses.own_addresses(), "127.0.0.1", "bench.lan")]
    assert unspoken(page, (*data, *doors, "https://bench.lan:8321", "bench.lan", "bench.local", *PEOPLE)) == []


@pytest.mark.parametrize(("method", "path", "status"), [
    ("GET", "/", 200), ("HEAD", "/ca.crt", 200), ("POST", "/", 404), ("GET", "/people.json", 404), ("GET", "", 404),
    ("GET", "/ca.key", 404), ("GET", "/../network/ca.key", 404), ("OPTIONS", "*", 404), ("GET", "/ca.crt/", 404),
])
def test_everything_else_is_not_there(served: Asked, tmp_path: Path, method: str, path: str, status: int) -> None:
    """The door answers three paths; to HEAD with the head alone."""
    said: list[tuple[str, list[tuple[str, str]]]] = []
    answer = door(sheets(NETWORK, read_authority(tmp_path / "data")))
    body = b"".join(answer({"REQUEST_METHOD": method, "PATH_INFO": path}, lambda *heads: said.append(heads)))
    assert said[0][0].startswith(str(status)) and (body == b"") is (method == "HEAD")
