"""The PC dies for good: a backup becomes another PC, and the tablets of the network bring it what it lacks."""

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from tests.faults.proof import facts, folded_here, order_breaks, plain
from tests.faults.tablet import Door, Tablet
from tests.network.live import LanOfTablets
from tests.network.tablets import CERTUTIL, enrol, trusting
from tests.network.test_serve_lan import wait_for

ALL_SENT = "() => document.getElementById('status').dataset.waiting === '0'"


@contextmanager
def at_work(browser: Browser, lan: LanOfTablets, codes: list[str]) -> Iterator[list[Tablet]]:
    """Enrolled tablets, each with a person signed in and a jaw of its own open."""
    tablets = [Tablet(browser, Door(lan.origin, code)) for code in codes]
    try:
        for number, tablet in enumerate(tablets):
            tablet.start()
            enrol(tablet.page, lan, f"Shelf {number}")
            tablet.hand.open()
            tablet.sign_in()
        yield tablets
    finally:
        for tablet in tablets:
            tablet.close()


def confirm(tablets: list[Tablet], count: int) -> None:
    """Tap the main action so often on each tablet, in turn."""
    for _ in range(count):
        for tablet in tablets:
            tablet.hand.confirm()


def ids(lan: LanOfTablets) -> list[str]:
    """Return the ids of the facts of a PC's journal, in order."""
    return [body["event"]["id"] for body in facts(lan.journal())]


@pytest.mark.browser
@pytest.mark.skipif(CERTUTIL is None, reason="certutil (libnss3-tools) is not there: trust was not proved here")
def test_another_pc_gets_everything_again(browser: Browser, tmp_path: Path) -> None:
    """What the PC had answered after its backup and what was never sent come to the other PC over TLS: each fact once,
    in each tablet's order, with nobody touching a tablet, and its journal verifies."""
    old = LanOfTablets(tmp_path / "data").fill()
    codes = [old.code, old.add_case("DEMO-2026-0018")]
    old.start()
    new = LanOfTablets(tmp_path / "other" / "data", port=old.port, setup_port=old.setup_port)
    try:
        with (trusting(browser.browser_type, tmp_path / "home", old.authority) as safe,
              at_work(safe, old, codes) as tablets):
            confirm(tablets, 1)
            old.run("backup", "--data", str(old.data), "--to", str(tmp_path / "stick"))
            confirm(tablets, 2)
            for tablet in tablets:
                tablet.all_stored()
            answered = set(ids(old))
            old.kill()
            confirm(tablets, 2)
            unsent = [tablet.snapshot()[0] for tablet in tablets]
            assert [len(waiting) for waiting in unsent] == [2, 2]
            shutil.rmtree(old.data)
            (copy,) = (tmp_path / "stick").glob("*.sqlite3")
            new.run("restore", str(copy), "--data", str(new.data))
            assert len(answered - set(ids(new))) >= 4
            new.start()
            wait_for(lambda: answered.union(*unsent) <= set(ids(new)))
            for tablet in tablets:
                tablet.page.wait_for_function(ALL_SENT)
            journal = new.journal()
            assert len(ids(new)) == len(set(ids(new))) and order_breaks(journal, tablets) == 0
            assert [body["server"]["marks"] for body in facts(journal) if body["server"]["marks"]] == []
            for tablet, code in zip(tablets, codes, strict=True):
                here = plain(folded_here(new, code, journal))
                assert plain(tablet.shown()) == here and len(here["log"]) == 5 and here["refused"] == []
            assert new.run("verify", "--data", str(new.data)).stdout.startswith("Holds.")
    finally:
        old.kill()
        new.kill()
