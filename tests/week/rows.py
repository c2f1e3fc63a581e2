"""The rows of a lab's database, read by the standard library's own sqlite3."""

import json
import sqlite3
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

Body = dict[str, Any]


@dataclass
class Journal:
    """The rows of a lab's database: bodies in order, tables and protocols by hash, words by id."""

    bodies: list[Body]
    course: dict[str, bytes]
    texts: dict[str, str]

    @classmethod
    def read(cls, data: Path) -> "Journal":
        """Read the database of a data folder with the standard library's own sqlite3."""
        connection = sqlite3.connect(f"file:{data / 'bench.sqlite3'}?mode=ro", uri=True)
        try:
            bodies = [json.loads(body) for (body,) in connection.execute("SELECT body FROM journal ORDER BY seq")]
            course = dict(connection.execute("SELECT hash, body FROM course"))
            texts = dict(connection.execute("SELECT id, text FROM texts"))
        finally:
            connection.close()
        return cls(bodies, {h: b.encode() if isinstance(b, str) else b for h, b in course.items()}, texts)

    def of_kind(self, *kinds: str) -> list[Body]:
        """Return the bodies of these kinds."""
        return [body for body in self.bodies if body["event"]["kind"] in kinds]

    def cases(self) -> dict[str, Body]:
        """Return the event that accepted each case, by the code of the case."""
        return {body["event"]["case"]: body for body in self.of_kind("case")}

    def jaws(self) -> dict[str, tuple[dict[str, Any], str]]:
        """Return every jaw as it was accepted, or made again, and the code of its case, by the code of the jaw."""
        return {
            jaw["code"]: (jaw, body["event"]["case"])
            for body in self.of_kind("case", "successor") for jaw in body["event"]["data"]["jaws"]
        }

    @cached_property
    def _people(self) -> list[Body]:
        return self.of_kind("person")

    @cached_property
    def _zone(self) -> ZoneInfo:
        return ZoneInfo(self.of_kind("lab")[-1]["event"]["data"]["zone"])

    def gone(self, person: str, when: int) -> bool:
        """Tell whether somebody had left, or their last day was over, as it was known at a moment (UTC ms)."""
        known = [body["event"]["data"] for body in self._people
                 if body["event"]["data"]["thing"] == person and body["server"]["when"] <= when]
        if not known:
            return False
        day = datetime.fromtimestamp(when / 1000, self._zone).strftime("%Y-%m-%d")
        return bool(known[-1].get("left")) or "" < known[-1].get("until", "") < day

    def names(self) -> dict[str, str]:
        """Return the last known name of everybody by id."""
        found = {}
        for body in self.of_kind("person"):
            data = body["event"]["data"]
            found[data["thing"]] = self.texts[data["texts"]["name"]]
        return found
