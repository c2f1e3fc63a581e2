"""Requests: granted or refused in words, and a refused one changes nothing."""

import random
from pathlib import Path

from benchapp.core.codes import make_code
from benchapp.core.fold import fold
from benchapp.store.journal import Tries
from tests.web.clients import KEY, asked, deliver, fact

JSON = {"Accept": "application/json"}


def test_sign_in_by_pin(tmp_path: Path) -> None:
    """The right PIN gives a sign-in that stands in the journal; no answer holds a PIN or a hash."""
    with asked(tmp_path / "d") as (client, jaw):
        answer = client.post("/signin", json={"person": jaw.person, "pin": "2468"}, headers=JSON)
        assert answer.status_code == 200
        assert jaw.bench.store.find(answer.get_json()["signin"]) is not None
        shown = client.get("/people.json").text + client.get("/").text
        assert "2468" not in shown and (jaw.bench.store.secret(jaw.person, "pin") or "?") not in shown


def test_five_wrong_pins_lock_for_a_while(tmp_path: Path) -> None:
    """Wrong PINs are counted, the fifth locks for five minutes and is recorded; afterwards the right one works."""
    with asked(tmp_path / "d") as (client, jaw):
        def knock(pin: str) -> int:
            return client.post("/signin", json={"person": jaw.person, "pin": pin}, headers=JSON).status_code

        assert [knock("0000") for _ in range(5)] == [403] * 5
        assert knock("2468") == 429
        assert len(jaw.bench.store.tagged("kind", "locked")) == 1
        jaw.now[0] += 5 * 60_000
        assert knock("2468") == 200
        assert jaw.bench.store.tries(jaw.person) == Tries(jaw.person)


def test_bad_sign_ins_are_refused_in_words(tmp_path: Path) -> None:
    """Missing keys, wrong types and unknown people get a sentence, never a trace."""
    with asked(tmp_path / "d") as (client, jaw):
        before = jaw.bench.store.tip()
        for body in ({}, {"person": jaw.person}, {"person": 5, "pin": "1"}, {"person": "x", "pin": "1"}, []):
            answer = client.post("/signin", json=body, headers=JSON)
            assert answer.status_code in (404, 409) and answer.get_json()["error"].endswith((".", "page again."))
        assert jaw.bench.store.tip() == before


def test_scrap_asks_for_a_supervisor(tmp_path: Path) -> None:
    """A wrong PIN and a technician are refused and nothing changes; a supervisor scraps the jaw once."""
    with asked(tmp_path / "d") as (client, jaw):
        technician = jaw.person
        jaw.sign_in("Зоя Ким", "1357")

        def scrap(person: str, pin: str) -> int:
            body = {"person": person, "pin": pin, "reason": "damaged"}
            return client.post(f"/jaw/{jaw.code}/scrap", json=body, headers=JSON).status_code

        assert scrap(jaw.person, "9999") == 403
        assert scrap(technician, "2468") == 409
        assert jaw.line.state["ended"] == ""
        assert scrap(jaw.person, "1357") == 200
        assert jaw.line.state["ended"] == "scrap"
        assert scrap(jaw.person, "1357") == 409


def test_a_supervisor_takes_a_marked_entry_in(tmp_path: Path) -> None:
    """Taken in, the entry counts as if it had been legal; a second decision is refused."""
    with asked(tmp_path / "d") as (client, jaw):
        early = fact(jaw, step="dry-fit", outcome="seats-dry")
        assert deliver(client, [early])["acks"][0]["marks"] == [["step", "refused"]]
        jaw.sign_in("Зоя Ким", "1357")

        def decide(outcome: str) -> int:
            body = {"person": jaw.person, "pin": "1357", "event": early["id"], "outcome": outcome}
            return client.post(f"/jaw/{jaw.code}/resolve", json=body, headers=JSON).status_code

        assert decide("perhaps") == 409
        assert decide("in") == 200
        assert jaw.line.state["cells"]["dry-fit"]["-"] == "done"
        assert decide("aside") == 409


