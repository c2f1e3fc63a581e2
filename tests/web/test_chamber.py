"""A chamber's page: several jaws in one run, one tap for all of them, a door that is opened, and no PC."""

import json
import re
from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, Page, Route

from benchapp.cli.shared import DEFAULT_PROTOCOL, read_file
from benchapp.core.walk import MINUTE
from tests.live import LiveLab
from tests.web.conftest import LANDSCAPE, PORTRAIT, NewJaw, Signed
from tests.web.early import EarlyTablet, take_in
from tests.web.hands import scan
from tests.web.measure import controls, cut, small
from tests.web.test_access import sound

Chamber = Callable[..., Page]


@pytest.fixture
def chamber(tablet: Callable[..., BrowserContext], lab: LiveLab, signed: Signed) -> Chamber:
    """The page of the first chamber on a new tablet, with somebody signed in."""

    def make(size: tuple[int, int] = PORTRAIT, worker: bool = False) -> Page:
        context = tablet(size, worker=worker)
        person = json.dumps(json.dumps(signed("Tomé Arbel")))
        context.add_init_script(f"if (location.host) localStorage.person ??= {person}")
        page = context.new_page()
        page.goto(f"{lab.address}/chamber")
        page.click("[data-chamber] >> nth=0")
        page.wait_for_selector("body[data-loaded=yes]")
        return page

    return make


def put_in(page: Page, *codes: str) -> None:
    """Scan jaws into the load."""
    for code in codes:
        scan(page, code)
        page.wait_for_selector(f"#jaws [data-jaw='{code}']")



def facts_of(lab: LiveLab, code: str) -> list[dict[str, Any]]:
    """Return the facts of a jaw as the journal has them, without who opened it."""
    events = [body["event"] for body in lab.journal() if body["event"]["jaw"] == code]
    return [event for event in events if event["kind"] not in ("opened", "case")]


def stored(page: Page) -> None:
    """Wait until nothing waits on this tablet."""
    page.wait_for_selector("#status[data-waiting='0'][data-status=stored]")


def test_two_jaws_start_together_and_share_one_clock(chamber: Chamber, lab: LiveLab, new_jaw: NewJaw) -> None:
    """One tap starts the first side of both: the same step, chamber and load for each, and one clock of 30 min."""
    one, two = new_jaw("cure-first-side"), new_jaw("cure-first-side")
    page = chamber()
    put_in(page, one, two)
    page.wait_for_selector("#main:enabled")
    assert "2 jaws together" in page.inner_text("#main")
    insist(page, "cure-second-side")
    stored(page)
    last = [facts_of(lab, code)[-1] for code in (one, two)]
    assert [(e["step"], e["places"]) for e in last] == [("cure-first-side", ["-"])] * 2
    assert len({json.dumps(e["picks"], sort_keys=True) for e in last}) == 1
    assert last[0]["picks"]["chamber"] == page.get_attribute("body", "data-chamber")
    assert page.inner_text("#clock .clock-left").startswith(("30:00", "29:5"))


PROGRAM = "#values [data-value-name=program]"


def old_jaw(lab: LiveLab, signed: Signed, unit: str = "") -> str:
    """A jaw at the chamber whose edition asks for no program, or, where a unit is given, for one with that unit."""
    new = read_file(DEFAULT_PROTOCOL)
    if unit:
        text = new.replace('title = "Program of the chamber", unit = ""', f'title = "Percent", unit = "{unit}"')
    else:
        text = re.sub(r'values = \[\n  \{ name = "program".*\n\]\n', "", new)
    assert text != new
    code = take_in(lab, f"OLD-{unit or 'none'}", text)
    EarlyTablet(lab, signed("Ewa Łukasik")).bring_to(code, "cure-first-side")
    return code


