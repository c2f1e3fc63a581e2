"""A lab of its own behind a fault proxy, with as many tablets as a test wants."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser

from tests.faults.lab import copy_of, make_lab
from tests.faults.proof import Proof, prove
from tests.faults.proxy import FaultProxy
from tests.faults.tablet import Door, Tablet
from tests.live import LiveLab


@dataclass
class Bench:
    """A running lab, the proxy before it, and its tablets."""

    lab: LiveLab
    proxy: FaultProxy
    browser: Browser
    folder: Path
    tablets: list[Tablet] = field(default_factory=list)

    def tablet(self, lasting: bool = False, **how: Any) -> Tablet:
        """Start one more tablet on the jaw and sign in at it; a lasting one can be closed and started again."""
        folder = self.folder / f"tablet-{len(self.tablets)}" if lasting else None
        self.tablets.append(Tablet(self.browser, Door(self.proxy.address, self.lab.code), folder, **how))
        self.tablets[-1].start().sign_in()
        return self.tablets[-1]

    def prove(self) -> Proof:
        """Assert all that must hold at the end, and return what was found."""
        found = prove(self.lab, self.lab.code, self.tablets)
        assert found.wrong == []
        return found


@pytest.fixture(scope="session")
def filled(tmp_path_factory: pytest.TempPathFactory) -> LiveLab:
    """A filled data folder that nobody serves; tests work on copies."""
    return make_lab(tmp_path_factory.mktemp("filled"))


@pytest.fixture
def lab(filled: LiveLab, tmp_path: Path) -> Iterator[LiveLab]:
    """A running server over a copy."""
    found = copy_of(filled, tmp_path / "data").start()
    yield found
    found.kill()


@pytest.fixture
def bench(lab: LiveLab, browser: Browser, tmp_path: Path) -> Iterator[Bench]:
    """A running lab behind a proxy that lets everything pass until told otherwise."""
    with FaultProxy(lab.port) as proxy:
        found = Bench(lab, proxy, browser, tmp_path)
        yield found
        for tablet in found.tablets:
            tablet.close()
