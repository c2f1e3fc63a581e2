"""What every benchmark shares: the words about this machine, percentiles, markdown tables, the results file."""

import math
import os
import platform
import re
import sys
from collections.abc import Iterable, Sequence
from datetime import UTC, datetime
from pathlib import Path

from benchapp.store.engine import sqlite3

RESULTS = Path(__file__).with_name("RESULTS.md")
Row = Sequence[object]


def machine(browser: str = "") -> str:
    """Return the line that says when and on what a table was measured; `browser` is a browser's version."""
    try:
        memory = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") / 2**30
    except (AttributeError, ValueError):  # Windows does not tell
        memory = 0
    words = [
        f"{datetime.now(UTC):%Y-%m-%d}", f"{os.cpu_count()} cores", f"{memory:.0f} GiB" if memory else "",
        platform.system(), f"Python {platform.python_version()}", f"SQLite {sqlite3.sqlite_version}",
        f"Chromium {browser}" if browser else "",
        # What else ran: above the number of cores, everything here waited for its turn, the floor too.
        f"load {os.getloadavg()[1]:.0f} over the last 5 min" if hasattr(os, "getloadavg") else "",
    ]
    return ", ".join(word for word in words if word)


def percentile(values: Iterable[float], part: float) -> float:
    """Return the value that `part` (0 to 1) of all values do not exceed: nearest rank; ValueError of none."""
    ordered = sorted(values)
    if not ordered:
        raise ValueError("no value was measured")
    return ordered[max(0, math.ceil(part * len(ordered)) - 1)]


def median(values: Iterable[float]) -> float:
    """Return the 50th percentile."""
    return percentile(values, 0.5)


def table(head: Sequence[str], rows: Iterable[Row]) -> str:
    """Return a markdown table."""
    lines = [f"| {' | '.join(head)} |", f"| {' | '.join('---' for _ in head)} |"]
    return "\n".join([*lines, *(f"| {' | '.join(map(str, row))} |" for row in rows)])


def met(aim: str, reached: bool) -> str:
    """Return an aim with whether it was met here."""
    return f"{aim}: {'met' if reached else '**missed**'}"


def put(name: str, text: str, file: Path) -> None:
    """Write a benchmark's section into the results file, in place of its last one; others stay."""
    whole = file.read_text("utf-8") if file.exists() else "# Benchmarks: what was measured last\n"
    section = f"## {name}\n\n{text.strip()}\n"
    known = re.compile(rf"^## {re.escape(name)}\n.*?(?=^## |\Z)", re.M | re.S)
    if known.search(whole):
        whole = known.sub(lambda _: section + "\n", whole, count=1)
    else:
        whole = f"{whole.rstrip()}\n\n{section}"
    file.write_text(whole.rstrip() + "\n", "utf-8")


def made_by(name: str, arguments: Sequence[str]) -> str:
    """Return the command that made a section, without where it was written to."""
    kept = arguments[:arguments.index("--out")] if "--out" in arguments else arguments
    return f"`{' '.join(['python -m', f'tests.benchmarks.{name}', *kept])}`"


def say(text: str) -> None:
    """Tell the person who waits what is being done."""
    print(text, file=sys.stderr, flush=True)
