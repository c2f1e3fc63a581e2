"""Publishes the PC's name under `local` in its networks (multicast DNS, RFC 6762), beside whatever the router says."""

from collections.abc import Callable, Sequence

from zeroconf import Error, IPVersion, ServiceInfo, Zeroconf

from benchapp.network.place import Network

KIND = "_https._tcp.local."  # RFC 6763 4.1.2, with the name registered for HTTP over TLS


def service_of(network: Network, address: str) -> ServiceInfo:
    """Return what is published in the network of one address: the pages' port, and that address of the name."""
    label = network.local.split(".")[0]
    return ServiceInfo(
        KIND, f"Seat and Cure at {label}, {address.replace('.', '-')}.{KIND}", port=network.port,
        server=f"{network.local}.", properties={"path": "/"}, parsed_addresses=[address],
    )


class Announcer:
    """Says the name in the networks of some addresses, and says it anew when these change.

    Each network is told the address that holds there and no other (RFC 6762 6.2): a tablet that tried the one of a
    virtual network on the PC would wait for nothing.
    """

    def __init__(self, network: Network, tell: Callable[[str], None]) -> None:
        self._network, self._tell = network, tell
        self._at: dict[str, Zeroconf | None] = {}

    def look(self, addresses: Sequence[str]) -> None:
        """Publish the name at these addresses and nowhere else; a network that refuses it is told once."""
        for gone in set(self._at) - set(addresses):
            self._close(self._at.pop(gone))
        for address in addresses:
            if address not in self._at:
                self._at[address] = self._say(address)

    def _say(self, address: str) -> Zeroconf | None:
        speaker = None
        try:
            speaker = Zeroconf(interfaces=[address], ip_version=IPVersion.V4Only)
            speaker.register_service(service_of(self._network, address), allow_name_change=True)
        except (OSError, Error) as error:  # tablets may still find the PC by the router's name
            why = error or type(error).__name__
            self._tell(f"The name {self._network.local} could not be published at {address}: {why}")
            self._close(speaker)
            return None
        return speaker

    def end(self) -> None:
        """Take the name back."""
        self.look([])

    def _close(self, speaker: Zeroconf | None) -> None:
        if speaker is not None:
            speaker.close()
