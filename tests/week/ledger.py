"""What went wrong on purpose: each mistake is noted when it is made, with the mark that it must leave, or none."""

from collections import Counter
from dataclasses import dataclass, field
from threading import Lock

Mark = tuple[str, str, str]  # id of the entry, why, grade


@dataclass
class Ledger:
    """The mistakes of a week, kept by all hands at once."""

    kinds: Counter[str] = field(default_factory=Counter)
    marks: dict[Mark, str] = field(default_factory=dict)
    undone: set[str] = field(default_factory=set)  # entries that were taken back: what they breached is gone with them
    slow: dict[tuple[str, str], bool] = field(default_factory=dict)  # (jaw, step) late in a page: surely, or perhaps
    sent: set[str] = field(default_factory=set)
    doubles: int = 0
    wrong: list[str] = field(default_factory=list)
    lock: Lock = field(default_factory=Lock)

    def note(self, kind: str, *marks: Mark) -> None:
        """Note a mistake and the marks that it must leave."""
        with self.lock:
            self.kinds[kind] += 1
            for mark in marks:
                self.marks[mark] = kind

    def took_back(self, event_id: str) -> None:
        """Note that an entry was taken back, so that its breaches leave the state of the jaw."""
        with self.lock:
            self.undone.add(event_id)

    def late(self, jaw: str, step: str, surely: bool) -> None:
        """Note that a hand at a page was late by its own watch; not `surely` where the watch cannot tell."""
        with self.lock:
            self.kinds["slow at a page"] += surely
            self.slow[jaw, step] = surely or self.slow.get((jaw, step), False)

    def delivered(self, ids: list[str], again: bool) -> None:
        """Note which facts were sent, and whether it was once more."""
        with self.lock:
            self.doubles += len(ids) if again else 0
            self.sent.update(ids)

    def fault(self, words: str) -> None:
        """Note something that the product did not do as it should."""
        with self.lock:
            self.wrong.append(words)
