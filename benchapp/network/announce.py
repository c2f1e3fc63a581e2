"""Publishes the PC's name under `local` in its networks (multicast DNS, RFC 6762), beside whatever the router says."""

from collections.abc import Callable, Sequence

from zeroconf import Error, IPVersion, ServiceInfo, Zeroconf

from benchapp.network.folder import Network

KIND = "_https._tcp.local."  # RFC 6763 4.1.2, with the name registered for HTTP over TLS


def service_of(network: Network, addresses: Sequence[str]) -> ServiceInfo:
    """Return what is published: the pages' port, and the addresses of the name under `local`."""
    label = network.local.split(".")[0]
    return ServiceInfo(
        KIND, f"Seat and Cure at {label}.{KIND}", port=network.port, server=f"{network.local}.",
        properties={"path": "/"}, parsed_addresses=list(addresses),
    )


class Announcer:
    """Says the name in the networks of some addresses, and says it anew when these change."""

    def __init__(self, network: Network, tell: Callable[[str], None]) -> None:
        self._network, self._tell = network, tell
        self._at: tuple[str, ...] = ()
        self._zeroconf: Zeroconf | None = None

    def look(self, addresses: Sequence[str]) -> None:
        """Publish the name at these addresses, unless that is done already; a network that refuses it is only told."""
        wanted = tuple(addresses)
        if wanted == self._at:
            return
        self.end()
        self._at = wanted
        if not wanted:
            return
        try:
            self._zeroconf = Zeroconf(interfaces=list(wanted), ip_version=IPVersion.V4Only)
            self._zeroconf.register_service(service_of(self._network, wanted), allow_name_change=True)
        except (OSError, Error) as error:  # tablets may still find the PC by the router's name
            self._tell(f"The name {self._network.local} could not be published: {error or type(error).__name__}")
            self.end()
            self._at = wanted

    def end(self) -> None:
        """Take the name back."""
        if self._zeroconf is not None:
            self._zeroconf.close()
        self._zeroconf, self._at = None, ()
