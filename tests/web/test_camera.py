"""The tablet's camera is one more scanner: when it begins, what it reads, where it rests, what it says if it cannot.

The pictures come from labels as they are printed (`paper/label.py`); what reads them is not ours (see tests/camera.py).
"""

import json
import re
from collections.abc import Callable, Iterator

import pytest
from playwright.sync_api import Browser, BrowserContext, Page

from benchapp.core.walk import MINUTE
from tests.browser import browser_args, whole_browser
from tests.camera import Camera
from tests.live import LiveLab
from tests.web.conftest import LANDSCAPE, PORTRAIT, NewJaw, Signed
from tests.web.early import Visitor
from tests.web.hands import scan, tap_main
from tests.web.measure import controls, small
from tests.web.test_access import sound
from tests.web.test_signed_out import Boss
from tests.web.watch import NO_WORKER, WATCH, complaints, listen, seen

Tablet = Callable[..., Page]
ON, OFF = "[data-camera=on]", "[data-camera=off]"


@pytest.fixture(scope="module")
def camera(browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Camera]:
    """A browser with a camera."""
    made = Camera(browser, tmp_path_factory.mktemp("camera") / "seen.y4m")
    yield made
    made.browser.close()


@pytest.fixture
def eye(camera: Camera, lab: LiveLab, signed: Signed) -> Iterator[Tablet]:
    """Take a tablet with a camera to a page; `allowed` by its owner or not, with somebody signed in or not."""
    made: list[BrowserContext] = []
    camera.show()

    def make(path: str, allowed: bool = True, name: str = "Tomé Arbel", size: tuple[int, int] = PORTRAIT,
             before: str = "", worker: bool = False) -> Page:
        made.append(camera.browser.new_context(viewport={"width": size[0], "height": size[1]}))
        made[-1].route("**/due.json", lambda route: route.fulfill(json={"due": []}))
        made[-1].grant_permissions(["camera"] if allowed else ["geolocation"], origin=lab.address)
        made[-1].add_init_script(WATCH + before + ("" if worker else NO_WORKER))
        if name:
            person = json.dumps(json.dumps(signed(name)))
            made[-1].add_init_script(f"if (location.host) localStorage.person ??= {person}")
        made[-1].on("page", listen)
        page = made[-1].new_page()
        page.goto(f"{lab.address}{path}")
        page.wait_for_selector("body[data-loaded=yes]")
        return page

    yield make
    for context in made:
        context.close()


@pytest.fixture(scope="module")
def badge(lab: LiveLab) -> str:
    """A new badge of a technician."""
    return Boss(lab).new_badge("Ewa Łukasik")


COUNT = """
addEventListener("DOMContentLoaded", () => import("/static/js/codes.js").then((codes) => {
  window.read = [];
  codes.onScan((text) => { window.read.push(text); });
}));
"""


# Tiles that were filled in beforehand are let go, so that it is the label that picks one.
UNPICK = """
addEventListener("DOMContentLoaded", () => document.querySelectorAll("[data-act=pick]").forEach((tile) => {
  tile.setAttribute("aria-pressed", "false");
}));
"""


def again(page: Page, camera: Camera, *codes: str) -> None:
    """Close the camera and open it by a tap, now that labels are held before it."""
    camera.show(*codes)
    page.click("[data-act=camera-close]:visible, [data-act=camera][aria-pressed=true]")
    where = "#signin" if page.query_selector("#signin[open]") else "body > :not(dialog)"
    page.click(f"{where} [data-act=camera]:visible")


def said(page: Page) -> str:
    """Return what the camera's window says."""
    return page.inner_text(".finder-view p")


def test_on_the_first_page_it_begins_by_itself_and_a_label_opens_its_jaw(
    eye: Tablet, camera: Camera, new_jaw: NewJaw
) -> None:
    """Where it is allowed already nobody taps: the page looks, nothing on it moved, and the label leads to the jaw."""
    code = new_jaw()
    page = eye("/", name="")
    page.wait_for_selector(f"main {ON}")
    assert page.inner_text("main .finder-view p") == "Hold a label here"
    assert small(controls(page, ".finder button"), 48) == []
    sound(page, "camera on")
    assert seen(page, "shifts") == [] and complaints(page) == []
    again(page, camera, code)
    page.wait_for_url(re.compile(rf"/bench/{code}$"))


def test_not_allowed_it_is_said_and_all_else_works(eye: Tablet, new_jaw: NewJaw) -> None:
    """Nothing begins by itself; one tap asks, the refusal is said with what else there is, and a scanner goes on."""
    code = new_jaw()
    page = eye("/", allowed=False)
    assert page.get_attribute("main [data-finder]", "data-camera") == "off"
    page.click("main [data-act=camera]")
    page.wait_for_selector("main [data-camera=no]")
    assert said(page).startswith("The camera was not allowed.") and "typing" in said(page)
    assert page.is_visible("main [data-act=camera]")
    sound(page, "camera refused")
    scan(page, code)
    page.wait_for_url(re.compile(rf"/bench/{code}$"))


