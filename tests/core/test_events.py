"""The envelope of everything that happens: frozen at version 1, and nothing that comes in breaks its reader."""

import json
import math
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from benchapp.core.events import (
    FACTS,
    FOLDED,
    REQUESTS,
    EventError,
    body_bytes,
    event_dict,
    fold_event,
    newer,
    read_body,
    read_event,
    read_fact,
    tags_of,
)

SERVER = {"seq": 7, "received": 1100, "tablet": "T1", "when": 1050, "marks": [], "roles": ["technician"]}


def raw(**what: Any) -> dict[str, Any]:
    """Return a sound fact as plain data; `what` are keys put over it."""
    return {
        "v": 1, "kind": "confirm", "id": "0f8fad5b-d9cb-469f-a165-70867728950e", "case": "0ABCDEFGH1",
        "jaw": "1ABCDEFGH1",
        "round": 0, "step": "tack-light", "places": ["-"], "outcome": "tacked",
        "values": [{"name": "seconds", "value": "20", "unit": "s"}], "picks": {"lamp": "DABCDEFGH1"},
        "by": {"person": "p1", "how": "pin", "signin": "s1"},
        "from": {"tablet": "TABCDEFGH1", "boot": "b1", "n": 3, "app": "0.1.0", "table": "t1"},
        "at": {"wall": 1000, "offset": 50, "age": 5, "mono": 999}, "saw": {"seq": 6, "ms": 400},
    } | what


def test_a_fact_is_read_and_written_unchanged() -> None:
    """What is stored of a fact is what was sent, key by key."""
    for sent in (raw(), raw(undo="e1"), raw(allow="e1"), raw(at=raw()["at"] | {"stated": 900})):
        stored = event_dict(read_fact(json.loads(json.dumps(sent))))
        assert stored == sent
        assert read_body(body_bytes(stored, SERVER)) == {"event": sent, "server": SERVER}


def test_version_1_is_read_for_ever() -> None:
    """These bytes were written by version 1; they are read, tagged and folded in this way by every later one."""
    body = (
        b'{"event":{"v":1,"kind":"confirm","id":"0f8fad5b-d9cb","case":"0A","jaw":"1A","round":2,"step":"clean",'
        b'"places":["-"],"outcome":"wiped","values":[],"picks":{"lamp":"D1"},"by":{"person":"p1","how":"pin","signin":"s"},'
        b'"from":{"tablet":"T1","boot":"b","n":1,"app":"0.1.0","table":"t"},"at":{"wall":1000,"offset":0,"age":0,'
        b'"mono":9,"stated":900},"saw":{"seq":1,"ms":2}},"server":{"seq":2,"received":1001,"when":1000,"marks":[],'
        b'"roles":["technician"],"tablet":"T1"}}'
    )
    entry = read_body(body)
    assert event_dict(read_event(entry["event"])) == entry["event"]
    assert body_bytes(entry["event"], entry["server"]) == body
    assert not newer(body)
    assert tags_of(body) == [
        ("case", "0A"), ("jaw", "1A"), ("kind", "confirm"), ("person", "p1"), ("picked", "D1"), ("tablet", "T1"),
    ]
    assert fold_event(entry) == {
        "id": "0f8fad5b-d9cb", "kind": "confirm", "step": "clean", "outcome": "wiped", "places": ["-"], "round": 2,
        "values": [], "t": 900, "when": 1000, "stated": 1, "undo": "", "allow": "", "roles": ["technician"],
    }


def test_a_newer_entry_is_recognised() -> None:
    """A higher version or an unknown kind is told from what this version can fold."""
    assert newer(body_bytes(raw(v=2), SERVER))
    assert newer(body_bytes(raw(kind="levitated"), SERVER))
    assert not newer(body_bytes(raw(), SERVER))


def test_kinds_are_facts_or_requests() -> None:
    """No kind is both, each has its sentence, and all that is folded is a kind."""
    assert not FACTS.keys() & REQUESTS.keys()
    assert all({**FACTS, **REQUESTS}.values())
    assert FACTS.keys() | REQUESTS.keys() >= FOLDED
    assert {"resolve", "scrap"} <= REQUESTS.keys()


def test_the_time_that_counts_is_the_stated_one() -> None:
    """Without a stated time the server's `when` counts, with one that counts and is said to be stated."""
    at = raw()["at"]
    for stated, t in ((None, 1050), (0, 0), (900, 900)):
        body = {"event": raw(at=at if stated is None else at | {"stated": stated}), "server": SERVER}
        folded = fold_event(body)
        assert (folded["t"], folded["when"], folded["stated"]) == (t, 1050, int(stated is not None))


DEEP: Any = []
for _ in range(100_000):
    DEEP = [DEEP]


