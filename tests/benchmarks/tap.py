"""The bench page in a real browser: from a tap to its frame, 500 waiting facts drained, the bytes of the page.

    python -m tests.benchmarks.tap [--lan] [--jaws 3 --drains 5] [--out FILE]
"""

import argparse
import contextlib
import gzip
import json
import signal
import sys
import tempfile
import time
import uuid
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from playwright.sync_api import Browser, BrowserContext, BrowserType, Page, Request, sync_playwright

from benchapp import paths
from benchapp.actions.cases import add_case
from benchapp.core.sheet import read_sheet
from benchapp.serve import open_bench
from tests.benchmarks.bulk import Fresh, Template, template_of
from tests.benchmarks.machine import RESULTS, machine, made_by, median, met, percentile, put, say, table
from tests.benchmarks.pages import BARE, DRAIN, MULTIPLY, STOPWATCH
from tests.benchmarks.tablet import Tablet
from tests.browser import browser_args, sure_browser
from tests.live import DEMO, Hand, LiveLab
from tests.network.live import LanOfTablets, LiveLan
from tests.network.tablets import enrol, trusting

MODES = ("online", "offline", "hung")
FLOOR_TAPS = 40
WAITING = 500
MOST_BYTES = 60_000
BATCH = 50
WAY = ", in the lab's network: HTTPS, the lab's own authority, every context an enrolled tablet"
KINDS = {"text/html": "page", "text/javascript": "scripts", "text/css": "styles", "image/svg+xml": "drawings"}


@dataclass
class Measured:
    """Milliseconds of taps by mode, seconds of drains, and the page's answers as (kind, wire, plain, gzip)."""

    taps: dict[str, list[float]] = field(default_factory=dict)
    drains: list[float] = field(default_factory=list)
    posts: list[float] = field(default_factory=list)
    answers: list[tuple[str, int, int, int]] = field(default_factory=list)


@contextlib.contextmanager
def context_of(browser: Browser, lab: LiveLab, **how: Any) -> Iterator[BrowserContext]:
    """Lend a context of its own, enrolled where the lab is met by its network: no cookie or database of another."""
    context = browser.new_context(**how)
    try:
        if isinstance(lab, LanOfTablets):
            enrol(context.new_page(), lab, f"Bench {uuid.uuid4().hex[:8]}").close()
        yield context
    finally:
        context.close()


@contextlib.contextmanager
def browser_of(lab: LiveLab, kind: BrowserType | None = None) -> Iterator[Browser]:
    """Lend a browser; in the lab's network one that trusts the lab's authority and finds the PC by its name."""
    with contextlib.ExitStack() as stack:
        kind = kind or stack.enter_context(sync_playwright()).chromium
        if isinstance(lab, LanOfTablets):
            home = Path(stack.enter_context(tempfile.TemporaryDirectory()))
            yield stack.enter_context(trusting(kind, home / "home", lab.authority))
        else:
            browser = kind.launch(executable_path=sure_browser(), args=browser_args())
            stack.callback(browser.close)
            yield browser


def taken(page: Page) -> list[float]:
    """Return the milliseconds that the stopwatch took, once the last frame is there."""
    page.wait_for_function("() => new Promise((done) => requestAnimationFrame(() => setTimeout(() => done(true), 30)))")
    return [float(ms) for ms in page.evaluate("window.taken")]


def floor_taps(browser: Browser, lab: LiveLab, count: int) -> list[float]:
    """Tap the bare page `count` times: one strict write, one attribute."""
    with context_of(browser, lab) as context:
        page = context.new_page()
        page.add_init_script(STOPWATCH)
        page.route("**/floor", lambda route: route.fulfill(body=BARE, content_type="text/html"))
        page.goto(f"{lab.address}/floor")
        page.wait_for_selector("body[data-loaded=yes]")
        for _ in range(count):
            before = page.evaluate("window.taken.length")
            page.click("#main")
            page.wait_for_function("(n) => window.taken.length > n", arg=before)
        return taken(page)


def jaw_taps(browser: Browser, lab: LiveLab, code: str, mode: str, most: int) -> list[float]:
    """Take one jaw through by taps on the main action, at most `most`, the server being online, offline or hung."""
    with context_of(browser, lab) as context:
        page = context.new_page()
        page.add_init_script(STOPWATCH)
        hand = Hand(page, lab).open(code).sign_in()
        hand.confirm()
        hand.stored()
        page.evaluate("window.taken.length = 0")
        if mode == "offline":
            lab.kill()
        if mode == "hung":
            lab.signal_all(signal.SIGSTOP)
        try:
            hand.to_the_end(most)
            return taken(page)
        finally:
            if mode == "offline":
                lab.start()
            if mode == "hung":
                lab.signal_all(signal.SIGCONT)