def test_the_base_is_what_the_journal_holds(tmp_path: Path) -> None:
    """Folding the base gives the journal's state; `after` gives only what is newer."""
    with asked(tmp_path / "d") as (client, jaw):
        deliver(client, [fact(jaw), fact(jaw, step="part-check", outcome="parts-right")])
        base = client.get(f"/bench/{jaw.code}/base").get_json()
        state = fold(jaw.line.table, base["events"])
        assert (state["now"], state["cells"]) == (jaw.line.state["now"], jaw.line.state["cells"])
        newer = client.get(f"/bench/{jaw.code}/base?after={base['events'][0]['seq']}").get_json()
        assert [e["id"] for e in newer["events"]] == [base["events"][1]["id"]]


def test_the_local_door_wants_its_key(tmp_path: Path) -> None:
    """Sheets are taken from a command that can read the data folder, and from nobody else."""
    with asked(tmp_path / "d") as (client, jaw):
        before = jaw.bench.store.tip()
        assert client.post("/local/add", json={"text": ""}).status_code == 403
        assert client.post("/local/add", json={"text": ""}, headers={"X-Local-Key": "guess"}).status_code == 403
        answer = client.post("/local/add", json={"name": "x.toml", "text": "format = 2"},
                             headers={"X-Local-Key": KEY} | JSON)
        assert answer.status_code == 422 and "format" in answer.get_json()["error"]
        assert jaw.bench.store.tip() == before


def test_every_answer_carries_the_strict_policy(tmp_path: Path) -> None:
    """Pages, data and errors carry the same Content-Security-Policy without unsafe-inline or unsafe-eval."""
    with asked(tmp_path / "d") as (client, jaw):
        for address in ("/", f"/bench/{jaw.code}", f"/bench/{jaw.code}/base", "/nothing", f"/record/{jaw.code}",
                        f"/record/{jaw.code}.pdf", f"/labels/{jaw.code}.png", "/sw.js", "/manifest.webmanifest"):
            policy = client.get(address).headers["Content-Security-Policy"]
            policy = policy.replace("'wasm-unsafe-eval'", "")  # the camera's decoder; it lets no text be run
            assert policy.startswith("default-src 'none'") and "unsafe" not in policy, address


def test_codes_that_lead_nowhere_get_words(tmp_path: Path) -> None:
    """A wrong check character, an unknown jaw and a path trick end in one sentence and 404."""
    with asked(tmp_path / "d") as (client, jaw):
        wrong = jaw.code[:-1] + ("0" if jaw.code[-1] != "0" else "1")
        for address in (f"/bench/{wrong}", "/bench/1", "/find?code=../../etc", "/record/%2e%2e", "/static/../x"):
            answer = client.get(address, headers=JSON, follow_redirects=True)
            assert answer.status_code == 404, address
            assert len(answer.get_json()["error"]) > 10


def test_a_jaw_that_is_not_known_any_more_holds_nothing(tmp_path: Path) -> None:
    """A page of a jaw that an older backup does not know is answered, or it could never send what it kept."""
    with asked(tmp_path / "d") as (client, jaw):
        client.get(f"/bench/{jaw.code}")
        gone = make_code("1", random.Random("gone").choice)
        answer = client.get(f"/bench/{gone}/base?after=0").get_json()
        assert (answer["events"], answer["waits"]) == ([], "") and answer["tip"]["seq"] > 0


def test_a_part_leads_to_its_jaw(tmp_path: Path) -> None:
    """The code on a part's tag opens the page of its jaw."""
    with asked(tmp_path / "d") as (client, jaw):
        for part in jaw.opened.jaws[0]["parts"]:
            assert client.get(f"/find?code={part['code']}").headers["Location"] == f"/bench/{jaw.code}"


def test_a_page_needs_no_inline_script_or_style(tmp_path: Path) -> None:
    """No page has a style attribute, an inline script or an event attribute: the policy would stop it."""
    with asked(tmp_path / "d") as (client, jaw):
        for address in ("/", f"/bench/{jaw.code}", "/nothing", f"/record/{jaw.code}"):
            text = client.get(address).text
            assert " style=" not in text and " onclick=" not in text and "<script>" not in text
