"""The server: one process that serves one data folder, on the lab's PC itself."""

import logging
import multiprocessing
import os
import platform
import socket
import sys
import threading
from collections.abc import Callable
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from benchapp import __version__, chance
from benchapp.actions.bench import Bench, Chance
from benchapp.actions.keeping import make_backup, read_only_reason
from benchapp.actions.seating import meshes_of
from benchapp.actions.seating_keeper import Keeper
from benchapp.actions.setup import not_set_up
from benchapp.actions.today import read_ahead
from benchapp.actions.wet import wet_now
from benchapp.awake import stay_awake
from benchapp.core.words import use
from benchapp.network.addresses import own_addresses
from benchapp.network.place import EVERY, Network, read_network
from benchapp.processes import ADDRESS, DATA, GRACE_S, end_with_parent
from benchapp.store import catalogue, logs, schema
from benchapp.store.errors import FolderLocked, FolderNewer, NotEmpty
from benchapp.store.folder import DataFolder, create, open_for_reading, open_for_writing
from benchapp.store.journal import Store

HOST = "127.0.0.1"
PORT = 8321
THREADS = 8
KEY = "local-key"
WARM_MS = 2000  # longer than a lab's jaws in work take on a small PC
SECOND_S = 1.0
HOUR_S = 3600.0
DAY_S = 24 * HOUR_S
HANDING_S, HANDING_OVER = 0.05, 600  # half a minute: the old one may answer what it began


class PortTaken(Exception):
    """The port is in use by another program."""


def bench_of(store: Store) -> Bench:
    """Return a bench with the machine's own clock and chance."""
    real = Chance(chance.new_id, chance.random_bytes, chance.choose)
    return Bench(store, chance.now_ms, real, __version__)


def open_bench(data: Path, address: str = "", looked_through: bool = False) -> Bench:
    """Open a data folder as the one program that writes in it; FolderNewer when only a newer version may."""
    store = open_for_writing(data, address, looked_through)
    reason = read_only_reason(store)
    if reason:
        store.close()
        raise FolderNewer(reason)
    return _speaking(data, store)


def read_bench(data: Path) -> Bench:
    """Open a data folder for questions only, also beside a running server."""
    return _speaking(data, open_for_reading(data))


def _speaking(data: Path, store: Store) -> Bench:
    """Return a bench, and let this process speak the language of its data folder."""
    try:
        lexicon = catalogue.in_folder(data)
    except BaseException:
        store.close()
        raise
    use(lexicon.catalogue if lexicon else None)
    return bench_of(store)


def application() -> Callable[..., Any]:
    """Make the application in the serving process (granian calls this once)."""
    from benchapp.web.app import create_app

    data = Path(os.environ[DATA])
    bench, waited = _open_when_free(data, os.environ[ADDRESS])
    if trouble := logs.open_log(data, chance.now_ms):  # after the lock: whoever has the folder writes its log
        print(trouble, flush=True)
    key = chance.random_bytes(24).hex()
    _write_key(data / KEY, key)
    threading.Thread(target=end_with_parent, daemon=True).start()
    threading.Thread(target=_daily_backup, args=(data,), daemon=True).start()
    threading.Thread(target=_look_after_seating, args=(bench,), daemon=True).start()
    if not waited:  # who takes the place of another server is waited for
        warm_up(bench)
    threading.Thread(target=stay_awake, args=(bench, threading.Event()), daemon=True).start()
    network = read_network(data) if os.environ[ADDRESS].startswith("https:") else None
    if network is not None:
        threading.Thread(target=_renew, args=(bench, data, network), daemon=True).start()
    logs.note("server-start", version=__version__, python=platform.python_version(),
              port=str(urlsplit(os.environ[ADDRESS]).port))
    return create_app(bench, key, network)


def _open_when_free(data: Path, address: str) -> tuple[Bench, bool]:
    """Open the data folder, which `serve` looked through just before; tell whether its lock had to be waited for.

    In the lab's network a serving process takes the place of another one, which ends within seconds.
    """
    waiting = threading.Event()
    for tries in range(HANDING_OVER if address.startswith("https:") else 1):
        try:
            return open_bench(data, address, looked_through=True), tries > 0
        except FolderLocked:
            waiting.wait(HANDING_S)
    return open_bench(data, address, looked_through=True), True


def _renew(bench: Bench, data: Path, network: Network) -> None:
    """Look every minute whether this PC needs a new certificate; it is made while nobody works with wet resin."""
    from benchapp.network.renewal import Renewal  # here: a PC that serves itself alone needs no certificates

    renewal = Renewal(data, network, chance.now_ms, chance.random_bytes, own_addresses, lambda: not wet_now(bench))
    renewal.keep(threading.Event().wait, lambda words: print(words, flush=True))


def warm_up(bench: Bench) -> None:
    """Read what the desk's first list needs before the first tap can come, and only so long: no tap waits for it.

    In a thread beside the first requests it would take their time. What it cannot read is said by the page that asks.
    """
    until = bench.clock() + WARM_MS
    try:
        read_ahead(bench, lambda: bench.clock() >= until)
    except Exception as error:  # it only saves time: whatever goes wrong here must not keep the server from starting
        logs.note_error("read-ahead-failed", error)
        print(f"Reading ahead was left off: {error}", flush=True)


def _write_key(file: Path, key: str) -> None:
    """Leave a key that only this user can read, by which commands on this PC may hand sheets to the server."""
    file.unlink(missing_ok=True)
    with open(file, "w", encoding="ascii", opener=lambda path, flags: os.open(path, flags, 0o600)) as stream:
        stream.write(key)


