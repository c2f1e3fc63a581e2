"""Facts over HTTP: every one is stored once and answered by its id; nothing is refused."""

import json
import threading
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from benchapp.core.events import read_body
from tests.web.clients import asked, deliver, fact


def bodies(jaw: Any) -> list[dict[str, Any]]:
    """Return all journal bodies."""
    return [read_body(entry.body) for entry in jaw.bench.store.entries()]


def test_a_fact_is_stored_and_named(tmp_path: Path) -> None:
    """The answer names the fact's id with its number and hash; the journal's tip is that entry."""
    with asked(tmp_path / "d") as (client, jaw):
        one = fact(jaw)
        answer = deliver(client, [one])
        (ack,) = answer["acks"]
        assert (ack["id"], ack["was"], ack["marks"]) == (one["id"], "stored", [])
        assert (ack["seq"], ack["hash"]) == (answer["tip"]["seq"], answer["tip"]["hash"])
        assert jaw.line.state["now"] == "part-check"


def test_the_same_fact_again_is_answered_and_not_stored_again(tmp_path: Path) -> None:
    """A retry after a lost answer makes no second entry, in one list or in two."""
    with asked(tmp_path / "d") as (client, jaw):
        one = fact(jaw)
        first = deliver(client, [one, one])["acks"]
        again = deliver(client, [one])["acks"]
        assert [a["was"] for a in first + again] == ["stored", "again", "again"]
        assert {a["seq"] for a in first + again} == {first[0]["seq"]}
        assert sum(b["event"]["id"] == one["id"] for b in bodies(jaw)) == 1


def test_an_unreadable_fact_is_parked_and_the_next_one_arrives(tmp_path: Path) -> None:
    """A poison fact is acknowledged by its id, kept as bytes, and blocks nobody."""
    with asked(tmp_path / "d") as (client, jaw):
        poison = fact(jaw) | {"v": 99}
        good = fact(jaw)
        acks = deliver(client, [poison, 7, None, {"id": 5}, good])["acks"]
        assert [a["was"] for a in acks] == ["parked", "parked", "parked", "parked", "stored"]
        kept = jaw.bench.store.parked()
        assert len(kept) == 4 and json.loads(kept[0].body) == poison


def test_what_is_not_a_list_is_parked_whole(tmp_path: Path) -> None:
    """Bytes that are no JSON list are kept as they came."""
    with asked(tmp_path / "d") as (client, jaw):
        for raw in (b"", b"{", b"{}", b"\xff\xfe", b"[" * 100_000, b"[1" + b",1" * 600 + b"]"):
            answer = client.post("/outbox/1", data=raw).get_json()
            assert answer["acks"] == []
        assert [p.body for p in jaw.bench.store.parked()][:2] == [b"", b"{"]
        assert len(jaw.bench.store.parked()) == 6


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.recursive(st.none() | st.booleans() | st.integers() | st.floats() | st.text(), lambda below: st.lists(below)
       | st.dictionaries(st.sampled_from(["v", "id", "kind", "by", "at", "from", "saw", "places"]) | st.text(), below)))
def test_no_json_makes_the_server_fail(shared: Any, tree: Any) -> None:
    """Whatever JSON comes, it is stored or parked; the answer is 200."""
    client, jaw = shared
    before = len(jaw.bench.store.parked()) + jaw.bench.store.tip().seq
    answer = client.post("/outbox/1", data=json.dumps([tree]))
    assert answer.status_code == 200
    assert len(jaw.bench.store.parked()) + jaw.bench.store.tip().seq == before + 1


@pytest.fixture(scope="module")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Any:
    """One application for the whole module."""
    with asked(tmp_path_factory.mktemp("lab") / "d") as found:
        yield found


def test_the_time_of_a_tablet_is_never_later_than_received_and_never_goes_back(tmp_path: Path) -> None:
    """A clock 3 h ahead is cut to received; one that jumps back stays at the last time (spine: when)."""
    with asked(tmp_path / "d") as (client, jaw):
        ahead = fact(jaw)
        ahead["at"]["wall"] += 3 * 3600_000
        (first,) = deliver(client, [ahead])["acks"]
        back = fact(jaw, step="part-check", outcome="parts-right")
        back["at"]["wall"] -= 3 * 3600_000
        (second,) = deliver(client, [back])["acks"]
        assert first["when"] == first["received"]
        assert second["when"] == first["when"] <= second["received"]


def test_received_never_goes_back_when_the_pc_is_set_back(tmp_path: Path) -> None:
    """A lab's PC has no time server: a clock set back does not turn the journal's order."""
    with asked(tmp_path / "d") as (client, jaw):
        (first,) = deliver(client, [fact(jaw)])["acks"]
        jaw.now[0] -= 7200_000
        (second,) = deliver(client, [fact(jaw, step="part-check", outcome="parts-right")])["acks"]
        assert second["received"] == first["received"]


