"""Whole jaws with everything going wrong at once; many more of them by `python -m tests.faults` (see RESULTS.md)."""

from pathlib import Path

import pytest
from playwright.sync_api import Browser

from tests.counts import count
from tests.faults.lab import copy_of
from tests.faults.walk import Walk
from tests.live import LiveLab


@pytest.mark.long
@pytest.mark.browser
@pytest.mark.parametrize("seed", [6, 21, 8][: count(2, 3)])
def test_a_whole_jaw_through_faults(filled: LiveLab, browser: Browser, tmp_path: Path, seed: int) -> None:
    """A seeded run ends with every tap in the journal once, in order, the chain whole, and both folds equal."""
    ran = Walk(seed, browser, copy_of(filled, tmp_path / "data"), tmp_path).run()
    print(f"seed {seed}: {dict(ran.kinds)}, {ran.seconds:.1f} s")
    assert ran.failed == ""
    proof = ran.proof
    assert proof.confirmations >= 30
    assert (proof.doubles, proof.lost, proof.strange, proof.order_breaks) == (0, 0, 0, 0)
    assert proof.verified and proof.folds_equal
