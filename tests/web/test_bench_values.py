"""Numbers that are read off: typed or tapped, in one form, mended in words; never refused while resin is wet."""

import json
import re
from typing import Any

import pytest
from playwright.sync_api import Page

from tests.live import Hand, LiveLab
from tests.web.conftest import LANDSCAPE, PORTRAIT, NewJaw, Signed, Sit
from tests.web.early import EarlyTablet, Visitor
from tests.web.hands import entries, insist, press_pedal, scan, show_size, stored, tap_main
from tests.web.measure import controls, cut, small, tight
from tests.web.test_access import sound

PROGRAM = "[data-step=cure-first-side] [data-value-name=program]"
SECONDS = "[data-step=tack-light] [data-value-name=seconds]"
READ = "(rows) => import('/static/js/values.js').then((v) => rows.map(([text, least]) => v.readNumber(text, least)))"

# Typed, decimals of the value, and what is stored; a comma is a decimal mark beside the point (ISO 80000-1, 7.3.2).
READS = [
    ("0,5", 0, "0.5"), ("0.5", 0, "0.5"), (" 12 ", 0, "12"), ("12", 0, "12"), ("12", 1, "12.0"), ("0.50", 0, "0.5"),
    ("0,125", 0, "0.125"), ("3.25", 1, "3.25"), ("007", 0, "7"), ("0", 0, "0"), (",5", 0, "0.5"), ("5,", 0, "5"),
    ("-3", 0, "-3"), ("−3,5", 0, "-3.5"), ("-0", 0, "0"), ("-0,0", 1, "0.0"), ("999999999", 0, "999999999"),
    ("1,250", 3, "1.250"), ("1000,00", 0, "1000"), ("\t8\n", 0, "8"),
]
# A thousand with its mark is not one with three decimals; nothing else than digits and one mark is a number.
READS_NONE = [
    "", " ", ".", ",", "-", "abc", "8x", "1e3", "0x10", "1.2.3", "1,2,3", "1 000", "1,000", "1.000", "1.234,5",
    "0.1234", "9999999999", "--1", "+1", "Infinity", "NaN", "٣", "1/2", "20 s", "½",
]


def at_program(sit: Sit, new_jaw: NewJaw) -> tuple[Hand, str]:
    """Open a jaw that goes into the chamber, where the number of its program is read: nothing is wet."""
    code = new_jaw("cure-first-side")
    return sit(code).ready(), code


def said_of(lab: LiveLab, code: str) -> list[tuple[str, str, str]]:
    """Return the values of the last confirmation of a jaw."""
    return [(v["name"], v["value"], v["unit"]) for v in entries(lab, code, "confirm")[-1]["event"]["values"]]


def field(page: Page, box: str) -> dict[str, Any]:
    """Return what the field of a value holds and what is said beside it."""
    return {"text": page.input_value(f"{box} input"), "said": page.inner_text(f"{box} [data-part=wrong]"),
            "bad": page.get_attribute(f"{box} input", "aria-invalid") == "true"}


def test_a_number_is_read_as_people_write_it(sit: Sit, new_jaw: NewJaw) -> None:
    """A comma or a point, blanks around, zeros too many: one form; what may be a thousand, or is none, is not read."""
    page = at_program(sit, new_jaw)[0].page
    assert page.evaluate(READ, [row[:2] for row in READS]) == [wanted for *_, wanted in READS]
    assert page.evaluate(READ, [[text, 0] for text in READS_NONE]) == [""] * len(READS_NONE)
    # Whatever comes out is what the fold takes for a number, and reads the same once more.
    for text, least, wanted in READS:
        assert re.fullmatch(r"-?[0-9]{1,9}(\.[0-9]{1,3})?", wanted), text
        assert page.evaluate(READ, [[wanted, least]]) == [wanted]