def test_a_late_tap_of_an_earlier_round_changes_nothing(tmp_path: Path) -> None:
    """After a send-back a tap of the round before is stored and marked."""
    with asked(tmp_path / "d") as (client, jaw):
        deliver(client, [fact(jaw), fact(jaw, kind="sendback", step="intake", places=[], outcome="")])
        (ack,) = deliver(client, [fact(jaw, step="intake")])["acks"]
        assert ack["marks"] == [["round", "refused"]]
        assert jaw.line.state["now"] == "intake"


def test_who_is_not_signed_in_is_marked(tmp_path: Path) -> None:
    """A claimed person, or a sign-in that is somebody else's, is stored with a note."""
    with asked(tmp_path / "d") as (client, jaw):
        claimed = fact(jaw, by={"person": jaw.person, "how": "claimed", "signin": ""})
        forged = fact(jaw, step="part-check", outcome="parts-right",
                      by={"person": "nobody", "how": "pin", "signin": jaw.signins[jaw.person]})
        acks = deliver(client, [claimed, forged])["acks"]
        assert [a["marks"] for a in acks] == [[["claimed", "note"]]] * 2


def test_a_fact_of_an_unknown_jaw_is_stored_and_marked(tmp_path: Path) -> None:
    """Nothing that a person confirmed is refused, not even for a jaw that the PC does not know."""
    with asked(tmp_path / "d") as (client, jaw):
        (ack,) = deliver(client, [fact(jaw, jaw="1000000000")])["acks"]
        assert (ack["was"], ack["marks"]) == ("stored", [["jaw", "refused"]])


def test_a_stranger_gets_no_answer(tmp_path: Path) -> None:
    """Without a token, or from another site's page, nothing is stored: 401 in words."""
    with asked(tmp_path / "d") as (client, jaw):
        before = jaw.bench.store.tip()
        stranger = client.application.test_client()
        body = json.dumps([fact(jaw)])
        answers = [
            stranger.post("/outbox/1", data=body),
            client.post("/outbox/1", data=body, headers={"Origin": "http://elsewhere.example"}),
            client.post("/outbox/1", data=body, headers={"Sec-Fetch-Site": "cross-site"}),
        ]
        assert [a.status_code for a in answers] == [401, 401, 401]
        assert jaw.bench.store.tip() == before


def test_the_chain_tells_a_restored_journal(tmp_path: Path) -> None:
    """A tip that is in the journal is the same chain; a higher one or another hash is not."""
    with asked(tmp_path / "d") as (client, jaw):
        tip = deliver(client, [fact(jaw)])["tip"]
        assert deliver(client, [], f"{tip['seq']}:{tip['hash']}")["chain"] is True
        assert deliver(client, [], f"{tip['seq']}:{'0' * 64}")["chain"] is False
        assert deliver(client, [], f"{tip['seq'] + 1}:{tip['hash']}")["chain"] is False
        assert deliver(client, [], "nonsense")["chain"] is True


def test_eight_tablets_at_once(tmp_path: Path) -> None:
    """Facts of eight threads are all stored once and in each thread's own order."""
    with asked(tmp_path / "d") as (client, jaw):
        lists = [[fact(jaw, kind="opened", step="", places=[], outcome="") for _ in range(20)] for _ in range(8)]
        token = client.get_cookie("tablet")
        assert token

        def work(own: list[dict[str, Any]]) -> None:
            mine = client.application.test_client()
            mine.set_cookie("tablet", token.value)
            for one in own:
                deliver(mine, [one])

        threads = [threading.Thread(target=work, args=(own,)) for own in lists]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        order = [b["event"]["id"] for b in bodies(jaw) if b["event"]["kind"] == "opened"]
        assert len(order) == 160
        for own in lists:
            assert [i for i in order if i in {f["id"] for f in own}] == [f["id"] for f in own]


def test_a_code_that_is_written_otherwise_moves_no_jaw(tmp_path: Path) -> None:
    """A fact that spells its jaw in small letters is stored and marked, and the jaw stands as the journal says."""
    with asked(tmp_path / "d") as (client, jaw):
        (ack,) = deliver(client, [fact(jaw, jaw=jaw.code.lower())])["acks"]
        assert (ack["was"], ack["marks"]) == ("stored", [["jaw", "refused"]])
        assert jaw.line.state["now"] == "intake"
        (ack,) = deliver(client, [fact(jaw)])["acks"]
        assert ack["marks"] == [] and jaw.line.state["now"] == "part-check"
