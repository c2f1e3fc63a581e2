"""The application over a jaw at work, asked without a browser."""

import json
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from flask import Flask
from flask.testing import FlaskClient

from benchapp.actions.bench import Bench
from benchapp.network.place import Network
from benchapp.web.app import answer_for, create_app
from tests.actions.worked import Worked, worked

KEY = "key-of-the-tests"
_SPARE: list[Flask] = []  # made before and not in use: to make one takes longer than most tests


@contextmanager
def app_over(bench: Bench, key: str = "", network: Network | None = None) -> Iterator[Flask]:
    """Give an application for a bench; the next bench gets it afterwards, with nothing left of this one."""
    app = answer_for(_SPARE.pop(), bench, key, network) if _SPARE else create_app(bench, key, network)
    yield app
    _SPARE.append(app)


@contextmanager
def asked(place: Path, **how: Any) -> Iterator[tuple[FlaskClient, Worked]]:
    """Give a client with a tablet's token, and the jaw behind it."""
    with worked(place, **how) as jaw, app_over(jaw.bench, KEY) as app:
        client = app.test_client()
        client.get("/")
        yield client, jaw


def fact(jaw: Worked, /, **what: Any) -> dict[str, Any]:
    """Return a fact of the jaw: the main action of its step, unless told otherwise."""
    jaw.now[0] += 60_000
    jaw.sent += 1
    return {
        "v": 1, "kind": "confirm", "id": f"fact-{jaw.ids.getrandbits(64):016x}", "case": jaw.opened.code,
        "jaw": jaw.code, "round": 0, "step": "intake", "places": ["-"], "outcome": "order-accepted", "values": [],
        "picks": {}, "by": {"person": jaw.person, "how": "pin", "signin": jaw.signins.get(jaw.person, "")},
        "from": {"tablet": "", "boot": "b1", "n": jaw.sent, "app": "test", "table": jaw.line.table_hash},
        "at": {"wall": jaw.now[0], "offset": 0, "age": 0, "mono": 1}, "saw": {"seq": 0, "ms": 1000},
    } | what  # fmt: skip


def deliver(client: FlaskClient, facts: Any, tip: str = "") -> dict[str, Any]:
    """Post a list of facts and return the answer."""
    answer = client.post(f"/outbox/1?tip={tip}", data=json.dumps(facts), headers={"Accept": "application/json"})
    assert answer.status_code == 200, answer.text
    return dict(answer.get_json())
