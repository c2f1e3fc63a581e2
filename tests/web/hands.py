"""What hands do on the bench page besides the plain walk: look closer, tap twice, scan, press a pedal."""

from playwright.sync_api import Page


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


def scan(page: Page, text: str) -> None:
    """Type as a wedge scanner does: a character every few milliseconds, then Enter."""
    page.keyboard.type(text, delay=5)
    page.keyboard.press("Enter")