def test_a_value_is_read_once_and_goes_to_every_jaw(chamber: Chamber, lab: LiveLab, new_jaw: NewJaw) -> None:
    """The program is shown filled in, tapped or typed; each jaw gets the same, and after an undo it still stands."""
    one, two = new_jaw("cure-first-side"), new_jaw("cure-first-side")
    page = chamber()
    put_in(page, one)
    page.wait_for_selector(PROGRAM)
    assert page.input_value(f"{PROGRAM} input") == "1"
    page.click(f"{PROGRAM} [data-act=more]")
    assert page.input_value(f"{PROGRAM} input") == "2"
    page.fill(f"{PROGRAM} input", " 14 ")
    put_in(page, two)
    assert page.locator(PROGRAM).count() == 1
    insist(page, "cure-second-side")
    assert page.is_hidden(PROGRAM)
    stored(page)
    wanted = [{"name": "program", "value": "14", "unit": ""}]
    assert [facts_of(lab, code)[-1]["values"] for code in (one, two)] == [wanted] * 2
    page.click("[data-act=undo]")
    page.wait_for_selector("body[data-at='cure-first-side']")
    assert page.input_value(f"{PROGRAM} input") == "14"


def test_what_is_no_number_is_taken_for_no_jaw(chamber: Chamber, lab: LiveLab, new_jaw: NewJaw) -> None:
    """It stays in the field with words beside it, no jaw is confirmed, and a scan into the field leaves it alone."""
    code = new_jaw("cure-first-side")
    page = chamber()
    put_in(page, code)
    before = len(facts_of(lab, code))
    page.fill(f"{PROGRAM} input", "first")
    for _ in range(40):  # a tap on a fresh screen is dropped on purpose
        page.click("#main")
        if page.inner_text("#said"):
            break
    assert page.inner_text("#said").endswith("Mend the number first: Program of the chamber")
    assert "Write it like" in page.inner_text(f"{PROGRAM} [data-part=wrong]")
    assert page.input_value(f"{PROGRAM} input") == "first"
    put_in(page, new_jaw("cure-first-side"))
    assert page.input_value(f"{PROGRAM} input") == "first" and len(facts_of(lab, code)) == before
    page.focus(f"{PROGRAM} input")
    page.fill(f"{PROGRAM} input", "3")
    put_in(page, new_jaw("cure-first-side"))
    assert page.input_value(f"{PROGRAM} input") == "3"
    insist(page, "cure-second-side")
    stored(page)
    assert [v["value"] for v in facts_of(lab, code)[-1]["values"]] == ["3"]


def test_a_jaw_gets_the_values_that_its_edition_asks_for(
    chamber: Chamber, lab: LiveLab, new_jaw: NewJaw, signed: Signed
) -> None:
    """Jaws of three editions in one load: each value is asked once, and no jaw is told what it was not asked."""
    new, none, other = new_jaw("cure-first-side"), old_jaw(lab, signed), old_jaw(lab, signed, "%")
    page = chamber()
    put_in(page, none)
    page.wait_for_selector("body[data-at='cure-first-side']")
    assert page.locator(PROGRAM).count() == 0
    put_in(page, other, new)
    titles = page.locator("#values [data-part=title]").all_inner_texts()
    assert titles == ["Percent", "Program of the chamber"]
    page.fill(f"{PROGRAM} >> nth=0 >> input", "50")
    insist(page, "cure-second-side")
    stored(page)
    told = {code: [(v["value"], v["unit"]) for v in facts_of(lab, code)[-1]["values"]] for code in (new, none, other)}
    assert told == {new: [("1", "")], none: [], other: [("50", "%")]}


def insist(page: Page, at: str) -> None:
    """Tap the main action until the load stands at a step: a tap on a fresh screen is dropped on purpose."""
    for _ in range(40):
        if page.get_attribute("body", "data-at") == at:
            return
        page.click("#main")
        try:
            page.wait_for_selector(f"body[data-at='{at}']", timeout=250)
        except Exception:  # still fresh
            continue
    raise AssertionError(f"{page.get_attribute('body', 'data-at')} instead of {at}: {page.inner_text('#said')}")


