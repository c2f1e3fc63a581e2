"""The bench page under a gloved finger: sizes, distances, one place for the main action, nothing cut off.

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
from tests.web.watch import complaints

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
    """Look at a screen in both orientations; note where the main action is."""
    found = []
    for size in (PORTRAIT, LANDSCAPE):
        show_size(page, size)
        mains.setdefault(size, set()).add(tuple(round(n) for n in place_of(page, "#main")))
        found += [f"{where} {size[0]}x{size[1]}: {fault}" for fault in faults(page)]
    return found


def test_every_step_of_a_jaw_fits_both_orientations(sit: Sit, fast_jaws: list[str]) -> None:
    """On each step all controls are large and apart, nothing is cut, and the main action never moves."""
    hand = sit(fast_jaws.pop())
    mains: dict[Any, set[Any]] = {}
    found: list[str] = []
    steps: list[str] = []
    while not steps or hand.at != "through":
        hand.ready()
        steps.append(hand.at)
        found += in_both(hand.page, hand.at, mains)
        while hand.at == steps[-1]:
            hand.confirm()
    found += in_both(hand.page, hand.at, mains)
    assert len(set(steps)) == 31
    assert not found, "\n".join(found)
    assert {size: len(places) for size, places in mains.items()} == {PORTRAIT: 1, LANDSCAPE: 1}
    assert complaints(hand.page) == []


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
