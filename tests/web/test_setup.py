"""Setting a new lab up: on its PC only, once, and nothing else is open before."""

import contextlib
import subprocess
import sys
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest
from flask.testing import FlaskClient

from benchapp.actions.bench import Bench, Chance
from benchapp.actions.lab import lab_of, people
from benchapp.store import folder
from tests.live import LiveLab
from tests.web.clients import app_over

FORM = {
    "lab": "Harbour lab", "address": "Quay 1", "zone": "America/Lima", "name": "Ana Noor", "pin": "97531086",
    "again": "97531086",
}
NASTY = "<script>window.ran = 1</script>"


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    """A bench over a data folder that was made and nothing more."""
    import random

    ids = random.Random(3)
    folder.create(tmp_path / "new", "lab-of-the-tests")
    chance = Chance(lambda: f"id-{ids.getrandbits(64):016x}", ids.randbytes, ids.choice)
    with folder.open_for_writing(tmp_path / "new") as store:
        yield Bench(store, lambda: 1_795_507_200_000, chance, "0.1.0")


@pytest.fixture
def client(bench: Bench) -> Iterator[FlaskClient]:
    """A browser on the lab's PC."""
    with app_over(bench, "key") as app:
        yield app.test_client()


def test_every_page_leads_there_until_it_is_done(client: FlaskClient, bench: Bench) -> None:
    """Pages are led to the set-up page, other requests refused in words; scripts and styles come as always."""
    for address in ("/", "/desk/today", "/desk/signin", "/people.json", "/bench/1", "/nothing"):
        answer = client.get(address)
        assert (answer.status_code, answer.headers["Location"]) == (302, "/setup"), address
    answer = client.post("/signin", json={"person": "x", "pin": "1"}, headers={"Accept": "application/json"})
    assert answer.status_code == 409 and "/setup" in answer.get_json()["error"]
    with client.get("/static/css/desk.css") as style:
        assert style.status_code == 200
    assert client.post("/local/lab").status_code == 403  # the command's door asks for its key, as always
    assert bench.store.tip().seq == 0


def test_the_first_supervisor(client: FlaskClient, bench: Bench) -> None:
    """The form makes the lab and one person with both roles, who then signs in at the desk; the PIN stands nowhere."""
    assert client.post("/setup", data=FORM).headers["Location"] == "/desk/signin"
    (person,) = people(bench)
    assert (person.name, person.roles) == ("Ana Noor", ("technician", "supervisor"))
    assert (lab_of(bench).name, lab_of(bench).zone) == ("Harbour lab", "America/Lima")
    assert "Ana Noor" in client.get("/desk/signin").text
    answer = client.post("/desk/signin", data={"person": person.id, "pin": FORM["pin"], "next": "/desk/people"})
    assert answer.headers["Location"] == "/desk/people" and client.get("/desk/people").status_code == 200
    kept = b"".join(f.read_bytes() for f in bench.store.path.parent.glob("bench.sqlite3*"))
    assert FORM["pin"].encode() not in kept


def test_it_cannot_be_used_twice(client: FlaskClient, bench: Bench) -> None:
    """Afterwards the page and its form are refused with a sentence and nothing changes."""
    client.post("/setup", data=FORM)
    before = bench.store.tip()
    assert "set up already" in client.get("/setup").text
    again = client.post("/setup", data=FORM | {"name": "Somebody else"})
    assert again.status_code == 409 and "set up already" in again.text
    assert bench.store.tip() == before and len(people(bench)) == 1


@pytest.mark.parametrize(("remote", "host", "status"), [
    ("127.0.0.1", "127.0.0.1:8321", 200), ("127.0.0.1", "localhost:8321", 200), ("::1", "[::1]:8321", 200),
    ("192.168.1.20", "127.0.0.1:8321", 401), ("", "localhost", 401), ("10.0.0.1", "localhost", 401),
    ("127.0.0.1", "elsewhere.example:8321", 401), ("127.0.0.1", "192.168.1.20:8321", 401),
])
def test_only_from_the_pc_itself(client: FlaskClient, bench: Bench, remote: str, host: str, status: int) -> None:
    """Another machine is refused, and so is another site's name that leads to this PC; nothing is stored."""
    asked = {"environ_base": {"REMOTE_ADDR": remote}, "headers": {"Host": host}}
    assert client.get("/setup", **asked).status_code == status  # type: ignore[arg-type]
    if status != 200:
        assert client.post("/setup", data=FORM, **asked).status_code == status  # type: ignore[arg-type]
        assert bench.store.tip().seq == 0