FAILS = "navigator.mediaDevices.getUserMedia = async () => {{ throw new DOMException('', '{}'); }};"


@pytest.mark.parametrize(("before", "words"), [
    ("Object.defineProperty(window, 'isSecureContext', { value: false });", "https address"),
    ("delete window.OffscreenCanvas;", "too old"),
    (FAILS.format("NotFoundError"), "no camera"),
    (FAILS.format("NotReadableError"), "something else may use it"),
])
def test_why_it_cannot_is_said_in_words(before: str, words: str, eye: Tablet) -> None:
    """A plain http address, an old browser, no camera, one in use: each has its sentence, and what else there is."""
    page = eye("/", before=before)
    page.wait_for_selector("main [data-camera=no]")
    assert words in said(page) and said(page).endswith("A scanner, typing and tiles work as always.")


def test_a_badge_signs_in(eye: Tablet, camera: Camera, lab: LiveLab, badge: str) -> None:
    """In the sign-in dialog a badge is held before it; who it belongs to is signed in, and its code stands nowhere."""
    page = eye("/", name="")
    page.click("header [data-act=signin]")
    page.wait_for_selector(f"#signin {ON}")
    assert page.get_attribute("main [data-finder]", "data-camera") == "off"
    sound(page, "camera in the dialog")
    again(page, camera, badge)
    page.wait_for_selector("#signin", state="hidden")
    assert page.inner_text("#person") == "Ewa Łukasik"
    assert badge not in page.content()
    page.wait_for_selector(f"main {ON}")


def test_at_the_bench_it_looks_where_labels_are_asked_for(eye: Tablet, camera: Camera, new_jaw: NewJaw) -> None:
    """Where a part is picked it begins by itself, its tag picks the tile once, and it is gone at the next step."""
    page = eye(f"/bench/{new_jaw('part-check')}")
    page.wait_for_selector(f"body > {ON}")
    assert seen(page, "shifts") == []
    tile = page.locator("[data-step=part-check] [data-act=pick]").first
    page.add_init_script(COUNT + UNPICK)
    camera.show(tile.get_attribute("data-value") or "")
    page.reload()
    page.wait_for_function("(tile) => tile.getAttribute('aria-pressed') === 'true'", arg=tile.element_handle())
    # Longer than the two seconds for which it would not be read again anyway.
    page.wait_for_function("() => document.querySelector('.finder video').currentTime > 3")
    assert page.evaluate("() => window.read.length") == 1
    for size in (PORTRAIT, LANDSCAPE):
        page.set_viewport_size({"width": size[0], "height": size[1]})
        sound(page, f"camera at the bench {size}")
        assert small(controls(page, ".finder button"), 48) == []
        hidden = [name for name in ("#main", ".rail [data-act=undo]", "[data-step=part-check] .tile >> nth=0")
                  if not uncovered(page, name)]
        assert hidden == []
    page.click("[data-step=part-check] [data-act=pick] >> nth=1")
    page.wait_for_selector("body[data-ready=yes]")
    tap_main(page)
    page.wait_for_selector("body:not([data-at=part-check])")
    page.wait_for_selector(f"body > {OFF}", state="attached")
    assert complaints(page) == []


def test_by_itself_it_covers_nothing(eye: Tablet, new_jaw: NewJaw) -> None:
    """Where its corner is full of words and tiles it waits for a tap; then what lies under it can be brought up."""
    page = eye(f"/bench/{new_jaw('lay-out')}", size=LANDSCAPE)
    assert page.get_attribute("body > [data-finder]", "data-camera") == "off"
    page.click(".rail [data-act=camera]")
    page.wait_for_selector(f"body > {ON}")
    for name in (".cautions button >> nth=0", ".cautions button >> nth=1", ".tile >> nth=0", ".tile >> nth=-1"):
        page.locator(f"[data-step=lay-out] {name}").scroll_into_view_if_needed()
        page.click(f"[data-step=lay-out] {name}", trial=True)


def uncovered(page: Page, selector: str) -> bool:
    """Tell whether a tap on the middle of something would reach it."""
    found: bool = page.locator(selector).evaluate(
        """(e) => { e.scrollIntoView({ block: "nearest" }); const b = e.getBoundingClientRect();
           return e.contains(document.elementFromPoint(b.x + b.width / 2, b.y + b.height / 2)); }""")
    return found


