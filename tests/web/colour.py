"""Contrast as WCAG 2.2 defines it, and the pairs of colours that a page really paints.

Source: WCAG 2.2, definitions of "relative luminance" and "contrast ratio" (threshold 0.04045 as in its current text).
"""

from typing import Any

from playwright.sync_api import Page

Colour = tuple[float, float, float]

# Text and what lies behind it: styles for HTML; for drawings the painted shape under the middle of the text.
PAIRS = """
() => {
  const found = [];
  const plain = (c) => (c.match(/[\\d.]+/g) || []).map(Number);
  const solid = (c) => c && c !== "none" && (plain(c).length < 4 || plain(c)[3] > 0);
  const shown = (e) => e.checkVisibility({ visibilityProperty: true, opacityProperty: true });
  const behind = (e) => {
    for (let up = e; up; up = up.parentElement) {
      const c = getComputedStyle(up).backgroundColor;
      if (solid(c)) return plain(c);
    }
    return [255, 255, 255];
  };
  const root = document.querySelector("dialog[open]") || document.body;
  for (const e of root.querySelectorAll("*")) {
    if (!shown(e) || ![...e.childNodes].some((n) => n.nodeType === 3 && n.textContent.trim())) continue;
    const name = `${e.nodeName} ${e.id || e.getAttribute("class") || ""} ${e.textContent.trim().slice(0, 20)}`;
    if (!(e instanceof SVGElement)) {
      found.push([name, plain(getComputedStyle(e).color), behind(e)]);
      continue;
    }
    if (e.closest("[data-state=none]")) continue; // not to be used on this step: exempt in WCAG 1.4.3
    const box = e.getBoundingClientRect();
    const under = document.elementsFromPoint(box.x + box.width / 2, box.y + box.height / 2)
      .find((s) => s !== e && !(s instanceof SVGTextElement) && s instanceof SVGElement && s.nodeName !== "svg"
        && solid(getComputedStyle(s).fill) && getComputedStyle(s).fill !== "rgba(0, 0, 0, 0)");
    found.push([name, plain(getComputedStyle(e).fill), under ? plain(getComputedStyle(under).fill) : behind(e)]);
  }
  return found;
}
"""


def luminance(colour: Colour) -> float:
    """Return the relative luminance of an sRGB colour (0..255 each)."""
    parts = [c / 255 for c in colour]
    r, g, b = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def contrast(one: Colour, other: Colour) -> float:
    """Return the contrast ratio of two colours, 1 to 21."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def without_blue(colour: Colour) -> Colour:
    """Return a colour as orange filter glasses leave it: no blue at all."""
    return colour[0], colour[1], 0.0


def pairs(page: Page) -> list[tuple[str, Colour, Colour]]:
    """Return each text that is painted now, its colour, and the colour behind it."""
    found: list[Any] = page.evaluate(PAIRS)
    return [(name, (t[0], t[1], t[2]), (b[0], b[1], b[2])) for name, t, b in found]


def faint(page: Page, least: float, least_without_blue: float) -> list[str]:
    """Return the texts with too little contrast, plainly or through orange glasses, in words."""
    found = []
    for name, text, ground in pairs(page):
        plain, orange = contrast(text, ground), contrast(without_blue(text), without_blue(ground))
        if plain < least or orange < least_without_blue:
            found.append(f"{name!r}: {text} on {ground} {plain:.2f}, without blue {orange:.2f}")
    return found
