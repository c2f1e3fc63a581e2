"""A form on a full disk: nothing that was typed is lost, and it can be sent again once there is room."""

import io
import re
from collections.abc import Iterator
from contextlib import contextmanager
from html import unescape
from pathlib import Path

import pytest
from playwright.sync_api import Browser
from werkzeug.datastructures import MultiDict

from benchapp.actions.lab import people
from benchapp.actions.overview import case_glances
from benchapp.actions.records import record_of
from benchapp.actions.stock import things
from benchapp.paths import STATIC, TEMPLATES
from benchapp.web.again import SECRET
from tests.actions.whole import LAB3
from tests.actions.worked import CASE
from tests.store.test_faults import limit
from tests.web.axe import violations
from tests.web.colour import faint
from tests.web.conftest import LANDSCAPE, PORTRAIT
from tests.web.desks import SUPERVISOR, Desk, desk
from tests.web.measure import controls, small
from tests.web.test_release import ticked

ASKED = CASE.replace('allergy = "none stated"', 'allergy = "no"')
WORDS = 'two\r\nlines & <b>"more"</b>, Żółw'


@contextmanager
def full(at: Desk) -> Iterator[None]:
    """Leave the store no room for a while: what is free inside its last pages is used up first."""
    store = at.jaw.bench.store
    room, status = limit(store, 0), 0
    for value in range(200):
        status = at.client.post("/desk/settings", data={"name": "idle_lock", "value": str(1 + value % 2)}).status_code
        if status == 507:
            break
    assert status == 507
    yield
    limit(store, room)


def fields(page: str) -> MultiDict[str, str]:
    """Return what the form of a page would send, passwords and files left out."""
    found = re.findall(r'<input type="hidden" name="([^"]*)" value="([^"]*)">', page)
    return MultiDict((unescape(name), unescape(value)) for name, value in found)


@pytest.mark.parametrize(("address", "form"), [
    ("/desk/cases/{case}/order/cancel", {"why": WORDS}),
    ("/desk/materials/new", {"name": "Glaze & <b>more</b>", "kind": "glaze", "lot": "L-9", "expiry": "2031-01-01",
                             "tint": ""}),
    ("/desk/people/new?kept=1&also=2", {"name": "Ines Nowa", "roles": ["technician", "supervisor"], "until": ""}),
])
def test_what_was_typed_comes_back_and_goes_through(
    tmp_path: Path, address: str, form: dict[str, str | list[str]]
) -> None:
    """507: every field in its order and as it was, markup as text, the error above; sent again it is stored."""
    with desk(tmp_path / "data") as at:
        to = address.format(case=at.jaw.opened.code)
        with full(at):
            before = at.jaw.bench.store.tip()
            page = at.post(to, 507, **form)
            assert fields(page) == MultiDict(form) and f'action="{to.replace("&", "&amp;")}"' in page
            assert "free some space" in page and "<b>" not in page and 'type="password"' not in page
            assert fields(at.post(to, 507, **fields(page).to_dict(flat=False))) == MultiDict(form)  # still no room
            assert at.jaw.bench.store.tip() == before
        answer = at.client.post(to, data=fields(page))
        assert answer.status_code in (200, 303), answer.text
        bench = at.jaw.bench
        done = {"cancel": case_glances(bench)[0].cancelled, "materi": len(things(bench)) == 4,
                "people": any(p.name == "Ines Nowa" and len(p.roles) == 2 for p in people(bench))}
        assert [name for name, is_so in done.items() if is_so and name in to], to


def test_a_pin_is_asked_once_more(tmp_path: Path) -> None:
    """A release keeps its ticks; the PIN is never sent back, has a field of its own, and lets it through."""
    with desk(tmp_path / "data", lab=LAB3, case=ASKED) as at:
        at.jaw.run_to()
        to = f"/desk/jaw/{at.jaw.code}/release"
        at.sit(*SUPERVISOR)  # half an hour has passed
        form = ticked(at.get(to))
        with full(at):
            page = at.post(to, 507, **form, pin=SUPERVISOR[1])
        assert fields(page).to_dict() == form and SUPERVISOR[1] not in page
        assert 'name="pin" type="password"' in page and "A PIN is never kept" in page
        at.post(to, **fields(page), pin=SUPERVISOR[1])
        assert record_of(at.jaw.bench, at.jaw.code).after.release is not None


def test_a_button_alone_and_a_file(tmp_path: Path) -> None:
    """A form without fields can be sent again; a file is said not to be kept, and is asked for once more."""
    with desk(tmp_path / "data") as at:
        at.post(f"/desk/cases/{at.jaw.opened.code}/order/cancel", why="the clinic rang")
        with full(at):
            page = at.client.post(f"/desk/cases/{at.jaw.opened.code}/order/reopen",
                                  content_type="application/x-www-form-urlencoded")
            assert page.status_code == 507 and "Send it again" in page.text and not fields(page.text)
            sheet = CASE.format(training="false", jaw="upper", teeth=[11, 21]).replace("T-2026-0017", "T-2026-0018")
            sent = {"file": (io.BytesIO(sheet.encode()), "case.toml"), "protocol": ""}
            page = at.client.post("/desk/cases/new/sheet", data=sent)
        assert page.status_code == 507 and 'name="file" type="file"' in page.text
        assert "A file is not kept either" in page.text and 'enctype="multipart/form-data"' in page.text


def test_programs_are_answered_as_ever(tmp_path: Path) -> None:
    """Who asks for JSON gets the error as JSON, and no page."""
    with desk(tmp_path / "data") as at, full(at):
        answer = at.client.post(
            f"/desk/cases/{at.jaw.opened.code}/order/cancel", data={"why": "x"}, headers={"Accept": "application/json"})
        assert answer.status_code == 507 and "free some space" in answer.get_json()["error"]


def test_no_secret_of_a_form_is_forgotten() -> None:
    """Every password field of every template is among those that are never sent back to a page."""
    templates = [path.read_text("utf-8") for path in TEMPLATES.rglob("*.html") if path.name != "again.html"]
    inputs = [tag for text in templates for tag in re.findall(r"<input [^>]*>", text) if 'type="password"' in tag]
    names = {found[1] for tag in inputs if (found := re.search(r' name="([^"]+)"', tag))}
    assert len(inputs) >= 8 and names == set(SECRET)


@pytest.mark.browser
@pytest.mark.parametrize("size", [PORTRAIT, LANDSCAPE], ids=["portrait", "landscape"])
def test_the_page_is_for_everybody(tmp_path: Path, browser: Browser, size: tuple[int, int]) -> None:
    """Axe finds nothing, words are readable, controls large enough, and the page fits the width."""
    with desk(tmp_path / "data") as at, full(at):
        text = at.post("/desk/people/new", 507, name="Ines Nowa", roles=["technician"], until="", pin="2468")
    css = (STATIC / "css" / "desk.css").read_text("utf-8")
    page = browser.new_page(viewport={"width": size[0], "height": size[1]})
    page.set_content(re.sub(r'<link rel="stylesheet"[^>]*>', f"<style>{css}</style>", text))
    assert violations(page) == []
    assert faint(page, 4.5, 4.5) == []
    assert small(controls(page, "main :is(button, .button, input:not([type=hidden]))"), 47.9) == []
    assert page.evaluate("() => document.documentElement.scrollWidth <= innerWidth")
    page.screenshot(path=tmp_path / "again.png", full_page=True)
    page.close()
