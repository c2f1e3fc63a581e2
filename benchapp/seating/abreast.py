"""Several pieces of work at once: numpy and the k-d trees let go of the interpreter over large arrays."""

import os
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from typing import Final, TypeVar

MOST: Final = 4  # pieces at once: each has arrays of its own, and memory is limited
LARGE: Final = 100000  # triangles: with fewer, threads wait for the interpreter more than they spare
Piece = TypeVar("Piece")
Found = TypeVar("Found")


def abreast(work: Callable[[Piece], Found], pieces: Iterable[Piece], triangles: int) -> Iterator[Found]:
    """Yield what `work` makes of each piece, in their order; an exception comes where its piece would.

    Of a pair with many triangles as many pieces at once as there are processors, four at most; else one by one.
    """
    many = min(MOST, _processors())
    if many < 2 or triangles < LARGE:
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


def _processors() -> int:
    """Return how many processors this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1
