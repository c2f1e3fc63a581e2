"""The server in the lab's network: HTTPS by the lab's own certificates, and the door by which tablets are set up.

This process only watches; one serves (`serve.application`), one holds the door and says the name under `local` in the
network. A new certificate is taken up by a new serving process: it is started beside the old one, which goes on until
the new one has read its programs in, and then hands the data folder's lock over.
"""

import multiprocessing
import os
import threading
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from multiprocessing.context import SpawnProcess
from pathlib import Path

from granian import Granian
from granian.constants import HTTPModes, Interfaces, SSLProtocols
from granian.http import HTTP1Settings
from pydantic import ValidationError

from benchapp import __version__, chance
from benchapp.core.faults import FileFaults, shape_faults
from benchapp.network.addresses import LOOPBACK, own_addresses
from benchapp.network.certificates import days_left, fingerprint
from benchapp.network.folder import make_network, read_authority, renew, why_renew
from benchapp.network.place import EVERY, Network, NetworkFault, Place, place_of, read_network
from benchapp.processes import ADDRESS, DATA, GRACE_S
from benchapp.serve import PORT, THREADS, look_through, make_where_empty, must_be_free
from benchapp.serve_door import ADDRESSES_S, PATIENCE_MS, hold_the_door
from benchapp.store import logs

SETUP_PORT = 8322
OVERLAP_S = 6.0  # how long the old serving process goes on beside the new one: what reading programs in takes
LOOK_S = 1.0  # how often the parent looks whether a new certificate lies there
Tell = Callable[[str], None]


@dataclass(frozen=True)
class Wished:
    """What was asked for on the command line; None where nothing was said."""

    name: str | None = None
    port: int | None = None
    setup_port: int | None = None
    bind: str | None = None


def prepare(data: Path, wished: Wished, ask_name: Callable[[], str], tell: Tell = lambda words: None) -> Network:
    """Return the network of a data folder; where it has none, ask for the name and make it.

    NetworkFault when something else is wished than the folder has: name and port are the address of all pages for
    ever, the rest is changed in `network.toml`.
    """
    known = read_network(data)
    if known is not None:
        for key in ("name", "port", "setup_port", "bind"):
            asked, has = getattr(wished, key), getattr(known, key)
            if asked is not None and asked != has:
                raise NetworkFault(_another(data, key, asked, has))
        return known
    said = {
        "name": wished.name or ask_name(), "port": wished.port or PORT, "setup_port": wished.setup_port or SETUP_PORT,
        "bind": wished.bind or EVERY,
    }
    try:
        made = Network.model_validate(said)
    except ValidationError as error:
        raise FileFaults("serve --lan", shape_faults(said, error)) from None
    make_where_empty(data)  # before anything else lies in the folder
    make_network(data, made, own_addresses(), chance.now_ms(), chance.random_bytes)
    authority = read_authority(data)
    tell(f"A certificate authority for {made.name} was made in {place_of(data).path}. It holds from "
         f"{authority.not_valid_before_utc:%Y-%m-%d} to {authority.not_valid_after_utc:%Y-%m-%d}: if these days look "
         "wrong, stop, set the PC's clock right, remove that folder and begin again.")
    return made


def _another(data: Path, key: str, asked: object, has: object) -> str:
    file = place_of(data).file
    if key in ("name", "port"):
        return (f"Tablets of this lab know the {key} {has}, and what waits on them belongs to it, so it stays. "
                f"Leave `--{key} {asked}` out. A lab that truly needs another one moves {file.parent} away when "
                "nothing waits on any tablet, and sets every tablet up again.")
    option = key.replace("_", "-")
    return f"{file} says {has}: leave `--{option} {asked}` out, or change it in that file."


def serve_lan(data: Path, network: Network, tell: Tell) -> None:
    """Serve a data folder in the lab's network until stopped.

    Raises PortTaken, a StoreError, NetworkFault or FileFaults before anything is served. The certificate is made anew
    first where it does not serve.
    """
    remedy = f"stop the other program, or the server that runs already (see {place_of(data).file})"
    for port in (network.port, network.setup_port):
        must_be_free(network.bind, port, remedy)
    look_through(data, network.here, tell)
    addresses, now = own_addresses(), chance.now_ms()
    if why_renew(data, network, addresses, now):
        renew(data, network, addresses, now, chance.random_bytes)
    for words in about(data, network, addresses, now):
        tell(words)
    os.environ[DATA], os.environ[ADDRESS] = str(data.resolve()), network.here
    multiprocessing.set_start_method("spawn", force=True)  # this process has threads: a fork of it could hang
    beside = Beside()
    beside.start()
    try:
        _serve_pages(data, network)
    finally:
        beside.end()
    with logs.logging_to(data, chance.now_ms):
        logs.note("server-stop", version=__version__)


def about(data: Path, network: Network, addresses: list[str], now: int) -> list[str]:
    """Return what a person at the PC has to know at the start, a line each."""
    at = (addresses or [LOOPBACK])[0] if network.bind == EVERY else network.bind
    authority = read_authority(data)
    left = days_left(authority, now)
    groups = fingerprint(authority)
    return [
        f"Tablets open {network.origin}; this PC itself also {network.here.replace(LOOPBACK, 'localhost')}",
        f"Set a tablet up by http://{at}:{network.setup_port}/ ; see also {network.origin}/desk/network",
        f"Fingerprint (SHA-256): {' '.join(groups[:8])}", f"                       {' '.join(groups[8:])}",
        *([f"The authority ends in {left} days: README.md says how to give tablets a new one."] if left < 397 else []),
    ]


def _serve_pages(data: Path, network: Network) -> None:
    """Serve until a signal ends it; a new certificate that lies there is taken up by a new serving process."""
    place = place_of(data)
    server = Granian(
        "benchapp.serve:application", factory=True, address=network.bind, port=network.port,
        interface=Interfaces.WSGI, workers=1, blocking_threads=THREADS, log_enabled=False, websockets=False,
        ssl_cert=place.leaf, ssl_key=place.leaf_key, ssl_protocol_min=SSLProtocols.tls12,
        # One protocol for the PC itself and for tablets: what the fault tests prove holds for both.
        http=HTTPModes.http1, http1_settings=HTTP1Settings(header_read_timeout=PATIENCE_MS),
        workers_kill_timeout=GRACE_S, respawn_interval=OVERLAP_S,
    )
    threading.Thread(target=_take_up, args=(place, server.signal_handler_reload), daemon=True).start()
    server.serve()


def _take_up(place: Place, restart: Callable[[], None]) -> None:
    """Look every second whether another certificate lies there than the one shown, and let it be taken up."""
    shown, never = place.leaf.read_bytes(), threading.Event()
    while not never.wait(LOOK_S):
        with suppress(OSError):  # just being replaced
            found = place.leaf.read_bytes()
            if found != shown:
                shown = found
                restart()


class Beside:
    """The process that holds the door; one that ended is started again."""

    def __init__(self) -> None:
        self._ended = threading.Event()
        self._process: SpawnProcess | None = None

    def start(self) -> None:
        """Start it, and watch over it."""
        self._begin()
        threading.Thread(target=self._keep, daemon=True).start()

    def _begin(self) -> None:
        self._process = multiprocessing.get_context("spawn").Process(target=hold_the_door, name="door")
        self._process.start()

    def _keep(self) -> None:
        while not self._ended.wait(ADDRESSES_S):
            if self._process is not None and not self._process.is_alive():
                self._begin()

    def end(self) -> None:
        """End it."""
        self._ended.set()
        if self._process is not None:
            self._process.terminate()
            self._process.join(GRACE_S)
