"""Hands at real pages: a browser of its own in each thread, a jaw after the other, with what goes wrong at a page."""

import json
from contextlib import suppress
from dataclasses import dataclass
from random import Random
from time import monotonic
from typing import Any

from playwright.sync_api import Error, Page, TimeoutError, sync_playwright

from tests.browser import browser_args, sure_browser
from tests.faults.tablet import QUICK
from tests.live import Hand
from tests.week.lab import WeekLab, Worker

PATIENCE = 8000.0  # ms
# Shorter pauses at the page, but its full patience with a PC that has much to do.
HASTY = QUICK.replace(", 8000: 1600", "")


@dataclass(frozen=True)
class Taps:
    """When a step was tapped last, by the watch of the hand: before the tap, and after the page had shown it (s)."""

    before: float
    after: float


def work_pages(lab: WeekLab, codes: list[str], number: int, seed: int) -> int:
    """Work these jaws to their ends in one browser; return how many main actions that took."""
    draw, taps = Random(f"page {seed} {number}"), 0
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=sure_browser(), args=browser_args())
        size = [(800, 1280), (1280, 800)][number % 2]
        context = browser.new_context(viewport={"width": size[0], "height": size[1]})
        context.add_init_script(HASTY)
        page = context.new_page()
        page.set_default_timeout(60_000)
        try:
            for at, code in enumerate(codes):
                who = lab.hands[(number + at) % len(lab.hands)]
                taps += PageHand(lab, page, code, who, draw).work(first=at == 0)
        except (Error, AssertionError) as error:
            lab.ledger.fault(f"page {number}: {type(error).__name__}: {str(error)[:600]}")
        browser.close()
    return taps


