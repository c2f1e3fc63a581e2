"""Light on wet resin before the tack: the wet window goes on, and no way back is offered any more."""

import pytest

from benchapp.cli.shared import read_file
from benchapp.paths import PROTOCOLS
from tests.live import Hand, LiveLab
from tests.web.conftest import NewJaw, Sit
from tests.web.hands import entries, go_on, insist, page_state, stored
from tests.web.test_bench_phases import press, said

pytestmark = pytest.mark.browser

FULL = read_file(PROTOCOLS / "green-splinted-full.toml")


def with_spots(sit: Sit, new_jaw: NewJaw, step: str) -> tuple[str, Hand]:
    """Sit down at a jaw of the full protocol whose sheet asks for a spot tack, worked to a step."""
    code = new_jaw(step, protocol=FULL, due='2031-01-15\noptions = ["spot-tack"]')
    return code, sit(code)


def phase(hand: Hand) -> str | None:
    """Return the phase that the page is in."""
    return hand.page.get_attribute("body", "data-phase")


def test_after_a_spot_tack_send_back_says_why_not_and_resin_stays_wet(
    sit: Sit, lab: LiveLab, new_jaw: NewJaw
) -> None:
    """Lit in spots the page stays wet to the tack: Send back opens nothing and stores nothing, it says why not."""
    code, hand = with_spots(sit, new_jaw, "light-spots")
    assert "no way back after this" in hand.page.inner_text("[data-step=light-spots] .stage")
    press(hand, "sendback")  # nothing is lit yet
    hand.page.wait_for_selector("#back[open]")
    hand.page.click("#back [data-act=close]")
    go_on(hand)
    assert (hand.at, phase(hand), page_state(hand.page)["lit"]) == ("fill-gaps", "wet", 1)
    assert hand.page.is_visible(".wet-sign")
    insist(hand.page, ".rail [data-act=sendback]", "#said:not(:empty)")  # a tap soon after the last one is dropped
    assert said(hand, "Not taken.") == "Not taken. After first light there is no way back."
    assert hand.page.query_selector("#back[open]") is None
    stored(hand)
    assert entries(lab, code, "sendback") == []
    while hand.at != "tack-light":
        assert phase(hand) == "wet"
        go_on(hand)
    go_on(hand)
    assert (hand.at, phase(hand)) == ("cure-first-side", "lit")
    assert hand.page.is_hidden(".rail [data-act=sendback]")
    stored(hand)
    assert {mark for body in entries(lab, code, "confirm") for mark, _ in body["server"]["marks"]} == set()


def test_the_last_look_offers_the_way_back_only_where_nothing_was_lit(sit: Sit, new_jaw: NewJaw) -> None:
    """Lit in spots, `floated up` is not shown; where the spots were left out it is, and leads back to the seating."""
    _, lit = with_spots(sit, new_jaw, "last-look")
    assert lit.page.is_hidden("[data-outcome=floated-up]") and lit.page.is_visible("[data-outcome=spots-not-home]")
    _, hand = with_spots(sit, new_jaw, "light-spots")
    hand.page.click("[data-outcome=spots-not-lit]")
    hand.page.wait_for_selector("body[data-at=fill-gaps]")
    assert (phase(hand), page_state(hand.page)["lit"]) == ("wet", 0)
    while hand.at != "last-look":
        go_on(hand)
    hand.page.click("[data-outcome=floated-up]")
    hand.page.wait_for_selector("body[data-at=seat-arch]")


def test_a_case_without_the_option_has_its_way_back(sit: Sit, new_jaw: NewJaw) -> None:
    """Without the option the full protocol asks for no spots, and the last look can lead back."""
    hand = sit(new_jaw("last-look", protocol=FULL))
    assert hand.page.query_selector("[data-step=light-spots]") is None
    assert hand.page.is_visible("[data-outcome=floated-up]")
