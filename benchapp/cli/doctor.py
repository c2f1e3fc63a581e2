"""The command that looks at this PC and a data folder, and says what is not right and the remedy."""

import json
import os
import platform
import shutil
import sys
from pathlib import Path
from urllib.parse import urlsplit

import click

from benchapp import __version__, chance
from benchapp.actions.keeping import check_journal, mesh_names, read_only_reason
from benchapp.actions.lab import lab_of
from benchapp.actions.settings import zones
from benchapp.actions.tablets import PC, tablets
from benchapp.cli.bundle import unfit_packages, write_bundle
from benchapp.cli.doctor_network import answers, of_network
from benchapp.cli.run import port_option
from benchapp.cli.shared import bar, data_option
from benchapp.core import doctor as judge
from benchapp.core import events
from benchapp.serve import HOST, PORT, PortTaken, bench_of, local_door, must_be_free
from benchapp.store.engine import sqlite3
from benchapp.store.errors import StoreError
from benchapp.store.folder import DataFolder, inspect, open_for_reading
from benchapp.store.journal import Store
from benchapp.store.meshes import Meshes
from benchapp.store.verify import Broken


@click.command()
@data_option
@port_option
@click.option("--json", "as_json", is_flag=True, help="For programs: one JSON document.")
@click.option("--bundle", type=click.Path(path_type=Path, dir_okay=False), metavar="FILE",
              help="Write a .zip for whoever helps: findings, versions, settings, counts, log; no personal data.")
def doctor(data: Path, port: int, as_json: bool, bundle: Path | None) -> None:
    """Say what is not right with this PC and a data folder, and the remedy; exit 0 when nothing is wrong, else 1."""
    now = chance.now_ms()
    found = [*_of_folder(data, now), *_of_pc(data, port), *of_network(data, local_door(data)[0], now)]
    if bundle is not None:
        write_bundle(bundle, data, found, now)
    if as_json:
        lines = [{"check": one.check, "level": one.level, "words": one.words} for one in found]
        click.echo(json.dumps({"format": 1, "version": __version__, "python": platform.python_version(),
                               "findings": lines}, ensure_ascii=False, indent=2))
    else:
        click.echo(f"Seat & Cure {__version__}, Python {platform.python_version()}, {platform.system()}")
        for one in found:
            click.echo(f"{one.level:<6}{one.check}: {one.words}")
        if bundle is not None:
            click.echo(f"Wrote {bundle}: it holds no names, texts, entries, codes or keys. Look into it before you "
                       "send it.")
    sys.exit(int(any(one.level == "wrong" for one in found)))


def _of_folder(data: Path, now: int) -> list[judge.Finding]:
    """Judge what lies in the data folder; only read, also beside a running server."""
    try:
        store = open_for_reading(data)
    except StoreError as error:
        return judge.unopened(str(error), type(error).__name__)
    with store:
        tip = store.tip()
        last = store.entry(tip.seq)
        received = events.read_body(last.body)["server"]["received"] if last else 0
        copy = _newest_copy(data)
        zone = lab_of(bench_of(store)).zone if store.last_tagged("kind", "lab") else ""
        return [
            *judge.unopened(""),
            judge.on_writing(read_only_reason(store), os.access(data, os.W_OK)),
            *judge.on_backup(copy, tip.seq, now),
            judge.on_disk(shutil.disk_usage(data).free, DataFolder(data).database.stat().st_size),
            judge.on_clock(now, received, copy.at if copy else 0),
            judge.on_zone(zone, zone in zones()),
            *judge.on_tablets([
                judge.Tablet(one.name or one.id, one.seen) for one in tablets(bench_of(store))
                if one.kind != PC and not one.struck
            ], now),
            judge.on_parked(len(store.parked())),
            judge.on_meshes(sum(1 for name in mesh_names(store) if not Meshes(data).there(name))),
        ]


def _of_pc(data: Path, port: int) -> list[judge.Finding]:
    """Judge the place of the folder, the port and the SQLite of this PC."""
    where = str(data.resolve())
    mounts = Path("/proc/mounts")
    kind = judge.mount_type(where, mounts.read_text("utf-8", "replace")) if mounts.exists() else ""
    address, _key = local_door(data)
    if address and port == PORT:  # the server may have been started with another port than the usual one
        ours = answers(address)
        port = urlsplit(address).port or port if ours else port
    else:
        ours = answers(f"http://{HOST}:{port}")
    return [judge.on_place(where, kind), judge.on_port(port, ours, ours or _free(port)),
            judge.on_python(sys.version_info[:3]), judge.on_packages(unfit_packages()),
            judge.on_sqlite(sqlite3.sqlite_version_info)]


def _free(port: int) -> bool:
    try:
        must_be_free(HOST, port)
    except PortTaken:
        return False
    return True


def _newest_copy(data: Path) -> judge.Copy | None:
    """Verify the newest backup in the data folder; None when there is none."""
    files = list(DataFolder(data).backups.glob("*.sqlite3"))
    if not files:
        return None
    file = max(files, key=lambda one: one.stat().st_mtime)
    try:
        inspect(file, may_be_older=True, mode="immutable")
        with Store(file, "immutable") as copy:
            verified = check_journal(copy, progress=bar("Checked"))
        broken = str(verified) if isinstance(verified, Broken) else ""
    except StoreError as error:
        broken = str(error)
    return judge.Copy(file.name, int(file.stat().st_mtime * 1000), broken, file.stat().st_dev == data.stat().st_dev)
