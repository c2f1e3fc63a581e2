"""`benchapp serve --lan` itself, on loopback: by TLS, under one name, beside slow clients, and through a renewal."""

import json
import signal
import socket
import ssl
import subprocess
import sys
import threading
import urllib.error
import urllib.request
from pathlib import Path
from typing import Any

import pytest
from cryptography import x509

from benchapp import chance
from benchapp.actions.jaws import line
from benchapp.network.certificates import fingerprint
from benchapp.network.folder import read_authority, read_leaf, renew
from benchapp.network.place import NetworkFault, read_network
from benchapp.serve import local_door, read_bench
from benchapp.serve_lan import Wished, prepare
from tests.network.live import NAME, LiveLan
from tests.web.early import take_in

PATIENCE_S = 60


def shown(lan: LiveLan, **context: Any) -> x509.Certificate:
    """Return the certificate that the server shows."""
    return x509.load_pem_x509_certificate(ssl.get_server_certificate(("127.0.0.1", lan.port), **context).encode())


def test_it_answers_who_trusts_its_authority(lan: LiveLan) -> None:
    """By its name, the one under `local` and `localhost` with the authority; without it, and by other names, never."""
    status, head, _body = lan.ask("GET", "/people.json")
    assert (status, "seat-and-cure" in head) == (200, True)
    assert lan.ask("GET", "/people.json", "localhost")[0] == 200
    status, head, _body = lan.ask("GET", "/desk/today?a=1", "bench.local")
    assert (status, head["location"]) == (308, f"{lan.origin}/desk/today?a=1")
    assert lan.ask("POST", "/outbox/1", "bench.local", [])[0] == 421
    with pytest.raises(ssl.SSLCertVerificationError, match="mismatch"):
        lan.ask("GET", "/people.json", "other.lan")
    with socket.create_connection(("127.0.0.1", lan.port)) as bare, pytest.raises(ssl.SSLCertVerificationError):
        ssl.create_default_context().wrap_socket(bare, server_hostname=NAME)


@pytest.mark.filterwarnings("ignore:ssl.TLSVersion.TLSv1_1 is deprecated")
def test_old_tls_is_refused(lan: LiveLan) -> None:
    """TLS 1.2 and 1.3 are spoken, 1.1 is not; the token of a tablet never goes out in the clear."""
    spoken = {}
    for version in (ssl.TLSVersion.TLSv1_1, ssl.TLSVersion.TLSv1_2, ssl.TLSVersion.TLSv1_3):
        trust = lan.trusting()
        trust.minimum_version, trust.maximum_version = ssl.TLSVersion.TLSv1_1, version
        if version is ssl.TLSVersion.TLSv1_1:
            trust.set_ciphers("ALL:@SECLEVEL=0")
        try:
            with socket.create_connection(("127.0.0.1", lan.port)) as bare, trust.wrap_socket(
                bare, server_hostname=NAME
            ) as safe:
                spoken[version.name] = safe.version()
        except ssl.SSLError:
            spoken[version.name] = None
    assert spoken == {"TLSv1_1": None, "TLSv1_2": "TLSv1.2", "TLSv1_3": "TLSv1.3"}
    assert "Secure" in lan.ask("GET", "/")[1]["set-cookie"]


def test_the_door_is_there_and_nothing_else(lan: LiveLan) -> None:
    """In plain HTTP the door gives the certificate that the server's own is signed by; pages and keys are not there."""
    def get(path: str) -> bytes:
        with urllib.request.urlopen(f"http://127.0.0.1:{lan.setup_port}{path}", timeout=PATIENCE_S) as answer:
            return bytes(answer.read())

    authority = x509.load_der_x509_certificate(get("/ca.crt"))
    assert authority == read_authority(lan.data)
    shown(lan).verify_directly_issued_by(authority)
    assert fingerprint(authority)[0] in get("/").decode()
    for path in ("/people.json", "/desk/", "/ca.key", "/setup"):
        with pytest.raises(urllib.error.HTTPError, match="404"):
            get(path)