def drain(browser: Browser, lab: LiveLab, code: str, waiting: int) -> float:
    """Let `waiting` legal facts wait while the browser is offline; return the seconds from online to none."""
    with context_of(browser, lab) as context:
        page = context.new_page()
        hand = Hand(page, lab).open(code).sign_in()
        while hand.at != "cut-back":
            hand.confirm()
        hand.ready().stored()
        context.set_offline(True)
        page.click("[data-sextant=s2]")
        page.click("[data-view-of=s2] [data-place][data-kind=connector] >> nth=0")
        page.wait_for_selector("#status[data-waiting='1']")
        assert page.evaluate(MULTIPLY, waiting) == waiting
        page.evaluate(DRAIN)
        context.set_offline(False)
        return float(page.evaluate("window.drained")) / 1000


def posts(lab: LiveLab, template: Template, jaw: Fresh, waiting: int) -> float:
    """Deliver as many facts of the same kind by a bare HTTP client; return the seconds."""
    tablet = Tablet(lab.port, template, lab.trusting() if isinstance(lab, LiveLan) else None)
    facts = tablet.facts_of(jaw)
    tablet.ask(tablet.request("POST", "/outbox/1", json.dumps(facts[:3]).encode()))
    places = [place for place, _ in json.loads(template.table)["groups"] if "-" in place and place[0].isdigit()]
    many = [
        facts[3] | {"id": f"{facts[3]['id']}-{n}", "outcome": "chipped", "places": [places[n % len(places)]]}
        for n in range(waiting)
    ]
    batches = [
        tablet.request("POST", "/outbox/1", json.dumps(many[n:n + BATCH]).encode()) for n in range(0, waiting, BATCH)
    ]
    began = time.perf_counter()
    answers = [tablet.ask(batch)[1] for batch in batches]
    took = time.perf_counter() - began
    acks = [ack for answer in answers for ack in json.loads(answer)["acks"]]
    assert len(acks) == waiting and all(a["was"] == "stored" and a["marks"] == [] for a in acks), acks[:2]
    tablet.close()
    return took


def add_jaws(lab: LiveLab, count: int, speed: int = 0) -> Iterator[str]:
    """Add `count` jaws at a speed, left out the lab's, before it is served; return their codes one by one."""
    text = (DEMO / "first-upper.toml").read_text("utf-8")
    protocol = (paths.PROTOCOLS / "green-splinted.toml").read_text("utf-8")
    codes = []
    with (bench := open_bench(lab.data)).store:
        for number in range(count):
            sheet = read_sheet("sheet.toml", text.replace("DEMO-2026-0017", f"B-{speed}-{number}"))
            codes.append(add_case(bench, sheet, protocol, speed=speed or lab.speed).jaws[0]["code"])
    return iter(codes)


def jaw_of(lab: LiveLab, code: str) -> Fresh:
    """Return an untouched jaw of the lab with what its parts' picks stand for."""
    data = next(
        body["event"]["data"] for body in lab.journal()
        if body["event"]["kind"] == "case" and any(j["code"] == code for j in body["event"]["data"]["jaws"])
    )
    parts = next(jaw["parts"] for jaw in data["jaws"] if jaw["code"] == code)
    return Fresh(code, data["code"], {part["part"]: part["code"] for part in parts})


def page_bytes(browser: Browser, lab: LiveLab) -> list[tuple[str, int, int, int]]:
    """Open the bench page in an empty browser; return (kind, bytes over the wire, plain, gzip) of each answer."""
    found = []
    with context_of(browser, lab, service_workers="block") as context:
        page = context.new_page()
        context.new_cdp_session(page).send("Network.clearBrowserCache")  # of the page of enrolment
        finished: list[Request] = []
        page.on("requestfinished", lambda request: finished.append(request))
        page.goto(f"{lab.address}/bench/{lab.code}")
        page.wait_for_selector("body[data-loaded=yes]")
        for request in finished:
            response = request.response()
            kind = (response.headers.get("content-type", "") if response else "").partition(";")[0]
            if response is None or request.method != "GET" or kind not in KINDS:
                continue
            name = "vendor" if "/vendor/" in request.url else KINDS[kind]
            body = response.body()
            found.append((name, request.sizes()["responseBodySize"], len(body), len(gzip.compress(body, 6))))
    return found


