"""A whole upper jaw at the bench: few confirmations, no typing, each stored once and in order, by finger or pedal."""

from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, Page

from tests.live import Hand, LiveLab
from tests.web.conftest import LANDSCAPE, PORTRAIT, NewJaw, Signed, Sit
from tests.web.early import EarlyTablet
from tests.web.hands import (
    entries,
    folded,
    give_reason,
    go_on,
    page_state,
    press_keys,
    press_pedal,
    same_state,
    stored,
    tap_main,
)
from tests.web.measure import place_of
from tests.web.test_bench_touch import in_both
from tests.web.watch import complaints, seen

MOST = 35  # confirmations of a whole jaw by the default protocol
WET = range(8, 11)  # confirmations in the wet window


def walk(hand: Hand, press: Callable[[Page], None], look: Callable[[], object] = bool) -> list[tuple[str, str]]:
    """Confirm until the jaw is through, with a look at each step; return each with what its main action covered."""
    done: list[tuple[str, str]] = []
    while hand.at != "through":
        assert len(done) <= MOST, done
        if not done or done[-1][0] != hand.at:
            give_reason(hand.page, press)
            look()
        done.append(go_on(hand, press))
    return done


def proved(hand: Hand, lab: LiveLab, code: str, signed: Signed, done: list[tuple[str, str]]) -> None:
    """Assert that the journal holds each confirmation once, in order, and folds to what the page shows."""
    stored(hand)
    table = EarlyTablet(lab, signed("Tomé Arbel")).page_data(code)["table"]
    wet = {card["step"] for card in table["cards"] if card["wet"]}
    assert len(done) <= MOST
    assert sum(step in wet for step, _ in done) in WET
    kept = entries(lab, code, "confirm")
    assert [body["event"]["step"] for body in kept] == [step for step, _ in done]
    assert len({body["event"]["id"] for body in kept}) == len(kept)
    counts = [body["event"]["from"]["n"] for body in kept]
    assert counts == sorted(counts)
    of_page, of_journal = page_state(hand.page), folded(lab, code, table)
    assert of_page["ended"] == "through"
    assert same_state(of_page, of_journal)


@pytest.mark.long
def test_a_whole_jaw_by_taps_alone(
    tablet: Callable[..., BrowserContext], lab: LiveLab, fast_jaws: list[str], signed: Signed
) -> None:
    """At most 35 taps, 8 to 10 of them wet, no key: each stored once, both folds agree, nothing moves by itself."""
    code = fast_jaws.pop()
    hand = Hand(tablet(worker=True).new_page(), lab).open(code).sign_in()
    done = walk(hand, tap_main)
    proved(hand, lab, code, signed, done)
    assert seen(hand.page, "keys") == 0
    assert [one for one in seen(hand.page, "shifts") if one[0]] == []
    assert complaints(hand.page) == []


@pytest.mark.long
def test_a_whole_jaw_by_keys_alone_fits_both_orientations(
    sit: Sit, lab: LiveLab, fast_jaws: list[str], signed: Signed
) -> None:
    """The foot switch where it is wet, Enter elsewhere and for the reason of a breach do the same, key by key.

    On each step all controls are large and apart, nothing is cut, and the main action never moves.
    """
    code = fast_jaws.pop()
    hand = sit(code)
    mains: dict[Any, set[Any]] = {}
    found: list[str] = []

    def look() -> None:
        found.extend(in_both(hand.ready().page, hand.at, mains))

    done = walk(hand, press_keys, look)
    found += in_both(hand.page, hand.at, mains)
    assert len({step for step, _ in done}) == 31
    assert not found, "\n".join(found)
    assert {size: len(places) for size, places in mains.items()} == {PORTRAIT: 1, LANDSCAPE: 1}
    proved(hand, lab, code, signed, done)
    assert seen(hand.page, "keys") == len(done) + 1
    assert complaints(hand.page) == []


def test_the_wet_window_by_pedal_alone(sit: Sit, lab: LiveLab, new_jaw: NewJaw) -> None:
    """From the first wet socket to the tack nothing but the pedal is needed, and nothing is marked."""
    code = new_jaw("wet-sockets")
    hand = sit(code)
    steps = []
    while hand.at != "cure-first-side":
        steps.append(go_on(hand, press_pedal)[0])
    stored(hand)
    assert len(steps) in WET
    assert seen(hand.page, "keys") == len(steps)
    kept = entries(lab, code, "confirm")[-len(steps):]
    assert [body["event"]["step"] for body in kept] == steps
    assert [body["server"]["marks"] for body in kept] == [[]] * len(steps)


@pytest.mark.parametrize("quick", ["click", "pedal"])
def test_a_double_tap_on_the_main_action_confirms_one_step(
    quick: str, sit: Sit, lab: LiveLab, new_jaw: NewJaw
) -> None:
    """A second tap within 600 ms after a change is dropped, by finger and by pedal: the next step is not confirmed."""
    code = new_jaw("wet-sockets")
    hand = sit(code).ready()
    before = len(entries(lab, code, "confirm"))
    x, y, w, h = place_of(hand.page, "#main")
    label = hand.page.inner_text("#main")
    for _ in range(4):
        if quick == "pedal":
            press_pedal(hand.page)
        else:
            hand.page.mouse.click(x + w / 2, y + h / 2)
    changed_once(hand, label)
    assert [body["event"]["step"] for body in entries(lab, code, "confirm")[before:]] == ["wet-sockets"]


def changed_once(hand: Hand, label: str) -> None:
    """Wait until the main action says something else and takes a tap again, and until all is stored."""
    hand.page.wait_for_function("(label) => document.getElementById('main').innerText !== label", arg=label)
    hand.page.wait_for_selector("body[data-ready=yes]")
    stored(hand)


def test_a_held_pedal_counts_once(sit: Sit, lab: LiveLab, new_jaw: NewJaw) -> None:
    """A pedal that is held down repeats its key; only the first one confirms."""
    code = new_jaw("wet-sockets")
    hand = sit(code).ready()
    before = len(entries(lab, code, "confirm"))
    label = hand.page.inner_text("#main")
    hand.page.keyboard.down("PageDown")
    changed_once(hand, label)
    hand.page.keyboard.down("PageDown")
    hand.page.keyboard.up("PageDown")
    stored(hand)
    assert [body["event"]["step"] for body in entries(lab, code, "confirm")[before:]] == ["wet-sockets"]


def test_a_second_tap_on_one_control_is_dropped(sit: Sit, new_jaw: NewJaw) -> None:
    """Two taps within 400 ms on the same control count once: a value goes up by one step, not by two."""
    page = sit(new_jaw("tack-light")).ready().page
    x, y, _, _ = place_of(page, "[data-value-name=positions] [data-act=more]")
    number = "[data-value-name=positions] input"
    for _ in range(2):
        page.mouse.click(x + 30, y + 30)
    assert page.input_value(number) == "9"
    for _ in range(100):
        page.mouse.click(x + 30, y + 30)
        if page.input_value(number) != "9":
            break
    assert page.input_value(number) == "10"