def test_a_typed_number_is_stored_in_one_form(sit: Sit, lab: LiveLab, new_jaw: NewJaw) -> None:
    """ " 12 " typed over the usual number is shown as 12, stored as "12" and printed on the record with its title."""
    hand, code = at_program(sit, new_jaw)
    page = hand.page
    assert field(page, PROGRAM) == {"text": "1", "said": "", "bad": False}
    page.click(f"{PROGRAM} input")
    page.keyboard.type(" 12 ", delay=90)
    page.keyboard.press("Enter")
    assert field(page, PROGRAM) == {"text": "12", "said": "", "bad": False}
    assert hand.at == "cure-first-side"
    tap_main(page)
    page.wait_for_selector("body[data-at=cure-second-side]")
    stored(hand)
    assert said_of(lab, code) == [("program", "12", "")]
    assert entries(lab, code, "confirm")[-1]["server"]["marks"] == []
    record = json.loads(Visitor(lab).get(f"/record/{code}.json"))
    printed = next(step["values"] for step in record["steps"] if any(v["value"] == "12" for v in step["values"]))
    assert [(v["title"], v["value"], v["least"], v["most"]) for v in printed] == [
        ("Program of the chamber", "12", "0", "99")]


def test_what_is_no_number_is_mended_before_a_dry_step_goes_on(sit: Sit, lab: LiveLab, new_jaw: NewJaw) -> None:
    """It stays in the field, words beside it say what is wanted, nothing is confirmed; mended, it goes on."""
    hand, code = at_program(sit, new_jaw)
    page = hand.page
    before = len(entries(lab, code, "confirm"))
    page.fill(f"{PROGRAM} input", "two")
    tap_main(page)
    page.wait_for_function("() => document.getElementById('said').textContent.includes('Program of the chamber')")
    found = field(page, PROGRAM)
    assert found["text"] == "two" and found["bad"] and "Not a number. Write it like" in found["said"]
    assert "counts" not in found["said"]
    page.wait_for_selector("body[data-ready=yes]")
    stored(hand)
    assert hand.at == "cure-first-side" and len(entries(lab, code, "confirm")) == before
    page.fill(f"{PROGRAM} input", "2")
    assert field(page, PROGRAM) == {"text": "2", "said": "", "bad": False}
    insist(page, "#main", "body[data-at=cure-second-side]")
    stored(hand)
    assert said_of(lab, code) == [("program", "2", "")]


def test_while_resin_is_wet_the_last_good_number_counts(sit: Sit, lab: LiveLab, new_jaw: NewJaw) -> None:
    """Nothing is refused then: the last number, 25, is stored in place of what is none, and both places say so."""
    code = new_jaw("tack-light")
    hand = sit(code).ready()
    page = hand.page
    assert page.get_attribute("body", "data-phase") == "wet"
    page.fill(f"{SECONDS} input", "25")
    page.fill(f"{SECONDS} input", "25s")
    page.locator(f"{SECONDS} input").blur()
    found = field(page, SECONDS)
    assert found["text"] == "25s" and found["said"].endswith("Until then 20 counts.")
    page.fill(f"{SECONDS} input", "25")
    page.locator(f"{SECONDS} input").blur()
    page.fill(f"{SECONDS} input", "twenty")
    press_pedal(page)
    page.wait_for_selector("body:not([data-at=tack-light])")
    assert page.inner_text("#said").endswith("Each: no number was written, so 25 was stored.")
    stored(hand)
    assert said_of(lab, code) == [("positions", "8", ""), ("seconds", "25", "s")]


def test_taps_go_on_from_what_was_typed(sit: Sit, new_jaw: NewJaw) -> None:
    """Plus and minus move a typed number by the step of its value, keep its decimals, and mend what is none."""
    page = at_program(sit, new_jaw)[0].page
    page.fill(f"{PROGRAM} input", "0,125")
    insist_on(page, "more", "1.125")
    insist_on(page, "less", "0.125")
    insist_on(page, "less", "-0.875")
    page.fill(f"{PROGRAM} input", "7")
    page.fill(f"{PROGRAM} input", "x")
    insist_on(page, "more", "0.125")
    assert field(page, PROGRAM)["said"] == ""


def insist_on(page: Page, act: str, wanted: str) -> None:
    """Tap plus or minus until it is taken (a second tap within 400 ms is dropped); the number must be `wanted` then."""
    before = page.input_value(f"{PROGRAM} input")
    for _ in range(100):
        page.click(f"{PROGRAM} [data-act={act}]")
        if (now := page.input_value(f"{PROGRAM} input")) != before:
            assert now == wanted
            return
    raise AssertionError(f"{act} never moved {before}")


