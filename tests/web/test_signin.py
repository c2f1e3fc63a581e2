"""Signing in by tile and PIN: tries are counted and said, five wrong ones lock, and no page ever holds a hash."""

import json
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext, Page, Route

from tests.live import PINS, Hand, LiveLab
from tests.web.conftest import NewJaw
from tests.web.early import Visitor
from tests.web.hands import entries, go_on, stored
from tests.web.watch import complaints


@pytest.fixture
def page(tablet: Callable[..., BrowserContext], lab: LiveLab) -> Iterator[Page]:
    """The first page on a tablet where nobody is signed in."""
    opened = tablet().new_page()
    opened.goto(f"{lab.address}/")
    opened.wait_for_selector("body[data-loaded=yes]")
    yield opened


def choose(page: Page, name: str) -> None:
    """Open the dialog where it is not open yet, and tap somebody's tile."""
    if not page.query_selector("#signin[open]"):
        page.click("header [data-act=signin]")
    page.click(f"#signin [data-act=person]:has-text('{name}')")


def tap_in(page: Page, digits: str) -> None:
    """Tap a PIN and OK."""
    for digit in digits:
        page.click(f"#signin [data-act=digit][data-value='{digit}']")
    page.click("#signin [data-act=enter]")


@contextmanager
def held(page: Page, address: str) -> Iterator[Callable[[], None]]:
    """Hold the first thing that is sent to an address, until what is given is called: then its answer is read."""
    first: list[Route] = []

    def come_in(route: Route) -> None:
        if first:
            route.continue_()
        else:
            first.append(route)

    page.route(address, come_in)

    def answer() -> None:
        with page.expect_response(address) as come:
            first[0].continue_()
        come.value.finished()
        page.evaluate("() => new Promise((resolve) => setTimeout(resolve))")  # what waited for it goes on before

    yield answer


def enter(page: Page, digits: str, words: str = "") -> None:
    """Tap a PIN and OK; wait for what is said, or for the dialog to close."""
    tap_in(page, digits)
    if words:
        page.wait_for_function(
            "(w) => document.querySelector('#signin [data-part=said]').textContent.includes(w)", arg=words)
    else:
        page.wait_for_selector("#signin", state="hidden")


def test_by_tile_and_pin(page: Page) -> None:
    """The right PIN closes the dialog, the header names who works, and the PIN itself is shown only as dots."""
    choose(page, "Ewa Łukasik")
    page.click("#signin [data-act=digit][data-value='2']")
    assert page.inner_text("#signin [data-part=dots]") == "●"
    page.click("#signin [data-act=erase]")
    assert page.inner_text("#signin [data-part=dots]") == ""
    enter(page, PINS["Ewa Łukasik"])
    assert page.inner_text("#person") == "Ewa Łukasik"
    page.reload()
    page.wait_for_selector("body[data-loaded=yes]")
    assert page.inner_text("#person") == "Ewa Łukasik"
    assert complaints(page) == []


def test_by_keyboard(page: Page) -> None:
    """Digits, Backspace and Enter of a keyboard work as the tiles do."""
    choose(page, "Tomé Arbel")
    page.keyboard.type("139", delay=80)
    page.keyboard.press("Backspace")
    assert page.inner_text("#signin [data-part=dots]") == "●●"
    page.keyboard.type("57", delay=80)
    page.keyboard.press("Enter")
    page.wait_for_selector("#signin", state="hidden")
    assert page.inner_text("#person") == "Tomé Arbel"


def test_a_wrong_pin_says_how_many_tries_are_left_and_the_fifth_locks(page: Page, lab: LiveLab) -> None:
    """Four, three, two, one; then a pause of five minutes in which even the right PIN is not taken; others may work."""
    choose(page, "Зоя Ким")
    for left in ("4 more tries", "3 more tries", "2 more tries", "1 more try"):
        enter(page, "0000", left)
    with page.expect_response("**/signin") as fifth:
        enter(page, "0000", "pause of 5 minutes")
    assert fifth.value.status == 403
    with page.expect_response("**/signin") as right:
        enter(page, PINS["Зоя Ким"], "locked after 5 wrong PINs")
    assert right.value.status == 429
    assert "Try again in" in page.inner_text("#signin [data-part=said]")
    locked = [b["event"]["by"]["person"] for b in lab.journal() if b["event"]["kind"] == "locked"]
    assert len(locked) == 1
    page.click("#signin [data-act=back]")
    choose(page, "Ewa Łukasik")
    enter(page, PINS["Ewa Łukasik"])
    assert page.inner_text("#person") == "Ewa Łukasik"