def test_commands_find_the_server(lan: LiveLan) -> None:
    """A command on this PC hands a sheet in over TLS, by an address of its own, whatever the name leads to."""
    assert local_door(lan.data)[0] == lan.address
    code = take_in(lan, "OVER-TLS-1")
    assert code in json.dumps(lan.journal()[-1])


def test_slow_clients_hold_nobody_up(lan: LiveLan) -> None:
    """While 100 handshakes stall, 20 requests never end and 20 clients dawdle at the door, others are answered."""
    stalled = [socket.create_connection(("127.0.0.1", lan.port)) for _ in range(100)]
    for one in stalled[:50]:
        one.sendall(b"\x16\x03\x01\x02\x00\x01\x00")  # the beginning of a ClientHello, and no more
    slow = [lan.trusting().wrap_socket(socket.create_connection(("127.0.0.1", lan.port)), server_hostname=NAME)
            for _ in range(20)]
    dawdling = [socket.create_connection(("127.0.0.1", lan.setup_port)) for _ in range(20)]
    try:
        for one in (*slow, *dawdling):
            one.sendall(b"GET / HTTP/1.1\r\nHost: x")
        assert [lan.ask("GET", "/people.json")[0] for _ in range(20)] == [200] * 20
        with urllib.request.urlopen(f"http://127.0.0.1:{lan.setup_port}/ca.pem", timeout=PATIENCE_S) as answer:
            assert answer.status == 200
    finally:
        for one in (*stalled, *slow, *dawdling):
            one.close()


def test_a_second_server_is_refused(lan: LiveLan) -> None:
    """A second start on the same folder says which port is taken and what to do, and the first one goes on."""
    said = lan.run("serve", "--data", str(lan.data), *lan.served, expect=1).stderr
    assert f"Port {lan.port} on 127.0.0.1 is in use" in said and "network.toml" in said and "Traceback" not in said
    assert lan.answers()


def fact(lan: LiveLan, number: int) -> dict[str, Any]:
    """Return a fact of the demo's jaw: whether it fits or not, it is stored."""
    with (bench := read_bench(lan.data)).store:
        found = line(bench, lan.code)
    return {
        "v": 1, "kind": "confirm", "id": f"through-{number}", "case": found.case["code"], "jaw": lan.code, "round": 0,
        "step": "intake", "places": ["-"], "outcome": "order-accepted", "values": [], "picks": {},
        "by": {"person": "x", "how": "pin", "signin": ""},
        "from": {"tablet": "", "boot": "b1", "n": number, "app": "test", "table": found.table_hash},
        "at": {"wall": chance.now_ms(), "offset": 0, "age": 0, "mono": 1}, "saw": {"seq": 0, "ms": 1000},
    }  # fmt: skip


def test_a_new_certificate_is_taken_up_under_load(lan: LiveLan) -> None:
    """Facts are sent without a pause while the certificate changes: every one that was answered is stored, once.

    What is not answered is sent again, as a tablet does; the new certificate is shown without anybody's help.
    """
    cookie = lan.ask("GET", "/")[1]["set-cookie"].split(";")[0]
    pattern, before = fact(lan, 0), shown(lan)
    answered: list[str] = []
    over, wrong = threading.Event(), []

    def tablet(which: int) -> None:
        number = which
        while not over.is_set():
            sent = pattern | {"id": f"through-{number}", "from": pattern["from"] | {"n": number}}
            try:
                status, _head, body = lan.ask("POST", "/outbox/1", body=[sent], headers={"Cookie": cookie})
            except OSError:  # sent again
                over.wait(0.02)
                continue
            if status == 200:
                answered.extend(ack["id"] for ack in json.loads(body)["acks"])
                number += 2
            else:
                wrong.append((status, body))

    tablets = [threading.Thread(target=tablet, args=(which,)) for which in (1, 2)]
    for one in tablets:
        one.start()
    network = read_network(lan.data)
    assert network
    renew(lan.data, network, [], chance.now_ms(), chance.random_bytes)
    wait_for(lambda: shown(lan) == read_leaf(lan.data) != before)
    count = len(answered)
    wait_for(lambda: len(answered) > count + 10)
    over.set()
    for one in tablets:
        one.join(PATIENCE_S)
    stored = [body["event"]["id"] for body in lan.journal() if body["event"]["id"].startswith("through-")]
    assert wrong == [] and len(stored) == len(set(stored))
    assert set(answered) <= set(stored) and len(answered) > 20


