"""The supervisor's screens in a browser: axe, contrast, room in both orientations, and a list that renews itself."""

import json
from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, Page

from benchapp.core.walk import MINUTE
from tests.live import PINS, LiveLab
from tests.web.axe import violations
from tests.web.colour import faint
from tests.web.conftest import LANDSCAPE, PORTRAIT, NewJaw, Signed
from tests.web.early import EarlyTablet
from tests.web.hands import BOSS, at_desk, in_every_size
from tests.web.watch import complaints

SCREENS = ("/desk/today", "/desk/marks", "/desk/deviations", "/desk/protocol")
CONTRAST = 4.5  # WCAG 2.2, 1.4.3; held with the blue channel gone too


@pytest.fixture(scope="session")
def busy(lab: LiveLab, new_jaw: NewJaw, signed: Signed) -> str:
    """One jaw each on the bench, in the chamber, with its time up, and late with an entry not taken; and bytes."""
    new_jaw("lay-out")
    new_jaw("cure-second-side", ago=5 * MINUTE)
    new_jaw("cool-down", ago=40 * MINUTE)
    late = new_jaw("tack-light", ago=30 * MINUTE)
    tablet = EarlyTablet(lab, signed("Ewa Łukasik"))
    data, now = tablet.page_data(late), json.loads(tablet.get(f"/bench/{late}/base?after=0"))["now"]
    said: list[dict[str, Any]] = [
        {"kind": "confirm", "step": step, "outcome": outcome, "places": ["-"], "round": 0}
        for step, outcome in (("pack-up", "packed-up"), ("tack-light", "tacked"))
    ]
    sent = [tablet.fact(data, one, now - 1) | {"id": f"said-{late}-{n}"} for n, one in enumerate(said)]
    tablet.post("/outbox/1", sent)
    tablet.post("/outbox/1", [{"id": "no-fact-at-all", "kind": "<script>"}])
    return late


Opened = Callable[[tuple[int, int]], Page]


@pytest.fixture
def opened(tablet: Callable[..., BrowserContext], lab: LiveLab, signed: Signed, busy: str) -> Opened:
    """Sit down at the desk as the supervisor, in a window of a size."""

    return lambda size: at_desk(tablet(size), lab)


@pytest.mark.browser
def test_screens_are_accessible_in_every_size(opened: Opened, lab: LiveLab) -> None:
    """Axe finds nothing, text is readable also through orange glasses, no page is broader than its window."""
    page = opened(PORTRAIT)
    for address in SCREENS:
        page.goto(f"{lab.address}{address}")
        for size in in_every_size(page):
            assert violations(page) == [], (address, size)
            assert faint(page, CONTRAST, CONTRAST) == [], (address, size)
            assert page.evaluate("() => document.documentElement.scrollWidth <= innerWidth"), (address, size)
            small = page.evaluate("""() => [
                ...document.querySelectorAll("main button, main input:not([type=hidden]), main select")]
                .filter((e) => e.getBoundingClientRect().height < 48).map((e) => e.outerHTML.slice(0, 80))""")
            assert small == [], (address, size)
        assert complaints(page) == [], address


@pytest.mark.browser
def test_the_list_renews_itself_and_keeps_focus_and_scroll(opened: Opened, lab: LiveLab, new_jaw: NewJaw) -> None:
    """After 15 s of the browser's clock a new jaw is on the list; focus and scroll stay where they were."""
    page = opened((1280, 500))
    page.clock.install()
    page.goto(f"{lab.address}/desk/today")
    link = page.locator("[id^=bench-]").first
    link.focus()
    page.evaluate("() => scrollTo(0, 180)")
    before = page.evaluate("() => [document.activeElement.id, scrollY]")
    assert before[0].startswith("bench-") and before[1] == 180
    code = new_jaw("dry-fit")
    assert page.locator(f"[data-jaw='{code}']").count() == 0
    page.clock.run_for(15_500)
    page.wait_for_selector(f"[data-jaw='{code}']", state="attached")
    assert page.evaluate("() => [document.activeElement.id, scrollY]") == before
    assert page.locator("#stale").is_hidden()


@pytest.mark.browser
def test_a_list_that_cannot_be_renewed_says_so(opened: Opened, lab: LiveLab) -> None:
    """Without an answer the page warns that its list is old, and takes it back once the PC answers."""
    page = opened(LANDSCAPE)
    page.clock.install()
    page.goto(f"{lab.address}/desk/today")
    page.route("**/desk/today/list", lambda route: route.abort())
    page.clock.run_for(15_500)
    page.wait_for_selector("#stale:not([hidden])")
    page.unroute("**/desk/today/list")
    page.clock.run_for(15_500)
    page.wait_for_selector("#stale", state="hidden")


@pytest.mark.browser
def test_an_entry_is_set_aside_by_keys_alone(opened: Opened, lab: LiveLab, busy: str) -> None:
    """With keyboard alone: PIN, Tab, Enter; the page says what happened."""
    page = opened(LANDSCAPE)
    page.goto(f"{lab.address}/desk/marks")
    form = page.locator(f"form[action='/desk/marks/{busy}']").first
    form.locator("input[name=pin]").focus()
    page.keyboard.type(PINS[BOSS])
    while page.evaluate("() => document.activeElement.value") != "aside":
        page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    page.wait_for_selector(".said")
    assert "Set aside" in page.inner_text(".said")
