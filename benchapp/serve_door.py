"""The process that holds the door in plain HTTP and says the PC's name in its networks.

It is small, and apart from the pages: slow or many clients there cost them nothing.
"""

import os
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

from granian import Granian
from granian.constants import HTTPModes, Interfaces
from granian.http import HTTP1Settings

from benchapp.core.words import use
from benchapp.network.addresses import own_addresses
from benchapp.network.announce import Announcer
from benchapp.network.door import door
from benchapp.network.folder import read_authority
from benchapp.network.place import EVERY, Network, NetworkFault, read_network
from benchapp.processes import DATA, end_with_parent
from benchapp.store import catalogue
from benchapp.web.network_door import sheets

ADDRESSES_S = 30.0  # how often it looks whether the PC's addresses changed
PATIENCE_MS = 15_000  # for the head of a request; a slow tablet needs some seconds


def hold_the_door() -> None:
    """Serve the door until ended."""
    threading.Thread(target=end_with_parent, daemon=True).start()
    _data, network = _served()
    Granian(
        "benchapp.serve_door:door_application", factory=True, address=network.bind, port=network.setup_port,
        interface=Interfaces.WSGI, workers=1, blocking_threads=2, log_enabled=False, websockets=False,
        http=HTTPModes.http1, workers_kill_timeout=1,
        http1_settings=HTTP1Settings(header_read_timeout=PATIENCE_MS, keep_alive=False),
    ).serve()


def door_application() -> Callable[..., Any]:
    """Make the door in its serving process, and let the PC's name be known from there (granian calls this once)."""
    threading.Thread(target=end_with_parent, daemon=True).start()
    data, network = _served()
    lexicon = catalogue.in_folder(data)
    use(lexicon.catalogue if lexicon else None)
    threading.Thread(target=_announce, args=(network,), daemon=True).start()
    return door(sheets(network, read_authority(data)))


def _announce(network: Network) -> None:
    announcer, never = Announcer(network, lambda words: print(words, flush=True)), threading.Event()
    while True:
        announcer.look(own_addresses() if network.bind == EVERY else [network.bind])
        never.wait(ADDRESSES_S)


def _served() -> tuple[Path, Network]:
    data = Path(os.environ[DATA])
    found = read_network(data)
    if found is None:
        raise NetworkFault(f"The folder network went away from {data} while the server ran. Start it again.")
    return data, found
