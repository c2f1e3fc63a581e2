"""Case, release and what comes after in a real browser: for everybody, in both orientations, by keyboard alone."""

import json
from collections.abc import Callable

import pytest
from playwright.sync_api import BrowserContext, Page

from benchapp.core.walk import MINUTE
from benchapp.web.case import SHOWN
from tests.live import PINS, LiveLab
from tests.web.axe import violations
from tests.web.colour import faint
from tests.web.conftest import LANDSCAPE, PORTRAIT, NewJaw, Signed
from tests.web.early import EarlyTablet
from tests.web.hands import BOSS, at_desk, in_every_size
from tests.web.measure import controls, small
from tests.web.watch import complaints

CONTROLS = "button, .button, input:not([type=checkbox]):not([type=hidden]), select, textarea"
ZOOMED = (640, 400)  # 1280 x 800 at 200 %

Opened = Callable[[tuple[int, int], str], Page]


@pytest.fixture
def opened(tablet: Callable[..., BrowserContext], lab: LiveLab) -> Opened:
    """Sit down at the desk as the supervisor in a window of a size, and open a page."""

    return lambda size, address: at_desk(tablet(size), lab, address)


@pytest.fixture(scope="session")
def packed(lab: LiveLab, new_jaw: NewJaw, signed: Signed) -> tuple[str, str]:
    """Codes of a case and its jaw, which was held for a while, packed, and waits for its release."""
    code = new_jaw("pack-up", ago=10 * MINUTE)
    tablet = EarlyTablet(lab, signed("Ewa Łukasik"))
    tablet.sent = 900
    data, now = tablet.page_data(code), json.loads(tablet.get(f"/bench/{code}/base?after=0"))["now"]
    said = (("hold", "", ""), ("resume", "", ""), ("confirm", "pack-up", "packed-up"))
    done = [{"kind": k, "step": s, "outcome": o, "places": ["-"] if s else [], "round": 0} for k, s, o in said]
    facts = [tablet.fact(data, one, now - 9000 + n) for n, one in enumerate(done)]
    assert [a["marks"] for a in tablet.post("/outbox/1", facts)["acks"]] == [[], [], []]
    return data["case"], code


def sound(page: Page, where: str) -> None:
    """Assert that axe finds nothing, text is readable, every control is large enough, and the page fits the width."""
    page.wait_for_load_state()
    for size in in_every_size(page):
        assert violations(page) == [], (where, size)
        assert faint(page, 4.5, 4.5) == [], (where, size)
        assert small(controls(page, f"main :is({CONTROLS})"), 47.9) == [], (where, size)
        assert page.evaluate("() => document.documentElement.scrollWidth <= innerWidth"), (where, size)
    assert complaints(page) == [], where


@pytest.mark.browser
def test_screens_are_for_everybody(opened: Opened, lab: LiveLab, packed: tuple[str, str], new_jaw: NewJaw) -> None:
    """Case, a release that is refused and one that is ready, and the page after it: axe, contrast, sizes, width."""
    case, code = packed
    page = opened(PORTRAIT, f"/desk/case/{case}")
    sound(page, "case")
    waiting = new_jaw("dry-fit")
    for address in (f"/desk/jaw/{waiting}/release", f"/desk/jaw/{code}/release", f"/desk/jaw/{waiting}/after"):
        page.goto(f"{lab.address}{address}")
        sound(page, address)


@pytest.mark.browser
def test_older_entries_come_without_a_new_page(opened: Opened, packed: tuple[str, str]) -> None:
    """“Older entries” adds to the line of events in place, until there are none left."""
    page = opened(LANDSCAPE, f"/desk/case/{packed[0]}")
    first = page.locator("tr[data-entry]").count()
    page.click("#older a")
    page.wait_for_selector("#older", state="detached")
    assert page.locator("tr[data-entry]").count() > first == SHOWN
    assert "before=" not in page.url


@pytest.mark.browser
def test_a_jaw_is_released_by_keys_alone(opened: Opened, lab: LiveLab, packed: tuple[str, str]) -> None:
    """The browser keeps an unticked form; ticked by keyboard, with the PIN, the jaw is released, sent out, amended."""
    case, code = packed
    page = opened(PORTRAIT, f"/desk/jaw/{code}/release")
    page.locator("#pin").focus()
    page.keyboard.type(PINS[BOSS])
    page.keyboard.press("Enter")
    assert page.url.endswith("/release")  # the form stays: a tick is missing
    boxes = page.locator("input[type=checkbox]")
    assert boxes.count() >= 1
    for at in range(boxes.count()):
        boxes.nth(at).focus()
        page.keyboard.press("Space")
    for at in range(page.locator("textarea").count()):
        page.locator("textarea").nth(at).focus()
        page.keyboard.type("switched off, nothing waits on it")
    page.locator("#pin").focus()
    page.keyboard.press("Enter")
    page.wait_for_url(f"**/desk/case/{case}")
    assert "Released:" in page.inner_text(".said")
    page.goto(f"{lab.address}/desk/jaw/{code}/after")
    sound(page, "after")
    page.fill("#means", "by post")
    page.keyboard.press("Enter")
    page.wait_for_selector("tr[data-what=sent]")
    sound(page, "sent")
    page.fill("#words", "the clinic has it")
    page.click("text=Add it")
    page.wait_for_selector("tr[data-what=amend]")
    page.goto(f"{lab.address}/record/{code}")
    assert BOSS in page.inner_text("[data-released=yes]")
    page.goto(f"{lab.address}/desk/case/{case}")
    sound(page, "case of a released jaw")
