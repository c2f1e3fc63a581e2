"""Several pieces of work at once: numpy and the k-d trees let go of the interpreter over large arrays."""

import os
import sys
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from typing import Final, TypeVar

MOST: Final = 4  # pieces at once: each has arrays of its own, and memory is limited
LARGE: Final = 5_000  # triangles a piece: with fewer, threads wait for the interpreter more than they spare
TURN: Final = 0.0005  # s: a tenth of Python's own; a check of 100,000 triangles takes 7 % less time with it
Piece = TypeVar("Piece")
Found = TypeVar("Found")


def abreast(work: Callable[[Piece], Found], pieces: Sequence[Piece], triangles: int) -> Iterator[Found]:
    """Yield what `work` makes of each piece of so many triangles in all, in their order; an exception comes where its
    piece would.

    As many large pieces at once as there are processors, four at most; small ones one by one.
    """
    many = min(MOST, _processors(), len(pieces))
    if many < 2 or triangles < LARGE * len(pieces):
        yield from map(work, pieces)
        return
    with ThreadPoolExecutor(many) as pool:
        waiting = [pool.submit(work, piece) for piece in pieces]
        try:
            for one in waiting:
                yield one.result()
        finally:
            for one in waiting:
                one.cancel()


@contextmanager
def brisk() -> Iterator[None]:
    """Let threads hand over the interpreter sooner meanwhile: each asks for it often, and for a moment only."""
    before = sys.getswitchinterval()
    sys.setswitchinterval(TURN)
    try:
        yield
    finally:
        sys.setswitchinterval(before)


@contextmanager
def beside(work: Callable[[], Found]) -> Iterator[Callable[[], Found]]:
    """Give a call that returns what `work` finds, or raises its exception.

    It is begun at once, beside what else is done, where there is another processor.
    """
    if _processors() < 2:
        yield work
        return
    with ThreadPoolExecutor(1) as pool:
        yield pool.submit(work).result


def _processors() -> int:
    """Return how many processors this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1
