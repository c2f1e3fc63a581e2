"""Whoever may work here no longer is signed out at every tablet by the PC's next word, and never over wet resin."""

import itertools
import json
import re
import urllib.parse
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, Page, Response

from benchapp.actions import staff
from benchapp.actions.lab import people
from tests.live import PINS, Hand, LiveLab
from tests.web.clients import deliver, fact
from tests.web.conftest import NewJaw
from tests.web.desks import TECHNICIAN, desk
from tests.web.early import Visitor
from tests.web.hands import entries, go_on, stored
from tests.web.watch import complaints

GONE = ["gone", "deviation"]
BOSS = "Tomé Arbel"
PIN = "7391"
NAMES = (f"Leaver {number}" for number in itertools.count(1))
HEARTBEAT = 8000  # ms: in that time each page asks the PC for something
READ = "() => fetch('/people.json').then((answer) => answer.text())"  # by then what was asked before was read
OUT = "() => document.querySelector('#person').textContent === 'Sign in'"


class Boss(Visitor):
    """The supervisor at the desk, who takes people on and lets them go."""

    def __init__(self, lab: LiveLab) -> None:
        super().__init__(lab)
        self.form("/desk/signin", person=self.id_of(BOSS), pin=PINS[BOSS])

    def form(self, path: str, **fields: Any) -> str:
        """Send a form of the desk; return the page that follows."""
        data = urllib.parse.urlencode(fields, doseq=True).encode()
        with self.opener.open(f"{self.address}{path}", data, timeout=20) as answer:
            return str(answer.read().decode())

    def id_of(self, name: str) -> str:
        """Return somebody's id."""
        return {str(p["name"]): str(p["id"]) for p in json.loads(self.get("/people.json"))["people"]}[name]

    def new_badge(self, name: str) -> str:
        """Make somebody a new badge; return its code."""
        found = re.search(r'data-once="badge">([^<]+)<', self.form(f"/desk/people/{self.id_of(name)}/badge"))
        assert found
        return found[1].replace(" ", "")

    def take_on(self) -> dict[str, Any]:
        """Take somebody on; return what a tablet keeps of them after a sign-in by PIN."""
        name = next(NAMES)
        self.form("/desk/people/new", name=name, roles="technician", pin=PIN)
        found = self.post("/signin", {"person": self.id_of(name), "pin": PIN})
        return {"id": found["person"], "name": name, "roles": found["roles"], "signin": found["signin"], "how": "pin"}

    def let_go(self, person: dict[str, Any]) -> None:
        """Say that somebody left."""
        self.form(f"/desk/people/{person['id']}/left")


@pytest.fixture
def boss(lab: LiveLab) -> Boss:
    """A supervisor at the desk."""
    return Boss(lab)


Opened = Callable[..., Page]


@pytest.fixture
def opened(tablet: Callable[..., BrowserContext], lab: LiveLab) -> Opened:
    """Open a page on a new tablet where somebody is signed in."""

    def make(person: dict[str, Any], path: str, context: BrowserContext | None = None) -> Page:
        if context is None:
            context = tablet()
            kept = json.dumps(json.dumps(person))
            context.add_init_script(f"if (location.host) localStorage.person ??= {kept}")
        page = context.new_page()
        page.clock.install()
        page.goto(f"{lab.address}{path}")
        page.wait_for_selector("body[data-loaded=yes]")
        assert page.inner_text("#person") == person["name"]
        return page

    return make


def told(response: Response) -> bool:
    """Whether an answer says that a sign-in is over."""
    return "signed-out" in response.headers


def of_the_pc(response: Response) -> bool:
    """Whether the PC itself answered, and knew who asked: other tablets' clocks are kept from these pages."""
    return "seat-and-cure" in response.headers and "sign-in" in response.request.headers


def reason(page: Page) -> str:
    """Let a heartbeat go by, wait until nobody is signed in and the dialog says why; return that."""
    page.clock.run_for(HEARTBEAT)
    page.wait_for_function(OUT)
    page.wait_for_selector("#signin[open] [data-part=of-badge]:not(:empty)")
    return page.inner_text("[data-part=of-badge]")


