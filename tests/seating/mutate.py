"""Files of small pairs, spoilt in every way: each must be checked or hear its sentence."""

import time
from collections import Counter
from collections.abc import Callable

import numpy as np

from benchapp.seating.check import check
from benchapp.seating.faults import Unusable
from benchapp.seating.tell import Asked
from tests.benchmarks.machine import machine, table
from tests.seating.made import SMALL, UP, ascii_stl, small
from tests.seating.pairs import stl
from tests.seating.shapes import Floats

MOST_S = 5.0
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


def one(number: int, seed: int) -> tuple[str, str, float]:
    """Return for one spoilt file the way, what came of it (`report`, `refused` or what broke), and the CPU seconds."""
    rng = np.random.default_rng([seed, number])
    way = list(WAYS)[number % len(WAYS)]
    parts = list(small())
    which = int(rng.integers(0, 2))
    files = [stl(part) for part in parts]
    files[which] = WAYS[way](parts[which], rng)
    if rng.random() < 0.05:
        files = files[::-1]
    began = time.process_time()
    try:
        check(files[0], files[1], Asked("lower", SMALL, UP if rng.random() < 0.8 else None))
        came = "report"
    except Unusable as fault:
        came = "refused" if fault.faults and all(len(words) > 20 for words in fault.faults) else "no sentence"
    except Exception as error:
        came = f"{type(error).__name__}: {error}"[:90]
    return way, came, time.process_time() - began


def run(count: int, seed: int) -> str:
    """Spoil so many files and return what came of them as markdown."""
    came: Counter[tuple[str, str]] = Counter()
    longest = 0.0
    for number in range(count):
        way, what, seconds = one(number, seed)
        came[way, what] += 1
        longest = max(longest, seconds)
    broken = {key: times for key, times in came.items() if key[1] not in ("report", "refused")}
    rows = [[way, came[way, "refused"], came[way, "report"]] for way in WAYS]
    lines = [
        f"{machine()}. `python -m tests.seating mutate --count {count} --seed {seed}`: {count} files of pairs of "
        f"{sum(len(part) for part in small()):,} triangles; {sum(broken.values())} broke, the longest took "
        f"{longest:.1f} s of processor time (aim: at most {MOST_S:g}).",
        "",
        table(["way", "refused with a sentence", "reported"], rows),
        *(f"- {way}: {what} ({times})" for (way, what), times in broken.items()),
    ]
    return "\n".join(lines)
