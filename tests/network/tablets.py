"""Browsers as tablets of the lab's network: they trust its authority, find the PC by its name, and are enrolled.

The authority is put where Chromium on Linux looks for what people installed, by certutil (package libnss3-tools).
"""

import json
import os
import re
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import urlencode

from playwright.sync_api import Browser, BrowserType, Page

from tests.browser import browser_args, sure_browser
from tests.live import PINS
from tests.network.live import NAME, LanOfTablets, LiveLan
from tests.web.hands import BOSS

CERTUTIL = shutil.which("certutil")


@contextmanager
def trusting(kind: BrowserType, home: Path, authority: Path | None) -> Iterator[Browser]:
    """A browser with a home of its own, which finds the PC by its name; `authority` is installed there."""
    installed(home, authority)
    arguments = [*browser_args(), resolving()]
    opened = kind.launch(executable_path=sure_browser(), args=arguments, env=os.environ | {"HOME": str(home)})
    yield opened
    opened.close()


def installed(home: Path, authority: Path | None) -> None:
    """Make a home in whose browser an authority is installed."""
    store = home / ".pki" / "nssdb"
    store.mkdir(parents=True)
    certutil(store, "-N", "--empty-password")
    if authority:
        certutil(store, "-A", "-n", "lab", "-t", "C,,", "-i", str(authority))


def resolving() -> str:
    """Return the argument by which a browser finds the PC by its names."""
    return f"--host-resolver-rules=MAP {NAME} 127.0.0.1, MAP bench.local 127.0.0.1"


def certutil(store: Path, *arguments: str) -> None:
    """Change what a home's browser trusts."""
    subprocess.run([str(CERTUTIL), "-d", f"sql:{store}", *arguments], check=True, capture_output=True, timeout=60)


def shown_code(lan: LiveLan, name: str) -> str:
    """Let the desk on the PC itself show a code that enrols one tablet under a name, and read it off the page."""
    head = {"Host": f"localhost:{lan.port}", "Content-Type": "application/x-www-form-urlencoded"}
    people = json.loads(lan.ask("GET", "/people.json", "localhost")[2])["people"]
    boss = next(person["id"] for person in people if person["name"] == BOSS)
    form = urlencode({"person": boss, "pin": PINS[BOSS]}).encode()
    status, answer, _body = lan.ask("POST", "/desk/signin", "localhost", form, head)
    assert status == 303, status
    head["Cookie"] = answer["set-cookie"].partition(";")[0]
    form = urlencode({"kind": "tablet", "name": name}).encode()
    status, _answer, body = lan.ask("POST", "/desk/tablets/code", "localhost", form, head)
    assert status == 303, (status, body[:400])
    page = lan.ask("GET", "/desk/tablets/codes", "localhost", headers=head | {"Accept": "text/html"})[2].decode()
    section = next(part for part in page.split("<section") if f"<h2>{name}</h2>" in part)
    found = re.search(r'data-once="enrol">([^<]+)<', section)
    assert found, section
    return found[1]


def enrol(page: Page, lan: LanOfTablets, name: str) -> Page:
    """Enrol a browser as a tablet of the network, as a person does: the code is typed on its page."""
    page.goto(lan.origin)
    page.wait_for_selector("[data-stands=stranger]")
    page.fill("#code", shown_code(lan, name))
    page.click("button.go")
    page.wait_for_selector("body[data-loaded=yes] [data-tablet]")
    return page
