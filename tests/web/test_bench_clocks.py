"""Clocks, alarm and stillness: time survives a reload, an ended clock rings until heard, nothing moves by itself."""

from collections.abc import Callable

import pytest
from playwright.sync_api import BrowserContext, Page

from benchapp.core.walk import MINUTE
from tests.live import Hand, LiveLab
from tests.web.conftest import LANDSCAPE, PORTRAIT, NewJaw, Sit
from tests.web.hands import go_on
from tests.web.measure import place_of
from tests.web.watch import seen


@pytest.mark.parametrize("step", ["second-fit", "cure-second-side"])
def test_clocks_survive_a_reload(step: str, sit: Sit, new_jaw: NewJaw) -> None:
    """After a reload each clock ends at the same millisecond, because it is computed from recorded times."""
    ends = "() => [...document.querySelectorAll('.clock:not([hidden])')].map((c) => [c.dataset.clock, c.dataset.ends])"
    hand = sit(new_jaw(step, ago=60_000))
    before = hand.page.evaluate(ends)
    hand.page.reload()
    hand.page.wait_for_selector("body[data-loaded=yes]")
    assert before and hand.page.evaluate(ends) == before


def test_a_slow_answer_never_puts_the_tablet_ahead_of_the_pc(sit: Sit, new_jaw: NewJaw) -> None:
    """Whatever an answer took, the tablet's time is not later than the PC's was; what still fits stays as it was."""
    offsets = sit(new_jaw()).page.evaluate(
        """async () => {
          const names = performance.getEntriesByType("resource").map((one) => one.name);
          const { learn } = await import(names.find((one) => one.includes("/clock.")));
          const offset = () => JSON.parse(localStorage.getItem("clock")).offset;
          const found = [];
          // the PC's time, asked, answered: the PC is 100,000 ms ahead, and read its clock at once, late, or in between
          for (const [pc, asked, answered] of [
            [101000, 1000, 1900], [102900, 2000, 2900], [103500, 3000, 4900], [54000, 4000, 4010],
          ]) {
            learn(pc, asked, answered);
            found.push(offset());
          }
          return found;
        }""")
    assert offsets == [99_100, 100_000, 100_000, 49_990]


def test_what_was_missed_overnight_says_the_day(sit: Sit, new_jaw: NewJaw) -> None:
    """Since when an alarm rings is a time of today, or else a day and a time, both in the lab's zone."""
    said = sit(new_jaw()).page.evaluate(
        """async () => {
          const { since } = await import("/static/js/page.js");
          const at = Date.parse("2026-11-24T23:10:00Z"); // ten past midnight in Warsaw
          const ends = ["2026-11-24T23:05:00Z", "2026-11-24T22:55:00Z"];
          return ends.map((one) => since(Date.parse(one), at, "Europe/Warsaw"));
        }""")
    assert said == ["00:05", "2026-11-24 23:55"]


def ticks(page: Page, count: int) -> None:
    """Wait until the clock that is shown has changed so many times."""
    page.evaluate(
        """(count) => new Promise((done) => {
          const left = document.querySelector(".clock:not([hidden]) .clock-left");
          new MutationObserver(() => (count -= 1) <= 0 && done()).observe(left, { childList: true, subtree: true });
        })""", count)


@pytest.mark.parametrize("size", [PORTRAIT, LANDSCAPE])
def test_nothing_moves_while_a_clock_ticks_and_the_storage_state_changes(
    size: tuple[int, int], sit: Sit, lab: LiveLab, new_jaw: NewJaw
) -> None:
    """From the first paint on: ticking, losing the PC, a tap kept here, the PC again: all layout shifts sum to 0."""
    hand = sit(new_jaw("cure-second-side", ago=60_000), size)
    page = hand.page
    main = place_of(page, "#main")
    ticks(page, 2)
    page.context.set_offline(True)
    page.wait_for_selector("#status:not([data-status=stored])")
    page.click("[data-act=hold] >> visible=true")
    page.click("#reason-hold [data-act=reason] >> nth=0")
    page.wait_for_selector("body[data-held=yes]")
    page.wait_for_selector("#status[data-status=offline]")
    ticks(page, 2)
    assert place_of(page, "#main") == main
    page.context.set_offline(False)
    page.wait_for_selector("#status[data-status=stored]", timeout=15_000)
    ticks(page, 1)
    assert place_of(page, "#main") == main
    assert sum(value for value, _ in seen(page, "shifts")) == 0, seen(page, "shifts")


