"""A lock on an open file that lasts as long as its process: the system frees it, however the process ends."""

import contextlib
import sys
from io import BufferedRandom

if sys.platform == "win32":
    import msvcrt
else:
    import fcntl

# Windows hides locked bytes from every other reader, so the lock lies far behind the words in the file.
LOCKED_BYTE = 1 << 20


def hold(file: BufferedRandom) -> None:
    """Lock a file, opened `r+b`; OSError when another process holds it."""
    if sys.platform == "win32":
        file.seek(LOCKED_BYTE)
        try:
            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
        finally:
            file.seek(0)
    else:
        fcntl.flock(file.fileno(), fcntl.LOCK_EX | fcntl.LOCK_NB)


def free(file: BufferedRandom) -> None:
    """Unlock and close a file; nothing happens to one that is closed."""
    if sys.platform == "win32" and not file.closed:
        file.seek(LOCKED_BYTE)
        with contextlib.suppress(OSError):
            msvcrt.locking(file.fileno(), msvcrt.LK_UNLCK, 1)
    file.close()
