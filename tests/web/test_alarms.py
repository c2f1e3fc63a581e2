"""Whom an alarm concerns, handing it to a colleague, silence in the wet window, and the warning before it."""

import json
import re
from collections.abc import Callable, Iterator

import pytest
from playwright.sync_api import BrowserContext, Page

from benchapp.core.walk import MINUTE
from tests.live import LiveLab
from tests.web.axe import violations
from tests.web.conftest import LANDSCAPE, PORTRAIT, NewJaw, Signed, Sit
from tests.web.early import EarlyTablet
from tests.web.hands import at_desk
from tests.web.watch import complaints

DueJaw = Callable[[float], str]



def rung(page: Page, code: str) -> None:
    """Wait until the alarm names a jaw."""
    page.wait_for_function(
        "(code) => !document.querySelector('#alarm').hidden"
        " && document.querySelector('#alarm').dataset.rings.includes(code)", arg=code)


@pytest.fixture
def due_jaw(new_jaw: NewJaw, lab: LiveLab, signed: Signed) -> Iterator[Callable[[float], str]]:
    """A jaw in the chamber for so many minutes; put on hold afterwards, so that it rings for no other test."""
    made: list[str] = []

    def make(minutes: float) -> str:
        made.append(new_jaw("cure-second-side", ago=round(minutes * MINUTE)))
        return made[-1]

    yield make
    for code in made:
        tablet = EarlyTablet(lab, signed("Ewa Łukasik"))
        now = json.loads(tablet.get(f"/bench/{code}/base"))["now"]
        hold = {"kind": "hold", "step": "", "places": [], "outcome": "", "round": 0}
        tablet.post("/outbox/1", [tablet.fact(tablet.page_data(code), hold, now) | {"id": f"held-{code}"}])


def test_an_alarm_rings_where_the_person_in_charge_works(
    sit: Sit, new_jaw: NewJaw, due_jaw: DueJaw, lab: LiveLab, signed: Signed
) -> None:
    """A turn-over that is due rings where its technician works, on whichever page, and not at a colleague's."""
    due, other = due_jaw(31), new_jaw("dry-fit")
    mine, theirs = sit(other, name="Ewa Łukasik", quiet=False).page, sit(other, name="Tomé Arbel", quiet=False).page
    rung(mine, due)
    data = json.loads(EarlyTablet(lab, signed("Ewa Łukasik")).get("/due.json"))
    assert due in [one["code"] for one in data["due"]] and data["all"] == 60 * MINUTE
    theirs.wait_for_function("() => document.body.dataset.loaded === 'yes'")
    assert due not in (theirs.get_attribute("#alarm", "data-rings") or "")
    for page in (mine, theirs):
        page.goto(f"{lab.address}/tablet")
        page.wait_for_selector("body[data-loaded=yes]")
    rung(mine, due)
    assert due not in (theirs.get_attribute("#alarm", "data-rings") or "")


def test_everybody_hears_it_after_the_labs_delay(sit: Sit, new_jaw: NewJaw, due_jaw: DueJaw) -> None:
    """Longer over than the lab allows (60 min in this lab), it rings at a colleague's too."""
    due = due_jaw(30 + 61)
    rung(sit(new_jaw("dry-fit"), name="Tomé Arbel", quiet=False).page, due)


def test_an_alarm_is_answered_by_handing_it_to_a_colleague(
    sit: Sit, new_jaw: NewJaw, due_jaw: DueJaw, lab: LiveLab
) -> None:
    """Handed over it is silent here, rings at the colleague's, and the journal says so."""
    due, other = due_jaw(31), new_jaw("dry-fit")
    page = sit(other, name="Ewa Łukasik", quiet=False).page
    rung(page, due)
    page.click("#alarm [data-act=hand]")
    with page.expect_response("**/outbox/1*"):
        page.click("#hand [data-act=hand-to]:has-text('Tomé Arbel')")
    page.wait_for_function("(code) => !document.querySelector('#alarm').dataset.rings.includes(code)", arg=due)
    handed = [body["event"] for body in lab.journal() if body["event"]["jaw"] == due][-1]
    assert handed["kind"] == "hand" and handed["picks"]["to"]
    rung(sit(other, name="Tomé Arbel", quiet=False).page, due)


@pytest.mark.parametrize("size", [PORTRAIT, LANDSCAPE], ids=["portrait", "landscape"])
def test_the_desk_rings_until_it_is_heard(
    size: tuple[int, int], tablet: Callable[..., BrowserContext], due_jaw: DueJaw, lab: LiveLab
) -> None:
    """A PC that is left on a page of the desk rings whoever is in charge; heard once, it is silent on every page."""
    due = due_jaw(31)
    page = at_desk(tablet(size, quiet=False), lab, "/desk/people")
    rung(page, due)
    assert "since" in page.inner_text("#alarm") and page.get_attribute("body", "data-alarm") is not None
    assert violations(page) == []
    assert page.evaluate("() => document.documentElement.scrollWidth <= innerWidth")
    page.focus("#alarm button")
    page.keyboard.press("Enter")
    page.wait_for_selector("#alarm", state="hidden")
    page.goto(f"{lab.address}/desk/today")
    with page.expect_response("**/due.json*"):
        pass
    assert page.is_hidden("#alarm") and complaints(page) == []


def test_the_wet_window_is_silent(sit: Sit, new_jaw: NewJaw, due_jaw: DueJaw) -> None:
    """While resin is wet a colleague's or own other alarm is a silent line; nothing lies over a control."""
    due = due_jaw(31)
    page = sit(new_jaw("fill-gaps"), name="Ewa Łukasik", quiet=False).page
    page.wait_for_function("() => document.querySelector('#banner').innerText.includes('since')")
    assert due in page.evaluate("fetch('/due.json').then((a) => a.text())")
    assert page.is_hidden("#alarm") and page.get_attribute("body", "data-alarm") is None


def test_before_wet_a_turn_over_in_the_way_is_said_with_the_next_safe_moment(
    sit: Sit, new_jaw: NewJaw, due_jaw: DueJaw
) -> None:
    """Ten minutes before a turn-over is no time to open resin: the page says when it is due, and from when on it is."""
    due = due_jaw(20)
    page = sit(new_jaw("second-fit"), name="Ewa Łukasik", quiet=False).page
    page.wait_for_function("() => document.querySelector('#banner').innerText.includes('falls due at')")
    assert page.evaluate("(code) => fetch('/due.json').then((a) => a.text()).then((t) => t.includes(code))", due)
    said = page.inner_text("#banner")
    clocks = re.findall(r"\d\d:\d\d", said)
    assert len(clocks) == 2 and "falls due at" in said, said
    minutes = [int(c[:2]) * 60 + int(c[3:]) for c in clocks]
    assert (minutes[1] - minutes[0]) % 1440 >= 1