class PageHand:
    """One jaw worked at a page by somebody."""

    def __init__(self, lab: WeekLab, page: Page, code: str, who: Worker, draw: Random) -> None:
        self.lab, self.page, self.code, self.who, self.draw = lab, page, code, who, draw
        self.hand = Hand(page, lab.live)
        self.taps: dict[str, Taps] = {}
        self.acts: dict[str, Any] = {}
        # What goes wrong at this page, and before which main action.
        parts = ("undo", "hold", "exception", "send_back", "other_answer", "reload", "away")
        self.parts = {draw.randint(2, 24): part for part in draw.sample(parts, 5)}

    def work(self, first: bool) -> int:
        """Open the jaw, sign in, and confirm to its end; what happens besides is drawn."""
        self.hand.open(self.code)
        table = json.loads(self.page.inner_text("#data"))["table"] if self.page.query_selector("#data") else {}
        for act in reversed(table.get("acts", [])):
            if act["kind"] == "confirm" and act["ceilings"]:
                self.acts[act["step"]] = act
        if first:
            self.sign_in()
        for count in range(160):
            if self.hand.at in ("through", "scrap"):
                self.hand.stored()
                return count
            if part := self.parts.pop(count, ""):
                with suppress(TimeoutError):
                    getattr(self, part)()
            if self.hand.at not in ("through", "scrap"):
                self.tap()
        self.lab.ledger.fault(f"page of jaw {self.code} does not get past {self.hand.at}")
        return 160

    def sign_in(self) -> None:
        """Sign in by tile, with a wrong PIN first."""
        page = self.page
        if not page.query_selector("#signin[open]"):
            page.click("header [data-act=signin]")
        page.click(f"#signin [data-act=person]:has-text('{self.who.name}')")
        self.lab.ledger.note("wrong PIN")
        for pin in ("0000", *(self.who.pin,) * 5):  # a PC that is busy may not answer in time: then once more
            for digit in pin:
                page.click(f"#signin [data-act=digit][data-value='{digit}']")
            page.click("#signin [data-act=enter]")
            page.wait_for_function(
                "() => !document.getElementById('signin').open"
                " || document.querySelector('#signin [data-part=said]').textContent !== ''")
            if not page.query_selector("#signin[open]"):
                return
        raise AssertionError(f"{self.who.name} cannot sign in: {page.inner_text('#signin [data-part=said]')}")

    def tap(self) -> None:
        """Do the main action, and look at the watch for the clocks that it ends."""
        self.hand.ready()
        step, begun = self.hand.at, monotonic()
        before = [step, self.page.inner_text("#main")]
        self.page.click("#main", timeout=PATIENCE)
        with suppress(TimeoutError):
            self.page.wait_for_function(
                "([at, label]) => document.body.dataset.at !== at"
                " || document.getElementById('main').innerText !== label", arg=before, timeout=5000)
        now = Taps(begun, monotonic())
        for since, ms, grace, _ in self.acts.get(step, {}).get("ceilings", []):
            if since in self.taps:
                least, most = now.before - self.taps[since].after, now.after - self.taps[since].before
                if most * 1000 > ms + grace:
                    self.lab.ledger.late(self.code, step, least * 1000 > ms + grace)
        self.taps[step] = now

    # What goes wrong at a page; each is skipped where the page does not offer it now.

    def _dry(self) -> bool:
        return self.page.get_attribute("body", "data-phase") == "dry"

    def undo(self) -> None:
        """Tap, and take it back."""
        if self._dry():
            step = self.hand.at
            self.tap()
            self.page.click(".rail [data-act=undo]", timeout=900)
            self.taps.pop(step, None)
            self.lab.ledger.note("taken back at a page")

    def hold(self) -> None:
        """Put the jaw on hold; the next main action goes on with it."""
        if self._dry() and self.page.is_visible(".rail [data-act=hold]"):
            self.page.click(".rail [data-act=hold]", timeout=PATIENCE)
            self.page.click("#reason-hold [data-act=reason] >> nth=0", timeout=PATIENCE)
            self.lab.ledger.note("held at a page")

    def exception(self) -> None:
        """Say something else of one place."""
        page = self.page
        tools = page.query_selector_all("[data-step]:not([hidden]) [data-act=tool]")
        targets = [t for t in page.query_selector_all("[data-sextant]:not([data-state=none])") if t.is_visible()]
        if not tools or not targets:
            return
        self.draw.choice(targets).click(timeout=PATIENCE)
        self.draw.choice(tools).click(timeout=PATIENCE)
        places = [p for p in page.query_selector_all("[data-place][data-state=open], [data-place][data-state=off]")
                  if p.is_visible()]
        if places:
            self.draw.choice(places).click(timeout=PATIENCE)
            self.lab.ledger.note("an exception at a page")
        if page.is_visible(".map-back"):
            page.click(".map-back", timeout=PATIENCE)

    def send_back(self) -> None:
        """Send the jaw one step back, before first light."""
        page = self.page
        if not self._dry() or not page.is_visible(".rail [data-act=sendback]"):
            return
        page.click(".rail [data-act=sendback]", timeout=PATIENCE)
        steps = [b for b in page.query_selector_all("#back [data-act=back-to]") if b.is_visible()]
        if len(steps) < 2:
            page.click("#back [data-act=close]", timeout=PATIENCE)
            return
        steps[-2].click(timeout=PATIENCE)
        page.click("#reason-send-back [data-act=reason] >> nth=0", timeout=PATIENCE)
        self.lab.ledger.note("sent back at a page")

    def other_answer(self) -> None:
        """Give another answer than the main one, where the step has one and resin is not wet."""
        others = [b for b in self.page.query_selector_all("[data-step]:not([hidden]) [data-act=say]") if b.is_visible()]
        if others and self.page.get_attribute("body", "data-phase") != "wet":
            self.draw.choice(others).click(timeout=PATIENCE)
            self.lab.ledger.note("another answer at a page")

    def reload(self) -> None:
        """Load the page again."""
        self.hand.open(self.code)

    def away(self) -> None:
        """Work without the PC for a few taps."""
        if not self._dry():
            return
        self.lab.ledger.note("a page without the PC")
        self.page.context.set_offline(True)
        try:
            for _ in range(2):
                if self.hand.at not in ("through", "scrap"):
                    self.tap()
        finally:
            self.page.context.set_offline(False)
