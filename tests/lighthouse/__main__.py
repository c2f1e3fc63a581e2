"""Every kind of page judged by Lighthouse: in the lab's network over TLS, as an enrolled tablet and at the PC's desk.

    python -m tests.lighthouse [tablet | desk] [--out FILE]      (needs the program `lighthouse` on the PATH, and node)

The browser trusts the lab's authority; Lighthouse looks at its pages with the cookies and the storage of that browser.
"""

import argparse
import os
import signal
import socket
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from playwright.sync_api import Page, Playwright, sync_playwright

from tests.benchmarks.machine import put, say, table
from tests.browser import browser_args, sure_browser
from tests.lighthouse.audit import CATEGORIES, DESK, TABLET, Audit, audit, program
from tests.live import Hand, free_port
from tests.network.live import LanOfTablets
from tests.network.tablets import enrol, installed, resolving
from tests.network.test_serve_lan import wait_for
from tests.web.hands import at_desk

RESULTS = Path(__file__).with_name("RESULTS.md")
PATIENCE_S = 180  # each page is judged by a program that leaves the machine little else
# Steps of the default protocol at which the bench page is looked at, each in another phase.
STEPS = {
    "intake": "bench page, dry", "cut-back": "bench page, dry, with the map", "wet-sockets": "bench page, wet",
    "bubble-check": "bench page, after light, with exceptions", "cure-second-side": "bench page, in the chamber",
    "through": "bench page, jaw through",
}
AT_THE_DESK = {
    "today": "/desk/today", "cases": "/desk/cases", "new case": "/desk/cases/new",
    "list of orders": "/desk/cases/orders", "case": "/desk/case/{case}", "codes of a case": "/desk/cases/{case}/codes",
    "order of a case": "/desk/cases/{case}/order", "release": "/desk/jaw/{jaw}/release",
    "remake": "/desk/jaw/{jaw}/remake", "seating check": "/desk/jaw/{jaw}/seating", "marks": "/desk/marks",
    "deviations": "/desk/deviations",
    "materials": "/desk/materials", "new lot": "/desk/materials/new", "devices": "/desk/devices",
    "a device": "/desk/devices/{device}", "people": "/desk/people", "new person": "/desk/people/new",
    "tablets": "/desk/tablets", "codes of tablets": "/desk/tablets/codes", "settings": "/desk/settings",
    "protocol": "/desk/protocol", "editions": "/desk/protocol/editions", "printing": "/desk/printing",
    "labels of a case": "/desk/print/{case}", "network": "/desk/network",
}

Wanted = tuple[str, str, list[str]]  # name of a page, its address, how it is looked at


@dataclass
class Profile:
    """A browser of its own process, whose profile trusts the lab's authority.

    Hands let go of it before Lighthouse looks: two that hold the same page would take it from each other.
    """

    lan: LanOfTablets
    port: int
    playwright: Playwright

    @contextmanager
    def hands(self) -> Iterator[Page]:
        """Lend a page of it, to be worked by hand."""
        browser = self.playwright.chromium.connect_over_cdp(f"http://127.0.0.1:{self.port}")
        page = browser.contexts[0].new_page()
        page.set_default_timeout(PATIENCE_S * 1000)
        yield page
        page.close()
        browser.close()


@contextmanager
def profile(lan: LanOfTablets, home: Path) -> Iterator[Profile]:
    """Start the browser, and end it afterwards."""
    installed(home, lan.authority)
    port = free_port()
    browser = subprocess.Popen(
        [sure_browser(), *browser_args(), "--headless", resolving(), f"--remote-debugging-port={port}",
         f"--user-data-dir={home / 'profile'}", "about:blank"],
        env=os.environ | {"HOME": str(home)}, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        start_new_session=True,
    )
    try:
        wait_for(lambda: socket.create_connection(("127.0.0.1", port)).close() is None)
        with sync_playwright() as playwright:
            yield Profile(lan, port, playwright)
    finally:
        os.killpg(browser.pid, signal.SIGTERM)  # on some systems the program is a script that starts another one
        browser.wait(30)


