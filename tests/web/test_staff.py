"""People and settings at the desk, badges at the bench: what is shown, what is refused, and what is shown only once."""

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from benchapp.actions.lab import people
from benchapp.core.codes import read_code
from tests.web.desks import SUPERVISOR, TECHNICIAN, Desk, desk

JSON = {"Accept": "application/json"}
NASTY = '<script>window.ran = "yes"</script>'
ONCE = re.compile(r'data-once="(\w+)">([^<]+)<')


@pytest.fixture
def at(tmp_path: Path) -> Iterator[Desk]:
    """A supervisor at the desk of a lab with one technician."""
    with desk(tmp_path / "data") as found:
        yield found


def place(at: Desk, name: str) -> str:
    """Return the address of somebody's page."""
    return f"/desk/people/{next(p.id for p in people(at.jaw.bench) if p.name == name)}"


def shown_once(at: Desk, address: str, **form: Any) -> str:
    """Send a form that draws something; return what its page shows once."""
    answer = at.client.post(address, data=form)
    assert answer.status_code == 303, answer.text
    page = at.client.get(answer.headers["Location"])
    assert page.headers["Cache-Control"] == "no-store"
    found = ONCE.search(page.text)
    assert found, page.text
    assert found[2] not in at.get(answer.headers["Location"])  # loaded again, it is not there any more
    return found[2]


def knock(at: Desk, badge: str) -> tuple[int, dict[str, Any]]:
    """Scan a badge at the client's tablet."""
    answer = at.client.post("/badge", json={"badge": badge}, headers=JSON)
    return answer.status_code, answer.get_json()


def test_the_list_and_each_page_are_a_supervisors(at: Desk) -> None:
    """A technician is told what it takes by every address and changes nothing; without a sign-in there is the door."""
    mine = place(at, TECHNICIAN[0])
    at.sit(*TECHNICIAN)
    before = at.jaw.bench.store.tip()
    for address in ("/desk/people", "/desk/people/new", mine, f"{mine}/once", "/desk/settings"):
        assert "takes a supervisor" in at.get(address, 403), address
    posts = ["/desk/people/new", mine, "/desk/settings", "/desk/settings/lab"]
    posts += [f"{mine}/{verb}" for verb in ("pin", "badge", "badge/off", "left", "back", "label")]
    for address in posts:
        assert "takes a supervisor" in at.post(address, 403, name="x", roles="supervisor"), address
    assert at.jaw.bench.store.tip() == before
    at.post("/desk/signout")
    for address in posts:
        at.post(address, 401)
    assert "/desk/signin" in at.client.get("/desk/people").headers["Location"]


def test_somebody_is_taken_on_and_the_pin_is_shown_once(at: Desk) -> None:
    """The PIN stands on one page only, also not after loading that page again, and opens the bench."""
    pin = shown_once(at, "/desk/people/new", name="Ana Noor", roles="technician", until="2026-12-24")
    text = at.get("/desk/people")
    assert "Ana Noor" in text and "last day 2026-12-24" in text and "never" in text
    person = place(at, "Ana Noor").rpartition("/")[2]
    answer = at.client.post("/signin", json={"person": person, "pin": pin}, headers=JSON)
    assert answer.status_code == 200
    assert "2026-11-24 09:00" in at.get(f"/desk/people/{person}")  # in the lab's zone


def test_a_refused_form_is_shown_again(at: Desk) -> None:
    """What was typed stands there again with every fault above it, but never the PIN."""
    text = at.post("/desk/people/new", 422, name=SUPERVISOR[0], roles="technique-lead", pin="97", until="2026-01-01")
    assert text.count("<li>") >= 3 and "tell the two apart" in text
    assert f'value="{SUPERVISOR[0]}"' in text and 'value="2026-01-01"' in text
    assert 'value="technique-lead" checked' in text and 'value="97"' not in text
    assert "at least one role" in at.post(place(at, TECHNICIAN[0]), 422, name=TECHNICIAN[0])


