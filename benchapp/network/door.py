"""The door in plain HTTP: it gives a tablet what it needs to trust the lab's certificates, and nothing else."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

Start = Callable[[str, list[tuple[str, str]]], Any]


@dataclass(frozen=True)
class Sheet:
    """One answer of the door: its bytes, their kind, and what more its head says."""

    kind: str
    content: bytes
    more: tuple[tuple[str, str], ...] = ()


def door(sheets: Mapping[str, Sheet]) -> Callable[[dict[str, Any], Start], Iterable[bytes]]:
    """Return a WSGI application (PEP 3333) that answers GET and HEAD of these paths; everything else is not there.

    It reads no body, no query and no cookie, and knows nothing of the data folder.
    """

    def answer(environ: dict[str, Any], start: Start) -> Iterable[bytes]:
        sheet = sheets.get(str(environ.get("PATH_INFO", "")))
        method = environ.get("REQUEST_METHOD")
        if sheet is None or method not in ("GET", "HEAD"):
            sheet, status = Sheet("text/plain; charset=utf-8", b"There is nothing here.\n"), "404 Not Found"
        else:
            status = "200 OK"
        start(status, [
            ("Content-Type", sheet.kind), ("Content-Length", str(len(sheet.content))), ("Cache-Control", "no-store"),
            ("X-Content-Type-Options", "nosniff"), ("Referrer-Policy", "no-referrer"), ("Connection", "close"),
            *sheet.more,
        ])
        return [b"" if method == "HEAD" else sheet.content]

    return answer
