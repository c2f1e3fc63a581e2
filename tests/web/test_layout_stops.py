"""The stops before the wet work in a browser: wrong part, expired lot, lamp and resin that do not go together.

And the desk's pages of the shelf, looked at by axe.
"""

import itertools
import re
import urllib.parse
import urllib.request
from collections.abc import Iterator

import pytest
from playwright.sync_api import Page

from tests.live import PINS, Hand, LiveLab
from tests.web.axe import violations
from tests.web.conftest import LANDSCAPE, PORTRAIT, NewJaw, Signed, Sit
from tests.web.early import EarlyTablet, Visitor
from tests.web.hands import entries, insist, scan, scan_at_once, stored, tap_main
from tests.web.test_access import sound

STEP = "[data-step=lay-out]"
NUMBERS = itertools.count(1)
SUPERVISOR = "Tomé Arbel"


class AtDesk(Visitor):
    """The supervisor at the desk, by plain forms."""

    def __init__(self, lab: LiveLab) -> None:
        super().__init__(lab)
        door = self.get("/desk/signin")
        found = re.search(rf'<option value="([^"]+)"[^>]*>{SUPERVISOR}<', door)
        assert found
        self.send("/desk/signin", person=found[1], pin=PINS[SUPERVISOR], next="")

    def send(self, path: str, **form: str) -> str:
        """Send a form; return the address of the page that it led to."""
        body = urllib.parse.urlencode(form).encode()
        with self.opener.open(urllib.request.Request(f"{self.address}{path}", body), timeout=20) as response:
            return str(response.url)


@pytest.fixture
def lot(lab: LiveLab) -> Iterator[tuple[AtDesk, str]]:
    """A lot of the base's tint that only this test knows, and the desk that put it there."""
    desk = AtDesk(lab)
    where = desk.send("/desk/materials/new", name="Bond of the stop", kind="bonding-resin", lot=f"STOP-{next(NUMBERS)}",
                      expiry="2031-06-30", tint="rose 2")
    code = where.rpartition("/")[2]
    yield desk, code
    desk.send(f"/desk/materials/{code}/spent")


def words_of_stop(page: Page) -> str:
    """Return what the stop says, and leave it."""
    page.wait_for_selector("#stop[open]")
    words = page.inner_text("#stop")
    insist(page, "#stop [data-act=close]", "#stop:not([open])")
    return words


def tile(page: Page, words: str) -> str:
    """Return the code of the tile of Lay out that says these words."""
    found = page.locator(f"{STEP} [data-act=pick]", has_text=words).first.get_attribute("data-value")
    assert found
    return found


def pressed(page: Page) -> list[str]:
    """Return the codes that are picked on Lay out."""
    return page.eval_on_selector_all(
        f"{STEP} [data-act=pick][aria-pressed=true]", "(all) => all.map((one) => one.dataset.value)"
    )


@pytest.mark.parametrize("size", [PORTRAIT, LANDSCAPE])
def test_a_wrong_part_says_what_it_is(
    size: tuple[int, int], sit: Sit, lab: LiveLab, new_jaw: NewJaw, signed: Signed
) -> None:
    """A base of another case stops with its case; the jaw's own base picks its tile and stops nothing."""
    one, other = new_jaw("part-check"), new_jaw()
    tablet = EarlyTablet(lab, signed("Ewa Łukasik"))
    foreign, own = next(iter(tablet.page_data(other)["parts"])), next(iter(tablet.page_data(one)["parts"]))
    hand = sit(one, size).ready()
    scan(hand.page, foreign)
    hand.page.wait_for_selector("#stop[open]")
    sound(hand.page, "wrong part")
    words = words_of_stop(hand.page)
    assert foreign in words and "of another case" in words and "design revision B" in words
    scan(hand.page, other)
    assert "It is the label of the upper jaw" in words_of_stop(hand.page)
    scan(hand.page, own)
    assert hand.page.query_selector("#stop[open]") is None
    tap_main(hand.page)
    hand.page.wait_for_selector("body[data-at=dry-fit]")