def test_names_are_words_and_never_run(at: Desk) -> None:
    """A name that looks like a script is shown as typed on the list, its own page, once, on tiles and at the door."""
    shown_once(at, "/desk/people/new", name=NASTY, roles="technician")
    escaped = "&lt;script&gt;window.ran"
    shown_once(at, f"{place(at, NASTY)}/badge")
    for address in ("/desk/people", place(at, NASTY), f"{place(at, NASTY)}/once", "/", "/desk/signin"):
        text = at.get(address)
        assert escaped in text and "<script>window" not in text, address
    bench = at.get(f"/bench/{at.jaw.code}")
    assert escaped in bench and "<script>window" not in bench
    form = {"name": NASTY, "address": NASTY, "zone": "Mars/Olympus"}
    lab = at.client.post("/desk/settings/lab", data=form).text
    assert lab.count("&lt;script&gt;") == 2 and "<script>window" not in lab
    assert "&lt;script&gt;" in at.post("/desk/settings", 422, name="idle_lock", value=NASTY)


def test_a_leaver_goes_at_once(at: Desk) -> None:
    """Their tile is gone, PIN and badge are refused with the reason, and a sitting at the desk ends at once."""
    shown_once(at, "/desk/people/new", name="Ana", roles=["supervisor"], pin="24680")
    boss = place(at, SUPERVISOR[0])
    code = shown_once(at, f"{boss}/badge")
    other = at.client.application.test_client()
    other.get("/")
    ana = place(at, "Ana").rpartition("/")[2]
    assert other.post("/desk/signin", data={"person": ana, "pin": "24680"}).status_code == 303
    assert other.post(f"{boss}/left").status_code == 303
    assert at.client.get("/desk/people").status_code == 302  # nobody sits there any more
    gone = at.client.post("/desk/signin", data={"person": boss.rpartition("/")[2], "pin": SUPERVISOR[1]})
    assert gone.status_code == 403 and "has left" in gone.text
    assert SUPERVISOR[0] not in at.get("/") + at.get("/people.json") + at.get("/desk/signin")
    status, answer = knock(at, code)
    assert status == 403 and "has left" in answer["error"]
    person = boss.rpartition("/")[2]
    for answered in (
        at.client.post("/signin", json={"person": person, "pin": SUPERVISOR[1]}, headers=JSON),
        at.client.post("/desk/signin", data={"person": person, "pin": SUPERVISOR[1]}),
    ):
        assert answered.status_code == 403 and "has left" in answered.text
    assert "no other supervisor" in other.post(f"/desk/people/{ana}/left").text
    assert other.post(f"{boss}/left").status_code == 409  # done twice
    assert other.post(f"{boss}/back").status_code == 303
    assert knock(at, code)[0] == 200


def test_records_go_on_naming_who_left(at: Desk) -> None:
    """What a leaver did stays theirs on the record, by name."""
    at.jaw.main()
    at.post(f"{place(at, TECHNICIAN[0])}/left")
    assert TECHNICIAN[0] in at.get(f"/record/{at.jaw.code}")


def test_a_badge_signs_in_and_its_code_is_nowhere(at: Desk) -> None:
    """Same answer as by PIN, recorded as by badge; after its one page the code stands in no page and no entry."""
    code = shown_once(at, f"{place(at, TECHNICIAN[0])}/badge")
    status, answer = knock(at, code.lower())
    assert status == 200 and sorted(answer) == ["name", "person", "roles", "signin"]
    entry = at.jaw.bench.store.find(answer["signin"])
    assert entry is not None and json.loads(entry.body)["event"]["by"]["how"] == "badge"
    bare = code.replace(" ", "")
    pages = "".join(at.get(a) for a in ("/desk/people", place(at, TECHNICIAN[0]), "/", "/people.json"))
    journal = b"".join(e.body for e in at.jaw.bench.store.entries()).decode()
    assert bare not in pages + journal and code not in pages + journal


def test_the_label_of_a_badge(at: Desk) -> None:
    """The page that shows a badge sends its label as PDF; not for another person, a struck badge or nonsense."""
    mine = place(at, TECHNICIAN[0])
    code = read_code(shown_once(at, f"{mine}/badge")).code
    answer = at.client.post(f"{mine}/label", data={"badge": code})
    assert answer.data.startswith(b"%PDF") and answer.headers["Cache-Control"] == "no-store"
    at.post(f"{place(at, SUPERVISOR[0])}/label", 409, badge=code)
    at.post(f"{mine}/label", 409, badge="nonsense")
    at.post(f"{mine}/badge/off")
    at.post(f"{mine}/label", 409, badge=code)
    assert "has no badge" in at.post(f"{mine}/badge/off", 409)