def beat(page: Page) -> Response:
    """Let the page's own time go by until it asked the PC once more, and some seconds after; return the answer."""
    page.evaluate(READ)
    with page.expect_response(of_the_pc) as answer:
        page.clock.run_for(HEARTBEAT)
    page.evaluate(READ)
    page.clock.run_for(3000)
    return answer.value


def test_any_answer_says_that_a_sign_in_is_over(tmp_path: Path) -> None:
    """Each word that a tablet asks for says why, in one header, to whoever names a sign-in, and else nothing."""
    with desk(tmp_path / "data") as at:
        jaw, client = at.jaw, at.client
        mine = {"Sign-In": f"{jaw.person} {jaw.signins[jaw.person]}"}
        addresses = ("/people.json", "/due.json", f"/bench/{jaw.code}/base", "/")
        assert all("Signed-Out" not in client.get(a, headers=mine).headers for a in addresses)
        staff.let_go(jaw.bench, at.seat(), jaw.person)
        assert [client.get(a, headers=mine).headers["Signed-Out"] for a in addresses] == ["left"] * 4
        answer = client.post("/outbox/1", data=json.dumps([fact(jaw)]), headers=mine)
        assert answer.headers["Signed-Out"] == "left" and answer.get_json()["acks"][0]["marks"] == [GONE]
        boss = next(p.id for p in people(jaw.bench) if p.name != TECHNICIAN[0])
        for said in ("", " ", f"{boss} ", "nobody x", "\xe9 \xe9", f"{boss} {'x' * 5000}", mine["Sign-In"].swapcase()):
            assert "Signed-Out" not in client.get("/people.json", headers={"Sign-In": said}).headers, said
        assert "Signed-Out" not in client.get("/people.json").headers
        assert deliver(client, [])["acks"] == []


@pytest.mark.parametrize("path", ["/", "/bench/{code}", "/chamber/{chamber}"])
def test_a_leaver_is_signed_out_on_every_page(
    path: str, boss: Boss, opened: Opened, lab: LiveLab, new_jaw: NewJaw
) -> None:
    """Within a heartbeat nobody is signed in and the reason stands there; what was typed stays, and others work on."""
    chamber = re.search(r"/chamber/(\w{10})", boss.get("/chamber"))
    assert chamber
    leaver, code = boss.take_on(), new_jaw("dry-fit")
    page = opened(leaver, path.format(code=code, chamber=chamber[1]))
    typed = page.query_selector("#code")
    if typed:
        page.fill("#code", "1AB")
    at = page.get_attribute("body", "data-at")
    boss.let_go(leaver)
    assert f"{leaver['name']} has left the lab" in reason(page)
    assert page.get_attribute("body", "data-at") == at
    Hand(page, lab).sign_in("Ewa Łukasik")
    if typed:
        assert page.input_value("#code") == "1AB"
    beat(page)
    assert page.inner_text("#person") == "Ewa Łukasik" and not page.query_selector("#signin[open]")
    assert complaints(page) == []


def test_a_new_pin_signs_the_old_one_out(boss: Boss, opened: Opened, lab: LiveLab) -> None:
    """Who knew the old PIN is out everywhere; whoever signs in by the new one stays."""
    person = boss.take_on()
    page = opened(person, "/")
    drawn = re.search(r'data-once="pin">(\d+)<', boss.form(f"/desk/people/{person['id']}/pin"))
    assert drawn
    assert "has a new PIN" in reason(page)
    anew = boss.post("/signin", {"person": person["id"], "pin": drawn[1]})
    page = opened(person | {"signin": anew["signin"]}, "/")
    assert not told(beat(page))
    assert page.inner_text("#person") == person["name"] and not page.query_selector("#signin[open]")


