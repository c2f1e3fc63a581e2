"""A real browser in the lab's network: with the authority installed the pages work offline, without it they do not."""

from pathlib import Path

import pytest
from playwright.sync_api import Browser, Error, Page

from tests.network.live import LiveLan
from tests.network.tablets import CERTUTIL, trusting

WORKS = "() => navigator.serviceWorker.getRegistration().then((found) => Boolean(found?.active))"
pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(CERTUTIL is None, reason="certutil (libnss3-tools) is not there: trust was not proved here"),
]


def opened(page: Page, lan: LiveLan) -> Page:
    """Open the first page at the one origin and wait until it is whole."""
    page.goto(f"{lan.origin}/")
    page.wait_for_selector("body[data-loaded=yes]")
    return page


def test_with_the_authority_pages_outlive_the_pc(lan: LiveLan, browser: Browser, tmp_path: Path) -> None:
    """No warning comes, the worker registers, another name leads to the one origin, and the page opens offline."""
    with trusting(browser.browser_type, tmp_path, lan.authority) as safe:
        context = safe.new_context()
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
    with trusting(browser.browser_type, tmp_path, None) as strange:
        with pytest.raises(Error, match="ERR_CERT_AUTHORITY_INVALID"):
            strange.new_page().goto(f"{lan.origin}/")
        page = strange.new_context(ignore_https_errors=True).new_page()
        page.goto(f"{lan.origin}/")
        refused = page.evaluate("() => navigator.serviceWorker.register('/sw.js').then(() => '', (e) => e.name)")
        assert refused == "SecurityError" and not page.evaluate(WORKS)
