"""The benchmarks run and hold together, with tiny counts; nothing here looks at how long anything took."""

from pathlib import Path

import pytest
from playwright.sync_api import Browser

from benchapp.actions.keeping import check_journal
from benchapp.store.folder import open_for_reading
from benchapp.store.reads import Tip
from tests.benchmarks import confirm, eight, handshakes, machine, tap
from tests.benchmarks.bulk import build, template_of
from tests.live import LiveLab
from tests.network.live import LanOfTablets
from tests.network.tablets import CERTUTIL


def test_a_bulk_journal_verifies_and_is_used_again(tmp_path: Path) -> None:
    """What is built in bulk is a journal like any other: chain, tags, texts and guards hold; asked twice it grows."""
    first = build(tmp_path / "bulk", 160, 3, 2)
    again = build(tmp_path / "bulk", 160, 3, 1)
    with open_for_reading(tmp_path / "bulk") as store:
        found = check_journal(store)
        assert isinstance(found, Tip) and found.seq == 163, found
        assert len(store.tag_values("case")) == 6
        assert len(store.tagged("jaw", again.fresh[0].code)) == 1
    assert len({jaw.code for jaw in first.fresh + again.fresh}) == 3
    with pytest.raises(SystemExit):
        build(tmp_path / "bulk", 200, 3, 1)


@pytest.mark.long
def test_confirm_takes_jaws_through_and_reports(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Every confirmation of the benchmark is stored without a mark by the real server, at one tablet and at several."""
    monkeypatch.setattr(confirm, "SMALL", (60, 1))
    monkeypatch.setattr(confirm, "ALONE", 1)
    monkeypatch.setattr(confirm, "TABLETS", 2)
    text = confirm.measure(tmp_path, 120, 2, 1)
    assert "| 1 tablet, 120 entries |" in text and "floor: bare durable insert" in text
    assert text.count(": met") + text.count("**missed**") == 2
    with open_for_reading(tmp_path / "large-120") as store:
        assert isinstance(check_journal(store), Tip)
        assert len(store.tagged("kind", "confirm")) >= 2 * 35 * 3


@pytest.mark.browser
def test_taps_drain_and_bytes_are_measured(browser: Browser, tmp_path: Path) -> None:
    """The stopwatch takes every tap, what waits is drained, and each file of the page is counted."""
    lab = LiveLab(tmp_path / "lab").fill()
    template = template_of(lab.data)
    codes = list(tap.add_jaws(lab, 3))
    lab.start()
    try:
        assert len(tap.floor_taps(browser, lab, 2)) == 2
        taps = {mode: tap.jaw_taps(browser, lab, codes[0], mode, 1) for mode in ("online", "offline", "hung")}
        assert all(len(found) == 1 for found in taps.values()), taps
        assert tap.posts(lab, template, tap.jaw_of(lab, codes[1]), 60) > 0
        drained = tap.drain(browser, lab, codes[2], 60)
        chipped = [b for b in lab.journal() if b["event"]["outcome"] == "chipped" and b["event"]["jaw"] == codes[2]]
        assert drained > 0 and len(chipped) == 60 and not any(b["server"]["marks"] for b in chipped)
        answers = tap.page_bytes(browser, lab)
    finally:
        lab.kill()
    assert {"page", "scripts", "styles", "drawings", "vendor"} == {kind for kind, *_ in answers}
    page = next(sizes for kind, *sizes in answers if kind == "page")
    assert page[0] < page[1] / 3, "the page goes over the wire compressed"
    assert 20_000 < sum(wire for _, wire, *_ in answers) < tap.MOST_BYTES
    found = tap.Measured(taps | {"floor": [1.0]}, [drained], [0.1], answers)
    assert "together" in tap.report(found, "1.2.3")


@pytest.mark.browser
@pytest.mark.skipif(CERTUTIL is None, reason="certutil (libnss3-tools) is not there")
def test_pages_tap_in_turn_and_together(browser: Browser, tmp_path: Path) -> None:
    """Over TLS each page is an enrolled tablet; every tap, in turn and at the same moment, is timed and arrives."""
    found, version = eight.measure(LanOfTablets(tmp_path / "lab"), 2, 2, browser.browser_type)
    taps = {name: len(ms) for name, ms in found.frames.items()}
    assert taps == {eight.BARE_TAP: 24, eight.TURN: 2, eight.TOGETHER: 2}
    assert len(found.stored[eight.TURN]) == len(found.stored[eight.TOGETHER]) == 2
    for times in (found.frames, found.stored, found.asked):
        assert all(ms > 0 for one in times.values() for ms in one)
    assert eight.report(found, version).count("| floor: ") == 3


def test_results_file_keeps_other_sections(tmp_path: Path) -> None:
    """A section is replaced by its newer self; the others stay word for word."""
    file = tmp_path / "RESULTS.md"
    machine.put("confirm", "one", file)
    machine.put("tap", "two", file)
    machine.put("confirm", "three", file)
    text = file.read_text("utf-8")
    assert "one" not in text and text.index("three") < text.index("## tap") < text.index("two")


def test_a_section_names_its_command() -> None:
    """The command stands there as it was given, without the file that it wrote to."""
    made = machine.made_by("tap", ["--lan", "--jaws", "1", "--out"])
    assert made == "`python -m tests.benchmarks.tap --lan --jaws 1`"
    assert machine.made_by("confirm", []) == "`python -m tests.benchmarks.confirm`"


def test_percentile_is_the_nearest_rank() -> None:
    """Of 1 to 100 the 50th and 95th percentile are 50 and 95 (nearest-rank definition, from memory)."""
    values = [float(n) for n in range(1, 101)]
    assert (machine.percentile(values, 0.5), machine.percentile(values, 0.95)) == (50.0, 95.0)
    assert machine.percentile([7.0], 0.95) == 7.0


def test_slow_clients_are_measured(tmp_path: Path) -> None:
    """Beside every kind of slow client each request is answered, and the table holds them all with the floor."""
    text = handshakes.measure(tmp_path, 8, 4)
    assert text.count("| kept |") == text.count("| new |") == len(handshakes.SLOW)
    assert "4 stalled handshakes" in text and text.count(": met") + text.count("**missed**") == 2
