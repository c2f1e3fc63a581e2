"""People, settings and set-up in a real browser, badges at a tablet, and a bench page that is left alone."""

import re
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page

from tests.live import Hand, LiveLab
from tests.web.axe import violations
from tests.web.conftest import LANDSCAPE, NewJaw, Sit
from tests.web.hands import BOSS, at_desk, entries, go_on, in_every_size, scan, stored
from tests.web.measure import controls, cut, small
from tests.web.watch import complaints

MINUTE = 60_000


def sound(page: Page, where: str, shows: str = "h1") -> None:
    """Assert that axe finds nothing, nothing is cut off, and every control is large enough, once `shows` is there."""
    page.wait_for_selector(shows)
    page.wait_for_load_state()
    for size in in_every_size(page):
        assert violations(page) == [], (where, size)
        assert cut(page) == [], (where, size)
        # A link within a row of a table is a line of text (WCAG 2.2, 2.5.8: inline); a box is tapped by its label.
        found = controls(page, "button, .button, input:not([type=checkbox], [type=hidden]), select")
        assert small(found, 48) == [], (where, size)


@pytest.fixture
def badge(tablet: Callable[..., BrowserContext], lab: LiveLab) -> str:
    """A new badge of a technician, as its page shows it once."""
    page = at_desk(tablet(LANDSCAPE), lab, "/desk/people")
    page.click("text=Ewa Łukasik")
    page.click("text=/Give a badge|Replace the badge/")
    return page.inner_text("[data-once=badge]").replace(" ", "")


def test_the_pages_are_for_everybody(tablet: Callable[..., BrowserContext], lab: LiveLab) -> None:
    """List, form, one person, what is shown once, and settings: axe finds nothing upright, across and at 200 %."""
    page = at_desk(tablet(), lab, "/desk/people")
    sound(page, "list")
    page.click("text=Take somebody on")
    sound(page, "new", "#pin")
    page.goto(f"{lab.address}/desk/people")
    page.click("text=Ewa Łukasik")
    sound(page, "person", "text=Leaves")
    page.uncheck("input[value=technician]")
    page.click("text=Save")
    sound(page, "refused", ".faults")
    page.click("text=/Give a badge|Replace the badge/")
    sound(page, "once", "[data-once]")
    page.goto(f"{lab.address}/desk/settings")
    sound(page, "settings")
    assert [c for c in complaints(page) if "422" not in c] == []


@pytest.fixture
def empty(tmp_path: Path) -> Iterator[LiveLab]:
    """A server on a folder that nobody set up."""
    served = LiveLab(tmp_path / "empty").start()
    yield served
    served.kill()


def test_a_lab_is_set_up_by_hand(browser: Browser, empty: LiveLab) -> None:
    """Any address leads to the form; the PC's zone stands chosen; then the desk opens, and somebody is taken on."""
    context = browser.new_context(timezone_id="America/Lima")
    page = context.new_page()
    page.goto(f"{empty.address}/desk/today")
    page.wait_for_function("() => document.getElementById('zone').value === 'America/Lima'")
    sound(page, "set-up")
    for name, words in (("lab", "Harbour lab"), ("address", "Quay 1"), ("name", "Ana Noor"),
                        ("pin", "97531"), ("again", "97531")):
        page.fill(f"#{name}", words)
    page.click("button.go")
    page.wait_for_url("**/desk/signin")
    page.fill("#pin", "97531")
    page.click("button.go")
    page.wait_for_url("**/desk/today")
    assert "Ana Noor" in page.inner_text(".desk-top")
    page.goto(f"{empty.address}/desk/people/new")
    page.fill("#name", "Ida Lund")
    page.click("text=Take on")
    sound(page, "PIN shown once", "[data-once=pin]")
    page.reload()
    assert "was shown once" in page.inner_text("main") and not page.query_selector("[data-once]")
    context.close()