def local_door(data: Path) -> tuple[str, str]:
    """Return address and key of the server that has a data folder open, both "" when there is none."""
    try:
        lines = (data / "lock").read_text("utf-8").splitlines()
        return lines[1] if len(lines) > 1 else "", (data / KEY).read_text("ascii")
    except (OSError, ValueError):
        return "", ""


def _look_after_seating(bench: Bench) -> None:
    """Look every second whether a seating check is to be begun or to be stored; the checks are other processes."""
    meshes_of(bench).sweep(bench.clock() / 1000)
    keeper, waiting, failed = Keeper(bench), threading.Event(), ""
    while not waiting.wait(SECOND_S):
        try:
            keeper.look()
            failed = ""
        except Exception as error:  # a full disk, a file that cannot be read: the next look may find it mended
            if repr(error) != failed:
                logs.note_error("seating-failed", error)
            failed = repr(error)


def _daily_backup(data: Path) -> None:
    """Look every hour whether a backup is due; a process of its own makes it, or every tap would wait for it."""
    done = threading.Event()
    while True:
        if backup_due(data / "backups", chance.now_ms()):
            process = multiprocessing.get_context("spawn").Process(target=_back_up, args=(data,), daemon=True)
            process.start()
            process.join()
            if process.exitcode == 0:
                logs.note("backup")
            else:
                logs.note("backup-failed", logging.ERROR)
        done.wait(HOUR_S)


def _back_up(data: Path) -> None:
    threading.Thread(target=end_with_parent, daemon=True).start()
    if hasattr(os, "nice"):
        os.nice(10)
    try:
        with open_for_reading(data) as store:
            make_backup(store, data / "backups", backup_name("daily"), keep=14)
    except Exception as error:  # a failed backup must not end the server; the next one may work
        print(f"The daily backup failed: {error}", flush=True)
        sys.exit(1)


def backup_due(folder: Path, now: int) -> bool:
    """Tell whether the newest daily backup in `folder` is a day old at `now` (UTC ms), or there is none."""
    newest = max((file.stat().st_mtime for file in folder.glob("daily-*.sqlite3")), default=0.0)
    return now / 1000 - newest >= DAY_S


def backup_name(kind: str) -> str:
    """Return a file name that sorts by time."""
    moment = datetime.fromtimestamp(chance.now_ms() / 1000, UTC)
    return f"{kind}-{moment:%Y%m%dT%H%M%S%f}Z"


def must_be_free(host: str, port: int, remedy: str = "") -> None:
    """Bind once, plainly: granian shares its port, and two servers would answer by turns."""
    remedy = remedy or f"stop the other program, or add `--port {port + 1}`"
    taken = f"Port {port} on {host} is in use: {remedy}."
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as probe:
        if os.name != "nt":
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
        except OSError:
            raise PortTaken(taken) from None
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as probe:
        if probe.connect_ex((HOST if host == EVERY else host, port)) == 0:
            raise PortTaken(taken)


def make_where_empty(data: Path) -> None:
    """Make a data folder in an absent or empty place."""
    if not DataFolder(data).database.exists():
        with suppress(NotEmpty):  # what else lies there stays as it is; opening it says what is missing
            create(data, chance.new_id())


def serve(data: Path, port: int = PORT, tell: Callable[[str], None] = lambda words: None) -> None:
    """Serve a data folder until stopped; raises PortTaken, a StoreError or FileFaults before anything is served.

    An absent or empty folder becomes a new data folder; `tell` then hears where it is set up, and which
    language is spoken.
    """
    from granian import Granian
    from granian.constants import Interfaces

    must_be_free(HOST, port)
    address = f"http://{HOST}:{port}"
    make_where_empty(data)
    look_through(data, address, tell)
    os.environ[DATA] = str(data.resolve())
    os.environ[ADDRESS] = address
    Granian(
        "benchapp.serve:application", factory=True, address=HOST, port=port, interface=Interfaces.WSGI, workers=1,
        blocking_threads=THREADS, log_enabled=False, websockets=False,
        workers_kill_timeout=GRACE_S,  # a signal that comes while the serving process starts is lost on it
    ).serve()
    with logs.logging_to(data, chance.now_ms):
        logs.note("server-stop", version=__version__)


def look_through(data: Path, address: str, tell: Callable[[str], None]) -> None:
    """Open and close a data folder before it is served: locked, newer or damaged is said here, in one sentence.

    `tell` hears where it is set up, which language is spoken, and the way back where it was brought up to date.
    """
    with (bench := open_bench(data, address)).store:
        if not_set_up(bench):
            tell(f"Nobody works in {data} yet. Open {address}/setup on this PC: it asks who the laboratory is.")
        if lexicon := catalogue.in_folder(data):
            tell(f"{data / catalogue.NAME}: {lexicon}")
        if bench.store.before:
            told_way_back(data, bench.store.before, tell)


def told_way_back(data: Path, before: Path, tell: Callable[[str], None]) -> None:
    """Say on the console and in the log that an older folder was brought up to date, and how to go back."""
    tell(f"{data} was written by an older version and was brought up to this one; {before} holds it as it was. "
         "The way back: stop the server, install the older version again, and run "
         f"`benchapp restore {before} --data NEW_FOLDER`. What is entered from now on is not in it.")
    with logs.logging_to(data, chance.now_ms):
        logs.note("upgraded", version=__version__, schema=str(schema.VERSION))
