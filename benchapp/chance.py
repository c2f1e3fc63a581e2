"""The one room that asks the machine for the time and for randomness; everybody else is handed both."""

import secrets
import time
import uuid


def now_ms() -> int:
    """Return the PC's time in UTC milliseconds since 1970."""
    return time.time_ns() // 1_000_000


def new_id() -> str:
    """Return a fresh random event id, the same form that a browser's crypto.randomUUID makes."""
    return str(uuid.uuid4())


def random_bytes(count: int) -> bytes:
    """Return `count` bytes fit for secrets and salts."""
    return secrets.token_bytes(count)


def choose(letters: str) -> str:
    """Return one of `letters`, each equally likely."""
    return secrets.choice(letters)