def test_a_scanned_badge_signs_in_at_once(
    tablet: Callable[..., BrowserContext], lab: LiveLab, new_jaw: NewJaw, badge: str
) -> None:
    """On the first page, in its field too, and on the bench page with its dialog open; the code stays in no field."""
    code = new_jaw()
    page = tablet().new_page()
    page.goto(f"{lab.address}/")
    page.wait_for_selector("body[data-loaded=yes]")
    page.click("#code")
    scan(page, badge.lower())
    page.wait_for_function("() => document.querySelector('#person').textContent === 'Ewa Łukasik'")
    assert page.input_value("#code") == "" and page.url == f"{lab.address}/"
    page.evaluate("() => localStorage.clear()")
    hand = Hand(page, lab).open(code)
    assert page.is_visible("#signin") and "Badge or tile" in page.inner_text("#signin")
    scan(page, badge)
    page.wait_for_selector("#signin", state="hidden")
    go_on(hand)
    stored(hand)
    body = entries(lab, code, "confirm")[-1]
    assert (body["event"]["by"]["how"], body["server"]["marks"]) == ("badge", [])
    assert not page.query_selector("#stop[open]") and complaints(page) == []


def test_a_badge_typed_by_hand(tablet: Callable[..., BrowserContext], lab: LiveLab, badge: str) -> None:
    """Typed into the first page's field or into the dialog it signs in; a wrong one is said in the dialog."""
    page = tablet().new_page()
    page.goto(f"{lab.address}/")
    page.wait_for_selector("body[data-loaded=yes]")
    page.fill("#code", badge.lower())
    page.click("#find [type=submit]")
    page.wait_for_function("() => document.querySelector('#person').textContent === 'Ewa Łukasik'")
    assert page.input_value("#code") == "" and page.url == f"{lab.address}/"
    page.evaluate("() => localStorage.clear()")
    page.click("header [data-act=signin]")
    for typed, said in (("P123", "ten characters"), (lab.code, "first one P")):
        page.fill("#badge", typed)
        page.click("#signin [type=submit]")
        page.wait_for_function(
            "(w) => document.querySelector('[data-part=of-badge]').textContent.includes(w)", arg=said)
    page.fill("#badge", badge)
    page.keyboard.press("Enter")
    page.wait_for_selector("#signin", state="hidden")
    assert page.inner_text("#person") == "Ewa Łukasik"


def test_a_badge_that_is_struck_off_is_said(
    tablet: Callable[..., BrowserContext], lab: LiveLab, new_jaw: NewJaw, badge: str
) -> None:
    """Scanned on the bench page without the dialog, it opens the dialog and says why; who was signed in stays."""
    page = at_desk(tablet(LANDSCAPE), lab, "/desk/people")
    page.click("text=Ewa Łukasik")
    page.click("text=Strike the badge off")
    page = Hand(tablet().new_page(), lab).open(new_jaw()).sign_in(BOSS).page
    scan(page, badge)
    page.wait_for_function(
        "() => document.querySelector('[data-part=of-badge]').textContent.includes('struck off')")
    assert page.is_visible("#signin") and page.inner_text("#person") == BOSS
    assert page.url.endswith(re.search(r"/bench/\w+$", page.url)[0])  # type: ignore[index]


def test_a_bench_page_left_alone_forgets_who_was_there(sit: Sit, new_jaw: NewJaw, lab: LiveLab) -> None:
    """After ten minutes nobody is signed in; the dialog comes with the next tap; an earlier tap counts anew."""
    code = new_jaw("dry-fit")
    hand = sit(code)
    page = hand.page
    page.clock.install()
    page.reload()
    page.wait_for_selector("body[data-loaded=yes]")
    page.clock.fast_forward(9 * MINUTE)
    page.click(".ident")
    page.clock.fast_forward(9 * MINUTE)
    page.clock.run_for(2000)
    assert page.inner_text("#person") == BOSS
    page.clock.fast_forward(MINUTE)
    page.wait_for_function("() => document.querySelector('#person').textContent === 'Sign in'")
    page.clock.run_for(5000)
    assert not page.query_selector("#signin[open]")
    page.click("#main")
    page.clock.run_for(100)
    page.wait_for_selector("#signin[open]")
    assert [b for b in entries(lab, code, "confirm") if b["event"]["step"] == "dry-fit"] == []


def test_a_wet_jaw_never_forgets(sit: Sit, new_jaw: NewJaw) -> None:
    """While resin is wet an hour changes nothing, and no dialog comes over the work."""
    page = sit(new_jaw("bubble-check")).page
    page.clock.install()
    page.reload()
    page.wait_for_selector("body[data-loaded=yes][data-phase=wet]")
    page.clock.fast_forward(60 * MINUTE)
    page.clock.run_for(5000)
    page.click(".ident")
    page.clock.run_for(100)
    assert page.inner_text("#person") == BOSS and not page.query_selector("#signin[open]")