def test_another_sites_form_is_turned_away(client: FlaskClient, bench: Bench) -> None:
    """A form of another origin, or of one that the browser will not name, sets nothing up; our own does."""
    for headers in ({"Origin": "https://elsewhere.example"}, {"Origin": "null"},
                    {"Origin": "null", "Sec-Fetch-Site": "cross-site"}):
        answer = client.post("/setup", data=FORM, headers=headers)
        assert answer.status_code == 401 and bench.store.tip().seq == 0
    ours = {"Origin": "http://localhost", "Sec-Fetch-Site": "same-origin"}
    assert client.post("/setup", data=FORM, headers=ours).status_code == 303


def test_faults_are_said_all_at_once(client: FlaskClient, bench: Bench) -> None:
    """Everything wrong stands above the form, what was typed in it, and neither PIN; nothing is stored."""
    bad = {"lab": " ", "address": "x" * 81, "zone": "Mars/Olympus", "name": NASTY, "pin": "12345", "again": "54321"}
    answer = client.post("/setup", data=bad)
    assert answer.status_code == 422 and answer.text.count("<li>") == 4
    assert "&lt;script&gt;" in answer.text and "<script>window" not in answer.text
    assert "12345" not in answer.text and "54321" not in answer.text
    for pin in ("", "123", "abcd", "123456789", "１２３４"):
        assert "four to eight digits" in client.post("/setup", data=FORM | {"pin": pin, "again": pin}).text
    assert client.post("/setup", data={}).status_code == 422
    assert bench.store.tip().seq == 0


def test_a_lab_sheet_without_people_is_finished_here(client: FlaskClient, bench: Bench) -> None:
    """Where a sheet named the lab and nobody, the form begins with what is known."""
    from benchapp.actions.lab import add_lab
    from benchapp.core.sheet import read_lab

    add_lab(bench, read_lab("lab.toml", 'format = 1\nname = "Pier lab"\naddress = "Pier 9"\nzone = "Asia/Tokyo"\n'))
    text = client.get("/setup").text
    assert 'value="Pier lab"' in text and "<option selected>Asia/Tokyo</option>" in text


@pytest.mark.parametrize("there", [False, True])
def test_serve_makes_a_folder_where_there_is_none(tmp_path: Path, there: bool) -> None:
    """On an absent or an empty folder the server starts, prints where to go, and shows the form at its address."""
    lab = LiveLab(tmp_path / "new")
    if there:
        lab.data.mkdir()
    lab.process = subprocess.Popen(
        [sys.executable, "-u", "-m", "benchapp", "serve", "--data", str(lab.data), "--port", str(lab.port)],
        stdout=subprocess.PIPE, start_new_session=True,
    )
    try:
        assert lab.process.stdout
        said = lab.process.stdout.readline().decode() + lab.process.stdout.readline().decode()
        assert f"{lab.address}/setup" in said
        while not lab.answers():
            with contextlib.suppress(subprocess.TimeoutExpired):
                pytest.fail(f"the server ended with {lab.process.wait(0.05)}")
        with urllib.request.urlopen(f"{lab.address}/desk/today", timeout=5) as page:
            assert page.url == f"{lab.address}/setup"
            assert "<h1>Set this laboratory up</h1>" in page.read().decode()
    finally:
        if lab.process and lab.process.stdout:
            lab.process.stdout.close()
        lab.kill()


def test_serve_leaves_other_folders_alone(tmp_path: Path) -> None:
    """A folder with somebody's files and no database is named as before, and nothing is added to it."""
    (tmp_path / "letters").mkdir()
    (tmp_path / "letters" / "letter.txt").write_text("words", "utf-8")
    lab = LiveLab(tmp_path / "letters")
    done = lab.run("serve", "--data", str(lab.data), "--port", str(lab.port), expect=1)
    assert "There is no bench.sqlite3" in done.stderr
    assert [f.name for f in lab.data.iterdir()] == ["letter.txt"]