def test_the_wet_window_has_it_only_by_a_tap(eye: Tablet, camera: Camera, new_jaw: NewJaw) -> None:
    """It closes as the wet window begins and never opens there by itself; a tap opens it, and a tap closes it."""
    page = eye(f"/bench/{new_jaw('second-fit', ago=20 * MINUTE)}")
    page.click(".rail [data-act=camera]")
    page.wait_for_selector(f"body > {ON}")
    assert page.get_attribute(".rail [data-act=camera]", "aria-pressed") == "true"
    page.wait_for_selector("body[data-ready=yes]")
    tap_main(page)
    page.wait_for_selector("body[data-phase=wet]")
    page.wait_for_selector(f"body > {OFF}", state="attached")
    page.reload()
    page.wait_for_selector("body[data-loaded=yes]")
    assert page.get_attribute("body > [data-finder]", "data-camera") == "off"
    page.click(".rail [data-act=camera]")
    page.wait_for_selector(f"body > {ON}")
    page.click(".rail [data-act=camera]")
    page.wait_for_selector(f"body > {OFF}", state="attached")
    assert page.evaluate("() => JSON.parse(localStorage.camera).on") is False


def test_it_rests_after_two_minutes_and_a_tap_wakes_it(
    eye: Tablet, camera: Camera, new_jaw: NewJaw
) -> None:
    """Without a label for two minutes the camera itself is let go, the page says so, and one tap begins anew."""
    page = eye("/", before="", name="")
    page.clock.install()
    page.reload()
    page.wait_for_selector(f"main {ON}")
    page.clock.fast_forward(2 * MINUTE - 5000)
    assert page.get_attribute("main [data-finder]", "data-camera") == "on"
    page.clock.fast_forward(6000)
    page.wait_for_selector("main [data-camera=rest]")
    assert "two minutes" in said(page)
    assert page.evaluate("() => document.querySelector('.finder video').srcObject") is None
    page.click("main [data-act=camera]")
    page.wait_for_selector(f"main {ON}")


def test_a_label_puts_its_jaw_into_the_load(eye: Tablet, camera: Camera, lab: LiveLab, new_jaw: NewJaw) -> None:
    """On a chamber's page the label nearest to the middle is read, and the window covers nothing of the load."""
    code, beside = new_jaw("cure-first-side"), new_jaw("cure-first-side")
    found = re.search(r'data-chamber="(\w+)"', Visitor(lab).get("/chamber"))
    assert found
    page = eye(f"/chamber/{found[1]}")
    page.wait_for_selector(f"body > {ON}")
    again(page, camera, code, beside)
    page.wait_for_selector(f"#jaws [data-jaw='{code}']")
    page.wait_for_function("() => document.querySelector('.finder video').currentTime > 1.5")
    assert page.locator("#jaws [data-jaw]").count() == 1
    assert uncovered(page, "#main") and uncovered(page, "#jaws [data-act=out]")
    sound(page, "camera at the chamber")


# How many of the two files that read pictures this tablet keeps, once there are as many as are asked for.
KEPT = """
async (least) => {
  for (;;) {
    const caching = await Promise.all((await caches.keys()).map((name) => caches.open(name)));
    const every = (await Promise.all(caching.map((cache) => cache.keys()))).flat();
    const found = every.filter(({ url }) => url.includes("/vendor/zxing-reader")).length;
    if (found >= (least || 0)) return found;
    await new Promise(requestAnimationFrame);
  }
}
"""


def test_used_once_it_reads_without_the_pc(eye: Tablet, camera: Camera, lab: LiveLab, new_jaw: NewJaw) -> None:
    """What reads pictures is not fetched before the camera is used; then it is kept, and works when the PC is gone."""
    code = new_jaw("lay-out")
    page = eye(f"/bench/{code}", before="if (location.host) localStorage.camera ??= '{\"on\":false}';", worker=True)
    assert page.evaluate(KEPT) == 0
    asked = "() => performance.getEntriesByType('resource').some((one) => /finder|camera-worker|zxing/.test(one.name))"
    assert page.evaluate(asked) is False
    page.click(".rail [data-act=camera]")
    page.wait_for_selector(f"body > {ON}")
    assert page.evaluate(KEPT, 2) == 2
    assert complaints(page) == []
    page.context.set_offline(True)
    page.goto(f"{lab.address}/")
    page.wait_for_selector(f"main {ON}")
    again(page, camera, code)
    page.wait_for_url(re.compile(rf"/bench/{code}$"))
    page.wait_for_selector("body.bench[data-loaded=yes]")


def test_another_camera_is_remembered(browser: Browser, lab: LiveLab) -> None:
    """Where there are two, a tap takes the other one; this tablet takes that one again, also on the next page."""
    two = browser.browser_type.launch(executable_path=whole_browser(), args=[
        *browser_args(), "--use-fake-device-for-media-stream=device-count=2", "--use-fake-ui-for-media-stream"])
    using = "() => document.querySelector('.finder video').srcObject?.getVideoTracks()[0].getSettings().deviceId"
    page = two.new_page()
    page.goto(f"{lab.address}/")
    page.wait_for_selector(f"main {ON}")
    first = page.evaluate(using)
    page.click("[data-act=camera-other]")
    page.wait_for_function(f"(first) => ![first, undefined].includes(({using})())", arg=first)
    other = page.evaluate(using)
    page.reload()
    page.wait_for_selector(f"main {ON}")
    assert page.evaluate(using) == other != first
    two.close()
