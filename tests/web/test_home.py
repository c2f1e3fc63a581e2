"""The first page: jaws in work, usable at 200 percent, training said everywhere, names shown as text and never run."""

import json
from collections.abc import Callable
from pathlib import Path
from urllib.error import HTTPError

import pytest
from playwright.sync_api import BrowserContext, Page

from benchapp.cli.shared import ask_server
from tests.live import Hand, LiveLab
from tests.web.conftest import NewJaw, Signed, Sit
from tests.web.early import EarlyTablet, Visitor
from tests.web.hands import show_size
from tests.web.measure import controls, cut, small
from tests.web.watch import complaints, seen

NASTY = '<script>window.ran = "yes"</script><img src=x onerror="window.ran=1">'


@pytest.fixture
def home(tablet: Callable[..., BrowserContext], lab: LiveLab, new_jaw: NewJaw) -> Page:
    """The first page with a jaw in work."""
    new_jaw("dry-fit")
    page = tablet(worker=True).new_page()
    page.goto(f"{lab.address}/")
    page.wait_for_selector("body[data-loaded=yes]")
    return page


def test_lists_jaws_with_where_they_stand(home: Page, lab: LiveLab, new_jaw: NewJaw, signed: Signed) -> None:
    """Each jaw shows its code in groups, patient, due date and step; a tap opens it; a held one says so."""
    code = new_jaw("lay-out")
    home.reload()
    row = home.locator(f"[data-jaw='{code}']")
    assert row.locator(".code").inner_text() == f"{code[:4]} {code[4:7]} {code[7:]}"
    assert "Demo patient 017 · due 2031-01-15" in row.inner_text()
    assert row.locator(".stands").inner_text() == "Lay everything out"
    tablet = EarlyTablet(lab, signed("Ewa Łukasik"))
    data = tablet.page_data(code)
    now = json.loads(tablet.get(f"/bench/{code}/base"))["now"]
    hold = {"kind": "hold", "step": "", "places": [], "outcome": "", "round": 0}
    assert tablet.post("/outbox/1", [tablet.fact(data, hold, now) | {"id": f"held-{code}"}])["acks"][0]["marks"] == []
    home.reload()
    assert row.locator(".stands").inner_text().startswith("On hold · ")
    row.click()
    home.wait_for_url(f"**/bench/{code}")


@pytest.mark.parametrize("size", [(800, 1280), (1280, 800), (400, 640), (640, 400)])
def test_usable_at_tablet_size_and_at_200_percent(size: tuple[int, int], home: Page) -> None:
    """At both orientations and at half the width (200 %) nothing is cut off, nor moves; controls are 48 px or more."""
    show_size(home, size)
    home.reload()
    home.wait_for_selector("body[data-loaded=yes]")
    assert home.inner_text("#ready") != "" and [one for one in seen(home, "shifts") if one[0]] == []
    assert cut(home) == []
    assert small(controls(home), 48) == []
    home.click("header [data-act=signin]")
    assert small(controls(home), 48) == []
    assert [c["act"] for c in controls(home) if c["x"] < 0 or c["x"] + c["w"] > size[0]] == []
    home.click("#signin [data-act=close]")
    home.fill("#code", "xyz")
    home.click("#find [type=submit]")
    assert "ten characters" in home.inner_text("#said")


def test_training_is_said_on_every_page_with_its_divisor(
    tablet: Callable[..., BrowserContext], tmp_path: Path
) -> None:
    """First page, bench and record of the demo at speed 60 say training, and that durations are divided by 60."""
    demo = LiveLab(tmp_path / "demo", speed=60).fill().start()
    try:
        page = Hand(tablet().new_page(), demo).open().page
        assert page.inner_text(".training") == "Training: durations divided by 60"
        for path, selector in (("/", f"[data-jaw='{demo.code}']"), (f"/record/{demo.code}", "[data-training]")):
            page.goto(f"{demo.address}{path}")
            words = page.inner_text(selector).lower()
            assert "training" in words and "divided by 60" in words
        assert "divided by 60" in Visitor(demo).get(f"/record/{demo.code}.json")
    finally:
        demo.kill()


