"""Sizes and places on a page as a person meets them: CSS px of what is painted, not of what the styles promise."""

from itertools import combinations
from typing import Any

from playwright.sync_api import Page

Box = dict[str, Any]

# What can be tapped and is painted now; `edge` for targets of a drawing, whose rectangle is what takes the tap.
CONTROLS = """
(selector) => {
  const shown = (e) => e.checkVisibility({ visibilityProperty: true, opacityProperty: true });
  const open = document.querySelector("dialog[open]");
  return [...(open || document).querySelectorAll(selector)].filter((e) => shown(e) && !e.disabled).map((e) => {
    const box = (e.querySelector(":scope > rect") || e).getBoundingClientRect();
    const dead = e.dataset.place && e.dataset.state === "none";
    const name = e.getAttribute("aria-label") || e.innerText || e.id;
    return { name, x: box.x, y: box.y, w: box.width, h: box.height, dead: Boolean(dead),
      act: e.dataset.act || e.dataset.place || e.dataset.sextant || e.id || e.nodeName };
  });
}
"""

# What is cut off: an element that holds more than it shows, or text and controls outside what holds them.
CUT = """
() => {
  const found = [];
  const shown = (e) => e.checkVisibility({ visibilityProperty: true, opacityProperty: true });
  const named = (e) => e.closest("[data-place]")?.dataset.place || e.id || e.dataset.act || e.getAttribute("class")
    || e.nodeName;
  const wide = document.documentElement;
  if (wide.scrollWidth > innerWidth) {
    const widest = [...document.querySelectorAll("body *")]
      .filter((e) => e.getBoundingClientRect().right > innerWidth + 1).pop();
    const why = widest ? `: ${named(widest)} ${widest.textContent.trim().slice(0, 60)}` : "";
    found.push(`page ${wide.scrollWidth} wide of ${innerWidth}${why}`);
  }
  if (document.querySelector("body.bench") && wide.scrollHeight > innerHeight)
    found.push(`page ${wide.scrollHeight} high`);
  for (const name of [".top", ".work", ".left", ".map", ".rail", ".mainbar", "dialog[open]"]) {
    const e = document.querySelector(name);
    if (!e || !shown(e)) continue;
    if (e.scrollHeight > e.clientHeight + 1) found.push(`${name} ${e.scrollHeight} high of ${e.clientHeight}`);
    if (e.scrollWidth > e.clientWidth + 1) found.push(`${name} ${e.scrollWidth} wide of ${e.clientWidth}`);
  }
  const work = document.querySelector(".work");
  if (!work) return found;
  const area = work.getBoundingClientRect();
  const inside = ".card:not([hidden]) :is(h1, .words, .stage, button, input, .cautions span), .clock, .map button,"
    + " .map svg, .map .target rect, .map .place rect";
  for (const e of work.querySelectorAll(inside)) {
    if (!shown(e)) continue;
    const b = e.getBoundingClientRect();
    if (b.top < area.top - 1 || b.bottom > area.bottom + 1 || b.left < 0 || b.right > innerWidth + 1)
      found.push(`${named(e)} at ${b.left | 0},${b.top | 0} to ${b.right | 0},${b.bottom | 0}`);
  }
  for (const e of document.querySelectorAll("button, .clock, .clock span, h1, .words, .status, .training, .ident")) {
    const high = (e.nodeName === "BUTTON" || e.id === "status") && e.scrollHeight > e.clientHeight + 2;
    if (shown(e) && (e.scrollWidth > e.clientWidth + 1 || high) && getComputedStyle(e).display !== "inline")
      found.push(`text of ${named(e)} ${e.scrollWidth}x${e.scrollHeight} in ${e.clientWidth}x${e.clientHeight}`);
  }
  const texts = [...document.querySelectorAll(".card:not([hidden]) :is(h1, .words, button, legend), .clock")]
    .filter(shown);
  for (const [i, a] of texts.entries()) for (const b of texts.slice(i + 1)) {
    if (a.contains(b)) continue;
    const p = a.getBoundingClientRect(), q = b.getBoundingClientRect();
    const across = Math.min(p.right, q.right) - Math.max(p.left, q.left);
    const down = Math.min(p.bottom, q.bottom) - Math.max(p.top, q.top);
    if (across > 1 && down > 1) found.push(`${named(a)} lies over ${named(b)}`);
  }
  return found;
}
"""


def controls(page: Page, selector: str = "button, a, input, [role=button]") -> list[Box]:
    """Return the controls that can be tapped now: name, act, x, y, w, h in CSS px."""
    found: list[Box] = page.evaluate(CONTROLS, selector)
    return [box for box in found if not box["dead"]]


def cut(page: Page) -> list[str]:
    """Return what is cut off, scrolled out, or lies over something else, in words."""
    found: list[str] = page.evaluate(CUT)
    return found


def small(boxes: list[Box], side: float) -> list[str]:
    """Return the controls that are smaller than `side` CSS px either way (a tenth of a pixel is rounding)."""
    return [f"{b['act']} {b['name']!r} {b['w']:.1f}x{b['h']:.1f}" for b in boxes if min(b["w"], b["h"]) < side - 0.1]


def tight(boxes: list[Box], gap: float) -> list[str]:
    """Return the pairs of controls with less than `gap` CSS px between them."""
    found = []
    for a, b in combinations(boxes, 2):
        across = max(a["x"], b["x"]) - min(a["x"] + a["w"], b["x"] + b["w"])
        down = max(a["y"], b["y"]) - min(a["y"] + a["h"], b["y"] + b["h"])
        if max(across, down) < gap - 0.1:
            found.append(f"{a['act']} and {b['act']}: {max(across, down):.1f}")
    return found


def font_px(page: Page, selector: str) -> list[float]:
    """Return the letter size of what is shown of a selector, in CSS px."""
    found: list[float] = page.evaluate(
        "(s) => [...document.querySelectorAll(s)].filter((e) => e.checkVisibility({ visibilityProperty: true }))"
        ".map((e) => parseFloat(getComputedStyle(e).fontSize))", selector)
    return found


def place_of(page: Page, selector: str) -> tuple[float, float, float, float]:
    """Return x, y, width and height of an element."""
    box = page.locator(selector).bounding_box()
    assert box
    return box["x"], box["y"], box["width"], box["height"]