def test_a_wrong_part_without_the_pc(sit: Sit, lab: LiveLab, new_jaw: NewJaw, signed: Signed) -> None:
    """With the PC away the stop still says that the tag is not of this jaw."""
    one, other = new_jaw("part-check"), new_jaw()
    foreign = next(iter(EarlyTablet(lab, signed("Ewa Łukasik")).page_data(other)["parts"]))
    hand = sit(one).ready()
    hand.page.context.set_offline(True)
    scan(hand.page, foreign)
    words = words_of_stop(hand.page)
    assert foreign in words and "that does not belong to this jaw" in words and "Put the part aside" in words


def test_an_expired_lot_cannot_be_taken(sit: Sit, lab: LiveLab, new_jaw: NewJaw) -> None:
    """Tapped or scanned, a lot that expired opens the stop with its reason; what was picked stays picked."""
    drawer = AtDesk(lab).send("/desk/materials/new", name="Bond of last year", kind="bonding-resin", lot="DEMO-3902",
                              expiry="2025-03-31", tint="rose 2")
    code = new_jaw("lay-out")
    hand = sit(code).ready()
    page = hand.page
    expired, before = tile(page, "Expired on 2025-03-31"), pressed(page)
    assert expired not in before and len(before) == 2
    for take in (lambda: page.click(f"{STEP} [data-value='{expired}']"), lambda: scan(page, expired)):
        take()
        words = words_of_stop(page)
        assert "Expired on 2025-03-31" in words and "ask a supervisor" in words and "DEMO-3902" in words
        assert pressed(page) == before
    tap_main(page)
    page.wait_for_selector("body[data-at=clean]")
    stored(hand)
    assert sorted(entries(lab, code, "confirm")[-1]["event"]["picks"].values()) == sorted(before)
    AtDesk(lab).send(f"{drawer}/spent".partition(str(lab.port))[2])


def test_lamp_and_resin_that_do_not_go_together(sit: Sit, lab: LiveLab, new_jaw: NewJaw) -> None:
    """The lamp is picked and the resin let go; nothing can be confirmed before two are picked that go together."""
    code = new_jaw("lay-out")
    hand = sit(code).ready()
    page = hand.page
    lamp, good, resin = tile(page, "Bittern"), tile(page, "Heron"), tile(page, "DEMO-4711")
    page.click(f"{STEP} [data-value='{lamp}']")
    words = words_of_stop(page)
    assert "455 to 470 nm" in words and "385 to 410 nm" in words and "Bonding resin" in words
    assert pressed(page) == [lamp]
    tap_main(page)
    page.wait_for_function("() => document.getElementById('said').textContent !== ''")
    assert "Bonding resin" in page.inner_text("#said") and hand.at == "lay-out"
    page.click(f"{STEP} [data-value='{resin}']")
    words_of_stop(page)
    assert pressed(page) == [resin]
    scan(page, good)
    assert pressed(page) == [resin, good]
    insist(page, "#main", "body[data-at=clean]")  # the tap that was refused may lie only a moment back
    stored(hand)
    assert entries(lab, code, "confirm")[-1]["server"]["marks"] == []


def test_a_page_of_yesterday_without_the_pc(sit: Sit, new_jaw: NewJaw) -> None:
    """A lot that was fit when the page came is let go after its last day, with the PC away, and cannot be taken."""
    page = sit(new_jaw("lay-out")).ready().page
    resin = tile(page, "DEMO-4711")
    assert resin in pressed(page)
    page.context.set_offline(True)
    page.clock.set_fixed_time("2031-06-30T21:59:00Z")  # the last minute of the last day in Europe/Madrid
    page.click(f"{STEP} [data-value='{resin}']")
    assert resin in pressed(page) and page.query_selector("#stop[open]") is None
    page.clock.set_fixed_time("2031-06-30T22:01:00Z")
    page.wait_for_selector(f"{STEP} [data-value='{resin}'][data-unfit=yes][aria-pressed=false]")
    scan_at_once(page, resin)
    page.wait_for_selector("#stop[open]")
    assert "Expired on 2031-06-30" in page.inner_text("#stop")


