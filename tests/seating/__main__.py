"""The large proofs: `python -m tests.seating pairs`, `table`; `mutate`, `bad-files`; `demo` makes the demo's meshes."""

import json
import sys
import traceback
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import click

from tests.benchmarks.machine import put
from tests.seating import mutate as bad
from tests.seating.again import fitted, half_of
from tests.seating.demo import write
from tests.seating.mutate_formats import WAYS as OTHER_FORMATS
from tests.seating.table import table_of

RESULTS = Path(__file__).with_name("RESULTS.md")
ROWS = Path("seating-pairs.jsonl")
FINE = 60  # points around a tooth
SPOILT = Path("seating-spoilt.jsonl")


@click.group()
def main() -> None:
    """Proofs that are too long for every run of the tests."""


@main.command()
@click.option("--seeds", default="0:500", help="From and up to: 0:500.")
@click.option("--rows", type=click.Path(path_type=Path, dir_okay=False), default=ROWS, help="Where rows are added.")
@click.option("--blended", is_flag=True, help="Pairs of the second family: four meshes of each shape.")
@click.option("--fine", is_flag=True, help="Finer ones: 50,000 to 200,000 triangles; blended 200,000 and more.")
def pairs(seeds: str, rows: Path, blended: bool, fine: bool) -> None:
    """Check pairs by chance and add a line with every number's error for each; known seeds are left out."""
    first, last = (int(part) for part in seeds.split(":"))
    known = {json.loads(line)["seed"] for line in rows.read_text("utf-8").splitlines()} if rows.exists() else set()
    if blended:  # marching cubes and contours are asked for here only
        from tests.seating.blends import compared
    else:
        from tests.seating.chance import compared
    with rows.open("a", encoding="utf-8") as file:
        for seed in range(first, last):
            name = " ".join(["blended"] * blended + ["fine"] * fine + [str(seed)]) if blended or fine else seed
            if name in known:
                continue
            try:
                row = compared(seed, FINE) if fine else compared(seed)
            except Exception:
                row = {"seed": name, "crash": traceback.format_exc()}
            file.write(json.dumps(row) + "\n")
            file.flush()


@main.command()
@click.option("--rows", type=click.Path(path_type=Path, dir_okay=False), default=(ROWS,), multiple=True)
def table(rows: tuple[Path, ...]) -> None:
    """Write the table of errors by feature, the intervals' hold and every wrong answer into RESULTS.md."""
    found = rows_of(rows)
    text = table_of(sorted(found, key=lambda row: (isinstance(row["seed"], str), str(row["seed"]).rjust(12))))
    put("pairs by chance", text, RESULTS)
    click.echo(text)


@main.command()
@click.option("--rows", type=click.Path(path_type=Path, dir_okay=False), default=(ROWS,), multiple=True)
def fit(rows: tuple[Path, ...]) -> None:
    """Tell the factors of intervals that fit every other pair (for `benchapp/seating/trust.py`)."""
    for name, factors in fitted([row for row in rows_of(rows) if half_of(row) == 0]).items():
        click.echo(f'    "{name}": {factors},')


@main.command()
@click.option("--numbers", default="0:20000", help="From and up to: 0:20000.")
@click.option("--seed", default=1)
@click.option("--rows", type=click.Path(path_type=Path, dir_okay=False), default=SPOILT, help="Where rows are added.")
@click.option("--formats", is_flag=True, help="Spoil OBJ and 3MF files instead of STL; give other --rows.")
def mutate(numbers: str, seed: int, rows: Path, formats: bool) -> None:
    """Spoil files of small pairs in every way and add a line of what came of each; known ones are left out."""
    ways = OTHER_FORMATS if formats else bad.WAYS
    first, last = (int(part) for part in numbers.split(":"))
    known = {(row["number"], row["seed"]) for row in rows_of([rows])}
    with rows.open("a", encoding="utf-8") as file:
        for number in range(first, last):
            if (number, seed) not in known:
                file.write(json.dumps(bad.one(number, seed, ways)) + "\n")
                file.flush()


@main.command()
@click.option("--rows", type=click.Path(path_type=Path, dir_okay=False), default=(SPOILT,), multiple=True)
@click.option("--formats", is_flag=True, help="The rows are of OBJ and 3MF files.")
def bad_files(rows: tuple[Path, ...], formats: bool) -> None:
    """Write what came of spoilt files into RESULTS.md; none may end in a trace, last over 5 s or hear no sentence."""
    text = bad.told(rows_of(rows), " --formats" if formats else "")
    put("bad files, OBJ and 3MF" if formats else "bad files", text, RESULTS)
    click.echo(text)


@main.command()
def demo() -> None:
    """Make the meshes of the demo's cases anew."""
    for file in write():
        click.echo(f"{file.name}: {file.stat().st_size // 1000} kB")


def rows_of(files: Iterable[Path]) -> list[dict[str, Any]]:
    """Return the rows of files that are there."""
    return [json.loads(line) for file in files if file.exists() for line in file.read_text("utf-8").splitlines()]


if __name__ == "__main__":
    sys.exit(main())