def test_a_turn_before_its_time_is_taken_for_no_jaw(chamber: Chamber, lab: LiveLab, new_jaw: NewJaw) -> None:
    """Where one jaw of the load still has to wait, none is turned: a load has one clock, the last jaw's."""
    early, ripe = new_jaw("cure-second-side", ago=10 * MINUTE), new_jaw("cure-second-side", ago=40 * MINUTE)
    page = chamber()
    put_in(page, early, ripe)
    before = [len(facts_of(lab, code)) for code in (early, ripe)]
    page.wait_for_selector("#main:enabled")
    for _ in range(40):
        page.click("#main")
        if "Not taken for any jaw" in page.inner_text("#said"):
            break
        page.wait_for_timeout(50)
    assert "Too early" in page.inner_text("#said")
    assert [len(facts_of(lab, code)) for code in (early, ripe)] == before
    page.click(f"#jaws [data-jaw='{early}'] [data-act=out]") if page.is_visible(
        f"#jaws [data-jaw='{early}'] [data-act=out]") else None
    assert page.inner_text("#clock .clock-left").startswith(("20:", "19:"))


def test_a_ripe_load_turns_comes_out_and_makes_room(chamber: Chamber, lab: LiveLab, new_jaw: NewJaw) -> None:
    """A load whose time is up rings, one tap turns it and ends the ringing; undo takes it back for every jaw."""
    one, two = new_jaw("cure-second-side", ago=31 * MINUTE), new_jaw("cure-second-side", ago=32 * MINUTE)
    page = chamber(LANDSCAPE)
    put_in(page, one, two)
    page.wait_for_selector("#alarm:not([hidden])")
    assert re.search(r"Time is up for 2: .*, since (\S+ )?\d\d:\d\d", page.inner_text("#alarm span"))
    insist(page, "cool-down")
    assert page.is_hidden("#alarm")
    page.click("[data-act=undo]")
    page.wait_for_selector("body[data-at='cure-second-side']")
    stored(page)
    assert [facts_of(lab, code)[-1]["kind"] for code in (one, two)] == ["undo", "undo"]


def test_ghost_taps_count_once(chamber: Chamber, lab: LiveLab, new_jaw: NewJaw) -> None:
    """Four quick taps on the main action turn a load once, and two on plus count as one, as at the bench."""
    code = new_jaw("cure-first-side")
    page = chamber()
    put_in(page, code)
    more = f"{PROGRAM} [data-act=more]"
    before = page.input_value(f"{PROGRAM} input")
    page.click(more, click_count=2)
    assert float(page.input_value(f"{PROGRAM} input")) - float(before) == 1
    page.wait_for_selector("body[data-ready=yes]")
    page.click("#main", click_count=4)
    page.wait_for_selector("body[data-at='cure-second-side'][data-ready=yes]")
    stored(page)
    assert [event["kind"] for event in facts_of(lab, code)][-2:] == ["confirm", "confirm"]
    assert [event["step"] for event in facts_of(lab, code)].count("cure-first-side") == 1


def test_a_door_opened_is_a_pause_of_every_jaw_in_it(chamber: Chamber, lab: LiveLab, new_jaw: NewJaw) -> None:
    """While the door is open the clock stands and nothing is turned; both jaws get both facts."""
    one, two = new_jaw("cure-second-side", ago=10 * MINUTE), new_jaw("cure-second-side", ago=10 * MINUTE)
    page = chamber()
    put_in(page, one, two)
    page.click("[data-act=dark]")
    page.wait_for_selector("body[data-dark=yes]")
    assert page.is_disabled("#main") and page.inner_text("#clock .clock-left") == "stopped"
    page.click("[data-act=bright]")
    page.wait_for_selector("body[data-dark=no]")
    stored(page)
    for code in (one, two):
        assert [event["kind"] for event in facts_of(lab, code)][-2:] == ["dark", "bright"]


