"""Tablets: enrolled by a code, named, struck off and enrolled anew; guesses are slowed; nothing that waits is lost."""

import io
import json
import random
import re
import threading
from base64 import b64decode
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import zxingcpp
from flask.testing import FlaskClient
from PIL import Image

from benchapp.actions import tablets as actions
from benchapp.actions.guesses import CODES, ENROL
from benchapp.actions.keeping import bring_back, make_backup
from benchapp.actions.restoring import note_restored
from benchapp.actions.staff import add_person, change_person
from benchapp.core.codes import make_code
from benchapp.network.place import Network
from benchapp.store.errors import DiskFull
from benchapp.store.folder import open_for_writing
from benchapp.store.verify import Checkpoint
from benchapp.store.writes import Writer
from benchapp.web.app import create_app
from tests.web.clients import KEY, deliver, fact
from tests.web.desks import TECHNICIAN, Desk, desk, enrolled, from_network

JSON = {"Accept": "application/json"}
MINUTE = 60_000


@pytest.fixture
def at(tmp_path: Path) -> Iterator[Desk]:
    """A desk at which a supervisor sits."""
    with desk(tmp_path / "data") as found:
        yield found


def shown(at: Desk, **form: str) -> str:
    """Let the desk show a code; return it as its page has it."""
    at.post("/desk/tablets/code", **form)
    return re.findall(r'data-enrol="(\w+)"', at.get("/desk/tablets/codes"))[0]


def tablet(at: Desk, name: str) -> actions.Tablet:
    """Return a tablet of the list by its name."""
    return next(one for one in at.tablets() if one.name == name)


def use(client: FlaskClient, code: str, name: str = "", **what: Any) -> Any:
    """Type a code on a device's page of enrolment."""
    return client.post("/enrol", data={"code": code, "name": name}, **what)


def bodies(at: Desk, kind: str) -> list[dict[str, Any]]:
    """Return the journal's entries of a kind."""
    return [json.loads(entry.body) for entry in at.jaw.bench.store.tagged("kind", kind)]


def test_a_code_enrols_one_tablet_once(at: Desk) -> None:
    """The desk shows a code, the tablet types it and has the first page with its name; a second one is refused."""
    client, code = from_network(at), shown(at, name="Window 2")
    assert "Enrol this tablet" in client.get("/").text
    typed = f"{code[:4].lower()} {code[4:7]}-{code[7:]}"
    answer = use(client, typed)
    assert (answer.status_code, answer.headers["Location"]) == (303, "/")
    assert "This tablet is Window 2." in client.get("/").text
    cookie = client.get_cookie("tablet")
    assert cookie and cookie.http_only and cookie.same_site == "Strict" and (cookie.max_age or 0) > 300 * 24 * 3600
    assert "Used: Window 2 is enrolled." in at.get("/desk/tablets/codes/list")
    again = use(from_network(at, "192.168.7.21"), code)
    assert again.status_code == 403 and "it was used" in again.text
    (body,) = bodies(at, "tablet")
    event, one = body["event"], tablet(at, "Window 2")
    assert (event["outcome"], event["data"]["thing"]) == ("enrolled", one.id)
    assert event["by"]["person"] == at.seat().person.id
    assert event["by"]["signin"] and event["from"]["tablet"] == one.id and "Window" not in json.dumps(body)
    assert cookie.value not in json.dumps(body) and cookie.value.encode() not in at.jaw.bench.store.path.read_bytes()


def test_the_symbol_holds_the_address_and_the_code(at: Desk) -> None:
    """What another reader (zxing-cpp) reads from the symbol is the address of enrolment; without a network none is
    shown, and the code is there in words."""
    code = shown(at)
    page = at.get("/desk/tablets/codes")
    assert "data:image/png" not in page and f"{code[:4]} {code[4:7]} {code[7:]}" in page
    at.client.application.config["NETWORK"] = Network(
        name="bench.lan", port=8321, setup_port=8322, bind="0.0.0.0")
    (picture,) = re.findall(r'src="data:image/png;base64,([^"]+)"', at.get("/desk/tablets/codes"))
    (read,) = zxingcpp.read_barcodes(Image.open(io.BytesIO(b64decode(picture))))
    assert read.text == f"https://bench.lan:8321/enrol?code={code}"
    assert f'value="{code}"' in from_network(at).get(f"/enrol?code={code}", base_url="https://bench.lan:8321").text


