"""What hands do on the bench page besides the plain walk: look closer, tap twice, scan, press a pedal."""

from collections.abc import Callable
from typing import Any

from playwright.sync_api import BrowserContext, Page

from benchapp.core import events
from benchapp.core.fold import State, fold
from tests.live import PINS, Hand, LiveLab

BOSS = "Tomé Arbel"  # the demo lab's supervisor


def at_desk(context: BrowserContext, lab: LiveLab, then: str = "/desk/today", address: str = "") -> Page:
    """Sit down at the desk as the supervisor, and open a page of it."""
    page = context.new_page()
    page.goto(f"{address or lab.address}/desk/signin?next={then}")
    page.select_option("#person", label=BOSS)
    page.fill("#pin", PINS[BOSS])
    page.click("button.go")
    page.wait_for_url(f"**{then}")
    return page


def show_size(page: Page, size: tuple[int, int]) -> None:
    """Turn the tablet."""
    page.set_viewport_size({"width": size[0], "height": size[1]})


def insist(page: Page, selector: str, until: str) -> None:
    """Tap a control until the page shows what was meant: a tap soon after the last one on it is dropped."""
    for _ in range(100):
        page.click(selector)
        if page.query_selector(until):
            return
    raise AssertionError(f"taps on {selector} never led to {until}")


def look(page: Page, part: str) -> None:
    """Open a sextant, the areas of the base, or go back to the whole arch."""
    selector = {"whole": "[data-act=whole]", "areas": "[data-act=areas]"}.get(part, f"[data-sextant={part}]")
    insist(page, selector, f"body[data-view={part}]")


def scan(page: Page, text: str, gap: float = 0.005) -> None:
    """Type as a wedge scanner does: a key every 5 ms, then Enter; each key bears its time, however busy the machine."""
    cdp = page.context.new_cdp_session(page)
    at: float = page.evaluate("() => (performance.timeOrigin + performance.now()) / 1000")
    for number, letter in enumerate([*text, "Enter"]):
        key = {"key": letter, "timestamp": at + number * gap}
        typed = {"text": "\r", "code": "Enter", "windowsVirtualKeyCode": 13} if letter == "Enter" else {"text": letter}
        cdp.send("Input.dispatchKeyEvent", {"type": "keyDown", **key, **typed})
        cdp.send("Input.dispatchKeyEvent", {"type": "keyUp", **key})
    cdp.detach()


def scan_at_once(page: Page, text: str) -> None:
    """Type as a wedge scanner does, where the page's clock is set by hand: its keys then bear the time of arrival."""
    page.evaluate(
        """(keys) => { for (const key of keys) {
          const pressed = new KeyboardEvent("keydown", { key, bubbles: true, cancelable: true });
          (document.activeElement || document.body).dispatchEvent(pressed);
        } }""",
        [*text, "Enter"],
    )


def tap_main(page: Page) -> None:
    """Tap the main action."""
    page.click("#main")


def press_pedal(page: Page) -> None:
    """Press the foot switch, which types PageDown."""
    page.keyboard.press("PageDown")


def press_keys(page: Page) -> None:
    """Press the main action without a finger: by pedal in the wet window, elsewhere by Enter on the focused control."""
    if page.get_attribute("body", "data-phase") == "wet":
        press_pedal(page)
    else:
        page.focus("#main")
        page.keyboard.press("Enter")


def go_on(hand: Hand, press: Callable[[Page], None] = tap_main) -> tuple[str, str]:
    """Do the main action as soon as the page takes it; return the step and what the action covered."""
    page = hand.page
    if page.query_selector("#reason-breach[open]"):
        if press is press_keys:
            page.keyboard.press("Enter")
        else:
            page.click("#reason-breach [data-act=reason] >> nth=0")
        page.wait_for_selector("#reason-breach", state="hidden")
    page.wait_for_selector("body[data-ready=yes]")
    page.wait_for_function(
        "() => ![...document.querySelectorAll('.clock[data-kind=floor]:not([hidden])')]"
        ".some((c) => c.dataset.over !== 'yes')", timeout=60_000)
    before = [hand.at, page.inner_text("#main")]
    press(page)
    page.wait_for_function(
        "([at, main]) => document.body.dataset.at !== at || document.getElementById('main').innerText !== main",
        arg=before)
    return before[0], before[1]


def stored(hand: Hand) -> None:
    """Wait until the outbox itself is empty; the status line learns of it a moment later."""
    hand.page.evaluate(
        "async () => { const store = await import('/static/js/store.js');"
        " while (await store.waiting()) await new Promise((next) => setTimeout(next, 30)); }")
    hand.stored()


def page_state(page: Page) -> State:
    """Return the state of the jaw as the page has folded it."""
    found: State = page.evaluate("() => import('/static/js/jaw.js').then((jaw) => jaw.state)")
    return found


def entries(lab: LiveLab, code: str, *kinds: str) -> list[dict[str, Any]]:
    """Return what the journal holds of a jaw, oldest first: entries of these kinds, or of every kind."""
    found = [body for body in lab.journal() if body["event"]["jaw"] == code]
    return [body for body in found if not kinds or body["event"]["kind"] in kinds]


def folded(lab: LiveLab, code: str, table: dict[str, Any]) -> State:
    """Return the state of a jaw as Python folds the journal."""
    return fold(table, [events.fold_event(body) for body in entries(lab, code, *events.FOLDED)])


def same_state(one: State, other: State) -> bool:
    """Tell whether two folds came to the same: everything but the events that they carry along."""
    plain = [{k: v for k, v in state.items() if k not in ("log", "refused")} for state in (one, other)]
    logs = [[event["id"] for event in state["log"]] for state in (one, other)]
    return plain[0] == plain[1] and logs[0] == logs[1]
