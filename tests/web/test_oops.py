"""Errors that nobody expected: the id that a person sees, the log that has it, and what tablets tell of scripts."""

import re
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from flask.testing import FlaskClient
from playwright.sync_api import BrowserContext

from benchapp.store import logs
from benchapp.web.app import create_app
from tests.actions.worked import Worked
from tests.live import LiveLab
from tests.web.clients import asked

MARK = "Planted Person"
FAULT = {"message": f"no “{MARK}”", "file": "/static/js/jaw.js", "line": 12, "page": "0123456789ab"}


@pytest.fixture
def at(tmp_path: Path) -> Iterator[tuple[FlaskClient, Worked, Path]]:
    """A client of a known tablet, its jaw, and the log's file."""
    with asked(tmp_path / "data") as (client, jaw), logs.logging_to(tmp_path, lambda: jaw.now[0]):
        yield client, jaw, tmp_path / "logs" / logs.NAME


def test_an_error_shows_the_id_under_which_it_is_logged(
    at: tuple[FlaskClient, Worked, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Page and JSON of status 500 name an id; the log has kind and place of that error, and not its message."""
    client, _, log = at

    def fails(*_all: object) -> None:
        raise RuntimeError(MARK)

    monkeypatch.setattr("benchapp.web.home.jaws_in_work", fails)
    monkeypatch.setattr("benchapp.web.due.due", fails)
    page, plain = client.get("/"), client.get("/due.json", headers={"Accept": "application/json"})
    assert (page.status_code, plain.status_code) == (500, 500)
    ids = [re.search(r"as error ([0-9A-Z]{6})\.", text) for text in (page.text, plain.get_json()["error"])]
    text = log.read_text("utf-8")
    for found in ids:
        assert found
        assert re.search(rf"ERROR error id={found[1]} kind=RuntimeError at=\S*test_oops.py:\d+:fails$", text, re.M)
    assert MARK not in text and MARK not in page.text + plain.text


def test_a_scripts_error_is_noted(at: tuple[FlaskClient, Worked, Path]) -> None:
    """A known tablet's error stands in the log with file, line and version, without what it quotes."""
    client, _, log = at
    assert client.post("/oops", json=FAULT).status_code == 204
    text = log.read_text("utf-8")
    assert 'file=/static/js/jaw.js line=12 page=0123456789ab says="no …"' in text
    assert MARK not in text


def test_odd_reports_do_no_harm(at: tuple[FlaskClient, Worked, Path]) -> None:
    """What does not fit its field is not written; any shape of JSON is taken without an error."""
    client, jaw, log = at
    for odd in ([], None, "x", {"message": {"a": 1}, "file": MARK, "line": MARK, "page": [MARK]}, {"line": 10**40}):
        jaw.now[0] += 60_000
        assert client.post("/oops", json=odd).status_code == 204
    assert client.post("/oops", data=b"\xff{").status_code == 204
    assert MARK not in log.read_text("utf-8")


def test_too_much_is_turned_away(at: tuple[FlaskClient, Worked, Path]) -> None:
    """A long report is refused; of many within a minute ten are noted, and after it others again."""
    client, jaw, log = at
    assert client.post("/oops", json=FAULT | {"message": "x" * 3000}).status_code == 413
    answers = [client.post("/oops", json=FAULT).status_code for _ in range(12)]
    assert answers == [204] * 10 + [429] * 2
    jaw.now[0] += 60_000
    assert client.post("/oops", json=FAULT).status_code == 204
    assert log.read_text("utf-8").count("script-error") == 11


def test_a_stranger_is_not_noted(at: tuple[FlaskClient, Worked, Path]) -> None:
    """Without a tablet's token, or from another site, nothing is written."""
    client, jaw, log = at
    assert create_app(jaw.bench).test_client().post("/oops", json=FAULT).status_code == 401
    assert client.post("/oops", json=FAULT, headers={"Origin": "https://elsewhere.example"}).status_code == 401
    assert not log.exists() or log.read_text("utf-8") == ""


@pytest.mark.browser
def test_a_page_tells_its_errors_and_keeps_them_without_the_pc(
    tablet: Callable[..., BrowserContext], lab: LiveLab
) -> None:
    """An uncaught error and an unhandled rejection reach the log; what the PC missed, the next page tells."""
    context = tablet()
    page = context.new_page()
    page.goto(f"{lab.address}/")
    page.wait_for_selector("body[data-loaded=yes]")
    with page.expect_response("**/oops") as told:
        page.evaluate("() => setTimeout(() => { throw new TypeError('first of the tests'); })")
    assert told.value.status == 204
    context.route("**/oops", lambda route: route.abort())
    page.evaluate("() => { Promise.reject(new RangeError('second of the tests')); }")
    page.wait_for_function("() => (localStorage.oops || '').includes('second')")
    context.unroute("**/oops")
    with page.expect_response("**/oops") as told:
        page.reload()
    assert told.value.status == 204
    assert page.evaluate("() => localStorage.oops") is None
    text = (lab.data / "logs" / logs.NAME).read_text("utf-8")
    for said in ("TypeError: first of the tests", "RangeError: second of the tests"):
        assert re.search(rf'ERROR script-error tablet=T\w{{9}} file=page line=\d+ page=\w+ says="{said}"$', text, re.M)