def test_blocked_while_the_page_is_open(sit: Sit, new_jaw: NewJaw, lot: tuple[AtDesk, str]) -> None:
    """A block at the desk reaches the open page by itself: the tile shows the reason and is let go."""
    desk, code = lot
    page = sit(new_jaw("lay-out")).ready().page
    page.click(f"{STEP} [data-value='{code}']")
    desk.send(f"/desk/materials/{code}/block", reason="recalled today <b>")
    page.wait_for_selector(f"{STEP} [data-value='{code}'][data-unfit=yes][aria-pressed=false]", timeout=20_000)
    assert "Blocked: recalled today <b>." in page.inner_text(f"{STEP} [data-value='{code}']")
    desk.send(f"/desk/materials/{code}/unblock")
    page.wait_for_selector(f"{STEP} [data-value='{code}'][data-unfit=no]", timeout=20_000)


def test_blocked_while_the_tablet_was_away(
    sit: Sit, lab: LiveLab, new_jaw: NewJaw, lot: tuple[AtDesk, str]
) -> None:
    """Confirmed without the PC with a lot that was blocked meanwhile: stored, marked, and explained by a tile, once."""
    desk, code = lot
    jaw = new_jaw("lay-out")
    hand: Hand = sit(jaw).ready()
    page = hand.page
    page.click(f"{STEP} [data-value='{code}']")
    page.context.set_offline(True)
    desk.send(f"/desk/materials/{code}/block", reason="recalled")
    tap_main(page)
    page.wait_for_selector("body[data-at=clean]")
    page.context.set_offline(False)
    page.wait_for_selector("#reason-breach[open]", timeout=20_000)
    assert "not fit for use" in page.inner_text("#reason-breach")
    page.click("#reason-breach [data-act=reason] >> nth=0")
    page.wait_for_selector("#reason-breach", state="hidden")
    stored(hand)
    (marked,) = [one for one in entries(lab, jaw, "confirm") if ["unfit", "deviation"] in one["server"]["marks"]]
    (reason,) = entries(lab, jaw, "reason")
    assert reason["event"]["allow"] == marked["event"]["id"]
    page.reload()
    page.wait_for_selector("body[data-loaded=yes]")
    assert page.query_selector("#reason-breach[open]") is None


@pytest.mark.parametrize("size", [PORTRAIT, LANDSCAPE])
def test_the_shelf_at_the_desk(size: tuple[int, int], sit: Sit, new_jaw: NewJaw, lot: tuple[AtDesk, str]) -> None:
    """Lists, a lot's and a lamp's page, the form, and a form with faults: axe finds nothing, nothing sticks out."""
    page = sit(new_jaw(), size).page
    page.goto(page.url.replace(re.sub(r"^https?://[^/]+", "", page.url), "/desk/materials"))
    page.select_option("#person", label=SUPERVISOR)
    page.fill("#pin", PINS[SUPERVISOR])
    page.click("button.go")
    page.wait_for_selector("h1:has-text('Materials')")
    root = page.url.rpartition("/desk")[0]
    for address in ("/desk/materials", "/desk/devices", "/desk/materials/new", f"/desk/materials/{lot[1]}",
                    f"/desk/materials/{lot[1]}/edit", "/desk/devices/new"):
        page.goto(f"{root}{address}")
        clean(page, address)
    page.click("form.sheet button.go")
    page.wait_for_selector(".faults")
    clean(page, "a form with faults")


def clean(page: Page, where: str) -> None:
    """Assert that axe finds no violation, and that the page is no wider than the window."""
    assert violations(page) == [], where
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), where
