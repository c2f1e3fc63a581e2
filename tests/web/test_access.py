"""Every screen for everybody: axe finds nothing, text is readable through orange glasses, keys reach all."""

from collections.abc import Callable

import pytest
from playwright.sync_api import BrowserContext, Page

from benchapp.core.walk import MINUTE
from tests.live import Hand, LiveLab
from tests.web.axe import AA as AA
from tests.web.axe import violations
from tests.web.colour import contrast, faint, pairs, without_blue
from tests.web.conftest import NewJaw, Sit
from tests.web.hands import go_on, insist, look, scan, tap_main

PLAIN, ORANGE = 7.0, 4.5  # WCAG 2.2 1.4.6 without glasses; 1.4.3 with the blue channel gone (the tool's own rule)
STEPS = (
    "intake", "second-fit", "lay-out", "wet-sockets", "bubble-check", "tack-light", "cure-second-side", "finish-off",
)


def sound(page: Page, where: str) -> None:
    """Assert that axe finds no violation on this screen, and that every text has its contrast."""
    page.wait_for_load_state()
    assert violations(page) == [], where
    assert faint(page, PLAIN, ORANGE) == [], where
    assert len(pairs(page)) > 0, where


def test_contrast_by_its_published_extremes() -> None:
    """Black on white is 21, a colour on itself 1; #767676 on white is 4.54 (from memory)."""
    assert contrast((0, 0, 0), (255, 255, 255)) == pytest.approx(21)
    assert contrast((12, 34, 56), (12, 34, 56)) == 1
    assert contrast((0x76, 0x76, 0x76), (255, 255, 255)) == pytest.approx(4.54, abs=0.005)
    assert without_blue((1, 2, 3)) == (1, 2, 0)


@pytest.mark.parametrize("step", STEPS)
def test_steps_of_each_kind(step: str, sit: Sit, new_jaw: NewJaw) -> None:
    """Plain, with a clock, tiles, wet, a map, values, two clocks, areas: each in its own state of phase."""
    sound(sit(new_jaw(step, ago=60_000)).page, step)


def test_views_of_the_map_with_every_state(sit: Sit, new_jaw: NewJaw) -> None:
    """One sextant with open, mended and waiting places, the arch with a part that waits, and the areas."""
    page = sit(new_jaw("bubble-check")).page
    look(page, "s1")
    page.click("[data-place=m16b]")
    page.wait_for_selector("[data-place=m16b][data-state=done]")
    page.click("[data-act=tool][data-outcome=bubble-left] >> visible=true")
    page.click("[data-place='16-15']")
    page.wait_for_selector("[data-place='16-15'][data-state=wait]")
    sound(page, "sextant")
    look(page, "whole")
    sound(page, "arch with a waiting place")
    page = sit(new_jaw("check-voids")).page
    look(page, "areas")
    page.click("[data-place=b-fitting]")
    page.wait_for_selector("[data-place=b-fitting][data-state=wait]")
    sound(page, "areas")


def test_dialogs(sit: Sit, new_jaw: NewJaw) -> None:
    """Every dialog: person, PIN, caution, hold, back and its reason, other time and its reason, stop."""
    page = sit(new_jaw("lay-out")).page
    for name, taps in {
        "caution": ["[data-step=lay-out] [data-act=caution] >> nth=0"],
        "reason-hold": [".rail [data-act=hold]"],
        "back": [".rail [data-act=sendback]"],
        "reason-send-back": [".rail [data-act=sendback]", "#back [data-value=dry-fit]"],
        "late": [".rail [data-act=late]"],
        "reason-stated": [".rail [data-act=late]", "#late [data-act=state]"],
        "signin": ["header [data-act=signin]"],
    }.items():
        insist(page, taps[0], f"dialog[open]#{name}" if len(taps) == 1 else "dialog[open]")
        for tap in taps[1:]:
            page.click(tap)
        page.wait_for_selector(f"#{name}[open]")
        sound(page, name)
        if name != "signin":
            page.keyboard.press("Escape")
            page.wait_for_selector(f"#{name}", state="hidden")
    page.click("#signin [data-act=person] >> nth=0")
    page.keyboard.type("00", delay=80)
    sound(page, "pin")
    page.keyboard.press("Enter")
    page.wait_for_function("() => document.querySelector('#signin [data-part=said]').textContent !== ''")
    sound(page, "wrong pin")
    page.click("#signin [data-act=close]")
    scan(page, "4006381333931")
    page.wait_for_selector("#stop[open]")
    sound(page, "stop")


