"""Makes the icons of the installed app from its drawing: `python -m tests.screens.icons`."""

from pathlib import Path

from playwright.sync_api import sync_playwright

from tests.browser import browser_args, sure_browser

PICTURES = Path(__file__).resolve().parents[2] / "static" / "pictures"
# Name, edge in px, how much of the edge the drawing takes; the one that a tablet cuts into a shape of its own lies on a
# whole ground, with all that matters within a circle of 80 % of the edge (W3C, Web Application Manifest, "safe zone").
ICONS = (("app-192.png", 192, 1.0), ("app-512.png", 512, 1.0), ("app-whole-512.png", 512, 0.8))


def main() -> None:
    """Draw each icon in a browser and save it."""
    drawing = (PICTURES / "app.svg").read_text("utf-8")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=sure_browser(), args=browser_args())
        for name, edge, part in ICONS:
            page = browser.new_page(viewport={"width": edge, "height": edge})
            ground = "transparent" if part == 1 else "#16302b"
            side = edge * part
            page.set_content(
                f"<style>body{{margin:0;background:{ground};display:grid;place-items:center;height:100vh}}"
                f"svg{{width:{side}px;height:{side}px}}</style>{drawing}")
            page.screenshot(path=PICTURES / name, omit_background=part == 1)
            page.close()
        browser.close()


if __name__ == "__main__":
    main()
