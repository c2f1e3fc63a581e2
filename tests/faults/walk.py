"""One seeded run: a whole jaw in a real browser, through a network and past people and machines that go wrong."""

import signal
import sys
import time
from collections import Counter
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from random import Random

from playwright.sync_api import Browser, Error, TimeoutError

from tests.faults.proof import Proof, prove
from tests.faults.proxy import FAULTS, PASS, FaultProxy
from tests.faults.tablet import Door, Tablet
from tests.live import LiveLab

THREE_HOURS = 3 * 3600 * 1000
INCIDENTS = (
    "reload", "reload-mid-step", "offline", "server-killed", "server-stopped", "browser-closed", "browser-killed",
)
PARTS = ("exception", "other-answer", "hold", "send-back", "undo")
MOST_STEPS = 260
PATIENCE = 8000.0  # ms; everything here is on the screen at once or not at all


@dataclass
class Ran:
    """What a run did and what was found at its end."""

    seed: int
    kinds: Counter[str] = field(default_factory=Counter)
    proof: Proof = field(default_factory=Proof)
    seconds: float = 0.0
    failed: str = ""


class Walk:
    """The run of a seed: what goes wrong, and when, is drawn beforehand; then the jaw is worked to its end."""

    def __init__(self, seed: int, browser: Browser, lab: LiveLab, folder: Path) -> None:
        self.random = Random(seed)
        self.ran = Ran(seed)
        self.lab, self.proxy = lab, FaultProxy(lab.port)
        self.proxy.plan = self.choose
        network = Random(f"network {seed}")
        self.faults = FAULTS if seed % (len(FAULTS) + 1) == 0 else (FAULTS[seed % (len(FAULTS) + 1) - 1],)
        self.rate, self.network = 0.0, network
        draw = self.random
        # By /proc the processes of just this browser are found; elsewhere it is not killed.
        possible = [what for what in INCIDENTS if what != "browser-killed" or sys.platform == "linux"]
        self.incidents = {draw.randint(1, 34): what for what in draw.sample(possible, draw.randint(2, 4))}
        if draw.random() < 0.2:
            self.incidents[draw.randint(2, 34)] = "wiped"
        self.spells = {draw.randint(0, 30) for _ in range(3)}
        self.mischief = draw.randint(3, 8)
        lasting = {"browser-closed", "browser-killed"} & set(self.incidents.values())
        shift = draw.choice([0, 0, 0, THREE_HOURS, -THREE_HOURS])
        self.ran.kinds["clock-wrong"] += shift != 0
        door = Door(self.proxy.address, lab.code)
        self.tablets = [Tablet(browser, door, folder / "tablet" if lasting else None, shift)]
        if draw.random() < 0.2:
            self.tablets.append(Tablet(browser, door))
            self.ran.kinds["second-tablet"] += 1
        self.spell = self.missed = 0
        self.where = "at the start"

    def choose(self, method: str, path: str) -> str:
        """The proxy's plan: nothing, or one of this run's faults at the rate of the moment."""
        if self.network.random() >= self.rate:
            return PASS
        return self.network.choice(self.faults)

    def run(self) -> Ran:
        """Work the jaw to its end and compare journal and tablets; whatever goes wrong is kept in `failed`."""
        began = time.monotonic()
        try:
            self.lab.start()
            for tablet in self.tablets:
                tablet.start().sign_in()
            self.work()
            self.ran.proof = prove(self.lab, self.lab.code, self.tablets)
            self.ran.failed = "; ".join(self.ran.proof.wrong)
        except (Error, AssertionError, OSError) as error:
            self.ran.failed = f"{self.where}: {type(error).__name__}: {error}"
        finally:
            for tablet in self.tablets:
                tablet.close()
            self.lab.kill()
            self.proxy.__exit__(None, None, None)
        self.ran.kinds.update(self.proxy.injected)
        self.ran.seconds = time.monotonic() - began
        return self.ran

    def work(self) -> None:
        """Step by step to the end; then all is calm, everything is sent, and what is open again is done again."""
        for step in range(MOST_STEPS):
            if step in self.spells:
                self.spell = self.random.randint(3, 6)
            self.spell = max(0, self.spell - 1)
            self.rate = 0.5 if self.spell else 0.03
            self.where = f"step {step} {self.incidents.get(step, '')}"
            if step in self.incidents:
                getattr(self, self.incidents[step].replace("-", "_"))()
                self.ran.kinds[self.incidents[step]] += 1
            if all(tablet.hand.at in ("through", "scrap") for tablet in self.tablets):
                self.rate = 0.0
                for tablet in self.tablets:
                    tablet.all_stored()
                if all(tablet.shown()["ended"] for tablet in self.tablets):
                    return
            self.step(self.random.choice(self.tablets))
        raise AssertionError(f"not at the end after {MOST_STEPS} steps")

    def step(self, tablet: Tablet) -> None:
        """Do what a technician does next: mostly the main action, sometimes something else before or after it."""
        tablet.sign_in()
        tablet.close_dialogs()
        if tablet.hand.at in ("through", "scrap"):
            tablet.page.wait_for_timeout(50)
            return
        if self.mischief and self.random.random() < 0.3:
            part = self.random.choice(PARTS)
            # The other tablet's tap may take a control away under the finger: then this one is not possible.
            with suppress(TimeoutError):
                if getattr(self, part.replace("-", "_"))(tablet):
                    self.ran.kinds[part] += 1
                    self.mischief -= 1
        try:
            self.tap(tablet)
            self.missed = 0
        except TimeoutError:
            # A dialog came up under the finger or went away; a person looks and taps again, and so does the next step.
            self.missed += 1
            if self.missed == 4:
                raise

    def tap(self, tablet: Tablet) -> None:
        """Tap the main action as soon as it takes a tap; one that fell into its dead time is done again later."""
        hand, page = tablet.hand, tablet.page
        if hand.at in ("through", "scrap"):
            return
        with suppress(TimeoutError):
            if page.query_selector("#reason-breach[open]"):
                page.click("#reason-breach [data-act=reason] >> nth=0", timeout=PATIENCE)
        hand.ready()
        before = [hand.at, page.inner_text("#main")]
        page.click("#main", timeout=PATIENCE)
        try:
            page.wait_for_function(
                "([at, label]) => document.body.dataset.at !== at"
                " || document.getElementById('main').innerText !== label",
                arg=before, timeout=3000)
        except TimeoutError:
            return

    # What a technician does besides: each returns whether it was possible here.

    def exception(self, tablet: Tablet) -> bool:
        """Open a sextant, and say something else of one of its places."""
        page = tablet.page
        tools = page.query_selector_all("[data-step]:not([hidden]) [data-act=tool]")
        targets = [t for t in page.query_selector_all("[data-sextant]:not([data-state=none])") if t.is_visible()]
        if not tools or not targets:
            return False
        self.random.choice(targets).click(timeout=PATIENCE)
        self.random.choice(tools).click(timeout=PATIENCE)
        places = [p for p in page.query_selector_all(
            "[data-place][data-state=open], [data-place][data-state=off], [data-place][data-state=done]"
        ) if p.is_visible()]
        if places:
            self.random.choice(places).click(timeout=PATIENCE)
        if page.is_visible(".map-back"):
            page.click(".map-back", timeout=PATIENCE)
        return bool(places)

    def other_answer(self, tablet: Tablet) -> bool:
        """Give another answer than the main one, where the step has one."""
        others = tablet.page.query_selector_all("[data-step]:not([hidden]) [data-act=say]")
        if not others:
            return False
        self.random.choice(others).click(timeout=PATIENCE)
        return True

    def hold(self, tablet: Tablet) -> bool:
        """Put the jaw on hold, with a reason; the next tap goes on with it."""
        if not tablet.page.is_visible(".rail [data-act=hold]"):
            return False
        tablet.page.click(".rail [data-act=hold]", timeout=PATIENCE)
        tablet.page.click("#reason-hold [data-act=reason] >> nth=0", timeout=PATIENCE)
        return True

    def send_back(self, tablet: Tablet) -> bool:
        """Send the jaw one step back, where there is a way back."""
        page = tablet.page
        if self.ran.kinds["send-back"] or not page.is_visible(".rail [data-act=sendback]"):
            return False
        page.click(".rail [data-act=sendback]", timeout=PATIENCE)
        steps = [b for b in page.query_selector_all("#back [data-act=back-to]") if b.is_visible()]
        if len(steps) < 2 or page.get_attribute("body", "data-phase") == "lit":
            page.click("#back [data-act=close]", timeout=PATIENCE)
            return False
        steps[-2].click(timeout=PATIENCE)
        page.click("#reason-send-back [data-act=reason] >> nth=0", timeout=PATIENCE)
        return True

    def undo(self, tablet: Tablet) -> bool:
        """Tap, and take it back."""
        self.tap(tablet)
        tablet.page.click(".rail [data-act=undo]", timeout=PATIENCE)
        return True

    # What happens to tablet, network and PC.

    def taps(self, tablet: Tablet) -> None:
        """A few steps while something is not as it should be."""
        for _ in range(self.random.randint(1, 3)):
            self.step(tablet)

    def reload(self) -> None:
        """The page is loaded again between two taps."""
        self.random.choice(self.tablets).hand.open()

    def reload_mid_step(self) -> None:
        """The page is loaded again at the very moment of a tap."""
        tablet = self.random.choice(self.tablets)
        tablet.sign_in()
        tablet.hand.ready()
        tablet.page.evaluate("() => { document.getElementById('main').click(); location.reload(); }")
        tablet.page.wait_for_selector("body[data-loaded=yes]")

    def offline(self) -> None:
        """The tablet has no network for a few steps."""
        tablet = self.random.choice(self.tablets)
        tablet.context.set_offline(True)
        self.taps(tablet)
        if self.random.random() < 0.5:
            tablet.hand.open()
        tablet.context.set_offline(False)

    def server_killed(self) -> None:
        """The PC loses power for a few steps."""
        self._away(self.lab.kill, self.lab.start)

    def server_stopped(self) -> None:
        """The PC hangs for a step, and then goes on where it was."""
        self._away(lambda: self.lab.signal_all(signal.SIGSTOP), lambda: self.lab.signal_all(signal.SIGCONT))

    def _away(self, begin: Callable[[], object], end: Callable[[], object]) -> None:
        tablet = self.random.choice(self.tablets)
        begin()
        try:
            self.taps(tablet)
        finally:
            end()

    def browser_closed(self) -> None:
        """The browser is closed and opened again with the same storage."""
        self.tablets[0].close()
        self.tablets[0].start()

    def browser_killed(self) -> None:
        """The tablet's battery is flat in the middle of a tap; later it starts again with what its storage holds."""
        tablet = self.tablets[0]
        self.tap(tablet)
        tablet.kill()
        tablet.start()

    def wiped(self) -> None:
        """Facts wait on a tablet without network, and its storage is wiped."""
        tablet = self.tablets[0]
        tablet.context.set_offline(True)
        self.taps(tablet)
        tablet.wipe()
        tablet.context.set_offline(False)
        self.rate = 0.0
        tablet.hand.open()