def test_many_devices_with_one_code_at_once(at: Desk) -> None:
    """Eight devices type the same code at the same moment: one is enrolled, seven are refused, one entry is stored."""
    code, ready = shown(at, name="Window 2"), threading.Barrier(8)
    clients = [from_network(at, f"192.168.7.{number}") for number in range(8)]

    def type_it(client: FlaskClient) -> int:
        ready.wait()
        return int(use(client, code).status_code)

    with ThreadPoolExecutor(8) as hands:
        assert sorted(hands.map(type_it, clients)) == [303] + 7 * [403]
    assert len(bodies(at, "tablet")) == 1 and [t.name for t in at.tablets() if t.kind != actions.PC] == ["Window 2"]


def test_a_full_disk_uses_up_no_code(at: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    """What could not be stored is said, what was typed comes back, and the same code does once there is room."""
    client, code = from_network(at), shown(at)

    def full(*_all: object) -> None:
        raise DiskFull("The disk is full.")

    with monkeypatch.context() as patched:
        patched.setattr(Writer, "add_tablet", full)
        answer = use(client, code, "Sink")
    assert answer.status_code == 507 and "The disk is full." in answer.text and f'value="{code}"' in answer.text
    assert bodies(at, "tablet") == []
    assert use(client, code, "Sink").status_code == 303


def test_a_code_grows_old_and_goes_with_who_showed_it(at: Desk) -> None:
    """After 15 minutes a code enrols nothing, nor when who showed it is no supervisor any more."""
    code = shown(at)
    at.jaw.now[0] += actions.CODE_MS
    assert use(from_network(at), code, "Late").status_code == 403
    assert "No code is open" in at.get("/desk/tablets/codes/list")
    assert actions.shown_codes(at.jaw.bench) == []
    other = add_person(at.jaw.bench, at.seat(), "Ida Lund", ["supervisor"])[0]
    at.jaw.now[0] += 1
    seat = at.seat("Ida Lund")
    code = actions.show_code(at.jaw.bench, seat).code
    change_person(at.jaw.bench, at.seat(), other, "Ida Lund", ["technician"], "")
    assert "no supervisor any more" in use(from_network(at), code, "Late").text
    assert [one.name for one in at.tablets() if one.kind != actions.PC] == []


def test_a_name_is_asked_and_stays_one_tablets(at: Desk) -> None:
    """Without a name, or with another tablet's, nothing is enrolled and the code stays good; what was typed stays."""
    enrolled(at, "Window 2")
    client, code = from_network(at), shown(at)
    for name, why in (("", "name is missing"), ("window  2", "of that name already"), ("x" * 41, "41 characters")):
        answer = use(client, code, name)
        assert answer.status_code == 422 and why in answer.text and f'value="{code}"' in answer.text
        assert f'id="name" name="name" value="{name}"' in answer.text
    assert use(client, code, "Sink").status_code == 303
    assert at.post("/desk/tablets/code", 422, name="Sink").count("of that name already") == 1
    assert at.post("/desk/tablets/code", 422, kind="oven").count("Choose whether") == 1
    at.post("/desk/tablets/code", 404, thing="T000000000")


def test_what_is_no_code_of_enrolment_is_said_and_not_counted(at: Desk) -> None:
    """A slip of the finger or another label is no guess: it may be repeated without a pause."""
    client = from_network(at)
    for _time in range(2 * ENROL.most):
        assert "too short" in use(client, "E123").text
        assert "not one that enrols a tablet" in use(client, at.jaw.code).text
    assert bodies(at, "locked") == []


def test_the_pc_itself_needs_no_code(at: Desk) -> None:
    """On the PC the page says so, its form is refused, and its browser goes on as before, by its own token."""
    assert "needs no code" in at.get("/enrol")
    code = shown(at)
    assert at.client.post("/enrol", data={"code": code, "name": "PC"}).status_code == 409
    client = at.client.application.test_client()
    assert client.get("/").status_code == 200 and client.get_cookie("tablet")
    assert client.get("/due.json").status_code == 200 and bodies(at, "tablet") == []


def test_only_a_supervisor_keeps_tablets(tmp_path: Path) -> None:
    """A technician neither sees the list nor a code."""
    with desk(tmp_path / "data", who=TECHNICIAN) as at:
        for where in ("/desk/tablets", "/desk/tablets/codes", "/desk/tablets/codes/list"):
            at.get(where, 403)
        for where in ("code", "T/name", "T/off"):
            at.post(f"/desk/tablets/{where}", 403)
        assert at.jaw.bench.enrolments == {}


def test_the_list_says_what_each_tablet_told(at: Desk) -> None:
    """Since when, last heard, how many entries wait, and which pages it has; a browser on the PC stands apart."""
    client = enrolled(at, "Window 2")
    at.jaw.now[0] += 5 * MINUTE
    client.post("/outbox/1?waiting=3", data=json.dumps([fact(at.jaw)]), headers=JSON)
    one = tablet(at, "Window 2")
    assert (one.unsent, one.app, one.struck, one.kind) == (3, "test", False, "tablet")
    assert one.seen >= one.since + 5 * MINUTE
    row = at.get("/desk/tablets").split(f'data-tablet="{one.id}"')[1].split("</tr>")[0]
    assert "<td>3</td>" in row and "older" in row and "test" in row
    (browser,) = [t for t in at.tablets() if t.kind == actions.PC]
    at.post(f"/desk/tablets/{browser.id}/name", name="PC at the desk")
    assert "This tablet is PC at the desk." in at.get("/")
    assert at.post(f"/desk/tablets/{browser.id}/off", 409).count("cannot be struck off") == 1
    assert at.client.get("/due.json").status_code == 200


def test_a_tablet_is_named_at_the_desk(at: Desk) -> None:
    """The new name stands on the list, on the tablet's first page, on the day's list and beside its marks."""
    client = enrolled(at, "Window 2")
    ack = deliver(client, [fact(at.jaw), fact(at.jaw, step="no-such-step"), {"id": "strange-1"}])["acks"]
    assert [one["was"] for one in ack] == ["stored", "stored", "parked"]
    one = tablet(at, "Window 2")
    at.post(f"/desk/tablets/{one.id}/name", 422, name=" ")
    at.post(f"/desk/tablets/{one.id}/name", name="Sink, left")
    at.post(f"/desk/tablets/{one.id}/name", name="Sink, left")
    at.post("/desk/tablets/T000000000/name", 404, name="Nobody")
    assert [b["event"]["outcome"] for b in bodies(at, "tablet")] == ["enrolled", "named"]
    assert "This tablet is Sink, left." in client.get("/").text
    assert "tablet Sink, left heard" in at.get("/desk/today")
    assert at.get("/desk/marks").count("tablet Sink, left") == 2 and one.id not in at.get("/desk/marks")
    at.jaw.now[0] += 20 * MINUTE
    assert "tablet Sink, left silent for" in at.get("/desk/today")
    assert "named: Sink, left" in at.get("/desk/tablets")


def test_a_lost_tablet_is_struck_off_at_once(at: Desk) -> None:
    """From that moment it gets 401 everywhere and nothing of it is stored, sittings at the desk included; its page
    says why."""
    client = enrolled(at, "Window 2")
    page = client.get("/desk/signin")
    assert page.status_code == 200
    assert client.post("/desk/signin", data={"person": at.seat().person.id, "pin": "1357"}).status_code == 303
    assert client.get("/desk/tablets").status_code == 200
    one = tablet(at, "Window 2")
    at.post(f"/desk/tablets/{one.id}/off")
    tip = at.jaw.bench.store.tip()
    answer = client.post("/outbox/1", data=json.dumps([fact(at.jaw)]), headers=JSON)
    assert (answer.status_code, answer.get_json()["struck"]) == (401, True) and "kept" in answer.get_json()["error"]
    assert client.get("/desk/tablets").status_code == 401
    page = client.get(f"/bench/{at.jaw.code}")
    assert page.status_code == 401 and "This tablet (Window 2) was struck off" in page.text
    assert at.jaw.bench.store.tip() == tip
    assert at.post(f"/desk/tablets/{one.id}/off", 409).count("struck off already") == 1
    assert "Window 2 was struck off" in at.get("/desk/tablets")
    enrolled(at, "Window 2")  # the name is free again for its successor


@pytest.mark.parametrize("how", ["anew at the desk", "by any code and its old token", "display becomes tablet"])
def test_enrolled_anew_it_is_the_same_tablet(how: str, at: Desk) -> None:
    """Its id and name stay, its old token counts no more, and what it holds is stored as coming from it."""
    client = enrolled(at, "Window 2", "display" if how.startswith("display") else "tablet")
    held, one = [fact(at.jaw)], tablet(at, "Window 2")
    at.post(f"/desk/tablets/{one.id}/off")
    old = client.get_cookie("tablet")
    at.jaw.now[0] += 20 * MINUTE
    if how == "anew at the desk":
        code, client = shown(at, thing=one.id), from_network(at)  # its browser lost the old token
    else:
        code = shown(at)
    assert use(client, code).status_code == 303
    new = tablet(at, "Window 2")
    assert (new.id, new.struck, new.since, new.kind) == (one.id, False, one.since, "tablet")
    (ack,) = deliver(client, held)["acks"]
    body = bodies(at, "confirm")[-1]
    assert (ack["was"], body["server"]["tablet"]) == ("stored", one.id) and body["server"]["marks"] == []
    assert body["server"]["when"] < body["server"]["received"]
    thief = from_network(at)
    thief.set_cookie("tablet", old.value)  # type: ignore[union-attr]
    assert thief.get("/").status_code == 401
    assert [b["event"]["outcome"] for b in bodies(at, "tablet")] == ["enrolled", "struck", "enrolled"]


def test_a_display_shows_records_in_place_of_bench_pages(at: Desk) -> None:
    """A jaw leads to its record, a chamber to the list, and the first page offers nothing that makes an entry."""
    display = enrolled(at, "Wall", "display")
    answer = display.get(f"/bench/{at.jaw.code}")
    assert (answer.status_code, answer.headers["Location"]) == (302, f"/record/{at.jaw.code}")
    assert display.get(f"/record/{at.jaw.code}").status_code == 200
    home = display.get("/").text
    assert "This is Wall: a display" in home and 'data-act="signin" hidden' in home and '"display": true' in home
    assert 'data-act="signin" hidden' not in at.get("/") and '"display": false' in at.get("/")


def wrong(number: int) -> str:
    """Return a sound code of enrolment that nobody was shown."""
    return make_code("E", random.Random(number).choice)


def test_guessing_codes_of_enrolment_is_slowed_and_recorded(at: Desk) -> None:
    """After five wrong ones an address has a pause of five minutes, with one entry; other addresses go on."""
    client, code = from_network(at), shown(at, name="Sink")
    for number in range(ENROL.most + 1):
        assert use(client, wrong(100 + number)).status_code == 403
    (body,) = bodies(at, "locked")
    assert body["event"]["data"] == {"what": "enrol", "address": "192.168.7.20"}
    answer = use(client, code)
    assert answer.status_code == 429 and "Try again in 5 min." in answer.text
    assert use(client, wrong(999)).status_code == 429 and len(bodies(at, "locked")) == 1
    assert use(from_network(at, "192.168.7.21"), code).status_code == 303
    assert "pause after wrong enrolment codes from 192.168.7.20" in at.get("/desk/tablets")
    at.jaw.now[0] += ENROL.pause
    assert use(client, wrong(998)).status_code == 403


def test_slips_over_a_day_make_no_pause(at: Desk) -> None:
    """Wrong codes count together within ten minutes only."""
    client = from_network(at)
    for number in range(4 * ENROL.most):
        assert use(client, wrong(number)).status_code == 403
        at.jaw.now[0] += 3 * MINUTE
    assert bodies(at, "locked") == []


def test_an_address_of_ipv6_is_counted_by_its_network(at: Desk) -> None:
    """Half of such an address is chosen by its owner, so tries from one /64 count together (RFC 4291, 2.5.1)."""
    for number in range(ENROL.most + 1):
        assert use(from_network(at, f"fd00:1:2:3::{number + 1:x}"), wrong(number)).status_code == 403
    assert use(from_network(at, "fd00:1:2:3:a:b:c:d"), wrong(77)).status_code == 429
    assert use(from_network(at, "fd00:1:2:4::1"), wrong(77)).status_code == 403


def lost(number: int) -> str:
    """Return a sound code of a jaw that is not here."""
    return make_code("1", random.Random(number).choice)


def test_codes_that_lead_nowhere_are_slowed_and_work_is_not(at: Desk) -> None:
    """After thirty within ten minutes a tablet looks nothing up for a while; jaws in work open, facts are stored."""
    client, other = enrolled(at, "Window 2"), enrolled(at, "Sink")
    where = ("/find?code=no-{}", "/find?code={part}", "/what/{}", "/bench/{}", "/labels/{}.png", "/record/{}")
    for number in range(CODES.most + 1):
        part = make_code("A", random.Random(number).choice)
        ask = where[number % len(where)].format(lost(number), part=part)
        assert client.get(ask, headers=JSON).status_code in (200, 404), ask
    (body,) = bodies(at, "locked")
    assert body["event"]["data"]["what"] == "codes" and body["event"]["from"]["tablet"] == tablet(at, "Window 2").id
    for ask in (f"/bench/{lost(1)}", f"/find?code={at.jaw.code}", f"/what/{at.jaw.code}", f"/record/{at.jaw.code}"):
        answer = client.get(ask, headers=JSON)
        assert answer.status_code == 429 and "Try again in 10 min." in answer.get_json()["error"], ask
    assert client.get(f"/bench/{at.jaw.code}").status_code == 200
    assert client.get(f"/bench/{at.jaw.code}/base").status_code == 200
    assert client.get("/").status_code == 200 and client.get("/due.json").status_code == 200
    assert deliver(client, [fact(at.jaw)])["acks"][0]["was"] == "stored"
    assert other.get(f"/find?code={at.jaw.code}").status_code == 302
    assert "pause after codes that lead nowhere, from Window 2 (192.168.7.20)" in at.get("/desk/tablets")
    at.jaw.now[0] += CODES.pause
    assert client.get(f"/find?code={at.jaw.code}").status_code == 302


def test_the_pc_itself_is_not_slowed(at: Desk) -> None:
    """Codes that lead nowhere on the PC count nothing."""
    for number in range(2 * CODES.most):
        assert at.client.get(f"/bench/{lost(number)}").status_code == 404
    assert bodies(at, "locked") == []


def test_a_scanned_code_of_enrolment_leads_to_its_page(at: Desk) -> None:
    """Scanned on the first page of a tablet that is known, it stands in the field of the page of enrolment."""
    client, code = enrolled(at, "Window 2"), shown(at, name="Sink")
    assert client.get(f"/find?code={code}", headers=JSON).get_json() == {"to": f"/enrol?code={code}"}
    page = client.get(f"/enrol?code={code}").text
    assert "enrolled as Window 2" in page and f'value="{code}"' in page
    assert use(client, code).status_code == 303
    assert [one.name for one in at.tablets() if one.kind != actions.PC] == ["Sink"]  # the same one, named anew


def test_commands_on_the_pc_pass_by_the_key_of_the_folder(at: Desk) -> None:
    """Who can read the data folder may hand a sheet in, whatever address of the PC it takes; without the key 401."""
    client, body = from_network(at), {"name": "lab.toml", "text": "format = 1"}
    assert client.post("/local/lab", json=body, headers=JSON).status_code == 401
    assert client.post("/local/lab", json=body, headers=JSON | {"X-Local-Key": "guess"}).status_code == 401
    assert client.post("/local/lab", json=body, headers=JSON | {"X-Local-Key": KEY}).status_code == 422


def test_an_older_backup_knows_the_tablets_of_its_day(at: Desk, tmp_path: Path) -> None:
    """On a PC restored from it a tablet that was struck off since counts again until it is struck off anew, and one
    that was enrolled since is a stranger, which is enrolled with what it holds."""
    struck, bench = enrolled(at, "Struck since"), at.jaw.bench
    copy = make_backup(bench.store, tmp_path / "copies", "copy", 1)
    later = enrolled(at, "Enrolled since")
    at.post(f"/desk/tablets/{tablet(at, 'Struck since').id}/off")
    assert struck.get("/").status_code == 401
    bring_back(copy.path, tmp_path / "new")
    with open_for_writing(tmp_path / "new") as store:
        there = Desk(create_app(replace(bench, store=store, lines={}, enrolments={}, jaws={})).test_client(), at.jaw)
        clients = [from_network(there), from_network(there)]
        for old, new in zip((struck, later), clients, strict=True):
            new.set_cookie("tablet", old.get_cookie("tablet").value)  # type: ignore[union-attr]
        assert [client.get("/").status_code for client in clients] == [200, 401]
        assert clients[1].get("/people.json", headers=JSON).get_json()["struck"] is False


def test_a_restored_journal_says_that_struck_tablets_count_again(at: Desk) -> None:
    """After a restore the page of tablets says so, with the moment; before it does not."""
    assert "data-restored" not in at.get("/desk/tablets")
    note_restored(at.jaw.bench, Checkpoint(1, "0" * 64))
    page = at.get("/desk/tablets")
    assert "data-restored" in page and "strike them off anew" in page


def test_another_sites_page_enrols_nothing(at: Desk) -> None:
    """A form that another site sends to /enrol is turned away, and the code stays good."""
    client, code = from_network(at), shown(at, name="Sink")
    assert use(client, code, headers={"Origin": "https://elsewhere.example"}).status_code == 401
    assert use(client, code, headers={"Sec-Fetch-Site": "cross-site"}).status_code == 401
    assert use(client, code).status_code == 303
