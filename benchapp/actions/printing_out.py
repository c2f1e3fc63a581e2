"""Getting labels onto paper: a program runs without a shell and for so long only, or files go into a folder."""

import os
import signal
import sys
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from errno import EACCES, EDQUOT, ENOENT, ENOSPC, ENOTDIR, EROFS
from itertools import count
from pathlib import Path
from subprocess import DEVNULL, STDOUT, Popen, TimeoutExpired, call
from tempfile import TemporaryDirectory, TemporaryFile
from threading import Lock
from typing import IO, Any

from benchapp.actions.bench import Bench
from benchapp.actions.printing import MARK, NotPrinted, OutFolder, Printer, Way
from benchapp.core.words import N_, _, n_

LONGEST = 200  # characters of what a program wrote that are shown
_TURN = Lock()  # one pile at a time: programs that hang must not keep every thread of the server
# A program of its own group, so that all that it started can be stopped with it; on Windows without a window.
_APART: dict[str, Any] = {"creationflags": 0x08000000} if sys.platform == "win32" else {"start_new_session": True}
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_ROOM = N_("Free some space on that disk, then print again.")
_MENDS = {
    ENOSPC: _ROOM, EDQUOT: _ROOM,
    ENOENT: N_("Make that folder, or name another one in printing.toml, then print again."),
    ENOTDIR: N_("Name a folder in printing.toml, not a file, then print again."),
    EACCES: N_("Give this user the right to write there, then print again."),
    EROFS: N_("Name a folder that can be written, then print again."),
}
_LOOK = N_("Look at that folder, then print again.")


@dataclass(frozen=True)
class Made:
    """One file to print: what it is of, for its name, its ending, and its bytes."""

    of: str
    ending: str
    data: bytes


def print_out(bench: Bench, way: Way, files: Sequence[Made], most: float = 0.0) -> str:
    """Print files one after the other and return what was done; NotPrinted at the first that fails.

    `most` is a time limit in seconds in place of the printer's own.
    """
    if not _TURN.acquire(blocking=False):
        raise NotPrinted(_("Something else is being printed just now. Wait a moment, then print again."))
    try:
        named = [(stamped(bench.clock(), at, made), made.data) for at, made in enumerate(files, 1)]
        if isinstance(way.does, Printer):
            _print(way.does, named, most or way.does.seconds)
            return n_("Printed: {n} file handed to “{printer}”.", "Printed: {n} files handed to “{printer}”.",
                      len(named), printer=way.name)
        if isinstance(way.does, OutFolder):
            put(Path(way.does.path), named)
            return n_("Put into {folder}: {n} file.", "Put into {folder}: {n} files.",
                      len(named), folder=way.does.path)
        raise NotPrinted(_("That way prints in the browser. Open the sheet instead."))
    finally:
        _TURN.release()


def stamped(now: int, at: int, made: Made) -> str:
    """Return a file name that sorts by time (UTC ms `now`), then by its place in the pile."""
    moment = EPOCH + timedelta(milliseconds=now)
    return f"{moment:%Y%m%dT%H%M%S}{now % 1000:03}Z-{at:02}-{made.of}.{made.ending}"


def _print(printer: Printer, named: Sequence[tuple[str, bytes]], seconds: float) -> None:
    # Removed when the program has ended: one that goes on in the background has to make a copy first.
    with TemporaryDirectory(prefix="labels-", ignore_cleanup_errors=True) as place:
        for at, (name, data) in enumerate(named):
            file = Path(place) / name
            try:
                file.write_bytes(data)
            except OSError as error:
                raise NotPrinted(_no_room(place, at, len(named), error)) from None
            if why := run([word.replace(MARK, str(file)) for word in printer.command], seconds):
                raise NotPrinted(n_(
                    "“{printer}” printed {done} of {n} file: {why}. "
                    "Look at the printer, then print again or choose another way.",
                    "“{printer}” printed {done} of {n} files: {why}. "
                    "Look at the printer, then print again or choose another way.",
                    len(named), printer=printer.name, done=at, why=why,
                ))


def run(words: Sequence[str], seconds: float) -> str:
    """Run a program without a shell, stopped after `seconds`; return what went wrong with what it wrote, or ""."""
    # Into a file, not a pipe: something that the program left running would keep a pipe open for ever.
    with TemporaryFile() as heard:
        try:
            process = Popen(words, stdin=DEVNULL, stdout=heard, stderr=STDOUT, **_APART)
        except (OSError, ValueError) as error:
            why = getattr(error, "strerror", None) or str(error)
            return _("the program {program} cannot be started ({why})", program=words[0], why=why)
        try:
            code = process.wait(seconds)
        except TimeoutExpired:
            _stop(process)
            return _slow(f"{seconds:g}", _wrote(heard))
        return _failed(code, _wrote(heard)) if code else ""


def _slow(seconds: str, wrote: str) -> str:
    if not wrote:
        return _("the program did not end within {seconds} s and was stopped and wrote nothing", seconds=seconds)
    return _("the program did not end within {seconds} s and was stopped and wrote “{words}”",
             seconds=seconds, words=wrote)


def _failed(code: int, wrote: str) -> str:
    if not wrote:
        return _("the program ended with {code} and wrote nothing", code=code)
    return _("the program ended with {code} and wrote “{words}”", code=code, words=wrote)


def _stop(process: Popen[bytes]) -> None:
    """Stop a program with all that it started."""
    if sys.platform == "win32":
        call(["taskkill", "/F", "/T", "/PID", str(process.pid)], stdin=DEVNULL, stdout=DEVNULL, stderr=DEVNULL)
    else:
        with suppress(ProcessLookupError):
            os.killpg(process.pid, signal.SIGKILL)
    process.kill()
    process.wait()


def _wrote(heard: IO[bytes]) -> str:
    heard.seek(0)
    text = " ".join(heard.read(4000).decode("utf-8", "replace").split())
    plain = "".join(c for c in text if c.isprintable())
    return f"{plain[:LONGEST]}{'…' if len(plain) > LONGEST else ''}"


Write = Callable[[IO[bytes], bytes], Any]


def _write(stream: IO[bytes], data: bytes) -> None:
    stream.write(data)


def put(folder: Path, named: Sequence[tuple[str, bytes]], write: Write = _write) -> None:
    """Put files into a folder, each whole at once and none over another; NotPrinted where it takes no more."""
    for at, (name, data) in enumerate(named):
        try:
            _put(folder, name, data, write)
        except OSError as error:
            raise NotPrinted(_no_room(str(folder), at, len(named), error)) from None


def _put(folder: Path, name: str, data: bytes, write: Write) -> None:
    stem, _dot, ending = name.rpartition(".")
    free = (f"{stem}{f'-{more}' if more else ''}.{ending}" for more in count())
    whole = next(folder / one for one in free if not (folder / one).exists())
    part = whole.with_name(f"{whole.name}.part")  # whoever watches the folder must never see half a file
    try:
        with part.open("xb") as stream:
            write(stream, data)
        part.replace(whole)
    except BaseException:
        part.unlink(missing_ok=True)
        raise


def _no_room(folder: str, done: int, every: int, error: OSError) -> str:
    told = n_(
        "{folder} took {done} of {n} file and then no more ({why}).",
        "{folder} took {done} of {n} files and then no more ({why}).",
        every, folder=folder, done=done, why=error.strerror or type(error).__name__,
    )
    return " ".join([told, _(_MENDS.get(error.errno or 0, _LOOK))])
