"""The network's page at the desk and the door, in a browser: axe, room, sizes, contrast, in both orientations."""

import pytest
from playwright.sync_api import Browser, Page

from tests.network.live import LiveLan
from tests.web.axe import violations
from tests.web.colour import faint
from tests.web.hands import at_desk, in_every_size

CONTRAST = 4.5  # WCAG 2.2, 1.4.3; held with the blue channel gone too
ADDRESSES = "() => [...document.querySelectorAll('main img')].every((one) => one.complete && one.naturalWidth > 0)"


@pytest.mark.browser
def test_the_pages_are_accessible(browser: Browser, lan: LiveLan) -> None:
    """Axe finds nothing, text is readable also through orange glasses, all fits the window, symbols are drawn."""
    context = browser.new_context(ignore_https_errors=True)
    desk = at_desk(context, lan)
    desk.goto(f"{lan.address}/desk/network")
    sound(desk, "main a.button, main button")
    assert desk.locator(".doors [data-door]").count() == 1
    tablet = context.new_page()
    tablet.goto(f"http://127.0.0.1:{lan.setup_port}/")
    tablet.click("summary")
    sound(tablet, "a.big, summary")
    assert tablet.inner_text(".print").split() == desk.inner_text("#fingerprint").split()
    context.close()


def sound(page: Page, large: str) -> None:
    """Assert that nothing is wrong with a page that can be measured; `large` are controls for fingers."""
    for size in in_every_size(page):
        assert violations(page) == [], size
        assert faint(page, CONTRAST, CONTRAST) == [], size
        assert page.evaluate("() => document.documentElement.scrollWidth <= innerWidth"), size
        assert page.evaluate(ADDRESSES), size
        heights = page.locator(large).evaluate_all("all => all.map((one) => one.getBoundingClientRect().height)")
        assert all(height >= 48 for height in heights), size
