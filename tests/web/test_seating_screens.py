"""The page of a jaw's seating check in a browser: map and tables, three dimensions, without the PC."""

import io
import re
from collections.abc import Iterator
from itertools import combinations
from typing import Any

import numpy as np
import pytest
from PIL import Image
from playwright.sync_api import Browser, Page

from tests.web.colour import faint
from tests.web.conftest import LANDSCAPE, PORTRAIT
from tests.web.measure import controls, cut, small, tight
from tests.web.seated import Served, drawing, shown, small_seating
from tests.web.test_access import ORANGE, PLAIN, sound
from tests.web.watch import WATCH, complaints, listen, seen

VENDOR = "/static/vendor/three-0.187.0.js"
# A browser that draws nothing in three dimensions.
FLAT = """
const plain = HTMLCanvasElement.prototype.getContext;
HTMLCanvasElement.prototype.getContext = function (kind, ...all) {
  return kind.startsWith("webgl") ? null : plain.call(this, kind, ...all);
};
"""
# Resolves once all of them are kept: `wait_for_function` would take the first answer of a promise, also a false one.
KEPT = """async (paths) => {
  const kept = async () => (await Promise.all(paths.map((path) => caches.match(path)))).every(Boolean);
  while (!(await kept())) await new Promise((resolve) => setTimeout(resolve, 50));
}"""


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """A jaw of six front teeth with its check."""
    place = tmp_path_factory.mktemp("seated")
    with shown(place / "data", small_seating(place)) as jaw:
        lab = Served(jaw).start()
        yield lab
        lab.stop()


@pytest.fixture(scope="module")
def solid(browser: Browser) -> Iterator[Browser]:
    """A browser that draws in three dimensions."""
    with drawing(browser) as opened:
        yield opened


def opened(browser: Browser, served: Served, size: tuple[int, int] = PORTRAIT, before: str = "") -> Page:
    """Open the page of the check on a new tablet."""
    context = browser.new_context(viewport={"width": size[0], "height": size[1]}, reduced_motion="reduce")
    context.add_init_script(WATCH + before)
    context.on("page", listen)
    page = context.new_page()
    page.goto(served.at(f"/bench/{served.jaw.code}/seating"))
    page.wait_for_selector("body[data-loaded=yes]")
    return page


def show_solid(page: Page) -> None:
    """Ask for the three dimensions and wait until they are there, or are said not to come."""
    page.click("[data-do=solid]")
    page.wait_for_selector("#solid:is([data-solid=open], [data-solid=failed])", timeout=60_000)


def pixels(page: Page) -> "np.ndarray[Any, Any]":
    """Return what is seen of the stage once it is drawn, as numbers."""
    page.evaluate("() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))")
    return np.asarray(Image.open(io.BytesIO(page.locator(".solid-stage").screenshot())).convert("RGB")).astype(int)


def differ(one: "np.ndarray[Any, Any]", other: "np.ndarray[Any, Any]") -> float:
    """Return which part of the pixels differs clearly between two pictures."""
    return float((np.abs(one - other).max(axis=2) > 40).mean())


@pytest.mark.parametrize("size", [PORTRAIT, LANDSCAPE], ids=["portrait", "landscape"])
def test_map_and_tables_for_everybody(size: tuple[int, int], browser: Browser, served: Served) -> None:
    """Keys switch the map and pick a place; sizes, contrast and axe hold; without WebGL the still picture stays."""
    page = opened(browser, served, size, before=FLAT)
    switch = "[name=map-kind]"
    page.focus(f"{switch}:checked")
    for kind in ("depth", "connector", "resin", "bond"):
        maps = page.locator("[data-map] >> visible=true")
        assert maps.evaluate_all("(all) => all.map((one) => one.dataset.map)") == [kind]
        assert faint(page, PLAIN, ORANGE) == [] and cut(page) == []
        page.keyboard.press("ArrowRight")
    sound(page, "seating check")
    tiles = controls(page, ".seat-switch label")
    assert small(tiles, 80) == [] and tight(tiles, 16) == []
    assert small(controls(page, "button, a"), 48) == []
    spots = page.locator("[data-map] .spot >> visible=true")
    assert spots.evaluate_all(
        "(all) => Math.min(...all.map((e) => e.getBoundingClientRect()).map((b) => Math.min(b.width, b.height)))") >= 24
    page.focus("[data-map=depth] [data-spot='42']")
    page.keyboard.press("Enter")
    row = page.inner_text("tr[data-row='42'] td >> nth=0").split("\n")[0]
    assert page.inner_text("#picked").startswith(f"tooth 42\nDepth {row} mm · Greatest")
    assert page.locator("tr[data-picked]").get_attribute("data-row") == "42"
    page.check(f"{switch}[value=connector]", force=True)
    page.click("[data-map=connector] [data-spot='42-41']")
    assert page.inner_text("#picked").startswith("connector 42-41\nSection ")
    assert "Cut back half · Islands none mm²" in page.inner_text("#picked")
    show_solid(page)
    assert "draws nothing in three dimensions" in page.inner_text(".solid-said")
    assert page.is_visible(".solid-still") and not page.is_visible("canvas")
    assert seen(page, "csp") == [] and [one for one in complaints(page) if "WebGL" not in one] == []
    page.context.close()


