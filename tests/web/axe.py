"""axe-core asked about a page, its script put into each page only once: that takes longer than most of its answers."""

from typing import Any

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

AA = {"runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]},
      "resultTypes": ["violations"]}
_SCRIPT = Axe().axe_script


def violations(page: Page) -> list[tuple[str, list[str]]]:
    """Return what axe finds against WCAG 2.2 AA on a page as it is now: each rule, and where it is broken."""
    if not page.evaluate("() => Boolean(window.axe)"):
        page.evaluate(_SCRIPT)
    found: list[dict[str, Any]] = page.evaluate("async (options) => (await axe.run(options)).violations", AA)
    return [(one["id"], [node["html"][:200] for node in one["nodes"]]) for one in found]
