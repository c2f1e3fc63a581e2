"""The bench page under a gloved finger: sizes, distances, one place for the main action, nothing cut off.

Every step of a jaw is looked at in this way while it is walked by keys (test_bench_walk).

80 px and 16 px between at the bench are the tool's own rule (common practice, no source), 48 px elsewhere; both lie
above WCAG 2.2 2.5.5 (44 px). NUREG-0700 asks for letters of 3.5 to 3.84 mm at 600 mm: 28 px on a 132 px/inch tablet
have capitals of about that height.
"""

from typing import Any

import pytest
from playwright.sync_api import Page

from tests.web.conftest import LANDSCAPE, PORTRAIT, NewJaw, Sit
from tests.web.hands import look, show_size
from tests.web.measure import controls, cut, font_px, place_of, small, tight
from tests.web.watch import seen

STEP_TEXT, CLOCK, BENCH, ELSEWHERE, GAP = 28, 96, 80, 48, 16
MAPPED = (
    "cut-back", "fill-gaps", "bubble-check", "finish-off", "check-voids", "check-margins", "check-separate",
    "check-smear", "check-edges",
)
CLOCKED = ("second-fit", "shape-papillae", "tack-light", "cure-first-side", "cure-second-side", "cool-down")
BENCH_CONTROLS = ".work :is(button, [role=button]):not([data-act=caution]), .rail button, #main"


def faults(page: Page) -> list[str]:
    """Return what a finger or an eye at the bench would stumble over on this screen, in words."""
    found = cut(page)
    found += small(controls(page, BENCH_CONTROLS), BENCH) + small(controls(page), ELSEWHERE)
    found += tight(controls(page, BENCH_CONTROLS), GAP)
    for selector, least in ((".card:not([hidden]) .words", STEP_TEXT), (".clock-left", CLOCK)):
        found += [f"{selector} at {px} px" for px in font_px(page, selector) if px < least]
    return found


def in_both(page: Page, where: str, mains: dict[Any, set[Any]]) -> list[str]:
    """Look at a screen in both orientations, for either hand; note where the main action is."""
    found = []
    for size in (PORTRAIT, LANDSCAPE):
        show_size(page, size)
        for hand in ("left", "right"):
            page.evaluate("(hand) => { document.documentElement.dataset.hand = hand; }", hand)
            mains.setdefault(size, set()).add(tuple(round(n) for n in place_of(page, "#main")))
            found += [f"{where} {size[0]}x{size[1]} {hand}: {fault}" for fault in faults(page)]
    return found


@pytest.mark.parametrize("step", [*MAPPED, *CLOCKED])
def test_steps_with_a_map_or_a_clock_at_full_durations(step: str, sit: Sit, new_jaw: NewJaw) -> None:
    """With clocks of minutes and hours and in every view of the map, all controls are large, apart and whole."""
    hand = sit(new_jaw(step, ago=20_000))
    mains: dict[Any, set[Any]] = {}
    found = in_both(hand.page, step, mains)
    views = [b["act"] for b in controls(hand.page, "[data-sextant], .areas-open")] if step in MAPPED else []
    assert bool(views) == (step in MAPPED)
    for view in views:
        look(hand.page, view)
        found += in_both(hand.page, f"{step} {view}", mains)
        look(hand.page, "whole")
    assert not found, "\n".join(found)
    assert {size: len(places) for size, places in mains.items()} == {PORTRAIT: 1, LANDSCAPE: 1}


# What of a page at 200 % cannot be brought to where a finger reaches it: outside the window, or under something else.
OUT_OF_REACH = """
() => [...document.querySelectorAll("button, a, input, [role=button]")].filter((e) =>
  e.checkVisibility({ visibilityProperty: true, opacityProperty: true }) && !e.closest("dialog") && !e.disabled
    && e.dataset.state !== "none").map((e) => {
  e.scrollIntoView({ block: "center", behavior: "instant" });
  const box = (e.querySelector(":scope > rect") || e).getBoundingClientRect();
  const [x, y] = [box.x + box.width / 2, box.y + box.height / 2];
  const there = document.elementFromPoint(x, y);
  return e.contains(there) || there?.closest("[data-place], [data-sextant]") === e ? "" :
    `${e.id || e.dataset.act || e.dataset.place || e.dataset.sextant || e.className} at ${x | 0},${y | 0}`;
}).filter(Boolean)
"""


@pytest.mark.parametrize("step", ["lay-out", "bubble-check", "tack-light"])
@pytest.mark.parametrize("size", [(400, 640), (640, 400)])
def test_enlarged_to_200_percent(size: tuple[int, int], step: str, sit: Sit, new_jaw: NewJaw) -> None:
    """Half as wide and high (WCAG 2.2 1.4.4, 1.4.10), by either hand: nothing too wide, all in reach, nothing moves."""
    page = sit(new_jaw(step, ago=20_000), size).page
    for hand in ("left", "right"):
        page.evaluate("(hand) => localStorage.setItem('this-tablet', JSON.stringify({ hand }))", hand)
        page.reload()
        page.wait_for_selector("body[data-loaded=yes]")
        assert page.get_attribute("html", "data-hand") == hand
        assert [one for one in seen(page, "shifts") if one[0]] == []
        assert page.evaluate("() => document.documentElement.scrollWidth <= innerWidth")
        assert small(controls(page), ELSEWHERE) == []
        assert page.evaluate(OUT_OF_REACH) == []
        x, y, w, h = place_of(page, "#main")
        assert x >= 0 and x + w <= size[0] and y >= 0 and y + h <= size[1], "the main action is always seen"
    assert page.inner_text("#status") == "Stored on the PC"