@pytest.mark.parametrize("focus", ["clicked", "by keys", "half typed"])
def test_a_scan_into_the_field_leaves_the_number(
    focus: str, sit: Sit, lab: LiveLab, new_jaw: NewJaw, signed: Signed
) -> None:
    """Whatever stands in the field, a scanned chamber picks its tile and a badge is asked for; the number stays."""
    hand, _ = at_program(sit, new_jaw)
    page = hand.page
    tiles = page.locator("[data-step=cure-first-side] [data-pick=chamber] [data-act=pick]")
    chamber = tiles.nth(1).get_attribute("data-value") or ""
    if focus == "by keys":
        page.focus(f"{PROGRAM} [data-act=less]")
        page.keyboard.press("Tab")
    else:
        page.click(f"{PROGRAM} input")
    wanted = "1"
    if focus == "half typed":
        page.keyboard.type("43", delay=90)
        wanted = "43"
    assert page.evaluate("document.activeElement.inputMode") == "decimal"
    scan(page, chamber)
    page.wait_for_selector(f"[data-pick=chamber] [data-value='{chamber}'][aria-pressed=true]")
    assert page.input_value(f"{PROGRAM} input") == wanted
    with page.expect_response("**/badge"):
        scan(page, badge_of_nobody(page))
    page.wait_for_selector("#signin[open]")
    assert page.input_value(f"{PROGRAM} input") == wanted


def badge_of_nobody(page: Page) -> str:
    """Return the code of a badge that nobody has: its check character is right."""
    found: str = page.evaluate(
        "async () => { const { readCode } = await import('/static/js/codes.js');"
        " const every = [...'0123456789ABCDEFGHJKMNPQRSTVWXYZ'].map((last) => `P23456789${last}`);"
        " return every.find((code) => readCode(code, false)); }")
    assert found
    return found


def test_no_keyboard_comes_up_by_itself(sit: Sit, new_jaw: NewJaw) -> None:
    """Nothing focuses the field on its own: not the step coming on, not a tap on plus, not a refused confirmation."""
    hand, _ = at_program(sit, new_jaw)
    page = hand.page
    focused = "document.activeElement.nodeName"
    assert page.evaluate(focused) != "INPUT" and page.locator(f"{PROGRAM} input[autofocus]").count() == 0
    assert page.get_attribute(f"{PROGRAM} input", "inputmode") == "decimal"
    page.click(f"{PROGRAM} [data-act=more]")
    assert page.evaluate(focused) != "INPUT"
    page.fill(f"{PROGRAM} input", "x")
    page.locator(f"{PROGRAM} input").blur()
    tap_main(page)
    page.wait_for_function("() => document.getElementById('said').textContent !== ''")
    assert page.evaluate(focused) != "INPUT"


@pytest.mark.parametrize("step", ["cure-first-side", "tack-light"])
def test_the_field_is_large_and_its_words_fit(step: str, sit: Sit, new_jaw: NewJaw) -> None:
    """In both orientations field and taps are 80 px and 16 px apart, nothing is cut, axe finds nothing."""
    page = sit(new_jaw(step)).ready().page
    inputs = f"[data-step={step}] .value :is(button, input)"
    for text in ("1000", "what is this"):
        for number in page.locator(f"[data-step={step}] .value input").all():
            number.fill(text)
            number.blur()
        for size in (PORTRAIT, LANDSCAPE):
            show_size(page, size)
            assert cut(page) == [], (size, text)
            assert small(controls(page, inputs), 80) == [] and tight(controls(page, inputs), 16) == [], (size, text)
            sound(page, f"{step} {size} {text}")


def test_the_page_asks_a_value_with_the_decimals_that_it_has(lab: LiveLab, signed: Signed, new_jaw: NewJaw) -> None:
    """A whole number is filled in whole, and the page says by how much a tap moves it."""
    html = EarlyTablet(lab, signed("Tomé Arbel")).get(f"/bench/{new_jaw()}")
    keys = ("value-name", "size", "decimals", "unit")
    boxes = re.findall(" ".join(f'data-{key}="([^"]*)"' for key in keys), html)
    assert boxes == [("resin-drops", "1", "0", ""), ("positions", "1", "0", ""), ("seconds", "5", "0", "s"),
                     ("program", "1", "0", "")]
    assert re.findall(r'inputmode="decimal" value="([^"]*)" data-good="([^"]*)"', html) == [
        ("0", "0"), ("8", "8"), ("20", "20"), ("1", "1")]