def test_an_ended_clock_rings_until_it_is_heard(sit: Sit, new_jaw: NewJaw) -> None:
    """When the chamber's time is up the alarm says which jaw, what, since when; `Heard` ends it for good."""
    code = new_jaw("cure-second-side", ago=30 * MINUTE - 8_000)
    hand = sit(code)
    page = hand.page
    assert page.is_hidden("#alarm")
    assert seen(page, "sounds") == 0
    page.mouse.click(400, 640)
    page.wait_for_function("() => window.seen.sounds === 1 && window.sound.state === 'running'")
    assert seen(page, "byHand") == 1
    page.wait_for_selector("#alarm:not([hidden])", timeout=30_000)
    assert page.get_attribute("#alarm", "role") == "alert"
    words = page.inner_text("#alarm span")
    assert code in words and "Turn over, second side" in words
    assert page.get_attribute("body", "data-alarm") is not None
    page.click("#alarm [data-act=heard]")
    page.wait_for_selector("#alarm", state="hidden")
    assert page.get_attribute("body", "data-alarm") is None
    page.reload()
    page.wait_for_selector("body[data-loaded=yes]")
    ticks(page, 1)
    assert page.is_hidden("#alarm")


def test_the_alarm_rings_on_the_first_page_too(sit: Sit, lab: LiveLab, new_jaw: NewJaw) -> None:
    """A jaw opened on this tablet rings wherever in the tool the person is; heard there, it is heard at the bench."""
    code = new_jaw("cure-second-side", ago=31 * MINUTE)
    page = sit(code).page
    page.wait_for_selector("#alarm:not([hidden])")
    page.goto(f"{lab.address}/")
    page.wait_for_selector("#alarm:not([hidden])")
    assert code in page.inner_text("#alarm span")
    page.click("#alarm [data-act=heard]")
    page.wait_for_selector("#alarm", state="hidden")
    Hand(page, lab).open(code)
    ticks(page, 1)
    assert page.is_hidden("#alarm")


def test_every_tap_takes_sound_up_again(sit: Sit, new_jaw: NewJaw) -> None:
    """Sound that the browser suspended runs again after the next tap, and no second one is made."""
    page = sit(new_jaw()).page
    page.mouse.click(400, 640)
    page.wait_for_function("() => window.sound?.state === 'running'")
    page.evaluate("() => window.sound.suspend()")
    page.wait_for_function("() => window.sound.state === 'suspended'")
    page.mouse.click(400, 640)
    page.wait_for_function("() => window.sound.state === 'running'")
    assert seen(page, "sounds") == 1


def test_an_overrun_says_since_when(tablet: Callable[..., BrowserContext], sit: Sit, new_jaw: NewJaw) -> None:
    """Too early it counts down, afterwards up, and both times it names the moment on the wall clock."""
    hand = sit(new_jaw("second-fit", ago=6 * MINUTE))
    clock = "[data-clock='floor:clean:second-fit']"
    assert hand.page.get_attribute(clock, "data-over") == "yes"
    assert hand.page.inner_text(f"{clock} .clock-left").startswith("01:")
    assert ", since " in hand.page.inner_text(f"{clock} .clock-ends")
    go_on(hand)
    assert hand.page.is_hidden(clock)
    running = sit(new_jaw("second-fit", ago=MINUTE)).page
    assert running.inner_text(f"{clock} .clock-left")[:5] in ("04:00", *(f"03:{s:02}" for s in range(60)))
    assert running.inner_text(f"{clock} .clock-ends").startswith("left, until ")
