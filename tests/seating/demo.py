"""The demo's meshes, made up like the pairs of the tests: one good, one too deep, one that does not go in."""

from dataclasses import replace
from functools import cache
from itertools import pairwise
from pathlib import Path

import numpy as np

from benchapp.core.teeth import ROW, Jaw
from benchapp.paths import DEMO_CASES
from benchapp.seating.check import Checked, check
from benchapp.seating.tell import Asked
from tests.seating.pairs import Pair, Plan, stl, triangles_of

FLAT = 0.005  # mm that the surface may move when flat parts are made of fewer triangles


def row_of(jaw: Jaw, last: int) -> tuple[int, ...]:
    """Return the teeth of a jaw up to the last one on both sides."""
    return tuple(tooth for tooth in ROW[jaw] if tooth % 10 <= last)


def usual(jaw: Jaw, last: int, seed: int) -> Plan:
    """Return a plan whose teeth are about 0.5 mm deep and whose connectors are all below 2 mm2."""
    row = row_of(jaw, last)
    ways = row if jaw == "lower" else row[::-1]
    sizes = np.random.default_rng(seed).uniform(0.85, 1.05, len(row))
    return Plan(
        jaw, row, 24, deep=0.3, rim=0.12, uneven=0.15, scallop=0.25, fillet=0.25, taper=0.15, hug=0.1, crowded=0.35,
        tilted=2.0, rod=(0.85, 0.7), rod_by=dict(zip(pairwise(ways), sizes.tolist(), strict=False)), chance=seed,
    )  # fmt: skip


def plans() -> dict[str, Plan]:
    """Return the plan of each pair by its name."""
    good, deep, stuck = usual("upper", 7, 4), usual("lower", 7, 5), usual("upper", 6, 6)
    return {
        "good": good,
        "deep": replace(deep, deep_by={36: 0.85, 44: 0.75}, rod_by=deep.rod_by | {(41, 31): 2.8}),
        "stuck": replace(stuck, bulge_by={15: 0.35, 14: 0.3, 23: 0.35}, tilted=4.0),
    }


@cache
def files(name: str) -> tuple[bytes, bytes]:
    """Return base and arch of a pair as they lie in the demo."""
    base, arch = ((DEMO_CASES / "meshes" / f"{name}-{part}.stl").read_bytes() for part in ("base", "arch"))
    return base, arch


@cache
def checked_demo(name: str) -> Checked:
    """Return the check of one of the demo's pairs, with its teeth and its axis given."""
    plan = plans()[name]
    return check(*files(name), Asked(plan.jaw, plan.row, (0.0, 0.0, 1.0)))


def write(folder: Path = DEMO_CASES / "meshes") -> list[Path]:
    """Write base and arch of each pair as binary STL; return the files."""
    folder.mkdir(exist_ok=True)
    written = []
    for name, plan in plans().items():
        pair = Pair(plan)
        for part, body in (("base", pair.base()), ("arch", pair.arch())):
            file = folder / f"{name}-{part}.stl"
            file.write_bytes(stl(triangles_of(body.simplify(FLAT))))
            written.append(file)
    return written
