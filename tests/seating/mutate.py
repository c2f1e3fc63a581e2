"""Files of small pairs, spoilt in every way: each must be checked or hear its sentence."""

import resource
import time
from collections import Counter
from collections.abc import Callable
from functools import cache
from typing import Any

import numpy as np

from benchapp.seating.check import check
from benchapp.seating.faults import Unusable
from benchapp.seating.tell import Asked
from tests.benchmarks.machine import machine, table
from tests.seating.made import SMALL, UP, ascii_stl
from tests.seating.pairs import Pair, Plan, stl, triangles_of
from tests.seating.shapes import Floats

MOST_S = 5.0
MOST_MB = 1000
FOUR = (42, 41, 31, 32)
PLANS = (
    Plan(teeth=FOUR, fine=12),
    Plan(teeth=FOUR, fine=12, scallop=0.5, rim=0.15, uneven=0.2, crowded=0.6),
    Plan(teeth=SMALL, fine=12),
)
Spoil = Callable[[Floats, np.random.Generator], bytes]


def _cut(one: Floats, rng: np.random.Generator) -> bytes:
    data = stl(one)
    return data[: int(rng.integers(0, len(data)))]


def _bits(one: Floats, rng: np.random.Generator) -> bytes:
    data = bytearray(stl(one))
    for at in rng.integers(0, len(data), int(rng.integers(1, 40))):
        data[at] ^= int(rng.integers(1, 256))
    return bytes(data)


def _flip(one: Floats, rng: np.random.Generator) -> bytes:
    some = rng.random(len(one)) < rng.random() ** 3
    return stl(np.where(some[:, None, None], one[:, ::-1], one))


def _nan(one: Floats, rng: np.random.Generator) -> bytes:
    found = one.copy()
    found.reshape(-1)[rng.integers(0, found.size, int(rng.integers(1, 5)))] = rng.choice(
        [np.nan, np.inf, -np.inf, 1e30]
    )
    with np.errstate(over="ignore"):
        return stl(found)


def _scaled(one: Floats, rng: np.random.Generator) -> bytes:
    return stl(one * rng.choice([1e-3, 0.1, 1 / 25.4, 0.97, 1.05, 2, 10, 25.4, 1000, 0, -1]))


def _stretched(one: Floats, rng: np.random.Generator) -> bytes:
    return stl(one * rng.choice([-1.0, 0.0, 0.5, 1.0], 3))


def _lost(one: Floats, rng: np.random.Generator) -> bytes:
    return stl(one[rng.random(len(one)) > rng.random() ** 2])


def _twice(one: Floats, rng: np.random.Generator) -> bytes:
    return stl(np.concatenate([one, one[rng.random(len(one)) < rng.random()]]))


def _shuffled(one: Floats, rng: np.random.Generator) -> bytes:
    return stl(rng.permutation(one))


def _counted(one: Floats, rng: np.random.Generator) -> bytes:
    return stl(one, int(rng.choice([0, 1, len(one) - 1, len(one) + 1, 10**6, 2**31, 2**32 - 1])))


def _moved(one: Floats, rng: np.random.Generator) -> bytes:
    return stl(one + rng.normal(0, 10 ** rng.uniform(-2, 2), 3))


def _noisy(one: Floats, rng: np.random.Generator) -> bytes:
    return stl(one + rng.normal(0, 10 ** rng.uniform(-3, 1), one.shape))


def _flat(one: Floats, rng: np.random.Generator) -> bytes:
    found = one.copy()
    found[rng.random(len(one)) < rng.random()] = found[0, 0]
    return stl(found)


def _ascii(one: Floats, rng: np.random.Generator) -> bytes:
    data = bytearray(ascii_stl(one[: int(rng.integers(1, 400))], "" if rng.random() < 0.3 else "endsolid\n"))
    for at in rng.integers(0, len(data), int(rng.integers(0, 9))):
        data[at] = int(rng.integers(0, 256))
    return bytes(data)


def _rubbish(one: Floats, rng: np.random.Generator) -> bytes:
    return rng.bytes(int(rng.integers(0, 3000)))


WAYS: dict[str, Spoil] = {
    "cut off": _cut, "bytes changed": _bits, "turned inside out": _flip, "no numbers": _nan, "scaled": _scaled,
    "stretched or mirrored": _stretched, "triangles lost": _lost, "triangles twice": _twice, "shuffled": _shuffled,
    "wrong count": _counted, "moved": _moved, "noise": _noisy, "collapsed": _flat, "ASCII": _ascii, "rubbish": _rubbish,
}  # fmt: skip


@cache
def tiny(which: int) -> tuple[Floats, Floats]:
    """Return base and arch of a plan with 1,500 to 3,000 triangles in all."""
    pair = Pair(PLANS[which])
    return triangles_of(pair.base().simplify(0.003)), triangles_of(pair.arch().simplify(0.003))


def one(number: int, seed: int, ways: dict[str, Spoil] = WAYS) -> dict[str, Any]:
    """Return for one spoilt file the way, what came of it (`report`, `refused` or what broke), and the CPU seconds."""
    rng = np.random.default_rng([seed, number])
    way = list(ways)[number % len(ways)]
    which_pair = number // len(ways) % len(PLANS)
    parts = tiny(which_pair)
    which = int(rng.integers(0, 2))
    files = [stl(part) for part in parts]
    files[which] = ways[way](parts[which], rng)
    if rng.random() < 0.05:
        files = files[::-1]
    asked = Asked("lower", PLANS[which_pair].row, UP if rng.random() < 0.8 else None)
    began = time.process_time()
    try:
        check(files[0], files[1], asked)
        came = "report"
    except Unusable as fault:
        came = "refused" if fault.faults and all(len(words) > 20 for words in fault.faults) else "no sentence"
    except Exception as error:
        came = f"{type(error).__name__}: {error}"[:90]
    took = round(time.process_time() - began, 3)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
    return {"number": number, "seed": seed, "way": way, "came": came, "s": took, "peak_mb": peak}


def told(rows: list[dict[str, Any]], flag: str = "") -> str:
    """Return what came of spoilt files as markdown; `flag` is how they were asked for."""
    came = Counter((row["way"], row["came"]) for row in rows)
    broken = {key: times for key, times in came.items() if key[1] not in ("report", "refused")}
    long = [row for row in rows if row["s"] > MOST_S]
    seeds = ", ".join(str(seed) for seed in sorted({row["seed"] for row in rows}))
    sizes = sorted(sum(len(part) for part in tiny(which)) for which in range(len(PLANS)))
    lines = [
        f"{machine()}. `python -m tests.seating mutate{flag}`, `bad-files{flag}`: {len(rows):,} files (seed {seeds}) "
        f"of pairs of {sizes[0]:,} to {sizes[-1]:,} triangles; {sum(broken.values())} broke, {len(long)} lasted over "
        f"{MOST_S:g} s, the longest {max(row['s'] for row in rows):.1f} s of processor time; the processes that did "
        f"it held at most {max(row['peak_mb'] for row in rows)} MB (aim: at most {MOST_MB}).",
        "",
        table(
            ["way", "refused with a sentence", "reported", "broke"],
            [
                [way, came[way, "refused"], came[way, "report"], sum(n for key, n in broken.items() if key[0] == way)]
                for way in dict.fromkeys(way for way, _came in came)
            ],
        ),
        *(f"- {way}: {what} ({times})" for (way, what), times in broken.items()),
        *(f"- {row['way']}, file {row['number']} of seed {row['seed']}: {row['s']:.1f} s" for row in long),
    ]
    return "\n".join(lines)
