"""A tablet under test: a real browser with quick timers, a clock that may be wrong, and a list of what it stored."""

import json
import os
import signal
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, cast

from playwright.sync_api import Browser, BrowserContext, ConsoleMessage, Error, Page

from tests.browser import browser_args, sure_browser
from tests.live import PINS, Hand, LiveLab
from tests.web.watch import NO_WORKER

# The page's own pauses are shortened alike for timers and for the clock that measures them, so that a whole jaw
# takes seconds: dead time of the main action 600 to 32 ms, heartbeat 5 s to 0.6 s, patience with the PC 8 s to
# 1.6 s. The guards against ghost taps are tested with their real times elsewhere.
QUICK = """
(() => {
  const shorter = { 600: 32, 1000: 200, 5000: 600, 8000: 1600 };
  for (const name of ["setTimeout", "setInterval"]) {
    const real = window[name].bind(window);
    window[name] = (act, ms, ...rest) => real(act, shorter[ms] ?? ms, ...rest);
  }
  const real = performance.now.bind(performance);
  performance.now = () => real() * 20;
})();
"""
# Says on the console which fact is in the database for good: exactly then the page may paint it as stored.
TELL = """
(() => {
  const add = IDBObjectStore.prototype.add;
  IDBObjectStore.prototype.add = function (item, ...rest) {
    if (this.name === "outbox")
      this.transaction.addEventListener("complete", () => console.debug(`stored ${item.fact.id}`));
    return add.call(this, item, ...rest);
  };
})();
"""
WRONG_CLOCK = """
(() => {
  const Real = Date;
  const shift = %d;
  window.Date = class extends Real {
    constructor(...given) {
      if (given.length) super(...given);
      else super(Real.now() + shift);
    }
    static now() { return Real.now() + shift; }
  };
})();
"""
SNAPSHOT = """
async () => {
  const db = await new Promise((resolve, reject) => {
    const request = indexedDB.open("seat-and-cure");
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
  const all = (name) => new Promise((resolve, reject) => {
    const request = db.transaction(name).objectStore(name).getAll();
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
  const found = [(await all("outbox")).map((i) => i.fact.id), (await all("sent")).map((i) => i.fact.id)];
  db.close();
  return found;
}
"""
SHOWN = """
async () => {
  const jaw = await import("/static/js/jaw.js");
  await jaw.refresh();
  return JSON.stringify(await jaw.reload());
}
"""
FOLDED = """
async (code) => {
  const { fold } = await import("/static/js/fold.js");
  const { table } = JSON.parse(document.getElementById("data").textContent);
  const answer = await (await fetch(`/bench/${code}/base?after=0`)).json();
  return JSON.stringify(fold(table, answer.events));
}
"""


@dataclass(frozen=True)
class Door:
    """Where a tablet finds the lab, and which jaw it works on: what a Hand needs to know."""

    address: str
    code: str


@dataclass
class Tablet:
    """One tablet: `stored` are the ids of its facts in the order in which its database took them."""

    browser: Browser
    door: Door
    folder: Path | None = None  # a browser of its own with this storage, which outlives it
    shift_ms: int = 0
    quick: bool = True
    worker: bool = True
    told: bool = False  # only told that its worker is there, which is not installed (tests/web/watch.py)
    stored: dict[str, None] = field(default_factory=dict)
    seen: set[str] = field(default_factory=set)  # also those that a reload kept from being told in time
    wiped: set[str] = field(default_factory=set)  # not yet on the PC when the storage was wiped
    context: BrowserContext = field(init=False)
    page: Page = field(init=False)
    hand: Hand = field(init=False)

    def start(self) -> "Tablet":
        """Start the browser and open the page of the jaw."""
        if self.folder:
            self.context = self.browser.browser_type.launch_persistent_context(
                self.folder, executable_path=sure_browser(), args=browser_args())
        else:
            self.context = self.browser.new_context(service_workers="allow" if self.worker else "block")
        self.context.on("console", self._heard)
        for script, wanted in ((TELL, True), (QUICK, self.quick), (WRONG_CLOCK % self.shift_ms, self.shift_ms),
                               (NO_WORKER, self.told)):
            if wanted:
                self.context.add_init_script(script)
        self.context.set_default_timeout(40_000)
        self.page = self.context.pages[0] if self.context.pages else self.context.new_page()
        self.hand = Hand(self.page, cast(LiveLab, self.door))
        self.hand.open()
        return self

    def _heard(self, message: ConsoleMessage) -> None:
        if message.text.startswith("stored "):
            self.stored[message.text.split()[1]] = None

    def close(self) -> None:
        """Close the browser as a person does; before it was started this does nothing."""
        with suppress(Error, AttributeError):
            self.context.close()

    def kill(self) -> None:
        """End the browser as a flat battery would, and start it again with the same storage."""
        assert self.folder
        for process in Path("/proc").glob("[0-9]*"):
            with suppress(OSError):
                words = (process / "cmdline").read_bytes().split(b"\0")
                if f"--user-data-dir={self.folder}".encode() in words:
                    os.kill(int(process.name), signal.SIGKILL)
        self.close()

    def snapshot(self) -> tuple[list[str], list[str]]:
        """Return the ids that wait and the ids that were sent, as its database holds them now."""
        waiting, sent = self.page.evaluate(SNAPSHOT)
        self.seen |= {*self.stored, *waiting, *sent}
        return waiting, sent

    def wipe(self) -> None:
        """Lose everything that the browser keeps for the lab's address."""
        waiting, _ = self.snapshot()
        self.wiped |= set(waiting)
        session = self.context.new_cdp_session(self.page)
        session.send("Storage.clearDataForOrigin", {"origin": self.door.address, "storageTypes": "all"})
        session.detach()

    def shown(self) -> dict[str, Any]:
        """Return the state that the page itself holds, after it has asked the PC once more."""
        state: dict[str, Any] = json.loads(self.page.evaluate(SHOWN))
        return state

    def folded(self) -> dict[str, Any]:
        """Return what the page's fold makes of the entries that the PC sends."""
        state: dict[str, Any] = json.loads(self.page.evaluate(FOLDED, self.door.code))
        return state

    def sign_in(self, name: str = "Tomé Arbel") -> None:
        """Sign in by PIN if the page asks who is working; offline, go on without."""
        for _ in range(8):
            if not self.page.query_selector("#signin[open]"):
                return
            if self.page.is_visible("#signin [data-act=back]"):
                self.page.click("#signin [data-act=back]")
            self.page.click(f"#signin [data-act=person]:has-text('{name}')")
            for digit in PINS[name]:
                self.page.click(f"#signin [data-act=digit][data-value='{digit}']")
            self.page.click("#signin [data-act=enter]")
            self.page.wait_for_function(
                "() => !document.getElementById('signin').open"
                " || document.querySelector('#signin [data-part=said]').textContent !== ''")
            if self.page.is_visible("#signin [data-act=claim]"):
                self.page.click("#signin [data-act=claim]")
        raise AssertionError("nobody could sign in")

    def close_dialogs(self) -> None:
        """Close what was opened and not answered; a breach has to be answered and stays."""
        for button in self.page.query_selector_all("dialog[open] [data-act=close]"):
            with suppress(Error):
                button.click(timeout=1500)

    def all_stored(self) -> None:
        """Wait until the page says that everything is on the PC; open it again where it says to."""
        for _ in range(4):
            try:
                self.page.wait_for_selector("#status[data-status=stored][data-waiting='0']", timeout=10_000)
                return
            except Error:
                self.hand.open()
        raise AssertionError(f"not stored: {self.page.inner_text('#status')}")