def test_a_jaw_that_is_not_ready_stays_out(chamber: Chamber, new_jaw: NewJaw) -> None:
    """A jaw at another step, and a code that is none, are turned away in words."""
    page = chamber()
    scan(page, new_jaw("dry-fit"))
    page.wait_for_function("() => document.querySelector('#said').textContent.includes('not at the chamber')")
    scan(page, "nonsense")
    page.wait_for_function("() => document.querySelector('#said').textContent.includes('not a code of ours')")
    assert page.query_selector_all("#jaws li") == []


def test_a_load_goes_on_without_the_pc(chamber: Chamber, lab: LiveLab, new_jaw: NewJaw) -> None:
    """Reloaded and tapped while the PC cannot be reached, the load is still there, and the tap arrives later."""
    code = new_jaw("cure-second-side", ago=40 * MINUTE)
    page = chamber(worker=True)
    put_in(page, code)
    page.wait_for_selector("#main:enabled")
    page.context.set_offline(True)
    page.reload()
    page.wait_for_selector("body[data-loaded=yes]")
    insist(page, "cool-down")
    assert page.get_attribute("#status", "data-waiting") == "1"
    page.context.set_offline(False)
    stored(page)
    assert facts_of(lab, code)[-1]["step"] == "cure-second-side"


def test_a_slow_answer_changes_no_load(chamber: Chamber, new_jaw: NewJaw) -> None:
    """While the PC is asked about a jaw that is taken out meanwhile, one at another step is scanned: it is in the load
    from then on, and the other one is not."""
    page = chamber()
    put_in(page, out := new_jaw("cure-first-side"))
    asked: list[Route] = []
    page.route(f"**/bench/{out}/base*", lambda route: asked.append(route))
    with page.expect_request(f"**/bench/{out}/base*"):
        page.evaluate("dispatchEvent(new Event('online'))")
    page.click(f"#jaws [data-jaw='{out}'] [data-act=out]")
    page.wait_for_selector(f"#jaws [data-jaw='{out}']", state="detached")
    put_in(page, code := new_jaw("cure-second-side", ago=10 * MINUTE))
    page.evaluate("""() => {
      const list = document.getElementById("jaws");
      window.loads = [];
      new MutationObserver(() => window.loads.push([...list.children].map((row) => row.dataset.jaw)))
        .observe(list, { childList: true });
    }""")
    for route in asked:
        route.continue_()
    with page.expect_response(f"**/bench/{code}/base*"):
        page.evaluate("dispatchEvent(new Event('online'))")
    assert page.evaluate("() => window.loads") == []
    assert page.inner_text("#said") == ""


@pytest.mark.parametrize("size", [PORTRAIT, LANDSCAPE, (400, 640)])
def test_everybody_can_work_it(size: tuple[int, int], chamber: Chamber, new_jaw: NewJaw) -> None:
    """Nothing is cut off, controls are large, axe finds nothing; also with jaws, a clock and an open door."""
    page = chamber(size)
    sound(page, "empty")
    put_in(page, first := new_jaw("cure-first-side"))
    page.fill(f"{PROGRAM} input", "what is this")
    page.locator(f"{PROGRAM} input").blur()
    sound(page, "a number to mend")
    assert cut(page) == []
    assert small(controls(page, "main :is(button, input)"), 80 if size[0] > 400 else 48) == []
    page.click(f"#jaws [data-jaw='{first}'] [data-act=out]")
    page.wait_for_selector(f"#jaws [data-jaw='{first}']", state="detached")
    put_in(page, new_jaw("cure-second-side", ago=10 * MINUTE), new_jaw("cure-second-side", ago=10 * MINUTE))
    page.click("[data-act=dark]")
    page.wait_for_selector("body[data-dark=yes]")
    sound(page, "door open")
    page.evaluate("() => { document.documentElement.dataset.hand = 'left'; }")
    assert cut(page) == []
    assert small(controls(page, "main button, nav button, .mainbar button"), 80 if size[0] > 400 else 48) == []
