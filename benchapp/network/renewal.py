"""Makes the PC's certificate anew before it ends, at a moment when nobody works with wet resin."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from benchapp.network.certificates import days_left
from benchapp.network.folder import Bytes, read_leaf, renew, why_renew
from benchapp.network.place import Network, NetworkFault

LAST_DAYS = 3  # a certificate that ended keeps every tablet out: so shortly before, a wet window waits no more
EVERY_S = 60.0


@dataclass(frozen=True)
class Renewal:
    """Looks whether a new certificate is due, with the clock, chance, addresses and quiet moments of its PC."""

    data: Path
    network: Network
    clock: Callable[[], int]
    random: Bytes
    addresses: Callable[[], list[str]]
    quiet: Callable[[], bool]

    def look(self) -> str:
        """Make a new certificate where one is due and the moment is quiet; return why, "" when nothing was made.

        The server takes it up: its parent sees the new file, and starts the serving process again.
        """
        now, addresses = self.clock(), self.addresses()
        why = why_renew(self.data, self.network, addresses, now)
        if not why or not (self.quiet() or self._pressing(why, now)):
            return ""
        renew(self.data, self.network, addresses, now, self.random)
        return why

    def _pressing(self, why: str, now: int) -> bool:
        return why == "ends" and days_left(read_leaf(self.data), now) < LAST_DAYS

    def keep(self, wait: Callable[[float], bool], tell: Callable[[str], None]) -> None:
        """Look every minute until `wait` says that it is over; a fault is told and looked at again."""
        while not wait(EVERY_S):
            try:
                if why := self.look():
                    tell(f"A new certificate was made for this PC ({why}).")
            except (NetworkFault, OSError) as error:
                tell(f"No new certificate could be made: {error}")
