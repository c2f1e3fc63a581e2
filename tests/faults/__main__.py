"""Many seeded runs and a table of what they showed: `python -m tests.faults --runs 200 --seed 1 --jobs 2`."""

import argparse
import json
import os
import platform
import sqlite3
import sys
from collections import Counter
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import asdict
from datetime import UTC, datetime
from multiprocessing import get_context
from pathlib import Path

from playwright.sync_api import sync_playwright

from tests.browser import browser_args, sure_browser
from tests.faults.many import one_run
from tests.faults.proof import Proof
from tests.faults.proxy import FAULTS
from tests.faults.walk import INCIDENTS, PARTS, Ran

COLUMNS = ("what went wrong", "runs", "times", "confirmations", "rows", "doubles", "lost", "order breaks", "verify ok",
           "folds equal")
HEAD = f"| {' | '.join(COLUMNS)} |\n| --- |{' ---: |' * (len(COLUMNS) - 1)}"
SUMMED = ("confirmations", "rows", "doubles", "lost", "order_breaks")
KINDS = (*FAULTS, *INCIDENTS, "wiped", "clock-wrong", "second-tablet", *PARTS)
WORDS = {
    "drop-before": "request dropped before the PC", "drop-after": "answer dropped after the commit",
    "503": "answered 503", "half": "answer cut in the body", "delay": "answer held back", "duplicate": "sent twice",
    "foreign": "a stranger's page with status 200", "reload": "page loaded again",
    "reload-mid-step": "page loaded again during a tap", "offline": "no network for some taps",
    "server-killed": "server killed (SIGKILL) and restarted", "server-stopped": "server hung (SIGSTOP) and went on",
    "browser-closed": "browser closed and opened", "browser-killed": "browser killed (SIGKILL)",
    "wiped": "tablet's storage wiped", "clock-wrong": "tablet's clock wrong by 3 h",
    "second-tablet": "two tablets on one jaw", "exception": "exception at a place",
    "other-answer": "other answer than the main one", "hold": "put on hold", "send-back": "sent back",
    "undo": "confirmed and taken back",
}


def chromium() -> str:
    """Return the browser's version."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=sure_browser(), args=browser_args())
        version = browser.version
        browser.close()
    return version


def sqlite_of_server() -> str:
    """Return the version of the SQLite that the server uses."""
    from benchapp.store.engine import sqlite3 as engine

    return engine.sqlite_version


def memory() -> str:
    """Return the machine's memory in words, "" where the system does not tell."""
    if not hasattr(os, "sysconf"):
        return ""
    return f", {os.sysconf('SC_PAGE_SIZE') * os.sysconf('SC_PHYS_PAGES') / 2**30:.0f} GiB"


def row(words: str, ran: list[Ran], times: int) -> str:
    """Return a line of the table for some runs."""
    proofs = [r.proof for r in ran]
    sums = [sum(getattr(p, name) for p in proofs) for name in SUMMED]
    good = [f"{sum(getattr(p, name) for p in proofs)} of {len(ran)}" for name in ("verified", "folds_equal")]
    return "| " + " | ".join([words, str(len(ran)), f"{times:,}", *(f"{n:,}" for n in sums), *good]) + " |"


def report(ran: list[Ran], wanted: int, version: str) -> str:
    """Return the table of the runs done so far, of those wanted, as Markdown: one line for each kind of trouble."""
    ran = sorted(ran, key=lambda r: r.seed)
    lines = [
        "# Whole jaws through faults", "",
        "Made by `python -m tests.faults --out tests/faults/RESULTS.md`. Every run works one whole jaw in a real "
        "browser, through a proxy that spoils requests, with people, tablets and PC that go wrong as drawn by its "
        "seed; at its end journal, tablets and both folds are compared.", "",
        f"{datetime.now(UTC):%Y-%m-%d}: {len(ran)} of {wanted} runs done (seeds {ran[0].seed} to {ran[-1].seed}). "
        f"{os.cpu_count()} cores{memory()}, {platform.system()}, Chromium {version.split('.')[0]}, "
        f"Python {platform.python_version()}, SQLite {sqlite_of_server()} in the server "
        f"({sqlite3.sqlite_version} reads the journal afterwards).", "", HEAD,
    ]
    for kind in KINDS:
        some = [r for r in ran if r.kinds[kind]]
        lines.append(row(WORDS[kind], some, sum(r.kinds[kind] for r in some)))
    lines.append(row("**all runs**", ran, sum(r.kinds[kind] for r in ran for kind in KINDS)))
    seconds = sorted(r.seconds for r in ran)
    strange = sum(r.proof.strange for r in ran)
    lines += [
        "", "A run stands in the line of each trouble that it met, so the lines overlap.",
        f"Rows that no tablet had stored: {strange}. Facts that were wiped with a tablet's storage before they could "
        f"be sent: {sum(r.proof.wiped for r in ran)} in {sum(r.proof.wiped > 0 for r in ran)} runs; nobody can have "
        "those, and they are not counted as lost. All that the PC had acknowledged was still there.",
        f"A run took {seconds[len(seconds) // 2]:.0f} s (median), at most {seconds[-1]:.0f} s.",
        f"Failed runs: {sum(bool(r.failed) for r in ran)}.",
    ]
    lines += [f"- seed {r.seed}: {r.failed.splitlines()[0][:300]}" for r in ran if r.failed]
    return "\n".join(lines) + "\n"


def logged(file: Path | None) -> list[Ran]:
    """Return the runs that an earlier sweep, broken off perhaps, left in its log."""
    if file is None or not file.exists():
        return []
    found = [json.loads(line) for line in file.read_text("utf-8").splitlines()]
    return [Ran(**{**r, "kinds": Counter(r["kinds"]), "proof": Proof(**r["proof"])}) for r in found]


def main(arguments: list[str]) -> int:
    """Do the runs and print the table; 0 only if every run held."""
    parser = argparse.ArgumentParser(prog="python -m tests.faults", description=__doc__)
    parser.add_argument("--runs", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1, help="seed of the first run")
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--out", type=Path, help="write the table there too, after every run")
    parser.add_argument("--log", type=Path, help="keep every run there; what it holds already is not done again")
    asked = parser.parse_args(arguments)
    seeds = range(asked.seed, asked.seed + asked.runs)
    version, ran = chromium(), [r for r in logged(asked.log) if r.seed in seeds]
    missing = sorted(set(seeds) - {r.seed for r in ran})
    with ProcessPoolExecutor(asked.jobs, get_context("spawn")) as pool:
        waiting = [pool.submit(one_run, seed) for seed in missing]
        for done in as_completed(waiting):
            ran.append(done.result())
            last = ran[-1]
            print(f"{len(ran)} of {asked.runs}: seed {last.seed}, {last.seconds:.1f} s, {last.failed or 'holds'}",
                  file=sys.stderr, flush=True)
            if asked.log:
                with asked.log.open("a", encoding="utf-8") as log:
                    log.write(json.dumps(asdict(last) | {"kinds": dict(last.kinds)}) + "\n")
            if asked.out:
                asked.out.write_text(report(ran, asked.runs, version), "utf-8")
    print(report(ran, asked.runs, version))
    return 1 if any(r.failed for r in ran) else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