def test_breach_hold_scrap_and_alarm(sit: Sit, new_jaw: NewJaw) -> None:
    """What only shows when something went wrong: late tack, the question why, a held jaw, scrap, a ringing alarm."""
    hand = sit(new_jaw("tack-light", ago=15 * MINUTE))
    sound(hand.page, "clock run out")
    hand.page.wait_for_selector("body[data-ready=yes]")
    tap_main(hand.page)
    hand.page.wait_for_selector("#reason-breach[open]")
    sound(hand.page, "breach")
    hand.page.click("#reason-breach [data-act=reason] >> nth=0")
    hand.page.click(".rail [data-act=scrap]")
    sound(hand.page, "scrap")
    hand.page.click("#reason-scrap [data-act=close]")
    hand.page.click(".rail [data-act=hold]")
    hand.page.click("#reason-hold [data-act=reason] >> nth=0")
    hand.page.wait_for_selector("body[data-held=yes]")
    sound(hand.page, "held")
    page = sit(new_jaw("cure-second-side", ago=31 * MINUTE)).page
    page.wait_for_selector("#alarm:not([hidden])")
    sound(page, "alarm")


def test_first_page_error_page_record_and_the_end(
    sit: Sit, lab: LiveLab, new_jaw: NewJaw, tablet: Callable[..., BrowserContext]
) -> None:
    """Home with and without the dialog, 404, a jaw that is through, and its record."""
    code = new_jaw("pack-up")
    hand = sit(code)
    go_on(hand)
    assert hand.at == "through"
    sound(hand.page, "through")
    for path in ("/", "/nothing-here", f"/record/{code}"):
        hand.page.goto(f"{lab.address}{path}")
        hand.page.wait_for_selector("body[data-loaded=yes]")
        sound(hand.page, path)


def reached(page: Page, most: int = 80) -> list[str]:
    """Press Tab once around; return what was reached, and assert that the focus can be seen at each stop."""
    found: list[str] = []
    stops: list[int] = []
    for _ in range(most):
        page.keyboard.press("Tab")
        stop, where, edge = page.evaluate(
            """() => {
              const e = document.activeElement;
              const name = e.id || e.dataset.sextant || e.dataset.place || e.dataset.act || e.className;
              const style = getComputedStyle(e.querySelector?.(":scope > rect") || e);
              const edge = e.matches("g") ? (style.strokeDasharray === "none" ? style.strokeWidth : "0")
                : style.outlineStyle === "none" ? "0" : style.outlineWidth;
              const stop = e === document.body ? -1 : [...document.querySelectorAll("*")].indexOf(e);
              return [stop, name, parseFloat(edge)];
            }""")
        if stop in stops:
            return found
        if stop >= 0:
            assert edge >= 3, f"the focus on {where} cannot be seen"
            stops.append(stop)
            found.append(where)
    raise AssertionError(f"Tab never comes back to where it began: {found}")


def test_tab_reaches_everything_and_the_focus_is_seen(sit: Sit, new_jaw: NewJaw) -> None:
    """At the bubble check Tab reaches header, caution, targets, rail and main action, each with a visible focus."""
    page = sit(new_jaw("bubble-check")).page
    assert {"home-link", "signin", "s1", "s2", "s3", "undo", "late", "sendback", "main"} <= set(reached(page))
    look(page, "s1")
    stops = reached(page)
    assert {"tool", "m17b", "17-16", "m14l", "whole", "main"} <= set(stops)
    assert "16" not in stops  # a tooth that this step does not ask


def test_enter_and_space_work_targets_of_the_map(sit: Sit, new_jaw: NewJaw) -> None:
    """Enter opens a sextant, Space marks a place, as a tap does."""
    page = sit(new_jaw("bubble-check")).page
    page.focus("[data-sextant=s2]")
    page.keyboard.press("Enter")
    page.wait_for_selector("body[data-view=s2]")
    page.focus("[data-place='11-21']")
    page.keyboard.press("Space")
    page.wait_for_selector("[data-place='11-21'][data-state=done]")


def test_a_dialog_holds_the_focus_and_gives_it_back(sit: Sit, new_jaw: NewJaw) -> None:
    """Hold is reached, answered and left by keys alone, and the focus is back where it was."""
    page = sit(new_jaw("dry-fit")).page
    page.focus(".rail [data-act=hold]")
    page.keyboard.press("Enter")
    page.wait_for_selector("#reason-hold[open]")
    assert page.evaluate("() => document.activeElement.closest('dialog')?.id") == "reason-hold"
    page.keyboard.press("Escape")
    page.wait_for_selector("#reason-hold", state="hidden")
    assert page.evaluate("() => document.activeElement.dataset.act") == "hold"


def test_the_page_speaks_of_each_step(sit: Sit, new_jaw: NewJaw, lab: LiveLab) -> None:
    """Language, title, one main landmark, one heading of the step, live regions for what is said and stored."""
    hand: Hand = sit(new_jaw("bubble-check"))
    page = hand.page
    assert page.get_attribute("html", "lang") == "en"
    assert page.locator("main").count() == 1
    assert page.locator("h1:visible").count() == 1
    assert page.get_attribute("#said", "role") == "alert"
    assert page.get_attribute("#status", "role") == "status"
    assert lab.address in page.url and "Seat & Cure" in page.title()
