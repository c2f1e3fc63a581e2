"""What a page does that nobody sees: broken rules of content, errors, shifted layout, keys, sound."""

from typing import Any

from playwright.sync_api import Page

WATCH = """
(() => {
  if (window.seen) return;
  const seen = (window.seen = { csp: [], shifts: [], keys: 0, sounds: 0, byHand: 0 });
  document.addEventListener("securitypolicyviolation", (e) => seen.csp.push(`${e.violatedDirective} ${e.blockedURI}`));
  new PerformanceObserver((list) => {
    for (const entry of list.getEntries()) if (!entry.hadRecentInput) seen.shifts.push([entry.value,
      entry.sources.map((s) => s.node && (s.node.id || s.node.className || s.node.nodeName)).join(" ")]);
  }).observe({ type: "layout-shift", buffered: true });
  // A browser without windows keeps no screen on; a tablet does.
  if (navigator.wakeLock) navigator.wakeLock.request = async () => Object.assign(new EventTarget(), {
    released: false,
    async release() { this.released = true; this.dispatchEvent(new Event("release")); },
  });
  addEventListener("keydown", () => (seen.keys += 1), true);
  const Sound = window.AudioContext;
  if (Sound) window.AudioContext = class extends Sound {
    constructor(...all) {
      super(...all);
      seen.sounds += 1;
      seen.byHand += navigator.userActivation.isActive ? 1 : 0;
      window.sound = this;
    }
  };
})();
"""

# To install the worker takes more than all else that a page does. Where a test is not about it, the page is told that
# it is there and keeps the page, so that everything looks and behaves as on a tablet that was used before.
NO_WORKER = """
(() => {
  if (!navigator.serviceWorker) return;
  const registration = Object.assign(new EventTarget(), { active: {}, waiting: null, installing: null });
  navigator.serviceWorker.register = navigator.serviceWorker.getRegistration = async () => registration;
  caches.match = async () => new Response("");
})();
"""

_complaints: dict[int, list[str]] = {}


def listen(page: Page) -> None:
    """Collect what a page writes to its console as warning or error, and what it throws."""
    found = _complaints[id(page)] = []
    page.on("console", lambda m: found.append(f"{m.type}: {m.text}") if m.type in ("error", "warning") else None)
    page.on("pageerror", lambda e: found.append(f"thrown: {e}"))


def complaints(page: Page) -> list[str]:
    """Return console errors and warnings, uncaught errors, and broken rules of the content policy, in words."""
    return [*_complaints[id(page)], *page.evaluate("() => window.seen.csp")]


def seen(page: Page, name: str) -> Any:
    """Return one of the counts of WATCH."""
    return page.evaluate("(name) => window.seen[name]", name)
