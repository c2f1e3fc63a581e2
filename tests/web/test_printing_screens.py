"""The printing pages in a browser: axe and room in both orientations, and a sheet reached by keyboard alone."""

from collections.abc import Callable

import pytest
from playwright.sync_api import BrowserContext

from tests.live import LiveLab
from tests.web.axe import violations
from tests.web.colour import faint
from tests.web.conftest import NewJaw, Signed
from tests.web.hands import at_desk, in_every_size
from tests.web.watch import complaints

CONTRAST = 4.5  # WCAG 2.2, 1.4.3; held with the blue channel gone too


@pytest.mark.browser
def test_the_pages_are_accessible(
    tablet: Callable[..., BrowserContext], lab: LiveLab, signed: Signed, new_jaw: NewJaw
) -> None:
    """Axe finds nothing, text is readable also through orange glasses, all fits the window, controls are large."""
    code = new_jaw()
    page = at_desk(tablet(), lab)
    for address in ("/desk/printing", f"/desk/print/{code}"):
        page.goto(f"{lab.address}{address}")
        for size in in_every_size(page):
            assert violations(page) == [], (address, size)
            assert faint(page, CONTRAST, CONTRAST) == [], (address, size)
            assert page.evaluate("() => document.documentElement.scrollWidth <= innerWidth"), (address, size)
            small = page.evaluate("""() => [...document.querySelectorAll("main button, main .button, main label")]
                .filter((e) => e.getBoundingClientRect().height < 48).map((e) => e.outerHTML.slice(0, 80))""")
            assert small == [], (address, size)
        assert complaints(page) == [], address
    pictures = page.locator("fieldset.labels img")
    assert pictures.count() == 5
    assert pictures.evaluate_all("all => all.every((one) => one.complete && one.naturalWidth === 400)")
    page.keyboard.press("Tab")
    for _ in range(40):
        if page.evaluate("() => document.activeElement.name") == "label":
            break
        page.keyboard.press("Tab")
    page.keyboard.press("Space")
    assert page.locator("input[name=label]:checked").count() == 4
