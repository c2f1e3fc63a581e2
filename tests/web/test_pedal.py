"""The foot switch: any key, learned on the tablet, works the wet window and nothing else."""

import json
from collections.abc import Callable

import pytest
from playwright.sync_api import BrowserContext, Page

from tests.live import Hand, LiveLab
from tests.web.axe import violations
from tests.web.conftest import LANDSCAPE, PORTRAIT, NewJaw, Sit
from tests.web.hands import entries, press_pedal, scan, show_size, stored
from tests.web.measure import controls, cut, small, tight
from tests.web.test_access import sound
from tests.web.watch import complaints, seen

LEARN, USUAL, SAID = "#pedal [data-do=learn]", "#pedal [data-do=usual]", "#pedal [data-part=said]"


def confirmed(hand: Hand, lab: LiveLab, code: str) -> int:
    """Return how many confirmations of a jaw the PC has, once all are there."""
    stored(hand)
    return len(entries(lab, code, "confirm"))


def let_go(page: Page) -> None:
    """Return after every timer that a key has set by now: a longer one that is set later fires after them."""
    page.evaluate("() => new Promise((done) => setTimeout(done, 150))")


def this_tablet(page: Page, lab: LiveLab) -> None:
    """Open the page on which a tablet is set up."""
    page.goto(f"{lab.address}/")
    page.click("text=This tablet")
    page.wait_for_selector("body.tablet[data-loaded=yes]")


def learn(page: Page, lab: LiveLab, key: str) -> str:
    """Make a key the foot switch; return what the page then says of it."""
    this_tablet(page, lab)
    page.click(LEARN)
    page.wait_for_selector("#pedal[data-listening]")
    page.keyboard.press(key)
    page.wait_for_selector("#pedal:not([data-listening])")
    return page.inner_text("#pedal [data-part=is]")


def test_outside_the_wet_window_it_does_nothing(sit: Sit, lab: LiveLab, new_jaw: NewJaw) -> None:
    """Dry, after light, and while a dialog is open in the wet window, a step on it confirms nothing."""
    for step in ("dry-fit", "cure-first-side"):
        code = new_jaw(step)
        hand = sit(code).ready()
        before = confirmed(hand, lab, code)
        press_pedal(hand.page)
        hand.page.focus("#main")
        press_pedal(hand.page)
        assert (hand.at, confirmed(hand, lab, code)) == (step, before)
    code = new_jaw("wet-sockets")
    hand = sit(code).ready()
    before = confirmed(hand, lab, code)
    hand.page.click("header [data-act=signin]")
    press_pedal(hand.page)
    assert confirmed(hand, lab, code) == before
    hand.page.click("#signin [data-act=close]")
    label = hand.page.inner_text("#main")
    press_pedal(hand.page)
    hand.page.wait_for_function("(label) => document.getElementById('main').innerText !== label", arg=label)
    assert confirmed(hand, lab, code) == before + 1


@pytest.mark.parametrize(("key", "name", "other"), [("F8", "F8", "PageDown"), ("b", "B", "c")])
def test_a_learned_key_is_the_pedal(
    key: str, name: str, other: str, sit: Sit, lab: LiveLab, new_jaw: NewJaw
) -> None:
    """A key of its own name or a letter, learned once: it works the wet window, also over a number; others do not."""
    code = new_jaw("tack-light")
    hand = sit(code).ready()
    assert learn(hand.page, lab, key) == f"The foot switch is the key “{name}”."
    hand.open(code).ready()
    before = confirmed(hand, lab, code)
    number = hand.page.locator("[data-value-name=seconds] input")
    number.focus()
    hand.page.keyboard.press(other)
    let_go(hand.page)
    assert confirmed(hand, lab, code) == before
    number.fill("20")
    hand.page.keyboard.press(key)
    hand.page.wait_for_selector("body:not([data-at=tack-light])")
    assert confirmed(hand, lab, code) == before + 1
    assert entries(lab, code, "confirm")[-1]["event"]["values"][1]["value"] == "20"


def test_a_scanners_letter_is_no_step_on_the_pedal(sit: Sit, lab: LiveLab, new_jaw: NewJaw) -> None:
    """Where the pedal is a letter, a code that holds it, first or later, confirms nothing while it is wet."""
    code = new_jaw("wet-sockets")
    hand = sit(code).ready()
    learn(hand.page, lab, "b")
    hand.open(code).ready()
    before = confirmed(hand, lab, code)
    for text in ("b123b567b9", "4b06381b33"):
        scan(hand.page, text)
        hand.page.wait_for_selector("#said:not(:empty)")
    let_go(hand.page)
    assert (hand.at, confirmed(hand, lab, code)) == ("wet-sockets", before)


def test_what_is_refused_as_a_pedal(tablet: Callable[..., BrowserContext], lab: LiveLab) -> None:
    """Keys that press, leave or write something by themselves are refused in words; Esc and Tab leave it as it was."""
    page = tablet().new_page()
    this_tablet(page, lab)
    page.click(LEARN)
    for key, words in (
        ("Enter", "by itself"), ("Space", "by itself"), ("Backspace", "by itself"), ("5", "numbers and codes"),
        (".", "numbers and codes"), ("Control+j", "two keys at once"),
    ):
        page.keyboard.press(key)
        assert words in page.inner_text(SAID), key
        assert page.get_attribute("#pedal", "data-listening") is not None
    page.keyboard.press("Escape")
    assert page.inner_text(SAID) == "Nothing was changed."
    page.click(LEARN)
    page.keyboard.press("Tab")
    assert page.get_attribute("#pedal", "data-listening") is None
    assert page.evaluate("() => document.activeElement.dataset.do") == "usual"
    assert page.get_attribute("#pedal", "data-key") == "PageDown"
    for count in ("Heard once.", "Heard 2 times."):
        press_pedal(page)
        assert page.inner_text(SAID) == count
    assert json.loads(page.evaluate("() => localStorage['this-tablet'] || '{}'")) == {}
    assert complaints(page) == []


def test_it_can_be_tried_and_set_back(tablet: Callable[..., BrowserContext], lab: LiveLab) -> None:
    """A learned key is heard on the page itself and stays after a reload; one tap makes it Page Down again."""
    page = tablet().new_page()
    assert learn(page, lab, "ArrowRight") == "The foot switch is the key “arrow right”."
    page.reload()
    page.wait_for_selector("body[data-loaded=yes]")
    page.keyboard.press("ArrowRight")
    assert page.inner_text(SAID) == "Heard once."
    page.click(USUAL)
    assert page.inner_text("#pedal [data-part=is]") == "The foot switch is the key “Page Down”."


@pytest.mark.parametrize("size", [PORTRAIT, LANDSCAPE, (400, 640), (640, 400)])
def test_the_page_of_a_tablet_at_every_size(
    size: tuple[int, int], tablet: Callable[..., BrowserContext], lab: LiveLab
) -> None:
    """Upright, across and at 200 %: nothing cut off, controls of 80 px with 16 px between them, axe, nothing moves."""
    page = tablet(size).new_page()
    page.goto(f"{lab.address}/tablet")
    page.wait_for_selector("body[data-loaded=yes]")
    show_size(page, size)
    assert cut(page) == []
    assert small(controls(page), 48) + small(controls(page, "main button"), 80) == []
    assert tight(controls(page, "main button"), 16) == []
    if size in (PORTRAIT, LANDSCAPE):
        sound(page, "this tablet")
    assert violations(page) == []
    assert [one for one in seen(page, "shifts") if one[0]] == []
