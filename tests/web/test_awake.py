"""The screen stays on while a step runs; where it may not, the page says so and nothing moves."""

from tests.web.conftest import NewJaw, Sit
from tests.web.hands import insist
from tests.web.measure import place_of
from tests.web.watch import seen

# The browser's own lock, within reach of the test: what it gave last, and whether it is to refuse.
REACH = """
(() => {
  const ask = navigator.wakeLock.request.bind(navigator.wakeLock);
  navigator.wakeLock.request = async (kind) => {
    if (window.refuse) throw new DOMException("refused", "NotAllowedError");
    return (window.given = await ask(kind));
  };
})();
"""
DARK = "The screen may go dark"


def test_the_screen_stays_on_in_a_running_step(sit: Sit, new_jaw: NewJaw) -> None:
    """Held on a step; taken away, the status line says so and nothing moves; visible again, it is taken again."""
    page = sit(new_jaw("dry-fit")).page
    page.context.add_init_script(REACH)
    page.reload()
    page.wait_for_selector("body[data-loaded=yes][data-awake=yes]")
    assert DARK not in page.inner_text("#status")
    before = place_of(page, "#main"), place_of(page, "#person")
    page.evaluate("() => { window.refuse = true; return window.given.release(); }")
    page.wait_for_selector("body[data-awake=no]")
    assert page.inner_text("#status").endswith(DARK)
    assert (place_of(page, "#main"), place_of(page, "#person")) == before
    page.evaluate("() => { window.refuse = false; document.dispatchEvent(new Event('visibilitychange')); }")
    page.wait_for_selector("body[data-awake=yes]")
    assert DARK not in page.inner_text("#status")
    assert seen(page, "shifts") == []
    page.click(".rail [data-act=hold]")
    page.click("#reason-hold [data-act=reason] >> nth=0")
    page.wait_for_selector("body[data-held=yes][data-awake='']")
    assert page.evaluate("() => window.given.released")


def test_nobody_and_no_clock_lets_the_screen_go_dark(sit: Sit, new_jaw: NewJaw) -> None:
    """Signed out at a step without a clock the lock is let go; a clock that runs keeps the screen on for its alarm."""
    page = sit(new_jaw("dry-fit")).page
    page.wait_for_selector("body[data-awake=yes]")
    page.evaluate("() => localStorage.setItem('person', 'null')")
    page.wait_for_selector("body[data-awake='']")
    page = sit(new_jaw("cure-second-side", ago=60_000)).page
    page.evaluate("() => localStorage.setItem('person', 'null')")
    insist(page, "#clocks", "body[data-clocks=yes]")
    page.wait_for_function(
        "() => document.body.dataset.awake === 'yes' && JSON.parse(localStorage.person) === null")
