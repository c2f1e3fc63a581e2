"""What several rooms' tests share: a real browser, a page of it, and a server for the static files."""

import os
import threading
from collections.abc import Iterator
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, sync_playwright

from tests.browser import NoBrowser, browser_args, sure_browser
from tests.once import hashed_once, salts_anew

# Processes that tests start read Python anew; with what was compiled for the first one, the others start sooner.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
STATIC = Path(__file__).resolve().parent.parent / "static"


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """A headless browser, one for each process of the tests."""
    try:
        path = sure_browser()
    except NoBrowser as missing:
        pytest.exit(str(missing), returncode=1)
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=path, args=browser_args())
        yield opened
        opened.close()


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    """A page in a context of its own: no cookie, no cache and no database of another test."""
    context = browser.new_context()
    yield context.new_page()
    context.close()


class _Quiet(SimpleHTTPRequestHandler):
    extensions_map = SimpleHTTPRequestHandler.extensions_map | {".js": "text/javascript"}

    def log_message(self, *_: object) -> None:
        """Say nothing: the tests' own output is enough."""


@pytest.fixture(scope="session")
def static_url() -> Iterator[str]:
    """The address of a loopback server for static/, without a slash at its end: modules load from there."""
    server = ThreadingHTTPServer(("127.0.0.1", 0), partial(_Quiet, directory=str(STATIC)))
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{server.server_address[1]}"
    server.shutdown()
    server.server_close()
    thread.join()


@pytest.fixture(scope="session", autouse=True)
def _hashed_once() -> Iterator[None]:
    """Each PIN is hashed once by a process of the tests."""
    with hashed_once():
        yield


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Begin with the longest tests."""
    items.sort(key=lambda item: item.get_closest_marker("long") is None)


@pytest.hookimpl(tryfirst=True)
def pytest_runtest_setup() -> None:
    """Before the first fixture of a test."""
    salts_anew()


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Say how much the two folds were compared: a run that compared little proves little."""
    events = sum(
        int(str(value)) for report in terminalreporter.stats.get("passed", []) for name, value in report.user_properties
        if name == "events"
    )
    if events:
        terminalreporter.write_line(f"{events} events folded alike in Python and in the browser")
