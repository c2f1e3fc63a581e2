"""Eight bench pages open at once, each with a jaw of its own: they tap in turn, then all at the same moment.

    python -m tests.benchmarks.eight [--lan] [--rounds 30] [--out FILE]
"""

import argparse
import json
import sys
import tempfile
import time
from contextlib import ExitStack
from dataclasses import dataclass, field
from pathlib import Path

from playwright.sync_api import Browser, BrowserType, Page

from tests.benchmarks.bulk import Fresh, Template, template_of
from tests.benchmarks.machine import RESULTS, machine, made_by, median, met, percentile, put, say, table
from tests.benchmarks.pages import DELIVERED, STOPWATCH, TAP_AT
from tests.benchmarks.tablet import Tablet, must_be_stored
from tests.benchmarks.tap import WAY, add_jaws, browser_of, context_of, floor_taps, jaw_of, taken
from tests.live import Hand, LiveLab
from tests.network.live import LanOfTablets, LiveLan

PAGES = 8
AHEAD_MS = 300  # so long after it was agreed on all pages tap
TURN, TOGETHER = "eight pages, in turn", "eight pages, all at once"
BARE_TAP, BARE_POST = "floor: one strict write on a bare page", "floor: one POST of a bare client"
# What pages ask by themselves, answered while eight are open: the alarms of all jaws, and what is new of one.
ASKED = {"due": "/due.json", "journal": "/bench/{code}/base?after=0"}


@dataclass
class Measured:
    """Milliseconds by name: from a tap to its frame, from a tap until the PC has stored it, and of bare requests."""

    frames: dict[str, list[float]] = field(default_factory=dict)
    stored: dict[str, list[float]] = field(default_factory=dict)
    asked: dict[str, list[float]] = field(default_factory=dict)


def open_pages(stack: ExitStack, browser: Browser, lab: LiveLab, codes: list[str]) -> list[Hand]:
    """Open a page for each jaw, in a context of its own, with somebody signed in and the first step done."""
    hands = []
    for code in codes:
        say(f"page {len(hands) + 1} of {len(codes)}")
        page = stack.enter_context(context_of(browser, lab)).new_page()
        page.add_init_script(STOPWATCH)
        page.add_init_script(DELIVERED)
        hands.append(Hand(page, lab).open(code).sign_in())
        hands[-1].confirm()
        hands[-1].stored()
    return hands


def forget(page: Page) -> None:
    """Begin to count anew."""
    page.evaluate("() => { window.taken.length = 0; window.delivered.length = 0; }")


def in_turn(hands: list[Hand]) -> None:
    """Tap the main action of one page after the other."""
    for hand in hands:
        hand.confirm()


def together(hands: list[Hand]) -> None:
    """Let all pages tap their main action at the same moment."""
    for hand in hands:
        hand.ready()
    before = [hand.page.inner_text("#main") + hand.at for hand in hands]
    at = time.time_ns() // 1_000_000 + AHEAD_MS
    for hand in hands:
        hand.page.evaluate(TAP_AT, at)
    for hand, was in zip(hands, before, strict=True):
        hand.page.wait_for_function(
            "(was) => document.getElementById('main').innerText + document.body.dataset.at !== was", arg=was)


def bare(lab: LiveLab, tablet: Tablet, jaw: Fresh, most: int) -> list[float]:
    """Store facts of an untouched jaw one by one by a bare client; return the milliseconds of each."""
    seconds, answers = tablet.work(tablet.confirmations([jaw])[:most])
    must_be_stored(answers)
    return [second * 1000 for second in seconds]


def asks(tablet: Tablet, path: str, count: int) -> list[float]:
    """Ask for something so often on an open connection; return the milliseconds of each answer."""
    seconds, answers = tablet.work([tablet.request("GET", path)] * count)
    assert all(json.loads(answer) for answer in answers)
    return [second * 1000 for second in seconds]