def measure(lab: LiveLab, jaws: int, drains: int, most: int = 80, waiting: int = WAITING) -> tuple[Measured, str]:
    """Fill and serve a lab, and measure everything with it; return that with the browser's version."""
    found = Measured(taps={mode: [] for mode in ("floor", *MODES)})
    lab.fill()
    template = template_of(lab.data)
    codes = add_jaws(lab, jaws * len(MODES) + 2 * drains)
    lab.start()
    try:
        with browser_of(lab) as browser:
            found.answers = page_bytes(browser, lab)
            for turn in range(jaws):
                for mode in MODES:
                    say(f"taps {mode}, jaw {turn + 1} of {jaws}")
                    found.taps["floor"] += floor_taps(browser, lab, min(FLOOR_TAPS, most))
                    found.taps[mode] += jaw_taps(browser, lab, next(codes), mode, most)
            for turn in range(drains):
                say(f"drain {turn + 1} of {drains}")
                bare = jaw_of(lab, next(codes))
                found.posts.append(posts(lab, template, bare, waiting))
                found.drains.append(drain(browser, lab, next(codes), waiting))
            version = browser.version
    finally:
        lab.kill()
    return found, version


def report(found: Measured, version: str, way: str = "") -> str:
    """Return the tables as markdown; `way` is how the pages were served."""
    base = median(found.taps["floor"])
    rows = []
    for mode, taps in found.taps.items():
        name = "floor: one strict write on a bare page" if mode == "floor" else f"main action, server {mode}"
        p50, p95 = percentile(taps, 0.5), percentile(taps, 0.95)
        rows.append([name, f"{p50:.1f}", f"{p95:.1f}", f"{p50 / base:.2f}", len(taps)])
    worst = max(percentile(found.taps[mode], 0.95) for mode in MODES)
    floor95 = percentile(found.taps["floor"], 0.95)
    drained, posted = median(found.drains), median(found.posts)
    sums: dict[str, list[int]] = {}
    for kind, *sizes in found.answers:
        sums[kind] = [a + b for a, b in zip(sums.get(kind, [0, 0, 0, 0]), [*sizes, 1], strict=True)]
    wire, plain, packed, count = (sum(sizes) for sizes in zip(*sums.values(), strict=True))
    return "\n\n".join([
        f"{machine(version)}. Headless, the real server{way}; a tap counts from its click to the first task after the "
        "frame that shows the new state; floor and modes took turns in one run.",
        table(["tap to frame", "p50 ms", "p95 ms", "p50 to floor", "n"], rows),
        f"- {met(f'p95 of every mode within 30 ms ({worst:.1f}; the floor itself {floor95:.1f})', worst <= 30)}",
        table([f"{WAITING} waiting facts", "median s", "to floor", "n"], [
            [f"floor: {WAITING // BATCH} POSTs of {BATCH} by a bare client", f"{posted:.3f}", "1.0", len(found.posts)],
            ["the page, from `online` to none waits", f"{drained:.3f}", f"{drained / posted:.1f}", len(found.drains)],
        ]),
        f"- {met(f'drained within 0.5 s ({drained:.2f})', drained <= 0.5)}; where the browser gives no `online` event, "
        "the 5 s heartbeat comes on top",
        table(["bench page, first visit", "answers", "over the wire", "plain", "floor: gzip -6"], [
            *([kind, n, f"{w:,}", f"{p:,}", f"{g:,}"] for kind, (w, p, g, n) in sorted(sums.items())),
            ["together", count, f"{wire:,}", f"{plain:,}", f"{packed:,}"],
        ]),
        f"- {met(f'page with all it loads under 60 kB over the wire ({wire / 1000:.1f} kB)', wire < MOST_BYTES)}",
    ])


def main(arguments: list[str]) -> None:
    """Run the benchmark and print its tables."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.tap", description=__doc__)
    parser.add_argument("--jaws", type=int, default=3, help="jaws taken through in each mode, 34 taps each")
    parser.add_argument("--drains", type=int, default=5)
    parser.add_argument("--lan", action="store_true", help="over TLS, with enrolled tablets")
    parser.add_argument("--out", type=Path, nargs="?", const=RESULTS, help="results file to write the tables to")
    asked = parser.parse_args(arguments)
    with tempfile.TemporaryDirectory() as folder:
        lab = (LanOfTablets if asked.lan else LiveLab)(Path(folder) / "lab")
        text = report(*measure(lab, asked.jaws, asked.drains), WAY if asked.lan else "")
    text = f"{made_by('tap', arguments)}, {text}"
    print(text)
    if asked.out:
        put("tap over TLS" if asked.lan else "tap", text, asked.out)


if __name__ == "__main__":
    main(sys.argv[1:])
