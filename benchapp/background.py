"""The seating check as a process of its own: low in priority, limited in memory, one at a time, its results kept.

A folder holds a file `KEY.json` per result, named by what it was made from; so a check that was left is found again,
also after a restart. Beside it lie `KEY.glb` for a viewer and `KEY.png`, the still picture. `KEY.job` says what is
asked, `KEY.now` how far it is, `KEY.alive` is locked by the process at work, and `one` by the one whose turn it is.
"""

import hashlib
import json
import os
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import asdict, dataclass, field
from io import BufferedRandom
from pathlib import Path
from typing import Any, Literal

from benchapp.core.faults import FileFaults
from benchapp.core.words import _, use
from benchapp.paths import FONTS
from benchapp.store import catalogue
from benchapp.store.locks import free, hold

MEMORY = 4 << 30  # bytes of address space: the libraries map more than they use
AUTOGROUP = Path("/proc/self/autogroup")  # sched(7)
TURN_S = 0.2  # between two looks whether it is this one's turn
VERSION = 11  # changes whenever the computation may give another result of the same files
State = Literal["none", "waiting", "running", "done", "lost"]


@dataclass(frozen=True)
class Progress:
    """How far a check is: `lost` when its process ended without a result. `part` is 0 to 1 of `stage`."""

    state: State
    stage: str = ""
    part: float = 0.0


@dataclass(frozen=True)
class Result:
    """What came of a check: the report as plain data (its JSON), or the sentences why there is none.

    `pictures` are the bytes of the files beside it, by their endings `glb` and `png`; none where there is no report.
    """

    report: dict[str, Any] | None
    faults: tuple[str, ...]
    pictures: dict[str, int] = field(default_factory=dict)


