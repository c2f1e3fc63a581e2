"""Ready offline is said only when it is true: each thing that is missing is named instead; the app can be installed."""

import json
from collections.abc import Callable

from playwright.sync_api import Browser, BrowserContext, Page

from tests.live import Hand, LiveLab
from tests.web.conftest import NewJaw, Sit

READY = "() => ['yes', 'no'].includes(document.querySelector('#ready').dataset.ready)"
FORGET = """
async (ending) => {
  for (const name of await caches.keys()) {
    const cache = await caches.open(name);
    for (const request of await cache.keys()) if (request.url.endsWith(ending)) await cache.delete(request);
  }
}
"""
# Counts how often the browser is asked not to clear what is kept, and answers as it is told.
STORAGE = """
(() => {
  navigator.storage.persisted = async () => Boolean(localStorage.getItem("promised"));
  navigator.storage.persist = async () => {
    localStorage.setItem("asked", Number(localStorage.getItem("asked") || 0) + 1);
    return false;
  };
})();
"""


def first_page(page: Page, lab: LiveLab) -> tuple[str, str]:
    """Open the first page; return whether it says ready, and its words."""
    page.goto(f"{lab.address}/")
    page.wait_for_selector("body[data-loaded=yes]")
    page.wait_for_function(READY)
    return page.get_attribute("#ready", "data-ready") or "", page.inner_text("#ready")


def test_ready_when_everything_is_kept(sit: Sit, lab: LiveLab, new_jaw: NewJaw) -> None:
    """With every file and each opened jaw kept it says ready, also without the PC; what is lost is fetched again."""
    code = new_jaw("dry-fit")
    page = sit(code, worker=True).page
    ready, words = first_page(page, lab)
    assert ready == "yes" and words.startswith("Ready offline") and "may clear what is kept" in words
    page.evaluate(FORGET, f"/bench/{code}")
    assert first_page(page, lab)[0] == "yes"
    page.context.set_offline(True)
    assert first_page(page, lab)[0] == "yes"
    page.evaluate(FORGET, f"/bench/{code}")
    ready, words = first_page(page, lab)
    assert ready == "no" and code in words
    page.context.set_offline(False)
    assert first_page(page, lab)[0] == "yes"


def test_what_is_missing_is_named(tablet: Callable[..., BrowserContext], lab: LiveLab) -> None:
    """A file that is not kept, and an address that is not secure: not ready, with the reason, on both pages."""
    page = tablet(worker=True).new_page()
    assert first_page(page, lab)[0] == "yes"
    page.evaluate(FORGET, "/pictures/seat.svg")
    ready, words = first_page(page, lab)
    assert ready == "no" and "Something of this version is not kept yet" in words
    page.goto(f"{lab.address}/tablet")
    page.wait_for_selector("#ready[data-ready=no]")
    assert [page.get_attribute(f"[data-check={name}]", "data-good") for name in ("secure", "files")] == ["yes", "no"]
    page.context.add_init_script("Object.defineProperty(window, 'isSecureContext', { value: false })")
    ready, words = first_page(page, lab)
    assert ready == "no" and "not secure" in words


def test_a_browser_without_a_worker_is_not_ready(browser: Browser, lab: LiveLab) -> None:
    """Where no worker may run, the first page says that nothing is kept."""
    context = browser.new_context(service_workers="block")
    ready, words = first_page(context.new_page(), lab)
    context.close()
    assert ready == "no" and "keeps no pages here yet" in words


def test_storage_is_asked_for_once_and_then_by_hand(tablet: Callable[..., BrowserContext], lab: LiveLab) -> None:
    """Not before anybody signed in; once after the first sign-in; then only by the button, until it is promised."""
    context = tablet(worker=True)
    context.add_init_script(STORAGE)
    page = context.new_page()
    asked = "() => Number(localStorage.getItem('asked') || 0)"
    assert first_page(page, lab)[0] == "yes" and page.evaluate(asked) == 0
    for _ in range(2):
        Hand(page, lab).sign_in()
        assert page.evaluate(asked) == 1
    page.goto(f"{lab.address}/tablet")
    page.wait_for_selector("#ready[data-ready=yes]")
    page.click("[data-do=keep]")
    page.wait_for_function("() => localStorage.getItem('asked') === '2'")
    page.wait_for_selector("[data-do=keep]:enabled")
    # In one go: the page looks again by itself, and takes the button away where it finds the promise.
    page.locator("[data-do=keep]").evaluate("button => { localStorage.setItem('promised', 'yes'); button.click(); }")
    page.wait_for_selector("[data-do=keep]:disabled")
    assert page.evaluate(asked) == 2
    assert page.get_attribute("[data-check=kept]", "data-good") == "yes"
    assert "may clear" not in first_page(page, lab)[1]


def test_the_browser_itself_finds_it_installable(tablet: Callable[..., BrowserContext], lab: LiveLab) -> None:
    """Chromium reads the manifest without an error and has nothing against installing the app (its own check)."""
    page = tablet(worker=True).new_page()
    first_page(page, lab)
    cdp = page.context.new_cdp_session(page)
    manifest = cdp.send("Page.getAppManifest")
    assert manifest["errors"] == [] and json.loads(manifest["data"])["id"] == "/"
    found = [one["errorId"] for one in cdp.send("Page.getInstallabilityErrors")["installabilityErrors"]]
    assert [one for one in found if one != "in-incognito"] == []  # a context of a test is a private window
