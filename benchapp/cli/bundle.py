"""The bundle for whoever helps: gathers numbers and known words, and writes the .zip; see `core.bundle`."""

import platform
import re
import zipfile
from contextlib import suppress
from datetime import UTC, datetime
from importlib.metadata import PackageNotFoundError, requires, version
from pathlib import Path

from packaging.requirements import Requirement

from benchapp import __version__
from benchapp.actions.settings import settings
from benchapp.core.bundle import Known, bundle
from benchapp.core.doctor import Finding
from benchapp.core.faults import FileFaults
from benchapp.network.place import place_of
from benchapp.serve import bench_of
from benchapp.store import catalogue, logs
from benchapp.store.engine import sqlite3
from benchapp.store.errors import NotEmpty, StoreError
from benchapp.store.folder import DataFolder, open_for_reading


def write_bundle(file: Path, data: Path, findings: list[Finding], now: int) -> None:
    """Write the bundle of a data folder to a new .zip; `now` is UTC ms. NotEmpty when the file is there already."""
    if file.exists():
        raise NotEmpty(f"There is a file {file} already: name another one; nothing was changed.")
    documents = bundle(_gather(data, findings))
    moment = datetime.fromtimestamp(now / 1000, UTC)
    unfinished = file.with_name(file.name + ".new")
    try:
        with zipfile.ZipFile(unfinished, "w", zipfile.ZIP_DEFLATED) as made:
            for name, text in documents.items():
                made.writestr(zipfile.ZipInfo(name, moment.timetuple()[:6]), text, zipfile.ZIP_DEFLATED)
        unfinished.replace(file)
    except BaseException:
        unfinished.unlink(missing_ok=True)
        raise


def _gather(data: Path, findings: list[Finding]) -> Known:
    texts = [one.read_text("utf-8", "replace") for one in reversed(logs.log_files(data))]
    files = {
        "printing.toml": int((data / "printing.toml").is_file()),
        "network.toml": int(place_of(data).file.is_file()),
        "words.po": int((data / catalogue.NAME).is_file()),
    }
    with suppress(FileFaults):
        if lexicon := catalogue.in_folder(data):
            files["words translated"] = lexicon.translated
    try:
        store = open_for_reading(data)
    except StoreError:
        return Known(findings, _versions(), files=files, logs=texts)
    with store:
        folder = DataFolder(data)
        counts = {
            "entries": store.tip().seq, "tablets": len(store.tablets()), "unread facts": len(store.parked()),
            "backups": len(list(folder.backups.glob("*.sqlite3"))),
            "bytes of the database": folder.database.stat().st_size,
        }
        chosen = {one.setting.name: one.value for one in settings(bench_of(store))}
        return Known(findings, _versions(), chosen, files, store.tag_counts("kind"), counts, texts)


def _versions() -> dict[str, str]:
    said = {"seat-and-cure": __version__, "python": platform.python_version(), "system": platform.system(),
            "release": re.sub(r"[^0-9.].*", "", platform.release()), "machine": platform.machine(),
            "sqlite": sqlite3.sqlite_version}
    with suppress(PackageNotFoundError):
        for one in _asked_for():
            with suppress(PackageNotFoundError):
                said[one.name] = version(one.name)
    return said


def _asked_for() -> list[Requirement]:
    """Return the libraries that the installed program asks for on this PC, without those of its tests."""
    read = [Requirement(line) for line in requires("benchapp") or ()]
    return [one for one in read if one.marker is None or one.marker.evaluate({"extra": ""})]


def unfit_packages() -> list[str]:
    """Return the libraries that are missing or of a version that does not fit, in words."""
    found: list[str] = []
    try:
        asked = _asked_for()
    except PackageNotFoundError:
        return ["benchapp itself is not installed"]
    for one in asked:
        try:
            has = version(one.name)
        except PackageNotFoundError:
            found.append(f"{one.name} (missing)")
            continue
        if not one.specifier.contains(has, prereleases=True):
            found.append(f"{one.name} {has} ({one.specifier} is asked for)")
    return found