class Checks:
    """The checks of one folder; `asked` is the plain data of `benchapp.seating.tell.Asked`."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.started: dict[str, subprocess.Popen[bytes]] = {}

    def key(self, base: bytes, arch: bytes, asked: dict[str, Any]) -> str:
        """Return the name of a result: by the hashes of both files, what is asked, and the version."""
        return self.named(hashlib.sha256(base).hexdigest(), hashlib.sha256(arch).hexdigest(), asked)

    def named(self, base: str, arch: str, asked: dict[str, Any]) -> str:
        """Return the name of a result by the SHA-256 of both files."""
        whole = json.dumps([base, arch, asked, VERSION], sort_keys=True)
        return hashlib.sha256(whole.encode()).hexdigest()[:32]

    def begin(self, base: Path, arch: Path, asked: dict[str, Any], key: str = "") -> str:
        """Start a check of two files unless it runs or is done; return its key. OSError where a file cannot be read.

        `key` saves reading the files where their hashes are known. Comes back when the process is at work or at its
        end, so that one that is gone can be told from one to come.
        """
        key = key or self.key(base.read_bytes(), arch.read_bytes(), asked)
        if self.look(key).state in ("none", "lost"):
            self.folder.mkdir(parents=True, exist_ok=True)
            job = {"base": str(base.resolve()), "arch": str(arch.resolve()), "asked": asked}
            self._write(f"{key}.job", job)
            self._write(f"{key}.now", asdict(Progress("waiting")))
            process = self.started[key] = _start(self.folder.resolve(), key)
            while process.poll() is None and not self._held(f"{key}.alive"):
                time.sleep(TURN_S / 4)
        return key

    def look(self, key: str) -> Progress:
        """Return how far a check is."""
        if self.result(key):
            return Progress("done", "", 1.0)
        now = self._read(f"{key}.now")
        if now is None:
            return Progress("none")
        found = Progress(now["state"], now["stage"], now["part"])
        if key in self.started:
            self.started[key].poll()
        if not self._held(f"{key}.alive"):
            return Progress("done", "", 1.0) if self.result(key) else Progress("lost", found.stage, found.part)
        return found

    def result(self, key: str) -> Result | None:
        """Return what came of a check; None as long as nothing did."""
        kept = self._read(f"{key}.json")
        return Result(kept["report"], tuple(kept["faults"]), kept.get("pictures", {})) if kept else None

    def picture(self, key: str, ending: str) -> Path | None:
        """Return the file of a check's picture, `glb` or `png`; None where there is none."""
        found = self.result(key)
        return self.folder / f"{key}.{ending}" if found and ending in found.pictures else None

    def work(self, key: str) -> None:
        """Do a check that was begun: wait for the turn, tell the progress, keep the result. For its own process."""
        job = self._read(f"{key}.job")
        if job is None or self.result(key):
            return
        with self._holding(f"{key}.alive"), self._holding("one"):
            self._write(f"{key}.now", asdict(Progress("running", "read")))
            self._write(f"{key}.json", self._checked(key, job))
            (self.folder / f"{key}.job").unlink(missing_ok=True)

    def _checked(self, key: str, job: dict[str, Any]) -> dict[str, Any]:
        from benchapp.seating.check import check
        from benchapp.seating.faults import Unusable
        from benchapp.seating.glb import with_shown
        from benchapp.seating.report import as_json
        from benchapp.seating.still import still_of
        from benchapp.seating.tell import Asked

        def tell(stage: str, part: float) -> None:
            self._write(f"{key}.now", asdict(Progress("running", stage, part)))

        asked: dict[str, Any] = {
            name: tuple(value) if isinstance(value, list) else value for name, value in job["asked"].items()
        }
        try:
            found = check(Path(job["base"]).read_bytes(), Path(job["arch"]).read_bytes(), Asked(**asked), tell)
            tell("pictures", 0.0)
            glb, shown = with_shown(found)
            pictures = {"glb": glb, "png": still_of(shown, found.report, FONTS)}
            for ending, data in pictures.items():
                self._put(f"{key}.{ending}", data)
        except Unusable as fault:
            return {"report": None, "faults": fault.faults}
        except MemoryError:
            words = _("The files need more memory than the check may use. Export them with fewer triangles.")
            return {"report": None, "faults": [words]}
        sizes = {ending: len(data) for ending, data in pictures.items()}
        return {"report": as_json(found.report), "faults": [], "pictures": sizes}

    def _write(self, name: str, data: dict[str, Any]) -> None:
        self._put(name, json.dumps(data).encode())

    def _put(self, name: str, data: bytes) -> None:
        """Write a file whole or not at all."""
        file = self.folder / name
        fresh = file.with_name(f"{name}.{os.getpid()}.new")
        fresh.write_bytes(data)
        fresh.replace(file)

    def _read(self, name: str) -> dict[str, Any] | None:
        try:
            found: dict[str, Any] = json.loads((self.folder / name).read_text("utf-8"))
        except (FileNotFoundError, json.JSONDecodeError):
            return None
        return found

    def _open(self, name: str) -> BufferedRandom:
        (self.folder / name).touch()
        return (self.folder / name).open("r+b")

    def _held(self, name: str) -> bool:
        file = self._open(name)
        try:
            hold(file)
        except OSError:
            file.close()
            return True
        free(file)
        return False

    @contextmanager
    def _holding(self, name: str) -> Iterator[None]:
        """Hold a lock of the folder, waiting for it."""
        file = self._open(name)
        while True:
            try:
                hold(file)
                break
            except OSError:
                time.sleep(TURN_S)
        try:
            yield
        finally:
            free(file)


def _start(folder: Path, key: str) -> subprocess.Popen[bytes]:
    """Start the process of a check; it goes on when this one ends."""
    lone: dict[str, Any] = {"start_new_session": True}
    if sys.platform == "win32":
        lone = {"creationflags": subprocess.BELOW_NORMAL_PRIORITY_CLASS | subprocess.DETACHED_PROCESS}
    one_thread = dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"), "1")
    return subprocess.Popen(
        [sys.executable, "-m", "benchapp.background", str(folder), key], env=os.environ | one_thread,
        stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, **lone,
    )


def _humble() -> None:
    """Lower the priority and limit the memory, where the system can; Windows has the priority from its start."""
    if sys.platform != "win32":
        import resource

        os.nice(10)
        # Where Linux shares the processor among sessions, a session of its own would have as much as the whole server.
        with suppress(OSError):
            AUTOGROUP.write_text("10")
        _soft, most = resource.getrlimit(resource.RLIMIT_AS)
        limit = MEMORY if most == resource.RLIM_INFINITY else min(MEMORY, most)
        resource.setrlimit(resource.RLIMIT_AS, (limit, most))


def _speak(data: Path) -> None:
    """Let this process speak the language of a data folder: a report's warnings and its picture are read by people."""
    with suppress(FileFaults, OSError):  # the server has said what is wrong with it
        if lexicon := catalogue.in_folder(data):
            use(lexicon.catalogue)


if __name__ == "__main__":
    _humble()
    _speak(Path(sys.argv[1]).parent)
    Checks(Path(sys.argv[1])).work(sys.argv[2])
