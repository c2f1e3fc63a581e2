"""Tablets in a real browser: under a name that is not the PC's own, a page is a stranger's until a code enrols it."""

import json
import re
from collections.abc import Callable

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from tests.live import Hand, LiveLab
from tests.web.conftest import LANDSCAPE, PORTRAIT, NewJaw, Signed
from tests.web.hands import at_desk, entries, go_on, stored
from tests.web.measure import controls, cut, small, tight
from tests.web.test_access import sound as bench_sound
from tests.web.test_staff_screens import sound as desk_sound
from tests.web.watch import complaints

Contexts = Callable[..., BrowserContext]


def network(lab: LiveLab) -> str:
    """Return the server's address under a name that only a tablet uses; browsers lead it to loopback, and trust it as
    they trust https (RFC 6761, 6.3)."""
    return f"http://tablet.localhost:{lab.port}"


def show_code(page: Page, lab: LiveLab, name: str = "") -> str:
    """Let the desk show a code, and read it off the page."""
    page.goto(f"{lab.address}/desk/tablets")
    page.fill("#name", name)
    page.click("text=Show a code")
    return page.inner_text("[data-once=enrol] >> nth=0")


def type_code(page: Page, code: str, name: str = "") -> None:
    """Type a code on the tablet, and its name."""
    page.fill("#code", code)
    page.fill("#name", name)
    page.click("button.go")


@pytest.mark.parametrize("size", [PORTRAIT, LANDSCAPE, (640, 400)])
def test_the_pages_are_for_everybody(size: tuple[int, int], tablet: Contexts, lab: LiveLab) -> None:
    """Enrolment on the tablet, with a fault too, and list and codes at the desk: axe, contrast, sizes, nothing cut."""
    name, refused = f"Shelf {size[0]}", list[str]()
    page = tablet(size).new_page()
    page.on("response", lambda answer: refused.append(answer.url) if answer.status >= 400 else None)
    page.goto(network(lab))
    page.wait_for_selector("body[data-loaded=yes] #status[data-status=foreign][data-waiting='0']")
    assert refused == [f"{network(lab)}/"]  # the page itself: a stranger on which nothing waits asks for nothing more
    bench_sound(page, "stranger")
    type_code(page, "E123", "Window")
    page.wait_for_selector("[role=alert].refused")
    bench_sound(page, "refused")
    assert page.input_value("#code") == "E123" and page.input_value("#name") == "Window"
    boxes = controls(page)
    assert small(boxes, 80) == [] and tight(boxes, 8) == []
    assert page.evaluate("document.documentElement.scrollWidth") <= size[0]
    boss = at_desk(tablet(size), lab, "/desk/tablets")
    type_code(page, show_code(boss, lab, name))
    page.wait_for_selector("[data-tablet]")
    bench_sound(page, "first page with its name")
    assert name in page.inner_text("[data-tablet]")
    show_code(boss, lab)
    desk_sound(boss, "codes", "[data-enrol]")
    boss.goto(f"{lab.address}/desk/tablets")
    desk_sound(boss, "list")
    boss.click(f"[aria-label='Strike {name} off']")
    desk_sound(boss, "struck off", f"tr[data-struck]:has-text('{name}')")
    boss.click("summary")
    desk_sound(boss, "browsers on the PC")
    assert complaints(boss) == []


def test_a_struck_tablet_keeps_what_it_holds_until_it_is_enrolled_anew(
    tablet: Contexts, lab: LiveLab, new_jaw: NewJaw, signed: Signed
) -> None:
    """Its open page says that it was struck off and goes on; loaded again it asks for a code; then all is stored."""
    code, context = new_jaw("dry-fit"), tablet()
    boss = at_desk(tablet(LANDSCAPE), lab, "/desk/tablets")
    page = context.new_page()
    page.goto(f"{network(lab)}/bench/{code}")
    type_code(page, show_code(boss, lab), "Window, left")
    page.wait_for_url(f"{network(lab)}/")
    person = json.dumps(json.dumps(signed("Ewa Łukasik")))
    page.evaluate(f"() => localStorage.setItem('person', {person})")
    page.goto(f"{network(lab)}/bench/{code}")
    page.wait_for_selector("body[data-loaded=yes]")
    hand = Hand(page, lab)
    go_on(hand)
    stored(hand)
    boss.goto(f"{lab.address}/desk/tablets")
    thing = boss.get_attribute("tr:has-text('Window, left')", "data-tablet")
    boss.click("[aria-label='Strike Window, left off']")
    go_on(hand)
    page.wait_for_selector("#status[data-status=struck][data-waiting='1']")
    assert page.inner_text("#status") == "Tablet struck off · 1 waiting, kept · ask a supervisor"
    assert cut(page) == []
    page.set_viewport_size({"width": LANDSCAPE[0], "height": LANDSCAPE[1]})
    assert cut(page) == []
    before = len(entries(lab, code, "confirm"))
    page.reload()
    page.wait_for_selector("[data-stands=struck]")
    page.wait_for_selector("#status[data-status=struck][data-waiting='1']")
    boss.click("[aria-label='Enrol Window, left anew']")
    words = boss.inner_text("[data-once=enrol] >> nth=0")
    context.clear_cookies()  # its browser lost the old token too: the code alone makes it the same tablet
    page.goto(network(lab))
    page.wait_for_selector("[data-stands=stranger]")
    type_code(page, words)
    page.wait_for_selector("#status[data-status=stored][data-waiting='0']")
    found = entries(lab, code, "confirm")
    assert len(found) == before + 1 and {body["server"]["tablet"] for body in found[-2:]} == {thing}
    assert found[-1]["server"]["marks"] == []
    expect(boss.locator("body")).to_contain_text(re.compile("Used: Window, left is enrolled"), timeout=15_000)