def wait_for(reached: Any) -> None:
    """Wait until something is so in another process; OSError counts as not yet."""
    pause = threading.Event()
    for _turn in range(PATIENCE_S * 10):
        try:
            if reached():
                return
        except OSError:
            pass
        pause.wait(0.1)  # waiting for another process is the one place where a test may pause
    raise AssertionError("it did not come to that")


@pytest.mark.skipif(sys.platform == "win32", reason="sends the signal of a hard kill to one process")
def test_a_hard_kill_leaves_nothing_behind(tmp_path: Path) -> None:
    """When the watching process is killed, pages and door end by themselves, and both ports are free again."""
    lab = LiveLan(tmp_path / "data").start()  # an empty folder: its set-up page answers
    assert lab.process and lab.ask("GET", "/")[1]["location"] == "/setup" and lab.ask("GET", "/setup")[0] == 200
    try:
        lab.process.send_signal(signal.SIGKILL)
        lab.process.wait(PATIENCE_S)
        for port in (lab.port, lab.setup_port):
            wait_for(lambda port=port: _refuses(port))
    finally:
        lab.process = None


def _refuses(port: int) -> bool:
    with socket.socket() as probe:
        return probe.connect_ex(("127.0.0.1", port)) != 0


def test_the_name_is_asked_once_and_stays(tmp_path: Path) -> None:
    """The name comes from the command or a question; afterwards another name or port is refused with the reason."""
    said: list[str] = []
    made = prepare(tmp_path, Wished(port=9443), lambda: "bench.lan", said.append)
    assert (made.name, made.port, made.setup_port, made.bind) == ("bench.lan", 9443, 8322, "0.0.0.0")
    assert len(said) == 1 and "bench.lan" in said[0] and "set the PC's clock right" in said[0]
    never = pytest.fail
    assert prepare(tmp_path, Wished(name="bench.lan", port=9443), lambda: never("asked again")) == made
    for wished, words in ((Wished(name="other.lan"), "so it stays"), (Wished(port=8321), "so it stays"),
                          (Wished(setup_port=9), "change it in that file"), (Wished(bind="127.0.0.1"), "--bind 127")):
        with pytest.raises(NetworkFault, match=words):
            prepare(tmp_path, wished, lambda: never("asked again"))
    assert read_network(tmp_path) == made


@pytest.mark.parametrize(("arguments", "words"), [
    (["--name", "bench.lan"], "go with --lan"), (["--lan", "--name", "192.168.1.5"], "is an address"),
    (["--lan", "--name", "bench.lan", "--bind", "everywhere"], "no IPv4 address"),
])
def test_what_cannot_be_served_is_refused(tmp_path: Path, arguments: list[str], words: str) -> None:
    """Options that do not fit, a name that is none and an address that is none end in a sentence; nothing is made."""
    done = subprocess.run(
        [sys.executable, "-m", "benchapp", "serve", "--data", str(tmp_path / "data"), *arguments],
        capture_output=True, text=True, encoding="utf-8", check=False, timeout=PATIENCE_S,
    )
    assert done.returncode in (1, 2) and words in done.stderr + done.stdout and "Traceback" not in done.stderr
    assert not (tmp_path / "data" / "network").exists()
