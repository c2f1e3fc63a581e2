"""A lab that serves while the screens are tested, jaws that stand where a test needs them, hands to work them."""

import itertools
import json
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext

from benchapp.actions.cases import add_case
from benchapp.actions.desk import Seat
from benchapp.actions.lab import people
from benchapp.actions.settings import change
from benchapp.cli.shared import DEFAULT_PROTOCOL, read_file
from benchapp.core.sheet import read_sheet
from benchapp.core.walk import MINUTE
from benchapp.serve import open_bench
from tests.live import DEMO, Hand, LiveLab
from tests.web.early import EarlyTablet, signed_in, take_in
from tests.web.watch import NO_WORKER, WATCH, listen

PORTRAIT, LANDSCAPE = (800, 1280), (1280, 800)
FAST = 5  # jaws whose durations are divided by 600, ready before the server starts


@pytest.fixture(scope="session")
def fast_jaws() -> list[str]:
    """The codes of untouched jaws at speed 600; a test takes one out."""
    return []


@pytest.fixture(scope="session")
def lab(tmp_path_factory: pytest.TempPathFactory, fast_jaws: list[str]) -> Iterator[LiveLab]:
    """The demo lab, served on a port of its own for the tests of one process."""
    served = LiveLab(tmp_path_factory.mktemp("lab") / "data").fill()
    sheet = (DEMO / "first-upper.toml").read_text("utf-8")
    with (bench := open_bench(served.data)).store:
        for number in range(FAST):
            text = sheet.replace("DEMO-2026-0017", f"FAST-{number}")
            opened = add_case(bench, read_sheet("fast.toml", text), read_file(DEFAULT_PROTOCOL), speed=600)
            fast_jaws.append(opened.jaws[0]["code"])
        # So that a jaw which one test left in the chamber does not ring on the pages of all others.
        boss = next(person for person in people(bench) if "supervisor" in person.roles)
        change(bench, Seat(boss), "alarm_all", "60")
    yield served.start()
    served.kill()


NewJaw = Callable[..., str]
Sit = Callable[..., Hand]
Signed = Callable[[str], dict[str, Any]]


@pytest.fixture(scope="session")
def signed(lab: LiveLab) -> Signed:
    """Who signed in by PIN, as a tablet keeps them; each person once."""
    known: dict[str, dict[str, Any]] = {}

    def find(name: str) -> dict[str, Any]:
        if name not in known:
            known[name] = signed_in(lab, name)
        return known[name]

    return find


@pytest.fixture(scope="session")
def new_jaw(lab: LiveLab, signed: Signed) -> NewJaw:
    """A jaw at full durations, worked to a step already; the last tap lies `ago` ms back."""
    orders = itertools.count(1)

    def make(step: str = "intake", ago: int = 2 * MINUTE, **changed: str) -> str:
        code = take_in(lab, f"T-{next(orders)}", **changed)
        if step != "intake":
            EarlyTablet(lab, signed("Ewa Łukasik")).bring_to(code, step, ago)
        return code

    return make


@pytest.fixture
def tablet(browser: Browser) -> Iterator[Callable[..., BrowserContext]]:
    """Make tablets: browser contexts of a size, whose pages tell `watch.seen` what went wrong in them.

    Where a test is not about that, jaws which other tests left in the chamber are not heard of (`quiet`), and the
    page is told that its worker is there, which is not installed then (`worker`).
    """
    made: list[BrowserContext] = []

    def make(size: tuple[int, int] = PORTRAIT, quiet: bool = True, worker: bool = False) -> BrowserContext:
        made.append(browser.new_context(viewport={"width": size[0], "height": size[1]}))
        if not worker:
            made[-1].add_init_script(NO_WORKER)
        if quiet:
            made[-1].route("**/due.json", lambda route: route.fulfill(json={"due": []}))
        made[-1].add_init_script(WATCH)
        made[-1].on("page", listen)
        return made[-1]

    yield make
    for context in made:
        context.close()


@pytest.fixture
def sit(tablet: Callable[..., BrowserContext], lab: LiveLab, signed: Signed) -> Sit:
    """Sit down at a new tablet with somebody signed in, and open a jaw."""

    def make(
        code: str, size: tuple[int, int] = PORTRAIT, name: str = "Tomé Arbel", quiet: bool = True, worker: bool = False
    ) -> Hand:
        context = tablet(size, quiet, worker)
        person = json.dumps(json.dumps(signed(name)))
        context.add_init_script(f"if (location.host) localStorage.person ??= {person}")
        return Hand(context.new_page(), lab).open(code)

    return make