def test_a_ghost_tap_on_ok_is_no_second_try(page: Page) -> None:
    """A wrong PIN whose OK is met twice counts once; OK without any digit counts as none."""
    choose(page, "Ewa Łukasik")
    page.dblclick("#signin [data-act=enter]")
    for digit in "0000":
        page.click(f"#signin [data-act=digit][data-value='{digit}']")
    page.dblclick("#signin [data-act=enter]")
    said = "#signin [data-part=said]"
    page.wait_for_function("(said) => document.querySelector(said).textContent.includes('more tr')", arg=said)
    enter(page, "0000", "3 more tries")
    enter(page, PINS["Ewa Łukasik"])


@pytest.mark.parametrize("pin", [PINS["Ewa Łukasik"], "0000"])
def test_an_answer_that_comes_late_signs_in_nobody_else(page: Page, pin: str) -> None:
    """While the PC is asked about a PIN, somebody else takes the tablet: right or wrong, the answer changes nothing."""
    with held(page, "**/signin") as answer:
        choose(page, "Ewa Łukasik")
        tap_in(page, pin)
        page.click("#signin [data-act=back]")
        choose(page, "Tomé Arbel")
        page.click("#signin [data-act=digit][data-value='1']")
        answer()
    assert page.is_visible("#signin") and page.inner_text("#signin [data-part=who]") == "Tomé Arbel"
    assert page.inner_text("#signin [data-part=dots]") == "●"
    assert page.inner_text("#signin [data-part=said]") == ""
    enter(page, PINS["Tomé Arbel"][1:])
    assert page.inner_text("#person") == "Tomé Arbel"


def test_a_sign_in_that_was_given_up_is_none(page: Page) -> None:
    """The dialog is closed before the PC has answered: nobody is signed in, and the next one is asked as ever."""
    with held(page, "**/signin") as answer:
        choose(page, "Ewa Łukasik")
        tap_in(page, PINS["Ewa Łukasik"])
        page.click("#signin [data-act=close]")
        answer()
    assert page.evaluate("() => localStorage.person") is None
    choose(page, "Ewa Łukasik")
    enter(page, PINS["Ewa Łukasik"])


def test_the_bench_asks_who_is_working_before_it_takes_a_tap(
    tablet: Callable[..., BrowserContext], lab: LiveLab, new_jaw: NewJaw
) -> None:
    """On a tablet without anybody the dialog is open at once; the first tap then bears that person's sign-in."""
    code = new_jaw()
    hand = Hand(tablet().new_page(), lab).open(code)
    assert hand.page.is_visible("#signin")
    hand.page.click("#signin [data-act=close]")
    hand.page.wait_for_selector("body[data-ready=yes]")
    hand.page.click("#main")
    hand.page.wait_for_selector("#signin[open]")
    assert entries(lab, code, "confirm") == []
    hand.sign_in("Ewa Łukasik")
    go_on(hand)
    stored(hand)
    by = entries(lab, code, "confirm")[-1]["event"]["by"]
    signin = next(b["event"] for b in lab.journal() if b["event"]["id"] == by["signin"])
    assert (signin["kind"], by["how"], signin["by"]["person"]) == ("signin", "pin", by["person"])


def test_no_page_and_no_answer_holds_a_pin_or_its_hash(lab: LiveLab, new_jaw: NewJaw) -> None:
    """Neither pages nor JSON carry a PIN, a hash or the word for one; the database keeps hashes only."""
    code = new_jaw()
    visitor = Visitor(lab)
    people = json.loads(visitor.get("/people.json"))["people"]
    assert {tuple(sorted(person)) for person in people} == {("id", "name", "roles")}
    of_jaw = (f"/bench/{code}", f"/bench/{code}/base", f"/record/{code}", f"/record/{code}.json")
    for path in ("/", "/people.json", *of_jaw):
        text = visitor.get(path)
        assert not re.search(r"scrypt|pbkdf2|\"pin\"\s*:\s*\"", text), path
    kept = b"".join(file.read_bytes() for file in Path(lab.data).glob("bench.sqlite3*"))
    assert b"scrypt:" in kept or b"pbkdf2:" in kept
    assert not any(b'"%s"' % pin.encode() in kept for pin in PINS.values())
