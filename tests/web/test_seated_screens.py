"""The seating check at the bench in a browser: findings answered, places watched, one undo for one tap."""

import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, Page

from benchapp.core.events import fold_event
from benchapp.core.fold import fold
from tests import seated as made
from tests.actions.worked import Worked, worked
from tests.web.conftest import PORTRAIT
from tests.web.hands import insist, look, page_state, tap_main
from tests.web.test_access import sound
from tests.web.test_bench_touch import in_both
from tests.web.watch import complaints, seen

CARD = "[data-step=part-check]"
WATCHED = [f"m{tooth}{side}" for tooth in (16, 12, 11, 24, 26) for side in "bl"]
Open = Callable[[], Page]


@pytest.fixture
def jaw(tmp_path: Path) -> Iterator[Worked]:
    """A jaw at the part check, of whose files there is a report with three findings."""
    with worked(tmp_path / "data") as found:
        made.watching(found)
        made.check(found, made.bad())
        found.main()
        yield found


@pytest.fixture
def opened(jaw: Worked, tablet: Callable[..., BrowserContext]) -> Iterator[Open]:
    """Open the jaw's page on a tablet with somebody signed in."""
    with made.served(jaw.bench) as address:
        context = tablet(PORTRAIT, worker=True)
        person = {"id": jaw.person, "name": "Łukasz", "roles": ["technician"], "how": "pin",
                  "signin": jaw.signins[jaw.person]}
        context.add_init_script(f"if (location.host) localStorage.person ??= {json.dumps(json.dumps(person))}")

        def show() -> Page:
            page = context.pages[0] if context.pages else context.new_page()
            page.goto(f"{address}/bench/{jaw.code}")
            page.wait_for_selector("body[data-loaded=yes]")
            assert [one for one in seen(page, "shifts") if one[0]] == []
            return page

        yield show


def say(page: Page, reason: str) -> None:
    """Answer the finding that is shown."""
    page.click(f"{CARD} .finding:not([hidden]) [data-value={reason}]")


def turn(page: Page, to: int) -> None:
    """Show the next finding, which is number `to`."""
    insist(page, f"{CARD} [data-act=turn][data-value='1']", f"{CARD} .finding:nth-of-type({to}):not([hidden])")


def main_says(page: Page, words: str) -> None:
    """Wait until the main action says this, and takes a tap."""
    page.wait_for_selector(f"#main:has-text('{words}')")
    page.wait_for_selector("body[data-ready=yes]")


def asked_at(page: Page, step: str) -> set[str]:
    """Return the single places that a step asks for, as the page has folded it."""
    return {place for place, cell in page_state(page)["cells"][step].items() if cell == "open" and place[0] == "m"}


def confirmed(jaw: Worked) -> list[dict[str, Any]]:
    """Return the facts of the jaw that the PC has, but those of opening pages."""
    entries = [json.loads(entry.body)["event"] for entry in jaw.bench.store.tagged("jaw", jaw.code)]
    return [event for event in entries if event["kind"] in ("confirm", "undo")]


def test_each_screen_with_a_report_fits_and_is_sound(jaw: Worked, opened: Open) -> None:
    """Part check, its map, cuts on the arch and in a sextant, lay-out, filling: sizes, gaps, contrast, no shift."""
    page = opened()
    mains: dict[Any, set[Any]] = {}
    found = in_both(page, "part check", mains)
    sound(page, "part check")
    insist(page, f"{CARD} [data-act=watch]", "body[data-mapped=yes]")
    found += in_both(page, "map of the part check", mains)
    look(page, "s1")
    found += in_both(page, "sextant of the part check", mains)
    for step in ("cut-back", "lay-out", "fill-gaps"):
        jaw.run_to(step)
        page = opened()
        assert page.get_attribute("body", "data-at") == step
        found += in_both(page, step, mains)
        sound(page, step)
        if step != "lay-out":
            look(page, "s1")
            found += in_both(page, f"{step} s1", mains)
            sound(page, f"{step} s1")
            told = {"cut-back": ("17-16", "cut-at-17-16"), "fill-gaps": ("m16b", "why-m16b")}[step]
            assert page.get_attribute(f"[data-place='{told[0]}']", "aria-describedby") == told[1]
            assert page.locator("[data-place][aria-describedby]").count() == {"cut-back": 13, "fill-gaps": 10}[step]
    assert not found, "\n".join(found)
    assert complaints(page) == []


def test_where_the_arch_is_stopped_is_seen_in_a_sextant(jaw: Worked, opened: Open) -> None:
    """At the part check each cross is shown and said at its margin, with what else stands there; elsewhere none is."""
    made.check(jaw, made.worse())
    page = opened()
    insist(page, f"{CARD} [data-act=watch]", "body[data-mapped=yes]")
    look(page, "s1")
    assert page.locator(".sextant:visible .stopsign:visible").count() == 3
    assert page.get_attribute("[data-place=m16l]", "aria-describedby") == "why-m16l stop-at-m16l"
    assert page.get_attribute("[data-place=m15b]", "aria-describedby") == "stop-at-m15b"
    assert in_both(page, "sextant with crosses", {}) == []
    sound(page, "sextant with crosses")
    jaw.run_to("fill-gaps")
    page = opened()
    look(page, "s1")
    assert page.locator(".stopsign:visible").count() == 0
    assert page.get_attribute("[data-place=m16l]", "aria-describedby") == "why-m16l"
    assert page.get_attribute("[data-place=m15b]", "aria-describedby") is None


