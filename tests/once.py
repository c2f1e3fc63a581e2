"""Hashes of PINs and badges are dear on purpose; the tests of one process make each of them once, at full cost.

scrypt (RFC 7914) always makes the same of the same password, salt and costs, so what it made before is true again.
"""

import hashlib
import itertools
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache

import pytest
import werkzeug.security

_salts = itertools.count()


@contextmanager
def hashed_once() -> Iterator[None]:
    """Remember what scrypt made of what, and let every test draw the same salts in the same order."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(hashlib, "scrypt", cache(hashlib.scrypt))
        patch.setattr(werkzeug.security, "gen_salt", lambda length: f"{next(_salts):0{length}d}")
        yield


def salts_anew() -> None:
    """Let the next test draw its salts from the first one on: no two of one test are alike."""
    global _salts
    _salts = itertools.count()
