"""A page of an older version beside a newer server: it goes on, asks to be renewed, and loses nothing that waits."""

from collections.abc import Callable
from pathlib import Path

import pytest
from babel.messages.catalog import Catalog
from playwright.sync_api import BrowserContext, Page

from benchapp.core.doctor import HOUR
from benchapp.store.catalogue import text_of
from tests.actions.worked import worked
from tests.live import Hand, LiveLab
from tests.web.measure import controls, small
from tests.web.test_access import sound

pytestmark = pytest.mark.browser


def renewed(lab: LiveLab) -> None:
    """Let the server come back as another version: a lab's language makes all pages and scripts another one."""
    lab.kill()
    catalog = Catalog(locale="pl")
    catalog.add("Jaws in work", "Prace w toku")
    (lab.data / "words.po").write_bytes(text_of(catalog))
    lab.start()


def version(page: Page) -> str:
    """Return the version that a page was made by."""
    return page.get_attribute("html", "data-app") or ""


def home(context: BrowserContext, lab: LiveLab) -> Page:
    """Open the first page."""
    page = context.new_page()
    page.goto(f"{lab.address}/")
    page.wait_for_selector("body[data-loaded=yes]")
    return page


def test_nothing_is_lost_when_the_version_changes(tablet: Callable[..., BrowserContext], tmp_path: Path) -> None:
    """Taps of an old page are kept, the first page is renewed by one tap with its worker, and all arrive once."""
    lab = LiveLab(tmp_path / "data").fill().start()
    try:
        context = tablet(worker=True)
        first = home(context, lab)
        old = version(first)
        hand = Hand(context.new_page(), lab).open().sign_in()
        hand.confirm()
        hand.stored()
        assert first.is_hidden("#renew")
        renewed(lab)
        hand.confirm()  # the old page and the new server understand each other
        hand.stored()
        context.route("**/outbox/1*", lambda route: route.abort())
        hand.confirm()
        hand.page.wait_for_selector("#status[data-waiting='1']")
        assert version(hand.page) == old
        first.wait_for_selector("#renew", state="visible")
        sound(first, "renew")
        assert small([one for one in controls(first) if one["act"] == "renew"], 48) == []
        first.click("#renew [data-act=renew]")
        first.wait_for_function("(old) => document.documentElement.dataset.app !== old", arg=old)
        first.wait_for_selector("body[data-loaded=yes]")
        assert first.is_hidden("#renew") and "Prace w toku" in first.inner_text("h2")
        assert first.get_attribute("#status", "data-waiting") == "1"
        assert first.evaluate("() => caches.keys()") == [f"seat-and-cure-{version(first)}"]
        kept = first.evaluate("async (path) => (await caches.match(path)).text()", f"/bench/{lab.code}")
        assert f'data-app="{version(first)}"' in kept
        context.unroute("**/outbox/1*")
        first.wait_for_selector("#status[data-waiting='0']")
    finally:
        lab.kill()
    told = [body["event"] for body in lab.journal() if body["event"]["kind"] == "confirm"]
    assert len(told) == 3 and len({event["id"] for event in told}) == 3


RUNS = "async ([table, state, at]) => (await import('/static/js/renew.js')).runs(table, state, at)"


def test_an_attended_step_is_not_disturbed(
    tablet: Callable[..., BrowserContext], lab: LiveLab, tmp_path: Path
) -> None:
    """Wet resin holds renewal up, also within a step; a dry step, a cure alone, a held jaw and an old one do not."""
    page = home(tablet(), lab)
    with worked(tmp_path / "data") as jaw:

        def runs(later: int = 0, **changed: object) -> bool:
            found: bool = page.evaluate(RUNS, [jaw.line.table, jaw.line.state | changed, jaw.now[0] + later])
            return found

        jaw.run_to("lay-out")
        assert not runs()
        jaw.run_to(next(card["step"] for card in jaw.line.table["cards"] if card["wet"]))
        assert runs() and not runs(later=3 * HOUR) and not runs(held="reason") and not runs(ended="scrap")
        alone = next(card["step"] for card in jaw.line.table["cards"] if not card["attended"])
        jaw.run_to(alone)
        jaw.main()
        assert not jaw.line.state["ended"] and not runs()


@pytest.mark.parametrize(("attended", "at", "expected"), [(1, 30_000, True), (1, 61_000, False), (0, 30_000, False)])
def test_the_clock_of_an_attended_step(
    attended: int, at: int, expected: bool, tablet: Callable[..., BrowserContext], lab: LiveLab
) -> None:
    """While a clock of a step that holds a person runs nothing is renewed; one that ran out, or runs alone, is free."""
    table = {
        "cards": [{"step": "a", "wet": 0, "attended": attended}],
        "acts": [{"kind": "confirm", "step": "a", "floors": [["b", 60_000, 0, "stop"]], "ceilings": []}],
    }
    state = {"ended": "", "held": "", "now": "a", "stamps": {"b": 1000}, "cells": {"a": {"-": "open"}}}
    assert home(tablet(), lab).evaluate(RUNS, [table, state, at]) is expected