def test_wrong_badges_are_slowed(at: Desk) -> None:
    """Five wrong ones: 403 each, then 429 for this tablet whatever is scanned; a jaw's label is 404 and no try."""
    assert knock(at, at.jaw.code)[0] == 404
    wrong = at.jaw.bench.code("P")
    assert [knock(at, wrong)[0] for _ in range(5)] == [403] * 5
    assert knock(at, wrong)[0] == 429
    for body in ({}, {"badge": 5}, {"badge": ""}, {"badge": "P" * 81}, []):
        answer = at.client.post("/badge", json=body, headers=JSON)
        assert answer.status_code == 409 and "Load the page again" in answer.get_json()["error"]
    stranger = at.client.application.test_client()
    assert stranger.post("/badge", json={"badge": wrong}, headers=JSON).status_code == 401


def test_a_lock_is_seen_and_ended_at_the_desk(at: Desk) -> None:
    """The list says until when somebody is locked; a new PIN ends it, and the old one opens no more."""
    mine = place(at, TECHNICIAN[0])
    for _ in range(5):
        at.client.post("/signin", json={"person": mine.rpartition("/")[2], "pin": "0000"}, headers=JSON)
    assert "locked until 09:05" in at.get("/desk/people")
    pin = shown_once(at, f"{mine}/pin")
    assert "locked" not in at.get("/desk/people")
    at.client.post("/desk/signout")
    at.sit(TECHNICIAN[0], pin)


def test_settings_say_what_they_mean(at: Desk) -> None:
    """As delivered at first; then the page says since when and by whom; the bench page gets the minutes."""
    text = at.get("/desk/settings")
    assert text.count("as delivered") == 7 and "10 min" in text
    at.post("/desk/settings", name="idle_lock", value="3")
    text = at.get("/desk/settings")
    assert "Changed." in text and f"since 2026-11-24 09:00, by {SUPERVISOR[0]}" in text
    assert '"idleMs":180000' in at.get(f"/bench/{at.jaw.code}")
    assert "It stood so already" in at.client.post(
        "/desk/settings", data={"name": "idle_lock", "value": "3"}, follow_redirects=True).text
    assert "whole number" in at.post("/desk/settings", 422, name="idle_lock", value="900")
    assert "no setting" in at.post("/desk/settings", 422, name="secret", value="1")


def test_the_laboratory_is_corrected_on_the_page(at: Desk) -> None:
    """The new name stands on records made from now on; a refused form is shown again as typed."""
    form = {"name": "Harbour lab", "address": "Quay 1", "zone": "America/Lima"}
    assert at.client.post("/desk/settings/lab", data=form).status_code == 303
    assert "Harbour lab" in at.get(f"/record/{at.jaw.code}")
    answer = at.client.post("/desk/settings/lab", data=form | {"name": "Other", "address": ""})
    text = answer.text
    assert answer.status_code == 422 and 'value="Other"' in text and "address is missing" in text


def test_a_technique_lead_reads_settings(at: Desk) -> None:
    """They see every value and no form; a change of theirs is refused."""
    shown_once(at, "/desk/people/new", name="Ana", roles="technique-lead", pin="24680")
    at.sit("Ana", "24680")
    text = at.get("/desk/settings")
    assert "A supervisor changes these" in text and 'action="/desk/settings' not in text
    at.post("/desk/settings", 403, name="idle_lock", value="3")


def test_nobody_of_that_id(at: Desk) -> None:
    """An address that names nobody is answered in words, by every verb."""
    for verb in ("", "/pin", "/badge", "/badge/off", "/left", "/back"):
        assert "no such person" in at.post(f"/desk/people/nobody{verb}", 404, name="x", roles="technician")
    assert "no such person" in at.get("/desk/people/nobody", 404)