def tablets(at: Profile) -> Iterator[Wanted]:
    """Name the pages of a tablet: a stranger's, then an enrolled one's, then one jaw along its way."""
    def wanted(name: str, path: str) -> Wanted:
        return name, f"{at.lan.origin}{path}", TABLET

    bench = f"/bench/{at.lan.code}"
    # Every other address shows a stranger the same page with status 401, which browsers note as an error.
    yield wanted("enrolment, to a stranger", "/enrol")
    with at.hands() as page:
        enrol(page, at.lan, "Shelf")
        page.goto(f"{at.lan.origin}/chamber")
        chamber = page.get_attribute("main a[href^='/chamber/']", "href") or ""
    for name, path in (("first page", "/"), ("This tablet", "/tablet"), ("enrolment, to a tablet", "/enrol"),
                       ("sign-in, on a bench page", bench)):
        yield wanted(name, path)
    for step, name in STEPS.items():
        with at.hands() as page:
            hand = Hand(page, at.lan).open()
            if page.query_selector("#signin[open]"):
                hand.sign_in()
            while hand.at != step:
                hand.confirm()
            hand.stored()
        yield wanted(name, bench)
    for name, path in (("chambers", "/chamber"), ("chamber", chamber), ("record", f"/record/{at.lan.code}"),
                       ("seating check", f"{bench}/seating")):
        yield wanted(name, path)


def desk(at: Profile) -> Iterator[Wanted]:
    """Name the pages of the desk on the PC itself, and the door at which tablets are set up."""
    local = f"https://localhost:{at.lan.port}"
    yield "desk: sign-in", f"{local}/desk/signin", DESK
    with at.hands() as page:
        at_desk(page.context, at.lan, address=local)
        page.goto(f"{local}/desk/devices")
        device = (page.get_attribute("main a[href^='/desk/devices/D']", "href") or "").rpartition("/")[2]
    case = next(b["event"]["data"]["code"] for b in at.lan.journal() if b["event"]["kind"] == "case")
    known = {"jaw": at.lan.code, "case": case, "device": device}
    for name, path in AT_THE_DESK.items():
        yield f"desk: {name}", local + path.format(**known), DESK
    yield "door, to set a tablet up", f"http://localhost:{at.lan.setup_port}/", TABLET


PAGES = {"tablet": tablets, "desk": desk}


def report(found: list[Audit]) -> str:
    """Return the table as markdown, and what was lost below it."""
    head = ["page", *CATEGORIES.values()]
    rows = [[one.name, *(one.scores[category] for category in CATEGORIES)] for one in found]
    browser = next((part for part in found[0].browser.split() if "Chrome/" in part), found[0].browser)
    lost = [f"- {one.name}: {words}" for one in found for words in one.lost]
    return "\n\n".join([
        f"{datetime.now(UTC):%Y-%m-%d}, Lighthouse {found[0].version}, {browser}, Linux, headless. HTTPS with the "
        "lab's own authority, as an enrolled tablet of 800 x 1280 px (form factor mobile) and at the desk (preset "
        "desktop); the door is plain HTTP. Scores of 100.",
        table(head, rows), "\n".join(lost) or "No audit that counts was failed.",
    ])


def main(arguments: list[str]) -> int:
    """Judge every page and print the table; 1 when a score is below 100."""
    parser = argparse.ArgumentParser(prog="python -m tests.lighthouse", description=__doc__)
    parser.add_argument("pages", nargs="?", choices=list(PAGES), help="whose pages; left out: all")
    parser.add_argument("--only", default="", help="only pages with these words in their names")
    parser.add_argument("--out", type=Path, nargs="?", const=RESULTS, help="results file to write the table to")
    asked = parser.parse_args(arguments)
    program()
    found: list[Audit] = []
    with tempfile.TemporaryDirectory() as folder:
        lan = LanOfTablets(Path(folder) / "data", speed=60).fill().start()
        try:
            with profile(lan, Path(folder) / "home") as at:
                for which in [asked.pages] if asked.pages else PAGES:
                    for name, address, look in PAGES[which](at):
                        if asked.only not in name:
                            continue
                        found.append(one := audit(name, address, at.port, look))
                        say(f"{one.name}: {', '.join(map(str, one.scores.values()))} {one.lost or ''}")
        finally:
            lan.kill()
    text = report(found)
    print(text)
    if asked.out:
        put(f"python -m tests.lighthouse {asked.pages or ''}".strip(), text, asked.out)
    return int(any(score < 100 for one in found for score in one.scores.values()))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