def test_a_real_case_does_not_say_training(lab: LiveLab, new_jaw: NewJaw) -> None:
    """Where the sheet says so, neither bench nor record carry the word."""
    code = new_jaw(training="false")
    visitor = Visitor(lab)
    assert 'class="training"' not in visitor.get(f"/bench/{code}")
    assert "data-training" not in visitor.get(f"/record/{code}")


def test_names_are_shown_as_text(sit: Sit, lab: LiveLab, new_jaw: NewJaw) -> None:
    """A patient, a person, a device and a lot named like a script are shown letter by letter; nothing of them runs."""
    sheet = f"""format = 1
name = {json.dumps("Lab " + NASTY)}
address = "1 Lagoon Street"
zone = "Europe/Madrid"
people = [{{ name = {json.dumps(NASTY)}, roles = ["technician"], pin = "9753" }}]
devices = [{{ name = {json.dumps("Lamp " + NASTY)}, kind = "lamp" }}]
materials = [{{ name = {json.dumps("Resin " + NASTY)}, kind = "bonding-resin", lot = "X-1", expiry = 2031-06-30 }}]
"""
    assert ask_server(lab.data, "lab", {"name": "nasty.toml", "text": sheet})
    code = new_jaw("lay-out", patient=json.dumps(NASTY))
    page = sit(code).page
    assert NASTY in page.inner_text(".ident")
    assert any(NASTY in text for text in page.locator("[data-step=lay-out] .tile").all_inner_texts())
    page.click("header [data-act=signin]")
    page.click(f"#signin [data-act=person]:has-text({json.dumps(NASTY)})")
    assert page.inner_text("#signin [data-part=who]") == NASTY
    for digit in "9753":
        page.click(f"#signin [data-act=digit][data-value='{digit}']")
    page.click("#signin [data-act=enter]")
    page.wait_for_selector("#signin", state="hidden")
    assert page.inner_text("#person") == NASTY
    for path in ("/", f"/record/{code}"):
        page.goto(f"{lab.address}{path}")
        page.wait_for_selector("body[data-loaded=yes]")
        assert NASTY in page.inner_text("body")
        assert page.evaluate("() => window.ran") is None
        assert page.locator("img[src=x]").count() == 0
    assert complaints(page) == []


def test_every_answer_carries_the_strict_policy(lab: LiveLab, new_jaw: NewJaw) -> None:
    """Pages, data, files and errors: scripts and styles from here only, nothing inline, no frame, no sniffing."""
    code = new_jaw()
    visitor = Visitor(lab)
    for path in ("/", f"/bench/{code}", f"/bench/{code}/base", "/people.json", "/sw.js", "/static/js/bench.js",
                 f"/record/{code}", f"/record/{code}.pdf", f"/labels/{code}.png", "/nothing-here"):
        try:
            headers = visitor.opener.open(f"{lab.address}{path}", timeout=20).headers
        except HTTPError as error:
            headers = error.headers
        rules = dict(rule.strip().split(" ", 1) for rule in headers["Content-Security-Policy"].split(";"))
        assert rules["default-src"] == "'none'", path
        assert rules["script-src"] == "'self' 'wasm-unsafe-eval'", path  # the second for what reads the camera
        assert rules["style-src"] == rules["connect-src"] == "'self'", path
        assert rules["frame-ancestors"] == rules["base-uri"] == "'none'", path
        assert headers["X-Content-Type-Options"] == "nosniff", path
        assert headers["Referrer-Policy"] == "same-origin", path


def test_a_page_that_is_not_there_says_so_in_words(home: Page, lab: LiveLab) -> None:
    """A code with a wrong check character and an unknown path answer 404 in plain words, with a way back."""
    for path in ("/bench/1234567890", "/nothing-here"):
        answer = home.goto(f"{lab.address}{path}")
        assert answer and answer.status == 404
        assert len(home.inner_text("main p >> nth=0")) > 20
        assert "Traceback" not in home.content()
    home.click("main a")
    home.wait_for_url(f"{lab.address}/")
    assert not [c for c in complaints(home) if "404" not in c]
