"""What goes into the bundle for whoever helps a lab: numbers, choices and known words alone, so nobody's name can.

Nothing is taken out by searching for names: only what is known to be none is put in.
"""

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from benchapp.core.doctor import Finding
from benchapp.core.events import FACTS, REQUESTS
from benchapp.core.logline import outside
from benchapp.core.settings import SETTINGS

READ_ME = """\
Seat & Cure: a bundle for whoever helps with this PC. It was made by `benchapp doctor --bundle`.

findings.json  what the doctor found; names, paths and messages are replaced by an ellipsis
versions.json  of the program, Python, the system, SQLite and the libraries
settings.json  settings that are choices or numbers; of files of the lab only that they are there, and numbers
counts.json    how many entries of which kind, tablets, unread facts, backups, bytes
server.log     lines of the log in its own form, oldest first, without messages

Not in it: names, texts, entries, codes of cases, PINs, badges, tokens, keys, certificates, host names, file names.
"""


@dataclass(frozen=True)
class Known:
    """What a shell found out; `logs` are the texts of the log's files, oldest first."""

    findings: Sequence[Finding]
    versions: Mapping[str, str]
    settings: Mapping[str, str] = field(default_factory=dict)
    files: Mapping[str, int] = field(default_factory=dict)
    kinds: Mapping[str, int] = field(default_factory=dict)
    counts: Mapping[str, int] = field(default_factory=dict)
    logs: Sequence[str] = ()


def bundle(known: Known) -> dict[str, str]:
    """Return the files of a bundle: name and text of each."""
    found = [
        {"check": one.check, "level": one.level, "words": one.outside} | ({"about": one.about} if one.about else {})
        for one in known.findings
    ]
    return {
        "read-me.txt": READ_ME,
        "findings.json": _json(found),
        "versions.json": _json(dict(known.versions)),
        "settings.json": _json({"settings": _settings(known.settings), "files": dict(known.files)}),
        "counts.json": _json({"kinds": _kinds(known.kinds), **known.counts}),
        "server.log": _log(known.logs),
    }


def _json(value: object) -> str:
    return json.dumps(value, ensure_ascii=False, indent=2) + "\n"


def _settings(values: Mapping[str, str]) -> dict[str, str]:
    """Return settings that are choices or numbers as they are; of those that are words only whether there are any."""
    said: dict[str, str] = {}
    for name, one in SETTINGS.items():
        value = values.get(name, one.default)
        if one.longest:
            said[name] = "set" if value else "not set"
        else:
            said[name] = value if not one.fault(value) else "not one of ours"
    return said


def _kinds(counts: Mapping[str, int]) -> dict[str, int]:
    known = {kind: count for kind, count in counts.items() if kind in FACTS or kind in REQUESTS}
    strange = sum(counts.values()) - sum(known.values())
    return known | ({"of a newer version": strange} if strange else {})


def _log(texts: Iterable[str]) -> str:
    kept: list[str] = []
    left = 0
    for text in texts:
        lines, strange = outside(text)
        kept += lines
        left += strange
    return "\n".join([*kept, f"({left} lines of another form were left out)", ""])
