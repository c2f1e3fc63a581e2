"""A whole jaw in another browser engine, the PC gone in the middle of it; needs that engine and its driver.

The server is stopped (SIGSTOP), so that connections hang and are not refused; then the page is loaded again from what
the worker kept, and the work goes on. In the end the journal must hold each confirmation once and in order.
"""

import argparse
import signal
import sys
import tempfile
from pathlib import Path

from tests.engines.engines import ENGINES, Engine, Missing
from tests.faults.proof import facts
from tests.live import PINS, LiveLab

WHO = "Ewa Łukasik"
AWAY = range(9, 15)  # confirmations that are made without the PC
UNTIL = """
const a = [...arguments], done = a.pop(), until = Date.now() + 50000;
const test = () => { %s };
(function look() {
  let found = false;
  try { found = test(); } catch {}
  if (found || Date.now() > until) done(found || false); else setTimeout(look, 30);
})();
"""
READY = """
return document.body.dataset.ready === "yes"
  && ![...document.querySelectorAll(".clock[data-kind=floor]:not([hidden])")].some((c) => c.dataset.over !== "yes");
"""
CHANGED = "return document.body.dataset.at !== a[0] || document.getElementById('main').innerText !== a[1];"
STORED = "return document.querySelector(\"#status[data-waiting='0'][data-status=stored]\") !== null"
CONTROLLED = "return navigator.serviceWorker.controller !== null"
KEPT = """
const done = arguments[arguments.length - 1];
caches.keys().then(async (names) => {
  for (const name of names) if (await (await caches.open(name)).match(arguments[0])) return done(true);
  done(false);
});
"""


class Walk:
    """Somebody who works one jaw to its end in an engine."""

    def __init__(self, engine: Engine, lab: LiveLab) -> None:
        self.engine, self.lab, self.steps = engine, lab, [""]

    def until(self, test: str, *arguments: str) -> None:
        """Wait until a test holds in the page."""
        assert self.engine.wait(UNTIL % test, *arguments), f"never came: {test}; the step was {self.at}"

    @property
    def at(self) -> str:
        """The step that the page shows."""
        return str(self.engine.run("return document.body.dataset.at"))

    def open(self) -> None:
        """Open the jaw's page, or load it again."""
        self.engine.open(f"{self.lab.address}/bench/{self.lab.code}")
        self.until("return document.body.dataset.loaded === 'yes'")

    def sign_in(self) -> None:
        """Sign in by tiles and PIN."""
        if not self.engine.run("return document.querySelector('#signin').open"):
            self.engine.tap("header [data-act=signin]")
        self.until("return document.querySelector('#signin').open")
        person = self.engine.run(
            "return [...document.querySelectorAll('#signin [data-act=person]')]"
            ".find((one) => one.innerText.includes(arguments[0])).dataset.value", WHO)
        self.engine.tap(f"#signin [data-act=person][data-value='{person}']")
        for digit in PINS[WHO]:
            self.engine.tap(f"#signin [data-act=digit][data-value='{digit}']")
        self.engine.tap("#signin [data-act=enter]")
        self.until("return !document.querySelector('#signin').open")

    def confirm(self) -> None:
        """Tap the main action once it takes a tap."""
        if self.engine.run("return Boolean(document.querySelector('#reason-breach[open]'))"):
            self.engine.tap("#reason-breach [data-act=reason]")
            self.until("return !document.querySelector('#reason-breach[open]')")
        self.until(READY)
        before = self.engine.run("return [document.body.dataset.at, document.getElementById('main').innerText]")
        self.engine.tap("#main")
        self.until(CHANGED, *before)
        self.steps.append(before[0])

    def whole(self) -> list[str]:
        """Work the jaw to its end; return the steps that were confirmed, in order."""
        self.open()
        self.sign_in()
        self.open()
        self.until(CONTROLLED)
        assert self.engine.wait(KEPT, f"/bench/{self.lab.code}"), "the worker did not keep the page"
        while self.at != "through":
            count = len(self.steps)
            assert count < 60, self.steps
            if count == AWAY.start:
                self.lab.signal_all(signal.SIGSTOP)
            if count == AWAY.start + 3:
                here = self.at
                self.open()
                assert self.at == here, f"loaded again without the PC: {self.at} instead of {here}"
            if count == AWAY.stop:
                self.lab.signal_all(signal.SIGCONT)
            self.confirm()
        self.until(STORED)
        return self.steps[1:]


def walk(name: str, folder: Path) -> str:
    """Walk in one engine; return a row of the table. Missing where the engine is not here."""
    engine = ENGINES[name]()
    lab = LiveLab(folder / name).fill()
    try:
        steps = Walk(engine, lab.start()).whole()
    finally:
        engine.close()
        lab.kill()
    kept = [body["event"] for body in facts(lab.journal()) if body["event"]["kind"] == "confirm"]
    in_order = [event["step"] for event in kept] == steps
    once = len({event["id"] for event in kept}) == len(kept)
    lab.run("verify", "--data", str(lab.data))
    assert in_order and once, (steps, [event["step"] for event in kept])
    return f"| {engine.name} | {len(steps)} | {len(AWAY)} | yes | yes | yes |"


def main() -> int:
    """Walk in each engine that is asked for; return 0 when all of them held."""
    parser = argparse.ArgumentParser(prog="python -m tests.engines", description=__doc__)
    parser.add_argument("engines", nargs="*", default=list(ENGINES), help="firefox, webkit; left out: both")
    print("| engine | confirmations | of them without the PC | loaded again without the PC | each once, in order "
          "| verify |\n| --- | ---: | ---: | --- | --- | --- |")
    failed = 0
    for name in parser.parse_args().engines:
        with tempfile.TemporaryDirectory() as folder:
            try:
                print(walk(name, Path(folder)), flush=True)
            except Missing as missing:
                failed += 1
                print(f"{name}: {missing}", flush=True)
    return failed


if __name__ == "__main__":
    sys.exit(main())
