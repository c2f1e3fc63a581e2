"""Cases in a real browser: every page for everybody, the search while somebody types, and the first page's search."""

from collections.abc import Callable
from pathlib import Path

from playwright.sync_api import BrowserContext, Page

from tests.live import LiveLab
from tests.web.axe import violations
from tests.web.conftest import LANDSCAPE, PORTRAIT
from tests.web.hands import at_desk, in_every_size
from tests.web.measure import controls, cut, small
from tests.web.watch import complaints

CONTROLS = "button, .button, input:not([type=checkbox]):not([type=radio]):not([type=hidden]), select"
LIST = "Order;Patient;Clinic;Due;Shade;Base tint;Jaw;Teeth;Pan\n"


def go(page: Page, control: str) -> None:
    """Press what leads to another page, and wait for it."""
    with page.expect_navigation():
        page.click(control)


def sound(page: Page, where: str) -> None:
    """Assert in every size: axe finds nothing, nothing is cut off, controls are large, the page fits the width."""
    page.wait_for_load_state()
    for size in in_every_size(page):
        assert violations(page) == [], (where, size)
        assert cut(page) == [], (where, size)
        assert small(controls(page, CONTROLS), 48) == [], (where, size)
        assert page.evaluate("() => document.documentElement.scrollWidth <= innerWidth"), (where, size)


def fill(page: Page, order: str, pan: str) -> None:
    """Type an order in, without its parts."""
    for name, words in {"order": order, "patient": "P-11", "prescriber": "Practice at the lock", "pan": pan,
                        "due": "2031-02-01", "shade": "light", "tint": "rose"}.items():
        page.fill(f"#{name}", words)


def test_the_pages_of_cases_are_for_everybody(
    tablet: Callable[..., BrowserContext], lab: LiveLab, tmp_path: Path
) -> None:
    """List, form, refused form, codes, order, lists of orders and their rows: sound upright, across and at 200 %."""
    order, pan = "SCREEN-1", "Pan 1"
    page = at_desk(tablet(), lab, "/desk/cases")
    sound(page, "list")
    go(page, "text=New case")
    fill(page, order, pan)
    page.check("fieldset[data-jaw=upper] .ordered")
    page.check("fieldset[data-jaw=lower] .ordered")
    go(page, "text=Accept the case")
    sound(page, "refused")
    assert page.input_value("#order") == order and "revision of the base" in page.inner_text(".faults")
    for jaw in ("upper", "lower"):
        for part in ("base", "arch"):
            page.fill(f"#{jaw}_revision_{part}", "A")
            page.fill(f"#{jaw}_print_job_{part}", "J-1")
    page.select_option("#allergy", "yes")
    go(page, "text=Accept the case")
    page.wait_for_url("**/codes")
    sound(page, "codes")
    go(page, "text=What was ordered")
    sound(page, "order")
    page.fill("#by", "Dr. Nobody")
    page.check("[name=goes_on][value=yes]")
    go(page, "text=Enter the decision")
    assert "Off hold" in page.inner_text(".said")
    page.fill("#why", "Entered for a screen test")
    go(page, "button.danger")
    sound(page, "cancelled")
    file = tmp_path / "list.csv"
    file.write_text(LIST + f"{order}-L;P;Practice;15.01.2031;light;rose;both;;5\n;P;;soon;;;up;99;\n", "utf-8")
    page.goto(f"{lab.address}/desk/cases/orders")
    sound(page, "lists")
    page.set_input_files("#file", file)
    go(page, "text=Show its rows")
    page.click("summary")
    sound(page, "rows")
    go(page, "text=Take in the rows ticked")
    assert "1 case accepted" in page.inner_text(".said")
    assert [c for c in complaints(page) if "422" not in c] == []


def test_the_list_follows_while_somebody_types(tablet: Callable[..., BrowserContext], lab: LiveLab) -> None:
    """Typing narrows the list without loading the page, and its address shows the same list again; keys are enough."""
    page = at_desk(tablet(LANDSCAPE), lab, "/desk/cases")
    page.evaluate("() => { window.stayed = true; }")
    page.focus("#q")
    page.keyboard.type("DEMO-2026-0017")
    page.wait_for_function("() => document.querySelectorAll('[data-case]').length === 1")
    assert "Demo patient 017" in page.inner_text("[data-case]")
    page.wait_for_url("**/desk/cases?q=DEMO-2026-0017")
    page.select_option("#state", "cancelled")
    page.wait_for_selector("#found >> text=No case is like that")
    assert page.evaluate("() => window.stayed")
    page.reload()
    assert page.input_value("#q") == "DEMO-2026-0017" and "No case is like that" in page.inner_text("#found")
    assert complaints(page) == []


def test_the_first_page_takes_an_order_number(tablet: Callable[..., BrowserContext], lab: LiveLab) -> None:
    """An order of one jaw opens its bench page; a number that nobody has is answered on the page."""
    page = tablet(PORTRAIT).new_page()
    page.goto(f"{lab.address}/")
    page.wait_for_selector("body[data-loaded=yes]")
    page.fill("#code", "no such pan")
    page.keyboard.press("Enter")
    page.wait_for_selector("#said:has-text('No case in work')")
    page.fill("#code", "demo-2026-0017")
    page.keyboard.press("Enter")
    page.wait_for_url(f"**/bench/{lab.code}")


def test_a_pan_with_two_jaws_asks_which(tablet: Callable[..., BrowserContext], lab: LiveLab) -> None:
    """Two jaws in one pan: a page with both, sound for everybody; a tap opens the one."""
    page = at_desk(tablet(PORTRAIT), lab, "/desk/cases/new")
    fill(page, "SCREEN-PAIR", "Pan pair")
    for jaw in ("upper", "lower"):
        page.check(f"fieldset[data-jaw={jaw}] .ordered")
        for part in ("base", "arch"):
            page.fill(f"#{jaw}_revision_{part}", "A")
            page.fill(f"#{jaw}_print_job_{part}", "J-1")
    go(page, "text=Accept the case")
    page.wait_for_url("**/codes")
    page.goto(f"{lab.address}/")
    page.wait_for_selector("body[data-loaded=yes]")
    page.fill("#code", "pan pair")
    page.keyboard.press("Enter")
    page.wait_for_selector("h1:has-text('Which jaw')")
    sound(page, "choice")
    page.click("[data-jaw] >> text=lower jaw")
    page.wait_for_url("**/bench/2*")
