"""The lines of the server's log: few known fields, so that no name of a person and no body can stand in them.

A line reads `2026-01-31T08:00:00.000Z ERROR error id=4F7K2M kind=KeyError at=benchapp/web/app.py:120:view`.
"""

import json
import re
from collections.abc import Iterable
from datetime import UTC, datetime, timedelta

KNOWN: dict[str, str] = {
    "server-start": "the server began to answer",
    "server-stop": "the server was ended",
    "error": "something that nobody expected; the page showed the same id",
    "not-stored": "the store could not take something",
    "script-error": "a script on a tablet or at the desk failed",
    "backup": "the daily backup was made",
    "backup-failed": "the daily backup was not made",
    "upgraded": "an older data folder was brought up to this version",
    "read-ahead-failed": "reading ahead at the start was left off",
    "seating-failed": "a seating check could not be begun or stored; it is tried again",
    "awake": "the PC is kept awake, since clocks run",
    "may-sleep": "no clock runs: the PC may sleep again",
    "awake-failed": "the PC could not be kept awake",
}
FIELDS: dict[str, str] = {
    "version": r"[0-9][0-9a-z.+]{0,19}",
    "python": r"[0-9.]{1,12}",
    "port": r"[0-9]{1,5}",
    "schema": r"[0-9]{1,4}",
    "id": r"[0-9A-Z]{6}",
    "kind": r"[A-Za-z_][A-Za-z0-9_.<]{0,119}",
    "at": r"[A-Za-z0-9_./<>@+-]+:[0-9]+:[\w<>]+(,[A-Za-z0-9_./<>@+-]+:[0-9]+:[\w<>]+)*",
    "tablet": r"T[0-9A-Z]{9}",
    "file": r"page|/sw\.js|/static/(js|vendor)/[a-z0-9.-]{1,40}\.js",
    "line": r"[0-9]{1,7}",
    "page": r"[0-9a-f]{12}(-[A-Za-z0-9-]{1,40})?",
    "system": r"[A-Za-z0-9]{1,12}",
}
SAYS = "says"
"""The one free field, last in its line as a JSON string; it never leaves the lab."""
MOST_FRAMES = 12
_HEAD = re.compile(r"(?P<when>\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z) (?P<level>INFO|WARNING|ERROR) (?P<what>[a-z-]+)")
# What an error's message quotes is data, unless it names a property of the script; an open quotation runs to the end.
_QUOTED = re.compile(r"""(reading |setting |property )?("[^"]*"?|'[^']*'?|`[^`]*`?|“[^”]*”?|‘[^’]*’?)""")
_PROPERTY = re.compile(r"'[A-Za-z_$][A-Za-z0-9_$]{0,39}'")



def line(now: int, level: str, what: str, fields: dict[str, str]) -> str:
    """Return one line of the log; `now` in UTC ms. A value that does not fit its field becomes `?`.

    KeyError for an event or a field that is not in `KNOWN`, `FIELDS`: they would not be read again.
    """
    KNOWN[what]
    moment = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(milliseconds=now)
    pairs = [f"{name}={_fitting(FIELDS[name], value)}" for name, value in fields.items() if name != SAYS]
    pairs += [f"{SAYS}={json.dumps(plain(fields[SAYS]), ensure_ascii=False)}"] if fields.get(SAYS) else []
    stamp = f"{moment:%Y-%m-%dT%H:%M:%S}.{now % 1000:03d}Z"
    return " ".join([stamp, level, what, *pairs])


def _fitting(form: str, value: str) -> str:
    return value if re.fullmatch(form, value) else "?"


def plain(message: str, most: int = 200) -> str:
    """Return an error's message without what it quotes, since that is data and may be a name."""
    one_line = " ".join("".join(c if c.isprintable() else " " for c in message[: 4 * most]).split())
    return _QUOTED.sub(_unquoted, one_line)[:most]


def _unquoted(found: re.Match[str]) -> str:
    before, quoted = found[1] or "", found[2]
    return before + (quoted if before and _PROPERTY.fullmatch(quoted) else "…")


def frames(stack: Iterable[tuple[str, int, str]]) -> str:
    """Return where an error came from, as the field `at`: (file, line, function), outermost first.

    Of a file's place only what lies within the package or a library is said, never the folders of this PC.
    """
    said = [f"{_inside(file)}:{number}:{name}" for file, number, name in stack]
    return ",".join(said[-MOST_FRAMES:])


def _inside(file: str) -> str:
    parts = file.replace("\\", "/").split("/")
    for root in ("site-packages", "benchapp"):
        if root in parts:
            at = len(parts) - 1 - parts[::-1].index(root)
            return "/".join(parts[at + (root == "site-packages"):])
    return parts[-1]


def outside(text: str) -> tuple[list[str], int]:
    """Return the lines of a log as they may leave the lab, and how many were left out.

    A line that was not written in this form is left out whole, and of the others all that is no known field.
    """
    kept: list[str] = []
    left = 0
    for written in text.splitlines():
        head = _HEAD.match(written)
        if head is None or head["what"] not in KNOWN:
            left += 1
            continue
        rest = written[head.end():].partition(f" {SAYS}=")[0].split(" ")
        pairs = [pair.partition("=") for pair in rest if pair]
        if any(name not in FIELDS or not (value == "?" or re.fullmatch(FIELDS[name], value))
               for name, _sign, value in pairs):
            left += 1
            continue
        kept.append(" ".join([head[0], *("".join(pair) for pair in pairs)]))
    return kept, left
