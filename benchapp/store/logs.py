"""The server's log: rotating files in `logs/` of the data folder, written in the form of `core.logline`."""

import logging
import traceback
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from logging.handlers import RotatingFileHandler
from pathlib import Path

from benchapp.core import logline

NAME = "server.log"
MOST_BYTES = 1_000_000
KEPT = 5

_LOG = logging.getLogger("benchapp.log")
_LOG.setLevel(logging.INFO)
_LOG.propagate = False


class _Form(logging.Formatter):
    def __init__(self, clock: Callable[[], int]) -> None:
        super().__init__()
        self.clock = clock

    def format(self, record: logging.LogRecord) -> str:
        fields: dict[str, str] = record.__dict__.get("fields", {})
        return logline.line(self.clock(), record.levelname, record.getMessage(), fields)


def open_log(data: Path, clock: Callable[[], int]) -> str:
    """Write to `logs/` of a data folder from now on; return why that cannot be, "" when it can.

    One process at a time writes there: on Windows nobody else could rename the file. A log that cannot be
    written keeps no server from starting.
    """
    close_log()
    try:
        (data / "logs").mkdir(exist_ok=True)
        handler = RotatingFileHandler(data / "logs" / NAME, maxBytes=MOST_BYTES, backupCount=KEPT, encoding="utf-8")
    except OSError as error:
        return f"The log in {data / 'logs'} cannot be written ({error.strerror}): the server works without it."
    handler.setFormatter(_Form(clock))
    _LOG.addHandler(handler)
    return ""


def close_log() -> None:
    """Write to no file any more."""
    for handler in list(_LOG.handlers):
        _LOG.removeHandler(handler)
        handler.close()


@contextmanager
def logging_to(data: Path, clock: Callable[[], int]) -> Iterator[None]:
    """Write to the log of a data folder for as long as the block runs."""
    open_log(data, clock)
    try:
        yield
    finally:
        close_log()


def is_open() -> bool:
    """Tell whether this process writes to a log."""
    return bool(_LOG.handlers)


def note(what: str, level: int = logging.INFO, **fields: str) -> None:
    """Write one event of `logline.KNOWN` with its fields; nothing happens where no log is open."""
    if is_open():
        _LOG.log(level, what, extra={"fields": fields})


def note_error(what: str, error: BaseException, **fields: str) -> None:
    """Write what kind of error came from where; never its message, in which a name may stand."""
    stack = [(frame.filename, frame.lineno or 0, frame.name) for frame in traceback.extract_tb(error.__traceback__)]
    where = {"at": logline.frames(stack)} if stack else {}
    note(what, logging.ERROR, **fields, kind=_kinds(error), **where)


def _kinds(error: BaseException) -> str:
    """Return the class of an error, and of those that led to it."""
    named, seen = [type(error).__name__], {id(error)}
    while (cause := error.__cause__ or error.__context__) is not None and id(cause) not in seen and len(named) < 4:
        named.append(type(cause).__name__)
        seen.add(id(cause))
        error = cause
    return "<".join(named)


def log_files(data: Path) -> list[Path]:
    """Return the files of the log that there are, newest first."""
    names = [NAME, *(f"{NAME}.{number}" for number in range(1, KEPT + 1))]
    return [file for name in names if (file := data / "logs" / name).is_file()]
