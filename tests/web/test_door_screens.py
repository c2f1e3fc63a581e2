"""The desk's door in a real browser: a badge is scanned or typed there, a PIN is typed, and all by keyboard."""

from collections.abc import Callable

import pytest
from playwright.sync_api import BrowserContext, Page

from tests.live import PINS, LiveLab
from tests.web.conftest import LANDSCAPE, PORTRAIT
from tests.web.hands import scan
from tests.web.test_signed_out import BOSS, Boss
from tests.web.test_staff_screens import sound
from tests.web.watch import complaints


@pytest.fixture
def badge(lab: LiveLab) -> str:
    """A new badge of a technician."""
    return Boss(lab).new_badge("Ewa Łukasik")


@pytest.fixture
def door(tablet: Callable[..., BrowserContext], lab: LiveLab) -> Callable[..., Page]:
    """Open the door on a new PC or tablet."""

    def make(size: tuple[int, int] = LANDSCAPE, then: str = "/desk/cases") -> Page:
        page = tablet(size).new_page()
        page.goto(f"{lab.address}/desk/signin?next={then}")
        page.wait_for_function("() => document.activeElement.id === 'pin'")  # given when first drawn, not when loaded
        return page

    return make


@pytest.mark.parametrize("at", ["#pin", "#person", "#badge", "body"])
def test_a_badge_is_scanned_wherever_the_focus_is(at: str, door: Callable[..., Page], badge: str) -> None:
    """At the PIN, the names, its own field or nothing: the badge opens the page that was asked for."""
    page = door()
    if at == "body":
        page.evaluate("() => document.activeElement.blur()")
    else:
        page.focus(at)
    scan(page, badge.lower())
    page.wait_for_url("**/desk/cases")
    assert "Ewa Łukasik" in page.inner_text(".desk-top")
    assert complaints(page) == []


def test_a_badge_is_typed_by_keyboard_alone(door: Callable[..., Page], badge: str) -> None:
    """Tab leads from the PIN to the badge, and Enter sends it."""
    page = door()
    for _ in range(2):
        page.keyboard.press("Tab")
    assert page.evaluate("() => document.activeElement.id") == "badge"
    page.keyboard.type(badge, delay=70)
    page.keyboard.press("Enter")
    page.wait_for_url("**/desk/cases")


def test_a_pin_goes_on_opening_the_desk(door: Callable[..., Page]) -> None:
    """Typed at leisure or in haste, and sent with Enter, a PIN is never taken for a scan."""
    for delay in (90, 0):
        page = door()
        page.select_option("#person", label=BOSS)
        page.focus("#pin")
        page.keyboard.type(PINS[BOSS], delay=delay)
        page.keyboard.press("Enter")
        page.wait_for_url("**/desk/cases")
        assert BOSS in page.inner_text(".desk-top")


@pytest.mark.parametrize("size", [PORTRAIT, LANDSCAPE, (640, 400)])
def test_what_opens_nothing_is_said(size: tuple[int, int], door: Callable[..., Page], lab: LiveLab) -> None:
    """A scanned jaw and a slip are said above the forms, no code stays in a field, and axe finds nothing."""
    for text in (lab.code, "P12345"):
        page = door(size)
        sound(page, "door")
        page.focus("#pin")
        scan(page, text)
        page.wait_for_selector(".faults:has-text('not the code of a badge: ten characters')")
        assert page.input_value("#pin") == page.input_value("#badge") == ""
        assert text not in page.content()
        assert page.get_attribute("[name=next] >> nth=0", "value") == "/desk/cases"
        sound(page, "refused", ".faults")


def test_a_long_name_does_not_widen_the_door(door: Callable[..., Page]) -> None:
    """Somebody with 80 letters works here: the tile list keeps within the window at 200 %, like everything else."""
    page = door((640, 400))
    page.evaluate("""() => {
      const one = document.createElement("option");
      one.textContent = "W".repeat(80);
      document.getElementById("person").append(one);
    }""")
    assert page.evaluate("() => document.documentElement.scrollWidth <= innerWidth")
