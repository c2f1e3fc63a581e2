"""A real browser in the lab's network: with the authority installed the pages work offline, without it they do not.

The authority is put where Chromium on Linux looks for what people installed, by certutil (package libnss3-tools).
"""

import os
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Error, Page

from tests.browser import browser_args, sure_browser
from tests.network.live import NAME, LiveLan

WORKS = "() => navigator.serviceWorker.getRegistration().then((found) => Boolean(found?.active))"
CERTUTIL = shutil.which("certutil")
pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(CERTUTIL is None, reason="certutil (libnss3-tools) is not there: trust was not proved here"),
]


@contextmanager
def tablet(of: Browser, home: Path, authority: Path | None) -> Iterator[Browser]:
    """A browser with a home of its own, which finds the PC by its name; `authority` is installed there."""
    store = home / ".pki" / "nssdb"
    store.mkdir(parents=True)
    certutil(store, "-N", "--empty-password")
    if authority:
        certutil(store, "-A", "-n", "lab", "-t", "C,,", "-i", str(authority))
    arguments = [*browser_args(), f"--host-resolver-rules=MAP {NAME} 127.0.0.1, MAP bench.local 127.0.0.1"]
    at_home = os.environ | {"HOME": str(home)}
    opened = of.browser_type.launch(executable_path=sure_browser(), args=arguments, env=at_home)
    yield opened
    opened.close()


def certutil(store: Path, *arguments: str) -> None:
    """Change what a home's browser trusts."""
    subprocess.run([str(CERTUTIL), "-d", f"sql:{store}", *arguments], check=True, capture_output=True, timeout=60)


def opened(page: Page, lan: LiveLan) -> Page:
    """Open the first page at the one origin and wait until it is whole."""
    page.goto(f"{lan.origin}/")
    page.wait_for_selector("body[data-loaded=yes]")
    return page


def test_with_the_authority_pages_outlive_the_pc(lan: LiveLan, browser: Browser, tmp_path: Path) -> None:
    """No warning comes, the worker registers, another name leads to the one origin, and the page opens offline."""
    with tablet(browser, tmp_path, lan.authority) as trusting:
        context = trusting.new_context()
        page = opened(context.new_page(), lan)
        page.evaluate("() => navigator.serviceWorker.ready.then(() => true)")
        assert page.evaluate("isSecureContext") and page.evaluate(WORKS)
        page.goto(f"https://bench.local:{lan.port}/")
        assert page.url == f"{lan.origin}/"
        opened(page, lan)
        context.set_offline(True)
        opened(page, lan)


def test_without_the_authority_there_is_no_page(lan: LiveLan, browser: Browser, tmp_path: Path) -> None:
    """The browser refuses; and where a person clicks its warning away, the worker does not register all the same."""
    with tablet(browser, tmp_path, None) as strange:
        with pytest.raises(Error, match="ERR_CERT_AUTHORITY_INVALID"):
            strange.new_page().goto(f"{lan.origin}/")
        page = strange.new_context(ignore_https_errors=True).new_page()
        page.goto(f"{lan.origin}/")
        refused = page.evaluate("() => navigator.serviceWorker.register('/sw.js').then(() => '', (e) => e.name)")
        assert refused == "SecurityError" and not page.evaluate(WORKS)