def test_from_the_findings_to_the_gaps_without_the_pc(jaw: Worked, opened: Open) -> None:
    """Answered one by one; what is picked outlives a look elsewhere; one tap watches and confirms, one undo takes it
    back, also without the PC; when filling, the watched places ask by themselves."""
    page = opened()
    main_says(page, "Both parts right")
    tap_main(page)
    page.wait_for_selector("#said:has-text('Pick first: 2 teeth deeper than 0.8 mm: 16 26')")
    say(page, "print-again")
    main_says(page, "A part is wrong: hold")
    page.click(f"{CARD} .finding:not([hidden]) [data-value=as-ordered]")
    main_says(page, "Both parts right")
    turn(page, 2)
    say(page, "tried-and-fits")
    page.click(f"{CARD} a.seat")
    page.wait_for_url("**/seating")
    page = opened()
    pressed = page.eval_on_selector_all(
        f"{CARD} .finding [aria-pressed=true]", "(all) => all.map((tile) => tile.dataset.value)")
    assert pressed == ["as-ordered", "tried-and-fits"]
    turn(page, 3)
    assert page.inner_text(f"{CARD} .turn b") == "Finding 3 of 3 · 1 to answer"

    page.context.set_offline(True)
    page.reload()
    page.wait_for_selector("body[data-loaded=yes]")
    for number, reason in enumerate(("as-ordered", "tried-and-fits", "designer-agrees"), 1):
        if number > 1:
            turn(page, number)
        say(page, reason)
    assert page.inner_text(f"{CARD} .turn b") == "Finding 3 of 3 · all answered"
    main_says(page, "Both parts right")
    tap_main(page)
    page.wait_for_selector("body[data-at=dry-fit]")
    assert asked_at(page, "fill-gaps") == asked_at(page, "bubble-check") == set(WATCHED)
    page.click(".rail [data-act=undo]")
    page.wait_for_selector("body[data-at=part-check]")
    assert asked_at(page, "fill-gaps") == set() and len(page_state(page)["log"]) == 1
    assert "and with it the places to be watched" in page.inner_text("#said")
    main_says(page, "Both parts right")
    tap_main(page)
    page.wait_for_selector("body[data-at=dry-fit]")
    page.context.set_offline(False)
    page.wait_for_selector("#status[data-waiting='0'][data-status=stored]", timeout=30_000)

    said = [(event["kind"], event["outcome"]) for event in confirmed(jaw)[1:]]
    once = [("confirm", name) for name in ("watch-filling", "watch-bubbles", "parts-right")]
    assert said == once + [("undo", "")] * 3 + once
    assert confirmed(jaw)[-1]["picks"] | {"base": "", "arch": ""} == {
        "base": "", "arch": "", "seating-deep": "as-ordered", "seating-shallow": "tried-and-fits",
        "seating-thick": "designer-agrees"}
    bodies = [json.loads(entry.body) for entry in jaw.bench.store.tagged("jaw", jaw.code)]
    facts = [body for body in bodies if body["event"]["kind"] in ("confirm", "undo")]
    assert fold(jaw.line.table, [fold_event(body) for body in facts])["marks"] == []

    jaw.run_to("cut-back")
    jaw.fact("sendback", step="dry-fit")  # what is watched stays so
    jaw.run_to("fill-gaps")
    page = opened()
    main_says(page, "Filled")
    tap_main(page)
    for tooth in (16, 12, 24):  # the first of the right back, the front, the left back
        main_says(page, f"margin of {tooth}")
        assert page.get_attribute("body", "data-at") == "fill-gaps", tooth
        tap_main(page)
    page.wait_for_selector("body[data-at=bubble-check]")
    assert asked_at(page, "bubble-check") == set(WATCHED)


def test_places_added_by_hand_and_a_check_that_comes(jaw: Worked, opened: Open) -> None:
    """A place that somebody adds stays when the tap after it is taken back; a new check is offered, once."""
    page = opened()
    insist(page, f"{CARD} [data-act=watch]", "body[data-mapped=yes]")
    look(page, "s1")
    page.click("[data-place=m15b]")
    page.wait_for_selector("[data-place=m15b][data-state=done]")
    look(page, "whole")
    insist(page, f"{CARD} [data-act=watch]", "body[data-mapped=no]")
    for number, reason in enumerate(("as-ordered", "tried-and-fits", "designer-agrees"), 1):
        if number > 1:
            turn(page, number)
        say(page, reason)
    main_says(page, "Both parts right")
    tap_main(page)
    page.wait_for_selector("body[data-at=dry-fit]")
    assert asked_at(page, "fill-gaps") == {*WATCHED, "m15b"} and asked_at(page, "bubble-check") == set(WATCHED)
    page.click(".rail [data-act=undo]")
    page.wait_for_selector("body[data-at=part-check]")
    assert asked_at(page, "fill-gaps") == {"m15b"}
    made.check(jaw, made.good())
    page.wait_for_selector("#checked[open]", timeout=20_000)
    sound(page, "a new check")
    page.click("#checked a")
    page.wait_for_selector("body[data-loaded=yes]")
    assert "nothing outside the limits" in page.inner_text(f"{CARD} a.seat")
    assert page.query_selector(f"{CARD} .finding") is None and page.query_selector("#checked[open]") is None