def measure(
    lab: LiveLab, rounds: int, pages: int = PAGES, kind: BrowserType | None = None
) -> tuple[Measured, str]:
    """Fill and serve a lab, open the pages and let them tap; return what was measured with the browser's version."""
    found = Measured({BARE_TAP: [], TURN: [], TOGETHER: []}, {BARE_POST: [], TURN: [], TOGETHER: []},
                     {name: [] for name in ASKED})
    lab.fill()
    template: Template = template_of(lab.data)
    codes = list(add_jaws(lab, pages))
    bare_jaws = add_jaws(lab, 2, speed=1)  # a bare client's facts lie as far apart as in a lab
    lab.start()
    try:
        with ExitStack() as stack:
            browser = stack.enter_context(browser_of(lab, kind))
            hands = open_pages(stack, browser, lab, codes)
            tablet = Tablet(lab.port, template, lab.trusting() if isinstance(lab, LiveLan) else None)
            stack.callback(tablet.close)
            for turn in range(rounds):
                say(f"round {turn + 1} of {rounds}")
                for hand in hands:
                    forget(hand.page)
                how, way = (TOGETHER, together) if turn % 2 else (TURN, in_turn)
                way(hands)
                for hand in hands:
                    hand.stored()
                    found.frames[how] += taken(hand.page)
                    found.stored[how] += hand.page.evaluate("window.delivered")
                if turn in (rounds // 3, rounds - 1):
                    found.frames[BARE_TAP] += floor_taps(browser, lab, 10 + rounds)
                    found.stored[BARE_POST] += bare(lab, tablet, jaw_of(lab, next(bare_jaws)), 10 + rounds)
                    for name, path in ASKED.items():
                        found.asked[name] += asks(tablet, path.format(code=codes[0]), 10 + rounds)
            version = browser.version
        must_have_arrived(lab, codes, rounds)
    finally:
        lab.kill()
    return found, version


def must_have_arrived(lab: LiveLab, codes: list[str], rounds: int) -> None:
    """Raise AssertionError unless every tap of every page stands in the journal once, and none was refused."""
    for code in codes:
        facts = [b for b in lab.journal() if b["event"]["jaw"] == code and b["event"]["kind"] == "confirm"]
        refused = [mark for b in facts for mark in b["server"]["marks"] if mark[1] == "refused"]
        assert len(facts) == rounds + 1 and refused == [], (code, len(facts), refused)


def report(found: Measured, version: str, way: str = "") -> str:
    """Return the tables as markdown; `way` is how the pages were served."""
    def rows(times: dict[str, list[float]], floor: str) -> list[list[str]]:
        base = median(times[floor])
        return [[name, f"{median(ms):.1f}", f"{percentile(ms, 0.95):.1f}", f"{max(ms):.1f}", f"{median(ms) / base:.2f}",
                 str(len(ms))] for name, ms in times.items()]

    head = ["p50 ms", "p95 ms", "max ms", "p50 to floor", "n"]
    asked = {BARE_POST: found.stored[BARE_POST]} | {f"{name}: `GET {ASKED[name]}`": ms
                                                    for name, ms in found.asked.items()}
    worst, floor = (percentile(found.frames[name], 0.95) for name in (TOGETHER, BARE_TAP))
    aim = f"p95 of a tap to its frame, all at once, within 100 ms ({worst:.1f}; the floor itself {floor:.1f})"
    return "\n\n".join([
        f"{machine(version)}. Headless, the real server{way}; {PAGES} pages stay open, each on a jaw of its own, in "
        "contexts of their own; rounds in turn and all at once alternate, floors are measured between them beside the "
        "open pages. Pages, browser and server share this machine's cores, which tablets do not. Every tap was then "
        "found in the journal once, none refused.",
        table(["tap to frame", *head], rows(found.frames, BARE_TAP)),
        table(["tap to stored on the PC, as the page hears it", *head], rows(found.stored, BARE_POST)),
        table(["bare requests while eight pages are open", *head], rows(asked, BARE_POST)),
        f"- {met(aim, worst <= 100)}",
    ])


def main(arguments: list[str]) -> None:
    """Run the benchmark and print its tables."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.eight", description=__doc__)
    parser.add_argument("--rounds", type=int, default=30, help="taps of each page; a jaw takes 34")
    parser.add_argument("--lan", action="store_true", help="over TLS, with enrolled tablets")
    parser.add_argument("--out", type=Path, nargs="?", const=RESULTS, help="results file to write the tables to")
    asked = parser.parse_args(arguments)
    with tempfile.TemporaryDirectory() as folder:
        lab = (LanOfTablets if asked.lan else LiveLab)(Path(folder) / "lab")
        text = report(*measure(lab, asked.rounds), WAY if asked.lan else "")
    text = f"{made_by('eight', arguments)}, {text}"
    print(text)
    if asked.out:
        put("eight pages over TLS" if asked.lan else "eight pages", text, asked.out)


if __name__ == "__main__":
    main(sys.argv[1:])
