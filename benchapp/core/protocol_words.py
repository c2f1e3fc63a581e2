"""Words of a protocol: those of the ones that ship stand in the catalogue, a lab's own are in its own language."""

from collections.abc import Iterator, Mapping
from typing import Any, TypeVar

from benchapp.core import words
from benchapp.core.faults import Written

KEYS = ("title", "words", "said")
WrittenT = TypeVar("WrittenT", bound=Written)


def spoken(written: WrittenT) -> WrittenT:
    """Return a protocol (or a part of one) to be shown: every title, words and said in the language in use.

    Ids, numbers and order stay. Never for what is compiled, hashed or stored.
    """
    if not words.in_use():
        return written
    return written.model_copy(update={key: _spoken(key, value) for key, value in written})


def _spoken(key: str, value: Any) -> Any:
    if isinstance(value, Written):
        return spoken(value)
    if isinstance(value, list):
        return [_spoken("", item) for item in value]
    return words.known(value) if key in KEYS and isinstance(value, str) else value


def texts(tree: Any) -> Iterator[str]:
    """Yield every title, words and said of a protocol file as plain data, for the catalogue."""
    if isinstance(tree, Mapping):
        for key, value in tree.items():
            if key in KEYS and isinstance(value, str):
                yield value.strip()  # as `protocol.Words` has it
            else:
                yield from texts(value)
    elif isinstance(tree, list):
        for item in tree:
            yield from texts(item)
