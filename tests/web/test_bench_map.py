"""The map of the arch: counts, single places by one tap, and the loops that an exception opens."""

from typing import Any

import pytest
from playwright.sync_api import Page

from tests.live import Hand, LiveLab
from tests.web.conftest import NewJaw, Signed, Sit
from tests.web.early import EarlyTablet
from tests.web.hands import entries, go_on, insist, look, page_state, stored
from tests.web.measure import controls, place_of

# 14 teeth: 13 connectors and 28 margin sides, in sextants of 4, 6 and 4 teeth; places counted by hand on ISO 3950.
COUNTS = {"s1": 12, "s2": 17, "s3": 12}


def counts(page: Page) -> dict[str, str]:
    """Return what each part of the whole arch shows."""
    return {s: page.text_content(f"[data-sextant={s}] .count") or "" for s in ("s1", "s2", "s3")}


def tell(page: Page, outcome: str, place: str) -> None:
    """Pick what a tap on a place says, and tap the place once."""
    tool = f"[data-step]:not([hidden]) [data-act=tool][data-outcome={outcome}]"
    insist(page, tool, f"{tool}[aria-pressed=true]")
    page.click(f"[data-place='{place}']")


def state_of(page: Page, place: str) -> str:
    """Return the state that a place shows."""
    return page.get_attribute(f"[data-place='{place}']", "data-state") or ""


def shows(page: Page, place: str, state: str) -> None:
    """Wait until a place shows a state."""
    page.wait_for_selector(f"[data-place='{place}'][data-state={state}]", state="attached")


def main_says(hand: Hand) -> str:
    """Return what the main action covers next."""
    return hand.page.inner_text("#main [data-part=what]")


def test_the_whole_arch_shows_three_targets_with_their_counts(sit: Sit, new_jaw: NewJaw) -> None:
    """At the bubble check there are three targets, at three spots, with 12, 17 and 12 places."""
    page = sit(new_jaw("bubble-check")).page
    targets = controls(page, "#map [role=button]")
    assert [t["act"] for t in targets] == list(COUNTS)
    assert counts(page) == {s: f"○ {n}" for s, n in COUNTS.items()}
    assert [t["name"].split(", ")[1].split(" ○")[0] for t in targets] == [f"{n} places" for n in COUNTS.values()]


@pytest.mark.parametrize(("sextant", "count"), COUNTS.items())
def test_a_sextant_shows_its_own_places(sextant: str, count: int, sit: Sit, new_jaw: NewJaw) -> None:
    """A tap on a target opens that sextant with exactly its places, and one tap leads back to the whole arch."""
    page = sit(new_jaw("bubble-check")).page
    look(page, sextant)
    places = [c["act"] for c in controls(page, "#map [role=button]")]
    assert len(places) == count
    assert page.is_hidden("#whole")
    look(page, "whole")
    assert page.is_visible("#whole")


def test_a_bubble_is_mended_by_one_tap_and_an_open_one_goes_back_to_filling(
    sit: Sit, lab: LiveLab, new_jaw: NewJaw
) -> None:
    """Mended stands done at once; open waits, fill then asks that place alone, and so does the check."""
    code = new_jaw("bubble-check")
    hand = sit(code)
    page = hand.page
    look(page, "s1")
    tell(page, "bubble-mended", "m16b")
    shows(page, "m16b", "done")
    tell(page, "bubble-left", "16-15")
    shows(page, "16-15", "wait")
    assert main_says(hand) == "right back · 12 places"
    look(page, "whole")
    assert counts(page)["s1"] == "! 1"
    for _ in COUNTS:
        assert hand.at == "bubble-check"
        go_on(hand)
    assert hand.at == "fill-gaps"
    assert main_says(hand) == "connector 16-15"
    go_on(hand)
    assert hand.at == "bubble-check"
    assert main_says(hand) == "connector 16-15"
    cells = page_state(page)["cells"]["bubble-check"]
    assert [place for place, cell in cells.items() if cell == "open"] == ["16-15"]
    go_on(hand)
    assert hand.at == "shape-papillae"
    stored(hand)
    told = [b["event"] for b in entries(lab, code, "confirm")[-7:]]
    assert [(event["step"], event["outcome"], event["places"]) for event in told] == [
        ("bubble-check", "bubble-mended", ["m16b"]), ("bubble-check", "bubble-left", ["16-15"]),
        ("bubble-check", "none-seen", ["s1"]), ("bubble-check", "none-seen", ["s2"]),
        ("bubble-check", "none-seen", ["s3"]), ("fill-gaps", "gaps-filled", ["16-15"]),
        ("bubble-check", "none-seen", ["16-15"]),
    ]
    assert {m for b in entries(lab, code) for m in map(tuple, b["server"]["marks"])} == set()


