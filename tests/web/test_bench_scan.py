"""A wedge scanner types into whatever is open: it opens jaws and picks tiles, and its Enter never confirms anything."""

import re

import pytest

from tests.live import Hand, LiveLab
from tests.web.conftest import NewJaw, Signed, Sit
from tests.web.early import EarlyTablet
from tests.web.hands import entries, insist, scan, stored, tap_main

SWAPPED = str.maketrans("yzYZ", "zyZY")


def on_jaw(hand: Hand, code: str) -> None:
    """Wait until the page of a jaw is shown."""
    hand.page.wait_for_url(re.compile(rf"/bench/{code}$"))
    hand.page.wait_for_selector("body.bench[data-loaded=yes]")


def at_home(sit: Sit, code: str) -> Hand:
    """Sit down and go to the first page."""
    hand = sit(code)
    hand.page.goto(f"{hand.lab.address}/")
    hand.page.wait_for_selector("body[data-loaded=yes]")
    return hand


@pytest.mark.parametrize("typed", ["as printed", "small letters", "German layout", "with blanks"])
@pytest.mark.parametrize("focus", ["field", "nothing"])
def test_on_the_first_page_a_scan_opens_its_jaw(typed: str, focus: str, sit: Sit, new_jaw: NewJaw) -> None:
    """However the scanner's keyboard is set, and whether the field has the focus or not, the jaw's page opens."""
    code = new_jaw()
    hand = at_home(sit, code)
    if focus == "field":
        hand.page.click("#code")
    text = {
        "as printed": code, "small letters": code.lower(), "German layout": code.translate(SWAPPED),
        "with blanks": f"{code[:4]} {code[4:7]} {code[7:]}",
    }[typed]
    scan(hand.page, text)
    on_jaw(hand, code)


def test_a_code_typed_by_hand_opens_its_jaw(sit: Sit, new_jaw: NewJaw) -> None:
    """Somebody without a scanner types the code into the field and taps Open."""
    code = new_jaw()
    hand = at_home(sit, code)
    hand.page.fill("#code", code.lower())
    hand.page.click("#find [type=submit]")
    on_jaw(hand, code)


def test_the_tag_of_a_part_opens_its_jaw(sit: Sit, new_jaw: NewJaw, lab: LiveLab, signed: Signed) -> None:
    """A base's tag read on the first page leads to the jaw that the base belongs to."""
    code = new_jaw()
    part = next(iter(EarlyTablet(lab, signed("Ewa Łukasik")).page_data(code)["parts"]))
    hand = at_home(sit, code)
    scan(hand.page, part)
    on_jaw(hand, code)


def test_what_is_no_code_is_said_on_the_first_page(sit: Sit, new_jaw: NewJaw) -> None:
    """A bar code of something else opens nothing; the page says what a code looks like."""
    hand = at_home(sit, new_jaw())
    scan(hand.page, "4006381333931")
    hand.page.wait_for_function("() => document.getElementById('said').textContent !== ''")
    assert "ten characters" in hand.page.inner_text("#said")
    assert hand.page.url == f"{hand.lab.address}/"


def test_the_scanners_enter_does_not_confirm(sit: Sit, lab: LiveLab, new_jaw: NewJaw) -> None:
    """With the main action focused a whole scan and its Enter confirm nothing; an Enter of a person then does."""
    code = new_jaw()
    hand = sit(code).ready()
    hand.page.focus("#main")
    scan(hand.page, code)
    hand.page.wait_for_selector("body[data-ready=yes]")
    stored(hand)
    assert entries(lab, code, "confirm") == []
    assert hand.at == "intake"
    hand.page.keyboard.press("Enter")
    hand.page.wait_for_selector("body[data-at=part-check]")


@pytest.mark.parametrize(("step", "pick", "tile"), [("lay-out", "resin", 1), ("lay-out", "lamp", 1),
                                                    ("cure-first-side", "chamber", 1)])
def test_a_scanned_lot_or_lamp_picks_its_tile(
    step: str, pick: str, tile: int, sit: Sit, lab: LiveLab, new_jaw: NewJaw
) -> None:
    """A code of a lot, a lamp or a chamber that the step lists picks that tile, and the confirmation names it."""
    code = new_jaw(step)
    hand = sit(code).ready()
    tiles = hand.page.locator(f"[data-step={step}] [data-pick={pick}] [data-act=pick]")
    wanted = tiles.nth(tile).get_attribute("data-value") or ""
    assert tiles.nth(tile).get_attribute("aria-pressed") == "false"
    scan(hand.page, wanted.lower())
    hand.page.wait_for_selector(f"[data-pick={pick}] [data-value='{wanted}'][aria-pressed=true]")
    assert tiles.first.get_attribute("aria-pressed") == "false"
    tap_main(hand.page)
    hand.page.wait_for_selector(f"body:not([data-at={step}])")
    stored(hand)
    assert entries(lab, code, "confirm")[-1]["event"]["picks"][pick] == wanted


def test_the_other_jaws_code_opens_its_page(sit: Sit, lab: LiveLab, new_jaw: NewJaw) -> None:
    """Who reads another jaw's label at the bench gets that jaw's page, and nothing is confirmed on either."""
    one, other = new_jaw(), new_jaw()
    hand = sit(one).ready()
    scan(hand.page, other)
    on_jaw(hand, other)
    assert entries(lab, one, "confirm") == entries(lab, other, "confirm") == []


def test_the_tag_of_a_foreign_part_stops_in_plain_words(
    sit: Sit, lab: LiveLab, new_jaw: NewJaw, signed: Signed
) -> None:
    """A part of another jaw: a full-screen stop says what to do; no pedal, Enter, Escape or stray tap passes it."""
    one, other = new_jaw("part-check"), new_jaw()
    foreign = next(iter(EarlyTablet(lab, signed("Ewa Łukasik")).page_data(other)["parts"]))
    hand = sit(one).ready()
    page = hand.page
    before = len(entries(lab, one, "confirm"))
    scan(page, foreign)
    page.wait_for_selector("#stop[open]")
    box = page.locator("#stop").bounding_box()
    assert box and (box["x"], box["y"], box["width"], box["height"]) == (0, 0, 800, 1280)
    assert page.inner_text("#stop h2") == "This label is not of this jaw"
    assert foreign in page.inner_text("#stop p") and "Put the part aside" in page.inner_text("#stop p")
    page.keyboard.press("PageDown")
    page.mouse.click(400, 1200)
    page.mouse.click(400, 100)
    scan(page, foreign)
    page.keyboard.press("Escape")
    page.keyboard.press("Escape")
    assert page.is_visible("#stop")
    page.click("#stop [data-act=close]")
    page.wait_for_selector("#stop", state="hidden")
    stored(hand)
    assert hand.at == "part-check"
    assert len(entries(lab, one, "confirm")) == before


def test_a_foreign_device_or_lot_stops_too(sit: Sit, new_jaw: NewJaw) -> None:
    """A lamp read where the step asks for none, and a bar code that is none of ours, stop as well."""
    hand = sit(new_jaw("lay-out")).ready()
    lamp = hand.page.locator("[data-pick=lamp] [data-act=pick]").first.get_attribute("data-value") or ""
    hand = sit(new_jaw("dry-fit")).ready()
    for text in (lamp, "4006381333931"):
        scan(hand.page, text)
        hand.page.wait_for_selector("#stop[open]")
        assert text in hand.page.inner_text("#stop p")
        insist(hand.page, "#stop [data-act=close]", "#stop:not([open])")
    assert hand.at == "dry-fit"
