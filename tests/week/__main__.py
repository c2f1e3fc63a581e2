"""A whole week and a table of it: `python -m tests.week --seed 1 --people 12 --cases 60 --browsers 4`."""

import argparse
import sys
import tempfile
from pathlib import Path

from tests.benchmarks.machine import machine, median, table
from tests.faults.__main__ import chromium
from tests.week.week import Ran, Size, run_week

LIMIT = 300  # ms for a list of the desk


def report(ran: Ran, version: str) -> str:
    """Return the week as Markdown."""
    proof, size = ran.proof, ran.size
    wrong = [*ran.wrong, *proof.wrong]
    lines = [
        "# A simulated week of a lab", "",
        "Made by `python -m tests.week --out tests/week/RESULTS.md`. People, mistakes and times are drawn from the "
        "seed. Everything goes through the routes of a real server: facts of the past days by tablets that deliver "
        "them, the desk's forms, and at the same time real pages. At the end every record is compared with a second "
        "reading of the journal, and every mark with the mistakes that were made.", "",
        f"{machine(version)}. Seed {ran.seed}, {size.people} people, {size.cases} cases, {size.browsers} browsers; "
        f"{ran.seconds:.0f} s.", "",
        table(("what", "count"), [
            ("cases", proof.cases), ("jaws", proof.jaws), ("entries in the journal", f"{proof.entries:,}"),
            ("confirmations", f"{proof.confirmations:,}"), ("facts of tablets without a browser", f"{proof.facts:,}"),
            ("of these sent twice", proof.doubles), ("main actions at pages", ran.taps),
            ("jaws released", proof.released), ("marks in the journal", proof.marks), ("differences", len(wrong)),
        ]), "", f"`benchapp verify`: {proof.verified}", "", "## Mistakes that were made", "",
        table(("mistake", "times"), sorted(ran.kinds.items())), "", "## How long the desk's lists took", "",
        "Asked by one seat after the week, with all its cases there; ms from the request to the last byte.", "",
        table(("list", "median, ms", "most, ms", f"within {LIMIT} ms"), [
            (name, f"{median(ms):.0f}", f"{max(ms):.0f}", "yes" if max(ms) <= LIMIT else "**no**")
            for name, ms in ran.times.items()
        ]),
    ]
    if wrong:
        lines += ["", "## Differences", "", *(f"- {words}" for words in wrong)]
    return "\n".join(lines) + "\n"


def main(arguments: list[str]) -> int:
    """Run a week and print its table; 0 only if nothing differed."""
    parser = argparse.ArgumentParser(prog="python -m tests.week", description=__doc__)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--people", type=int, default=12)
    parser.add_argument("--cases", type=int, default=60)
    parser.add_argument("--browsers", type=int, default=4)
    parser.add_argument("--of-a-page", type=int, default=2, help="cases that each browser works")
    parser.add_argument("--out", type=Path, help="write the table there too")
    asked = parser.parse_args(arguments)
    size = Size(asked.people, asked.cases, asked.browsers, asked.of_a_page)
    with tempfile.TemporaryDirectory() as folder:
        ran = run_week(Path(folder), asked.seed, size, lambda words: print(words, file=sys.stderr, flush=True))
    text = report(ran, chromium() if size.browsers else "")
    print(text)
    if asked.out:
        asked.out.write_text(text, "utf-8")
    return 1 if ran.wrong or ran.proof.wrong else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