def test_the_main_action_follows_the_open_sextant(sit: Sit, lab: LiveLab, new_jaw: NewJaw) -> None:
    """In a sextant's view the main action covers that sextant, not the first one in order."""
    code = new_jaw("bubble-check")
    hand = sit(code)
    look(hand.page, "s3")
    assert main_says(hand) == "left back · 12 places"
    go_on(hand)
    hand.page.wait_for_selector("body[data-view=whole]")
    stored(hand)
    assert entries(lab, code, "confirm")[-1]["event"]["places"] == ["s3"]
    assert main_says(hand) == "right back · 12 places"
    assert counts(hand.page)["s3"].startswith("✓")


def test_a_void_is_repaired_cured_and_finished_again(
    sit: Sit, lab: LiveLab, fast_jaws: list[str], signed: Signed
) -> None:
    """A void at finishing opens repair, then the repair's cure with its floor, then finishing, for that place alone."""
    code = fast_jaws.pop()
    EarlyTablet(lab, signed("Ewa Łukasik")).bring_to(code, "finish-off", ago=5_000)
    hand = sit(code)
    look(hand.page, "s3")
    tell(hand.page, "void-bare", "m24l")
    shows(hand.page, "m24l", "wait")
    look(hand.page, "whole")
    course: list[tuple[str, str]] = []
    while hand.at != "check-tacky":
        course.append((go_on(hand)[0], main_says(hand)))
    steps = [step for step, _ in course]
    assert steps == ["finish-off", "repair-void", "repair-cure", "finish-off"]
    stored(hand)
    told: list[Any] = [(b["event"]["step"], b["event"]["places"]) for b in entries(lab, code, "confirm")][-4:]
    assert told == [
        ("finish-off", ["-"]), ("repair-void", ["m24l"]), ("repair-cure", ["m24l"]), ("finish-off", ["m24l"]),
    ]
    assert [b["server"]["marks"] for b in entries(lab, code, "confirm")][-4:] == [[]] * 4


def test_areas_of_the_base_are_places_too(sit: Sit, lab: LiveLab, new_jaw: NewJaw) -> None:
    """The areas of the base open as large tiles; a rough edge marked there goes back to finishing."""
    code = new_jaw("check-edges")
    hand = sit(code)
    look(hand.page, "areas")
    areas = [c["act"] for c in controls(hand.page, ".areas button")]
    assert "b-fitting" in areas
    tell(hand.page, "edge-rough", "b-fitting")
    shows(hand.page, "b-fitting", "wait")
    stored(hand)
    event = entries(lab, code, "confirm")[-1]["event"]
    assert (event["outcome"], event["places"]) == ("edge-rough", ["b-fitting"])
    assert page_state(hand.page)["cells"]["finish-off"]["b-fitting"] == "open"


def test_a_place_that_the_step_does_not_ask_takes_no_tap(sit: Sit, lab: LiveLab, new_jaw: NewJaw) -> None:
    """Teeth are drawn at the bubble check for orientation; a tap on one does nothing, and it says so to readers."""
    code = new_jaw("bubble-check")
    hand = sit(code)
    look(hand.page, "s1")
    assert state_of(hand.page, "16") == "none"
    assert hand.page.get_attribute("[data-place='16']", "aria-disabled") == "true"
    before = entries(lab, code, "confirm")
    x, y, w, h = place_of(hand.page, "[data-place='16'] rect")
    hand.page.mouse.click(x + w - 8, y + h - 8)
    tell(hand.page, "bubble-mended", "m16b")
    shows(hand.page, "m16b", "done")
    stored(hand)
    assert [b["event"]["places"] for b in entries(lab, code, "confirm")[len(before):]] == [["m16b"]]


def test_each_state_of_a_place_has_a_sign_and_a_line_of_its_own(sit: Sit, new_jaw: NewJaw) -> None:
    """Open, done and waiting places differ by sign, by outline, and in what is read out: never by colour alone."""
    page = sit(new_jaw("bubble-check")).page
    look(page, "s1")
    tell(page, "bubble-mended", "m16b")
    tell(page, "bubble-left", "m15b")
    shows(page, "m15b", "wait")
    seen = {}
    for place in ("m16b", "m15b", "16"):
        seen[state_of(page, place)] = page.evaluate(
            "(e) => { const line = getComputedStyle(e.querySelector('.shape'));"
            " return [e.querySelector('.sign').textContent, line.strokeDasharray, line.strokeWidth,"
            " getComputedStyle(e).opacity, e.getAttribute('aria-label')]; }",
            page.query_selector(f"[data-place='{place}']"))
    assert set(seen) == {"done", "wait", "none"}
    assert {state: look[0] for state, look in seen.items()} == {"done": "✓", "wait": "!", "none": ""}
    assert seen["wait"][1] != seen["done"][1]
    assert float(seen["none"][3]) < 0.5
    assert "waits" in seen["wait"][4] and "done" in seen["done"][4]