def test_three_dimensions(solid: Browser, served: Served) -> None:
    """Arch, base and both are different pictures, the slider lifts, a place turns the view, and keys do."""
    page = opened(solid, served)
    assert not page.evaluate("() => performance.getEntriesByType('resource').some((e) => e.name.includes('three'))")
    show_solid(page)
    both = pixels(page)
    views = {"both": both}
    for part in ("base", "arch", "both"):
        page.check(f"[name=solid-part][value={part}]", force=True)
        views[part] = pixels(page)
    assert differ(both, views["both"]) < 0.001
    assert all(differ(views[one], views[two]) > 0.01 for one, two in combinations(views, 2))
    page.fill("[data-do=lift]", "10")
    lifted = pixels(page)
    assert differ(both, lifted) > 0.02 and page.inner_text("[data-part=lifted]") == "lifted by 10 mm"
    page.check("[name=solid-kind][value=gap]", force=True)
    assert differ(lifted, pixels(page)) > 0.005 and page.is_visible("[data-solid-legend=gap]")
    page.click("[data-map=depth] [data-spot='42']")
    at_42 = pixels(page)
    assert page.inner_text(".solid-said") == "Turned to tooth 42." and differ(lifted, at_42) > 0.1
    page.click("tr[data-row='32'] button")
    at_32 = pixels(page)
    assert differ(at_42, at_32) > 0.1
    page.click(".seat-stops [data-spot=stop-1]")
    assert re.fullmatch(r"Turned to \d\d \w+: 0\.\d\d mm apart\.", page.inner_text(".solid-said"))
    assert differ(at_32, pixels(page)) > 0.1 and page.locator("[data-map=depth] [data-stop][data-picked]").count() == 1
    sound(page, "three dimensions")
    assert small(controls(page, "#solid button, #solid label"), 80) == []
    page.focus("canvas")
    for key in ("ArrowLeft", "ArrowUp", "+"):
        before = pixels(page)
        page.keyboard.press(key)
        assert differ(before, pixels(page)) > 0.01, key
    page.fill("[data-do=lift]", "0")
    page.check("[name=solid-kind][value=depth]", force=True)
    page.focus("canvas")
    page.keyboard.press("Home")
    page.evaluate("() => document.querySelector('canvas').getContext('webgl2').getExtension('WEBGL_lose_context')"
                  ".loseContext()")
    page.wait_for_selector("#solid[data-solid=failed]")
    assert "still picture" in page.inner_text(".solid-said") and page.is_visible(".solid-still")
    show_solid(page)
    assert page.get_attribute("#solid", "data-solid") == "open"
    assert seen(page, "csp") == [] and [one for one in complaints(page) if "Context Lost" not in one] == []
    page.context.close()


def test_without_the_pc(solid: Browser, served: Served) -> None:
    """What was shown once is shown again while the PC is gone: page, still picture, three dimensions."""
    page = opened(solid, served, LANDSCAPE)
    show_solid(page)
    code = served.jaw.code
    paths = [f"/bench/{code}/seating", *(f"/seating/{code}.{ending}" for ending in ("glb", "png")), VENDOR]
    page.evaluate("() => navigator.serviceWorker.ready.then(() => true)")
    page.reload()
    page.wait_for_selector("body[data-loaded=yes]")
    show_solid(page)
    page.evaluate(KEPT, paths)
    served.stop()
    try:
        page.reload()
        page.wait_for_function("() => document.querySelector('.solid-still').naturalWidth === 1600")
        show_solid(page)
        assert page.get_attribute("#solid", "data-solid") == "open" and differ(pixels(page), pixels(page)) < 0.001
        assert len({tuple(one) for one in pixels(page)[::8, ::8].reshape(-1, 3)}) > 30
    finally:
        served.start()
    page.context.close()
