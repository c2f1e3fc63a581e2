"""One way in for every code, whoever reads it: keys of a scanner under any layout, the camera, a hand."""

from random import Random
from typing import Any

import pytest
from playwright.sync_api import Page

from benchapp.core.codes import make_code

# What the keys marked with these signs type under other layouts (from memory, as the layouts are standardised in
# their countries: DIN 2137, the usual Azerty, the usual Cyrillic one).
MARKED = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
LAYOUTS = {
    "as marked": MARKED,
    "German": MARKED.translate(str.maketrans("YZ", "ZY")),
    "Azerty": 'à&é"\'(-è_çQBCDEFGHIJKL?NOPARSTUVZXYW',
    "Cyrillic": "0123456789ФИСВУАПРШОЛДЬТЩЗЙКЫЕГМЦЧНЯ",
}

TYPE = """
(keys) => { for (const [key, code] of keys) (document.activeElement || document.body).dispatchEvent(
  new KeyboardEvent("keydown", { key, code, bubbles: true, cancelable: true })); }
"""
LISTEN = """
async () => {
  const codes = await import("/js/codes.js");
  window.heard = [];
  window.codes = codes;
  codes.onScan((text, { target, layouts }) => {
    window.heard.push([codes.readCode(text, layouts), text, target.id || target.nodeName]);
    return text.startsWith("mine");
  });
  codes.onScan((text) => { window.heard.push(["second", text]); });
}
"""


@pytest.fixture
def ears(page: Page, static_url: str) -> Page:
    """A bare page that hears codes."""
    page.goto(f"{static_url}/vendor/")
    page.set_content('<input id="field"><input id="number" inputmode="decimal" value="12"><button id="go">Go</button>')
    page.evaluate(LISTEN)
    return page


def heard(page: Page) -> list[Any]:
    """Return what the page heard so far."""
    found: list[Any] = page.evaluate("() => window.heard")
    return found


def place(sign: str) -> str:
    """Return the name of the key that is marked with a sign (W3C UI Events KeyboardEvent code values)."""
    return f"Digit{sign}" if sign.isdigit() else f"Key{sign}"


def codes(count: int) -> list[str]:
    """Return whole codes of every kind; half of them hold Y or Z."""
    choose = Random(4).choice
    return [make_code("12BAPTDS0"[n % 9], choose) for n in range(count)]


def typed(page: Page, text: str, layout: str) -> None:
    """Type as a scanner does that is set as it left the box, on a tablet with this layout."""
    keys = [[LAYOUTS[layout][MARKED.index(sign)], place(sign)] for sign in text]
    page.evaluate(TYPE, [*keys, ["Enter", "Enter"]])


@pytest.mark.parametrize("layout", LAYOUTS)
def test_a_scanner_is_read_under_any_layout(layout: str, ears: Page) -> None:
    """Whatever layout the tablet has, a scanner as it left the box is understood: the keys' places tell."""
    every = codes(90)
    for code in every:
        typed(ears, code, layout)
    first = [entry for entry in heard(ears) if entry[0] != "second"]
    assert [entry[0] for entry in first] == every
    assert sum(any(sign in "YZ" for sign in code) for code in every) > 30


def test_a_scanner_set_to_another_layout_than_the_tablet_is_read(ears: Page) -> None:
    """A scanner set to German on a tablet that is not: both the letters and the keys' places are wrong alike."""
    swapped = str.maketrans("YZ", "ZY")
    every = [code for code in codes(90) if set(code) & set("YZ")]
    for code in every:
        typed(ears, code.translate(swapped), "as marked")
    assert [entry[0] for entry in heard(ears) if entry[0] != "second"] == every


def test_what_a_hand_types_is_never_swapped(ears: Page) -> None:
    """Typed by a hand, a code with Y for Z is a slip, and not read as another code; scanned, it is put right."""
    code = next(code for code in codes(90) if set(code) & set("YZ"))
    slip = code.translate(str.maketrans("YZ", "ZY"))
    ears.evaluate("([slip]) => codes.take(slip, { layouts: false })", [slip])
    ears.evaluate("([slip]) => codes.take(slip)", [slip])
    assert [entry[0] for entry in heard(ears) if entry[0] != "second"] == ["", code]


def test_who_takes_a_code_is_the_last_to_hear_of_it(ears: Page) -> None:
    """Listeners are asked in their order; once one returned true, the others do not hear of it."""
    assert ears.evaluate("() => codes.take('mine 1')") is True
    assert ears.evaluate("() => codes.take('yours 1')") is False
    assert heard(ears) == [["", "mine 1", "BODY"], ["", "yours 1", "BODY"], ["second", "yours 1"]]


def test_the_enter_of_a_scanner_presses_nothing_and_the_number_stays(ears: Page) -> None:
    """The focused button is not pressed by Enter or by a blank within; what was typed over in a number is put back."""
    ears.evaluate("() => { window.presses = 0; go.addEventListener('click', () => { presses += 1; }); }")
    for key in ("Enter", "Tab"):
        ears.focus("#go")
        kept = ears.evaluate(
            """([end]) => ["A", "B", " ", "4", "1", end].map((key) => go.dispatchEvent(
              new KeyboardEvent("keydown", { key, bubbles: true, cancelable: true })))""", [key])
        assert kept == [True, True, False, True, True, False]
    assert ears.evaluate("() => presses") == 0 and len(heard(ears)) == 4
    ears.focus("#number")
    ears.evaluate(
        """() => [..."4711", "Enter"].forEach((key) => {
          const goes = number.dispatchEvent(new KeyboardEvent("keydown", { key, bubbles: true, cancelable: true }));
          if (goes) number.value += key;
        })""")
    assert ears.input_value("#number") == "12"


def test_three_signs_and_enter_are_a_persons(ears: Page) -> None:
    """Too short for a label: the keys go where they were meant for."""
    kept = ears.evaluate(
        """() => ["4", "1", "7", "Enter"].map((key) => field.dispatchEvent(
          new KeyboardEvent("keydown", { key, bubbles: true, cancelable: true })))""")
    assert kept == [True] * 4 and heard(ears) == []
