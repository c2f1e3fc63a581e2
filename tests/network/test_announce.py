"""The PC's name under `local` is found by another machine's resolver, on loopback alone."""

from concurrent.futures import ThreadPoolExecutor
from unittest.mock import Mock

import pytest

from benchapp.network import announce
from benchapp.network.announce import KIND, Announcer
from tests.network.test_folder import NETWORK as WRITTEN

LOOPBACK = "127.0.0.1"
NETWORK = WRITTEN.model_copy(update={"name": "announced.lan"})  # no other test's server says that name


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
            published = resolved("announced.local.", 3000)
        finally:
            announcer.end()
        return published, resolved("announced.local.", 300), said

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
    assert len(said) == 1 and "announced.local" in said[0]


def test_each_network_is_told_its_own_address(monkeypatch: pytest.MonkeyPatch) -> None:
    """One speaker for each address, which says that address and port alone; it ends when the address goes."""
    made: dict[str, Mock] = {}

    def speaker(interfaces: list[str], **_how: object) -> Mock:
        made[interfaces[0]] = Mock()
        return made[interfaces[0]]

    monkeypatch.setattr(announce, "Zeroconf", speaker)
    announcer = Announcer(NETWORK, pytest.fail)
    announcer.look(["10.0.0.7", "192.168.1.20"])
    said = {address: one.register_service.call_args.args[0] for address, one in made.items()}
    assert {address: service.parsed_addresses() for address, service in said.items()} == {
        "10.0.0.7": ["10.0.0.7"], "192.168.1.20": ["192.168.1.20"]}
    assert {(one.type, one.server, one.port) for one in said.values()} == {(KIND, "announced.local.", 8321)}
    announcer.look(["192.168.1.20"])
    assert made["10.0.0.7"].close.called and not made["192.168.1.20"].close.called
    announcer.end()
    assert made["192.168.1.20"].close.called