@pytest.mark.parametrize(("what", "where"), [
    ({"v": 2}, "v"), ({"v": True}, "v"), ({"v": 1.0}, "v"), ({"v": "1"}, "v"),
    ({"id": "short"}, "id"), ({"id": "with space in"}, "id"), ({"id": "e" * 65}, "id"), ({"id": "1234567é"}, "id"),
    ({"id": "12345678\n"}, "id"), ({"id": None}, "id"), ({"id": 12345678}, "id"),
    ({"kind": "resolve"}, "kind"), ({"kind": "scrap"}, "kind"), ({"kind": "levitated"}, "kind"), ({"kind": ""}, "kind"),
    ({"kind": "__proto__"}, "kind"), ({"kind": ["confirm"]}, "kind"),
    ({"data": {"thing": "p1"}}, "data"), ({"data": {"a": DEEP}}, ""), ({"data": DEEP}, "data"),
    ({"round": -1}, "round"), ({"round": 10**400}, "round"), ({"round": 0.0}, "round"), ({"round": math.nan}, "round"),
    ({"places": "-"}, "places"), ({"places": [1]}, "places"), ({"places": ["x" * 81]}, "places"),
    ({"places": ["-"] * 201}, "places"), ({"places": DEEP}, "places"), ({"places": ["\ud800"]}, "places"),
    ({"values": [{"name": "n", "value": 1, "unit": ""}]}, "values.0.value"),
    ({"values": [{"name": "n", "value": math.inf, "unit": ""}]}, "values.0.value"),
    ({"values": [{"name": "n", "value": "1" * 25, "unit": ""}]}, "values.0.value"),
    ({"values": [{"name": "n", "value": "1"}]}, "values.0.unit"), ({"values": [{}] * 21}, "values"),
    ({"picks": {"lamp": 1}}, "picks"), ({"picks": []}, "picks"),
    ({"picks": {f"n{i}": "D1" for i in range(1000)}}, "picks"),
    ({"by": {"person": "p", "how": "guessed"}}, "by.how"), ({"by": None}, "by"), ({"by": {"how": "pin"}}, "by.person"),
    ({"at": {"wall": -1, "offset": 0, "age": 0, "mono": 0}}, "at.wall"),
    ({"at": {"wall": 2**53 + 1, "offset": 0, "age": 0, "mono": 0}}, "at.wall"),
    ({"at": {"wall": 1, "offset": 0, "age": 0, "mono": 0.5}}, "at.mono"),
    ({"saw": {"seq": 1}}, "saw.ms"), ({"colour": 1}, "colour"), ({"from_": raw()["from"]}, "from_"),
    ({"\ud800": 1}, ""), ({"step": "\udfff"}, "step"),
    ({"from": {"tablet": "t"}}, "from"), ({"undo": 5}, "undo"), ({"allow": DEEP}, "allow"),
], ids=range(52))
def test_an_unreadable_fact_says_which_key(what: dict[str, Any], where: str) -> None:
    """Each fault of a fact is an EventError that names the key, in words that can be stored."""
    with pytest.raises(EventError) as caught:
        read_fact(raw(**what))
    assert str(caught.value).startswith(where)
    assert str(caught.value).encode()


@pytest.mark.parametrize("sent", [None, True, 1, math.nan, 10**5000, "", "x", b"x", [], [raw()], {}, {1: 2},
                                  DEEP, {"v": DEEP}],
                         ids=range(14))
def test_what_is_no_object_is_an_event_error(sent: object) -> None:
    """Anything that is not a fact at all is an EventError and nothing else."""
    with pytest.raises(EventError):
        read_fact(sent)


@pytest.mark.parametrize("key", sorted(set(raw()) - {"case", "jaw", "round", "step", "places", "outcome",
                                                     "values", "picks"}))
def test_a_missing_key_is_named(key: str) -> None:
    """What every event must have is asked for by its name."""
    sent = raw()
    del sent[key]
    with pytest.raises(EventError, match=f"^{key}: "):
        read_fact(sent)


SCALAR = st.one_of(
    st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=90),
    st.text(st.characters(categories=["Cs", "Lu"]), max_size=3), st.just(2**53), st.just(10**500),
    st.binary(max_size=3),
)
TREE = st.recursive(SCALAR, lambda below: st.one_of(
    st.lists(below, max_size=4),
    st.dictionaries(st.one_of(st.sampled_from(list(raw())), st.text(st.characters(), max_size=3)), below, max_size=4),
), max_leaves=10)
PATHS = [(key,) for key in raw()] + [(k, n) for k in ("by", "from", "at", "saw") for n in raw()[k]] + [("new",),
                                                                                                       ("undo",)]


@settings(deadline=None, suppress_health_check=list(HealthCheck), max_examples=600)
@given(st.lists(st.tuples(st.sampled_from(PATHS), TREE), min_size=1, max_size=3))
def test_random_trees_in_a_fact_are_read_or_reported(changes: list[tuple[tuple[str, ...], Any]]) -> None:
    """A fact with random trees in random places is stored as it was sent, or it is an EventError."""
    sent = raw()
    for path, tree in changes:
        spot = sent[path[0]] if len(path) == 2 and isinstance(sent[path[0]], dict) else sent
        spot[path[-1]] = tree
    try:
        event = read_fact(sent)
    except EventError as error:
        assert str(error).encode()
        return
    body = body_bytes(event_dict(event), SERVER)
    assert read_body(body)["event"] == event_dict(event)
    assert tags_of(body) and fold_event(read_body(body))["id"] == event.id


@settings(deadline=None, suppress_health_check=list(HealthCheck), max_examples=300)
@given(TREE)
def test_random_trees_are_no_facts(tree: Any) -> None:
    """Random plain data is an EventError."""
    with pytest.raises(EventError):
        read_fact(tree)
