"""The printing pages in a browser: axe and room in both orientations, and a sheet reached by keyboard alone."""

from collections.abc import Callable

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import BrowserContext

from tests.live import LiveLab
from tests.web.colour import faint
from tests.web.conftest import LANDSCAPE, PORTRAIT, NewJaw, Signed
from tests.web.hands import at_desk
from tests.web.test_access import AA
from tests.web.watch import complaints

CONTRAST = 4.5  # WCAG 2.2, 1.4.3; held with the blue channel gone too


@pytest.mark.browser
@pytest.mark.parametrize("size", [PORTRAIT, LANDSCAPE, (640, 400)], ids=["portrait", "landscape", "zoomed"])
def test_the_pages_are_accessible(
    size: tuple[int, int], tablet: Callable[..., BrowserContext], lab: LiveLab, signed: Signed, new_jaw: NewJaw
) -> None:
    """Axe finds nothing, text is readable also through orange glasses, all fits the window, controls are large."""
    code = new_jaw()
    page = at_desk(tablet(size), lab)
    for address in ("/desk/printing", f"/desk/print/{code}"):
        page.goto(f"{lab.address}{address}")
        found = Axe().run(page, options=AA).response["violations"]
        assert [(v["id"], [n["html"][:200] for n in v["nodes"]]) for v in found] == [], address
        assert faint(page, CONTRAST, CONTRAST) == [], address
        assert page.evaluate("() => document.documentElement.scrollWidth <= innerWidth"), address
        assert complaints(page) == [], address
        small = page.evaluate("""() => [...document.querySelectorAll("main button, main .button, main label")]
            .filter((e) => e.getBoundingClientRect().height < 48).map((e) => e.outerHTML.slice(0, 80))""")
        assert small == [], address
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
