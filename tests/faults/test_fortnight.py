"""Two weeks without the PC: the tablet goes on from what it kept, and what it did arrives with its own days."""

import time

import pytest

from tests.faults.conftest import Bench
from tests.faults.proof import facts
from tests.faults.tablet import WRONG_CLOCK
from tests.faults.test_faults import confirm

pytestmark = pytest.mark.browser

DAY = 24 * 3600 * 1000
DAYS = (1, 5, 14)
LATER = WRONG_CLOCK.replace("%d", 'location.host ? Number(localStorage.getItem("ahead") || 0) : 0')


def test_two_weeks_without_the_pc(bench: Bench) -> None:
    """Loaded again and worked on three days of a fortnight with the PC gone: each fact is stored once, on its day."""
    tablet = bench.tablet()
    confirm(tablet, 2)
    tablet.all_stored()
    bench.lab.kill()
    tablet.context.add_init_script(LATER)
    for day in DAYS:
        tablet.page.evaluate("(ms) => localStorage.setItem('ahead', ms)", str(day * DAY))
        tablet.hand.open()
        for _ in range(2):  # nobody is known any more: the page asks, at the latest at a touch, which does nothing else
            if not tablet.page.query_selector("#signin[open]"):
                tablet.page.click("body", position={"x": 4, "y": 400})
        tablet.page.wait_for_selector("#signin[open]")
        tablet.sign_in()
        confirm(tablet)
    bench.lab.ahead_ms = DAYS[-1] * DAY
    bench.lab.start()
    found = bench.prove()
    assert (found.confirmations, found.lost, found.doubles) == (5, 0, 0)
    kept = [body for body in facts(bench.lab.journal()) if body["event"]["kind"] == "confirm"][2:]
    began = time.time() * 1000
    assert [round((body["server"]["when"] - began) / DAY) for body in kept] == list(DAYS)
    assert all(round((body["server"]["received"] - began) / DAY) == DAYS[-1] for body in kept)
    assert [mark for body in kept for mark in body["server"]["marks"] if mark[1] == "refused"] == []
