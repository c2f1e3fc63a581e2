"""The network's page at the desk and the door, in a browser: axe, room, sizes, contrast, in both orientations."""

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page

from tests.network.live import LiveLan
from tests.web.colour import faint
from tests.web.conftest import LANDSCAPE, PORTRAIT
from tests.web.hands import at_desk
from tests.web.test_access import AA

CONTRAST = 4.5  # WCAG 2.2, 1.4.3; held with the blue channel gone too
ADDRESSES = "() => [...document.querySelectorAll('main img')].every((one) => one.complete && one.naturalWidth > 0)"


@pytest.mark.browser
@pytest.mark.parametrize("size", [PORTRAIT, LANDSCAPE, (640, 400)], ids=["portrait", "landscape", "zoomed"])
def test_the_pages_are_accessible(size: tuple[int, int], browser: Browser, lan: LiveLan) -> None:
    """Axe finds nothing, text is readable also through orange glasses, all fits the window, symbols are drawn."""
    context = browser.new_context(viewport={"width": size[0], "height": size[1]}, ignore_https_errors=True)
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
    found = Axe().run(page, options=AA).response["violations"]
    assert [(v["id"], [n["html"][:200] for n in v["nodes"]]) for v in found] == []
    assert faint(page, CONTRAST, CONTRAST) == []
    assert page.evaluate("() => document.documentElement.scrollWidth <= innerWidth")
    assert page.evaluate(ADDRESSES)
    heights = page.locator(large).evaluate_all("all => all.map((one) => one.getBoundingClientRect().height)")
    assert all(height >= 48 for height in heights)
