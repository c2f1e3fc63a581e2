"""A jaw's seating check as its entries tell it: files of its parts, the report in force, answers to findings. Pure.

A body is a journal entry's plain data, {"event", "server"}; see `benchapp.core.events`.
"""

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from benchapp.core.findings import AGAIN, PICK, Finding
from benchapp.core.protocol import Reason
from benchapp.core.teeth import Jaw
from benchapp.core.words import _

Body = Mapping[str, Any]
PARTS: Final = ("base", "arch")
AXES: Final[dict[str, tuple[float, float, float] | None]] = {
    "z": (0.0, 0.0, 1.0), "x": (1.0, 0.0, 0.0), "y": (0.0, 1.0, 0.0), "found": None,
}
"""The lab's setting of the axis: an axis of the files, or it is found by the parts."""


@dataclass(frozen=True)
class MeshFile:
    """The design file of a part: the event that attached it (id, number), its SHA-256, bytes, by whom, when (ms)."""

    id: str
    seq: int
    part: str
    revision: str
    hash: str
    size: int
    person: str
    at: int


@dataclass(frozen=True)
class Checked:
    """One `seating` event: what was checked, and where its report lies.

    `report` is the SHA-256 of the report's JSON, "" where the pair was refused; then `faults` are ids of texts.
    `key` names the files of pictures, `of` are the ids of the `mesh` events that it was made for.
    """

    id: str
    seq: int
    at: int
    person: str
    base: str
    arch: str
    revision: str
    definitions: int
    key: str
    of: tuple[str, ...]
    report: str
    faults: tuple[str, ...]
    summary: Mapping[str, Any]


@dataclass(frozen=True)
class Answer:
    """What was said of a finding: the id of a reason tile, or AGAIN; by whom (id), and when (UTC ms)."""

    said: str
    person: str
    at: int

    @property
    def again(self) -> bool:
        """Whether the part is to be made again."""
        return self.said == AGAIN

    def words(self, reasons: Iterable[Reason]) -> str:
        """Return what was said, in words; `reasons` are the tiles of the jaw's protocol."""
        if self.again:
            return _("print again")
        return next((reason.title for reason in reasons if reason.id == self.said), self.said)


@dataclass(frozen=True)
class Told:
    """A finding with its answer, None as long as there is none that counts."""

    finding: Finding
    answer: Answer | None

    @property
    def open(self) -> bool:
        """Whether somebody must still say that it may stay so."""
        return self.answer is None or self.answer.again


def belongs(body: Body) -> bool:
    """Tell whether an entry of a jaw says something about its seating check."""
    event = body["event"]
    return event["kind"] in ("mesh", "seating") or any(name.startswith(PICK) for name in event["picks"])


def mesh_of(bodies: Iterable[Body], part: str, revision: str) -> MeshFile | None:
    """Return the file that counts for a part: the one attached last to its design revision."""
    found = None
    for body in bodies:
        event = body["event"]
        data = event.get("data", {})
        if event["kind"] == "mesh" and (data["part"], data["revision"]) == (part, revision):
            found = MeshFile(
                event["id"], body["server"]["seq"], part, revision, data["hash"], data["bytes"],
                event["by"]["person"], body["server"]["when"],
            )
    return found


def meshes(bodies: Sequence[Body], jaw: Mapping[str, Any]) -> dict[str, MeshFile | None]:
    """Return the files that count for base and arch of a jaw, by part."""
    return {part["part"]: mesh_of(bodies, part["part"], part["revision"]) for part in in_order(jaw)}


def in_order(jaw: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    """Return the parts of a jaw, base first."""
    return sorted(jaw["parts"], key=lambda part: PARTS.index(part["part"]))


def checks(bodies: Iterable[Body]) -> list[Checked]:
    """Return every check of a jaw that came to its end, in order."""
    return [_checked(body) for body in bodies if body["event"]["kind"] == "seating"]


def _checked(body: Body) -> Checked:
    event, data, server = body["event"], body["event"]["data"], body["server"]
    return Checked(
        event["id"], server["seq"], server["when"], event["by"]["person"], data["base"], data["arch"],
        data["revision"], data["definitions"], data["key"], tuple(data["of"]), data.get("report", ""),
        tuple(data.get("texts", {}).values()), data.get("summary", {}),
    )


def in_force(found: Iterable[Checked], base: str, arch: str) -> Checked | None:
    """Return the last check of these two files (SHA-256), None where there is none."""
    return next((one for one in reversed(list(found)) if (one.base, one.arch) == (base, arch)), None)


Findings = Callable[[Checked], Sequence[Finding]]


def told(
    bodies: Sequence[Body], counts: Collection[str], checked: Checked, found: Findings
) -> tuple[Told, ...]:
    """Return the findings of the report in force, each with the last answer that counts.

    `counts` are the ids of the events on which the state of the jaw rests, `found` tells the findings of any check of
    the jaw. An answer from before this report counts if the finding that it was given to said the same.
    """
    every = checks(bodies)
    answers: dict[str, Answer] = {}
    now = {finding.kind: finding for finding in found(checked)}
    for body in bodies:
        event, server = body["event"], body["server"]
        if event["kind"] != "confirm" or event["id"] not in counts:
            continue
        seen = [one for one in every if one.seq < server["seq"]]
        before = {f.kind: f.words for f in found(seen[-1])} if seen and seen[-1].id != checked.id else None
        for kind, finding in now.items():
            said = event["picks"].get(finding.pick)
            if said and (server["seq"] > checked.seq or (before or {}).get(kind) == finding.words):
                answers[kind] = Answer(said, event["by"]["person"], server["when"])
    return tuple(Told(finding, answers.get(kind)) for kind, finding in now.items())


def asked(
    jaw: Jaw, teeth: Sequence[int], axis: str, leave: float, kerf: float
) -> dict[str, Any]:
    """Return what is asked of a check, as the plain data that `benchapp.seating.tell.Asked` is made of.

    `axis` is the lab's setting; an axis of the files is a line, its sense follows from the parts.
    """
    given = AXES[axis]
    return {
        "jaw": jaw, "teeth": list(teeth), "axis": None if given is None else list(given), "kerf": kerf,
        "leave": leave, "unit": None, "axis_is_line": True,
    }


def summary_of(report: Mapping[str, Any]) -> dict[str, Any]:
    """Return the few numbers of a report that stand in its event."""
    deep = [tooth["depth_max_mm"] for tooth in report["teeth"] if tooth["depth_max_mm"] is not None]
    return {
        "goes_in": report["goes_in"], "resin_ml": report["resin_ml"], "deepest_mm": max(deep, default=None),
        "connectors": len(report["connectors"]), "teeth": len(report["teeth"]), "warnings": len(report["warnings"]),
    }
