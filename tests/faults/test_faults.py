"""What networks do to a delivery: no fact is lost, none is stored twice, and the page never says more than is true."""

import pytest

from tests.faults.conftest import Bench
from tests.faults.proof import facts, folded_here
from tests.faults.proxy import FAULTS, PASS, passing, to_outbox
from tests.faults.tablet import Tablet

pytestmark = pytest.mark.browser
UNANSWERED = ("drop-before", "drop-after", "503", "half", "foreign")


def confirmed(bench: Bench) -> int:
    """Return how many confirmations the journal holds."""
    return sum(body["event"]["kind"] == "confirm" for body in bench.lab.journal())


def confirm(tablet: Tablet, times: int = 1) -> None:
    """Confirm so many steps."""
    for _ in range(times):
        tablet.hand.confirm()


@pytest.mark.parametrize("fault", FAULTS)
def test_a_spoiled_delivery_loses_and_doubles_nothing(bench: Bench, fault: str) -> None:
    """Two confirmations under one kind of fault are painted at once, and are in the journal once when it is over."""
    tablet = bench.tablet(told=True)
    tablet.all_stored()
    bench.proxy.hold = 1.0
    bench.proxy.plan = to_outbox(fault)
    confirm(tablet, 2)
    assert tablet.hand.at == "dry-fit"
    tablet.page.wait_for_function("() => document.getElementById('main').dataset.act === 'confirm'")
    if fault in UNANSWERED:
        tablet.page.wait_for_selector("#status[data-status=offline][data-waiting='2']")
        in_journal = confirmed(bench)
        # The answer was lost after the commit: the first one is there; the second may still be on its way.
        assert in_journal in ((1, 2) if fault in ("drop-after", "half") else (0,))
    bench.proxy.plan = passing
    found = bench.prove()
    assert bench.proxy.injected[fault] >= 1
    assert (found.confirmations, found.doubles, found.lost) == (2, 0, 0)


def test_a_stranger_s_page_never_stands_in_for_ours(bench: Bench) -> None:
    """Where a guest network answers every address with its own page, a reload shows the kept page and its step."""
    tablet = bench.tablet()
    confirm(tablet)
    tablet.all_stored()
    bench.proxy.plan = lambda method, path: "foreign"
    for _ in range(2):
        tablet.hand.open()
        assert tablet.hand.at == "part-check"
    confirm(tablet)
    # The tap, and that the page was opened twice.
    tablet.page.wait_for_selector("#status[data-status=offline][data-waiting='3']")
    bench.proxy.plan = passing
    bench.prove()


def test_a_worker_that_cannot_be_installed_is_said(bench: Bench) -> None:
    """When a file for the worker does not come, the page works all the same and says that it needs the PC to reload."""
    bench.proxy.plan = lambda method, path: "503" if path.endswith("/app.svg") else PASS
    tablet = bench.tablet()
    confirm(tablet)
    assert "cannot be loaded again" in tablet.page.inner_text("#status")
    assert bench.prove().confirmations == 1


def test_a_page_without_a_worker_still_stores_facts(bench: Bench) -> None:
    """Without a worker, facts wait on the tablet while the PC is away, and reach it afterwards; the page says so."""
    tablet = bench.tablet(worker=False)
    assert "cannot be loaded again" in tablet.page.inner_text("#status")
    bench.lab.kill()
    confirm(tablet, 2)
    tablet.page.wait_for_selector("#status[data-status=offline][data-waiting='2']")
    bench.lab.start()
    assert bench.prove().confirmations == 2


def test_the_page_opened_first_can_be_loaded_again_without_the_pc(bench: Bench) -> None:
    """A tablet whose first page is a jaw's loads that page again while the PC is away."""
    tablet = bench.tablet()
    bench.lab.kill()
    tablet.hand.open()
    assert tablet.hand.at == "intake"
    bench.lab.start()
    bench.prove()


def test_a_fact_that_nobody_can_read_does_not_block_the_queue(bench: Bench) -> None:
    """A broken entry between two taps is put aside on the PC, and the tap after it arrives."""
    tablet = bench.tablet(told=True)
    tablet.context.set_offline(True)
    confirm(tablet)
    tablet.page.evaluate("""async () => {
      const { addFact } = await import("/static/js/store.js");
      await addFact({ id: "broken-entry-1", jaw: "", kind: 5 }, { id: "broken-entry-1", kind: "none" });
    }""")
    confirm(tablet)
    tablet.context.set_offline(False)
    tablet.all_stored()
    assert confirmed(bench) == 2
    kinds = [body["event"]["kind"] for body in facts(bench.lab.journal())]
    assert kinds.count("confirm") == 2 and "broken-entry-1" in tablet.stored


def test_two_quick_taps_are_folded_one_after_the_other(bench: Bench) -> None:
    """Two controls tapped within one moment give two facts, and the page shows both, also without the PC."""
    tablet = bench.tablet(told=True)
    confirm(tablet, 3)
    assert tablet.hand.at == "cut-back"
    tablet.all_stored()
    tablet.context.set_offline(True)
    tablet.page.click("[data-sextant=s1]")
    tablet.hand.ready()
    tablet.page.evaluate("""() => {
      const places = [...document.querySelectorAll("[data-place]")].filter((p) => p.checkVisibility());
      const asked = places.filter((p) => p.dataset.state !== "none").slice(0, 2);
      for (const place of asked) place.dispatchEvent(new MouseEvent("click", { bubbles: true }));
    }""")
    tablet.page.wait_for_function(
        "() => document.querySelectorAll('.sextant:not([hidden]) [data-place][data-state=done]').length === 2")
    tablet.context.set_offline(False)
    bench.prove()
    state = folded_here(bench.lab, bench.lab.code, bench.lab.journal())
    assert [mark for mark in state["marks"] if mark["grade"] == "refused"] == []
    assert [event["outcome"] for event in state["log"][-2:]] == ["chipped", "chipped"]


def test_an_answer_that_was_overtaken_changes_nothing(bench: Bench) -> None:
    """What the page keeps of the PC's entries never goes back when an older answer comes later than a newer one."""
    tablet = bench.tablet(told=True)
    confirm(tablet)
    tablet.all_stored()
    before, after = tablet.page.evaluate("""async (code) => {
      const { ofJaw, putBase } = await import("/static/js/store.js");
      const jaw = await import("/static/js/jaw.js");
      await jaw.refresh();
      const before = (await ofJaw(code)).base;
      await putBase({ ...before, events: [], seq: 1 }, 0);
      return [before, (await ofJaw(code)).base].map((base) => JSON.stringify([base.seq, base.events]));
    }""", bench.lab.code)
    assert before == after and "order-accepted" in after
    bench.prove()
