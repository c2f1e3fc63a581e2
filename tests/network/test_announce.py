"""The PC's name under `local` is found by another machine's resolver, on loopback alone."""

from concurrent.futures import ThreadPoolExecutor
from unittest.mock import Mock

import pytest

from benchapp.network import announce
from benchapp.network.announce import KIND, Announcer, service_of
from tests.network.test_folder import NETWORK

LOOPBACK = "127.0.0.1"


def resolved(name: str, wait_ms: int) -> list[str]:
    """Ask by multicast DNS on loopback for the addresses of a name."""
    from zeroconf import AddressResolverIPv4, Zeroconf

    with Zeroconf(interfaces=[LOOPBACK]) as asker:
        found = AddressResolverIPv4(name)
        found.request(asker, wait_ms)
        return found.parsed_addresses()


def test_the_name_is_found_and_taken_back() -> None:
    """Published it leads to the addresses given; taken back it leads nowhere."""
    def found() -> tuple[list[str], list[str], list[str]]:
        said: list[str] = []
        announcer = Announcer(NETWORK, said.append)
        try:
            announcer.look([LOOPBACK])
            announcer.look([LOOPBACK])  # nothing new: nothing is said again
            published = resolved("bench.local.", 3000)
        finally:
            announcer.end()
        return published, resolved("bench.local.", 300), said

    # In a thread of its own, as at the server: the library would use a loop that runs in this one for browsers.
    with ThreadPoolExecutor(1) as thread:
        assert thread.submit(found).result() == ([LOOPBACK], [], [])


def test_a_network_that_refuses_is_told_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """A network that takes no such message is told once, and nothing is raised: pages are served all the same."""
    monkeypatch.setattr(announce, "Zeroconf", Mock(side_effect=OSError(101, "Network is unreachable")))
    said: list[str] = []
    announcer = Announcer(NETWORK, said.append)
    for _turn in range(2):
        announcer.look(["192.168.1.20"])
    announcer.look([])
    announcer.end()
    assert len(said) == 1 and "bench.local" in said[0]


def test_what_is_published() -> None:
    """The service names port, host under `local` and addresses, by RFC 6763."""
    service = service_of(NETWORK, ["10.0.0.7", "192.168.1.20"])
    assert (service.type, service.server, service.port) == (KIND, "bench.local.", 8321)
    assert service.parsed_addresses() == ["10.0.0.7", "192.168.1.20"] and service.name.endswith(KIND)