def test_wet_resin_is_never_left_alone(boss: Boss, opened: Opened, lab: LiveLab, new_jaw: NewJaw) -> None:
    """On the wet page and on others of the tablet they stay until the wet window ends; each tap is kept, and marked."""
    leaver, code = boss.take_on(), new_jaw("bubble-check")
    page = opened(leaver, f"/bench/{code}")
    first = opened(leaver, "/", page.context)
    assert page.get_attribute("body", "data-phase") == "wet"
    boss.let_go(leaver)
    for one in (first, page):
        assert told(beat(one))
        assert one.inner_text("#person") == leaver["name"] and not one.query_selector("#signin[open]")
    page.bring_to_front()
    hand, done = Hand(page, lab), 0
    while page.get_attribute("body", "data-phase") == "wet":
        go_on(hand)
        done += 1
    assert "has left the lab" in reason(page)
    stored(hand)
    own = [b for b in entries(lab, code, "confirm") if b["event"]["by"]["person"] == leaver["id"]]
    assert len(own) == done > 0 and all(GONE in body["server"]["marks"] for body in own)
    first.wait_for_function(OUT)
    hand.sign_in("Ewa Łukasik")
    beat(page)
    assert not page.query_selector("#reason-breach[open]")  # a colleague has no reason for it: a supervisor reads it


def test_a_clock_that_is_set_back_ends_no_wet_window(boss: Boss, opened: Opened) -> None:
    """Another page said that resin is wet at a time that is still to come: nobody is signed out until that ends."""
    leaver = boss.take_on()
    page = opened(leaver, "/")
    page.evaluate("() => localStorage.setItem('wet', Date.now() + 20000)")
    boss.let_go(leaver)
    assert told(beat(page))
    assert page.inner_text("#person") == leaver["name"] and not page.query_selector("#signin[open]")
    page.clock.run_for(110_000)
    assert "has left the lab" in reason(page)


def test_what_waits_is_sent_before_anybody_is_signed_out(
    boss: Boss, opened: Opened, lab: LiveLab, new_jaw: NewJaw
) -> None:
    """Two taps without the PC are kept; back again they are stored with the mark, and only then the person is out."""
    leaver, code = boss.take_on(), new_jaw("dry-fit")
    page = opened(leaver, f"/bench/{code}")
    page.context.set_offline(True)
    boss.let_go(leaver)
    hand = Hand(page, lab)
    for _ in range(2):
        go_on(hand)
    page.wait_for_selector("#status[data-waiting='2']")
    page.clock.run_for(HEARTBEAT)
    assert page.inner_text("#person") == leaver["name"]
    page.context.set_offline(False)
    assert "has left the lab" in reason(page)
    stored(hand)
    own = [b for b in entries(lab, code, "confirm") if b["event"]["by"]["person"] == leaver["id"]]
    assert [body["server"]["marks"] for body in own] == [[GONE]] * 2


def test_a_pin_that_is_being_tapped_is_not_broken_into(boss: Boss, opened: Opened) -> None:
    """Somebody else's digits stay, and they are in; given up, the dialog says why the one before is out."""
    for given_up in (False, True):
        leaver = boss.take_on()
        page = opened(leaver, "/")
        page.click("header [data-act=signin]")
        page.click("#signin [data-act=person]:has-text('Ewa Łukasik')")
        digits = PINS["Ewa Łukasik"]
        for digit in digits[:2]:
            page.click(f"#signin [data-act=digit][data-value='{digit}']")
        boss.let_go(leaver)
        page.clock.run_for(HEARTBEAT)
        page.wait_for_function(OUT)
        assert page.inner_text("#signin [data-part=dots]") == "●●"
        if given_up:
            page.click("#signin [data-act=close]")
            assert "has left the lab" in reason(page)
            continue
        for digit in digits[2:]:
            page.click(f"#signin [data-act=digit][data-value='{digit}']")
        page.click("#signin [data-act=enter]")
        page.wait_for_selector("#signin", state="hidden")
        assert page.inner_text("#person") == "Ewa Łukasik"


def test_a_late_answer_concerns_only_whom_it_was_about(boss: Boss, opened: Opened) -> None:
    """What the PC said of one sign-in ends no later one, and a reason that this page does not know is said plainly."""
    person = boss.take_on()
    page = opened(person, "/")
    hear = "([me, why]) => import('/static/js/out.js').then((out) => out.hearOver(me, why))"
    for other in (person | {"signin": "earlier"}, person | {"id": "somebody"}):
        page.evaluate(hear, [other, "left"])
        beat(page)
        assert page.inner_text("#person") == person["name"] and not page.query_selector("#signin[open]")
    page.evaluate(hear, [person, "of tomorrow"])
    assert "Nobody is signed in" in reason(page)
