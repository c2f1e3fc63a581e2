"""Makes the pictures of the README from the running tool: `python -m tests.screens`."""

import re
import shutil
import tempfile
from pathlib import Path

import pypdfium2
from playwright.sync_api import sync_playwright

from tests.browser import browser_args, sure_browser
from tests.live import Hand, LiveLab
from tests.web.seated import drawing

HERE = Path(__file__).resolve().parent
PICTURES = HERE / "pictures"
SIZES = {"portrait": {"width": 800, "height": 1280}, "landscape": {"width": 1280, "height": 800}}
SHOTS = {"cut-back": "cut-back", "bubble-check": "bubble-check", "cure-second-side": "turn-over"}


def main() -> None:
    """Walk one jaw of the demo, take the pictures, the first page of its record, and one of a seating check."""
    PICTURES.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        lab = LiveLab(Path(folder) / "data", speed=60).fill().start()
        try:
            walk(lab)
            pdf = Path(folder) / "record.pdf"
            lab.run("record", lab.code, "--data", str(lab.data), "--out", str(pdf))
            document = pypdfium2.PdfDocument(pdf)
            document[0].render(scale=1.1).to_pil().save(PICTURES / "record.png")
            document.close()
            shutil.copy(lab.data / "labels" / f"{lab.code}-203dpi.png", PICTURES / "label.png")
        finally:
            lab.kill()
        seating_check(Path(folder) / "whole")


def walk(lab: LiveLab) -> None:
    """Walk the jaw until it is turned over, with a picture of each step in SHOTS."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=sure_browser(), args=browser_args())
        page = browser.new_context(viewport={"width": 800, "height": 1280}).new_page()
        hand = Hand(page, lab).open().sign_in()
        seen: set[str] = set()
        while hand.at != "cool-down":
            hand.ready()
            fresh = hand.at not in seen
            seen.add(hand.at)
            if fresh and hand.at in SHOTS:
                picture(hand, SHOTS[hand.at])
            if fresh and hand.at == "bubble-check":
                page.click("[data-sextant=s1]")
                page.click("[data-place=m16b]")
                page.click("[data-act=tool]:visible >> nth=1")
                page.click("[data-place='16-15']")
                picture(hand, "bubble-check-sextant")
            hand.confirm()
        browser.close()


def seating_check(data: Path) -> None:
    """Take the picture of the demo's jaw that does not go in: where it is stopped, on the map and to be turned."""
    lab = LiveLab(data)
    code = re.findall(r"jaw, code: ([\w ]+)", lab.run("demo", "--data", str(data), "--no-serve").stdout)[2]
    lab.start()
    try:
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path=sure_browser(), args=browser_args())
            with drawing(browser) as solid:
                page = solid.new_context(viewport=SIZES["landscape"]).new_page()
                place = page.locator(".seat-stops button").last
                while not place.count():  # until the check is done
                    page.goto(f"{lab.address}/bench/{code.replace(' ', '')}/seating")
                    page.wait_for_selector("body[data-drawn]")
                page.click("[data-do=solid]")
                page.wait_for_selector("#solid[data-solid=open]")
                place.click()
                page.wait_for_selector("#solid:has-text('Turned to')")
                turning = page.evaluate("performance.now()")
                page.wait_for_function("(begun) => performance.now() > begun + 1000", arg=turning)
                page.screenshot(path=PICTURES / "stopped.png")
            browser.close()
    finally:
        lab.kill()


def picture(hand: Hand, name: str) -> None:
    """Save what is seen in both orientations."""
    for orientation, size in SIZES.items():
        hand.page.set_viewport_size(size)  # type: ignore[arg-type]
        hand.ready()
        suffix = "" if orientation == "portrait" else "-landscape"
        hand.page.screenshot(path=PICTURES / f"{name}{suffix}.png")
    hand.page.set_viewport_size(SIZES["portrait"])  # type: ignore[arg-type]


if __name__ == "__main__":
    main()
