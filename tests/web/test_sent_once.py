"""Forms that an impatient or a wet hand sends twice: what they store is stored once."""

import re
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from tests.live import LiveLab
from tests.web.hands import at_desk


@pytest.fixture
def desk(tablet: Callable[..., BrowserContext], lab: LiveLab) -> Page:
    """The supervisor at the desk."""
    return at_desk(tablet(), lab)


@contextmanager
def busy(lab: LiveLab) -> Iterator[None]:
    """Something else writes on the PC meanwhile, so that what is sent waits there."""
    with closing(sqlite3.connect(lab.data / "bench.sqlite3", isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        yield
        other.execute("ROLLBACK")


def tap_twice(page: Page, lab: LiveLab, button: str) -> list[str]:
    """Tap a button, and once more when what it sends is on its way; return the addresses that were sent to."""
    sent: list[str] = []
    page.on("request", lambda request: sent.append(request.url) if request.method == "POST" else None)
    at = page.locator(button).bounding_box()
    assert at
    with busy(lab):
        with page.expect_request(lambda request: request.method == "POST"):
            page.mouse.click(at["x"] + 9, at["y"] + 9)
        page.mouse.click(at["x"] + 9, at["y"] + 9)
    return sent


def test_a_lot_is_put_on_the_shelf_once(desk: Page, lab: LiveLab) -> None:
    """A second click while the PC is busy sends nothing more: one lot is added, and nothing is called refused."""
    desk.goto(f"{lab.address}/desk/materials/new")
    for name, text in (("name", "Twice sent"), ("kind", "bonding-resin"), ("lot", "TWICE-1"),
                       ("expiry", "2031-06-30"), ("tint", "rose 2")):
        desk.fill(f"[name={name}]", text)
    sent = tap_twice(desk, lab, "form.sheet button.go")
    desk.wait_for_url(re.compile("/desk/materials/[0-9A-Z]{10}$"))
    assert len(sent) == 1
    assert "Added with the code" in desk.inner_text(".said")


def test_a_form_with_faults_and_one_gone_back_to_are_sent_anew(desk: Page, lab: LiveLab) -> None:
    """What was refused is mended and sent at once; so is a form on a page that the browser kept and shows again."""
    desk.goto(f"{lab.address}/desk/devices/new")
    desk.click("form.sheet button.go")
    desk.wait_for_selector(".faults")
    desk.fill("[name=name]", "Plover")
    desk.fill("[name=kind]", "lamp")
    # The browsers that tests drive keep no page to go back to; what they would tell it is told here.
    desk.evaluate("""() => addEventListener("pointerdown", () =>
      dispatchEvent(new PageTransitionEvent("pageshow", { persisted: true })))""")
    sent = tap_twice(desk, lab, "form.sheet button.go")
    desk.wait_for_selector(".said:has-text('Added with the code')")
    assert len(sent) == 2


def test_a_label_may_be_asked_for_again(desk: Page, lab: LiveLab) -> None:
    """An answer that is a file leaves its page where it is: a double click gives one, a click a while later another."""
    desk.goto(f"{lab.address}/desk/people")
    desk.click("main a:has-text('Зоя Ким')")
    desk.click("form[action$='/badge'] button")
    button = "form[data-gives=file] button"
    desk.wait_for_selector(button)
    sent: list[str] = []
    desk.on("request", lambda request: sent.append(request.url) if request.method == "POST" else None)
    with desk.expect_download():
        desk.dblclick(button)
    with desk.expect_download():
        expect(desk.locator(button)).to_be_visible()
        while len(sent) < 2:
            desk.click(button)
    assert len(sent) == 2
