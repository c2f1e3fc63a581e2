"""One lab that serves its network on loopback, for all tests of one process."""

from collections.abc import Iterator

import pytest

from tests.network.live import LiveLan


@pytest.fixture(scope="session")
def lan(tmp_path_factory: pytest.TempPathFactory) -> Iterator[LiveLan]:
    """The demo lab, served in its network on loopback."""
    served = LiveLan(tmp_path_factory.mktemp("lan") / "data").fill().start()
    yield served
    served.kill()
