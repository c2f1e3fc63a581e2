"""Makes the pictures of the README from the running tool: `python -m tests.screens`."""

import shutil
import tempfile
from pathlib import Path

import pypdfium2
from playwright.sync_api import sync_playwright

from tests.browser import browser_args, sure_browser
from tests.live import Hand, LiveLab

HERE = Path(__file__).resolve().parent
PICTURES = HERE / "pictures"
SIZES = {"portrait": {"width": 800, "height": 1280}, "landscape": {"width": 1280, "height": 800}}
SHOTS = {"cut-back": "cut-back", "bubble-check": "bubble-check", "cure-second-side": "turn-over"}


def main() -> None:
    """Walk one jaw of the demo, take the pictures, and the first page of its record."""
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
