"""The seating check of a jaw as it stands: its files, its report, what it tells the hands, and what was said of it."""

import json
from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal

from benchapp.actions.bench import Bench
from benchapp.actions.jaws import JawLine, protocol_of, texts_of
from benchapp.actions.settings import setting
from benchapp.background import Checks, Progress
from benchapp.core import findings as told_by
from benchapp.core.findings import CutHere, Finding
from benchapp.core.numbers import Numbers, numbers_of
from benchapp.core.orders_words import PART_WORDS
from benchapp.core.protocol import Protocol
from benchapp.core.seating_line import PARTS, Checked, MeshFile, Told, asked, checks, in_force, in_order, meshes, told
from benchapp.core.words import _
from benchapp.seating.report import KERF, LEAVE  # plain data, as in `seating_keeper`
from benchapp.store.meshes import Meshes

State = Literal["none", "half", "waiting", "running", "done", "refused", "lost"]
REMEMBERED = 200  # reports that are kept at hand


@dataclass(frozen=True)
class SeatingPart:
    """Base or arch: its design revision, the file that counts for it, or None and `why` none does."""

    part: str
    revision: str
    mesh: MeshFile | None
    triangles: int | None
    why: str


@dataclass(frozen=True)
class Seating:
    """The seating check of a jaw.

    `state`: none and half without the files of both parts in one revision, `why` says what is missing; waiting and
    running with the `stage` and the part (0 to 1) of it that is `done`; refused with `faults`; lost when its process
    ended without a result, and it is begun anew. `report` is the report in force (plain data), also while `anew` says
    that a newer one is made. `key` names the pictures of the report in force, in the folder `seating` of the data
    folder: KEY.glb and KEY.png, where they are.
    """

    code: str
    parts: tuple[SeatingPart, ...]
    state: State
    why: str = ""
    stage: str = ""
    done: float = 0.0
    anew: bool = False
    checked: Checked | None = None
    report: dict[str, Any] | None = None
    faults: tuple[str, ...] = ()
    findings: tuple[Told, ...] = ()
    cuts: tuple[CutHere, ...] = ()
    watched: tuple[str, ...] = ()
    resin_ml: float | None = None
    drops: int | None = None
    key: str = ""

    @property
    def open(self) -> tuple[Told, ...]:
        """The findings that wait for an answer."""
        return tuple(one for one in self.findings if one.open)


def seating_of(bench: Bench, found: JawLine) -> Seating:
    """Return how the seating check of a jaw stands now."""
    files, pair = meshes(found.seating, found.jaw), pair_of(found)
    if pair is None:
        parts = tuple(_part(one, files[one["part"]], None) for one in in_order(found.jaw))
        return Seating(found.code, parts, "half" if any(files.values()) else "none", why_none(found, files))
    last = check_of(found, pair)
    report = report_of(bench, last) if last else None
    parts = tuple(_part(one, files[one["part"]], report) for one in in_order(found.jaw))
    if last is None and (why := gone(bench, pair)):
        return Seating(found.code, parts, "half", why)
    now = _under_way(bench, found, pair, last)
    if last is None:
        state: State = now.state if now.state in ("waiting", "lost") else "running"  # done, and not stored yet
        return Seating(found.code, parts, state, "", now.stage, now.part)
    whole = Seating(
        found.code, parts, "done" if report else "refused", "", now.stage, now.part, now.state != "none", last,
        faults=tuple(texts_of(bench, last.faults).values()), key=last.key,
    )
    return _with(bench, found, whole, last, report) if report else whole


def _with(bench: Bench, found: JawLine, whole: Seating, last: Checked, report: dict[str, Any]) -> Seating:
    """Return a check with all that its report tells."""
    protocol, numbers = protocol_of(bench, found), numbers_of(setting(bench, "numbers"))
    counts = {event["id"] for event in found.state["log"]}
    per_ml = int(setting(bench, "drops_per_ml"))
    return replace(
        whole, report=report,
        findings=told(found.seating, counts, last, lambda one: findings_of(bench, found, protocol, one, numbers)),
        cuts=told_by.cuts(report), watched=told_by.watched(report, protocol.seating),
        resin_ml=report["resin_ml"], drops=told_by.drops(report["resin_ml"], per_ml),
    )


def findings_of(
    bench: Bench, found: JawLine, protocol: Protocol, one: Checked, numbers: Numbers
) -> tuple[Finding, ...]:
    """Return the findings of any check of a jaw, none where the pair was refused."""
    report = report_of(bench, one)
    return told_by.findings(report, protocol.seating, tuple(found.jaw["teeth"]), numbers) if report else ()


def why_none(found: JawLine, files: dict[str, MeshFile | None]) -> str:
    """Say why no check can be made of a jaw's files, "" where one can."""
    if not any(files.values()):
        return _("No design file is attached.")
    revisions = {part["part"]: part["revision"] for part in found.jaw["parts"]}
    if revisions["base"] != revisions["arch"]:
        return _(
            "Base and arch are of two design revisions ({base} and {arch}): no check is made of them.", **revisions
        )
    if files["base"] is None:
        return _("The design file of the base is missing.")
    return _("The design file of the arch is missing.") if files["arch"] is None else ""


def gone(bench: Bench, files: Iterable[MeshFile]) -> str:
    """Say which of a jaw's files are not in the data folder, "" where all are."""
    missing = [_(PART_WORDS[file.part]) for file in files if not meshes_of(bench).there(file.hash)]
    if not missing:
        return ""
    return _("Not in the data folder: the file of {parts}. Attach it again.", parts=", ".join(missing))


def _part(part: Any, file: MeshFile | None, report: dict[str, Any] | None) -> SeatingPart:
    known = report["meshes"][part["part"]]["triangles"] if report else None
    why = "" if file else _("No file is attached to revision {revision}.", revision=part["revision"])
    return SeatingPart(part["part"], part["revision"], file, known, why)


def report_of(bench: Bench, one: Checked) -> dict[str, Any] | None:
    """Return the report of a check as plain data, None where the pair was refused or the report is missing."""
    if one.report not in bench.reports:
        body = bench.store.course(one.report) if one.report else None
        if body is None:
            return None
        if len(bench.reports) >= REMEMBERED:
            bench.reports.clear()
        bench.reports[one.report] = json.loads(body)
    found: dict[str, Any] = bench.reports[one.report]
    return found


def reports_for(bench: Bench, found: JawLine) -> dict[str, Any]:
    """Return what a record needs of a jaw's checks: their reports by hash, and the keys that have a still picture."""
    every = checks(found.seating)
    reports = {one.report: report for one in every if (report := report_of(bench, one))}
    pictures = frozenset(one.key for one in every if picture_of(bench, one.key).is_file())
    return {"reports": reports, "pictures": pictures}


def picture_of(bench: Bench, key: str) -> Path:
    """Return where the still picture of a check lies, whether it is there or not."""
    return checks_of(bench).folder / f"{key}.png"


def checks_of(bench: Bench) -> Checks:
    """Return the checks that processes of their own make in this data folder."""
    if bench.checks is None:
        bench.checks = Checks(bench.store.path.parent / "seating")
    found: Checks = bench.checks
    return found


def meshes_of(bench: Bench) -> Meshes:
    """Return the design files of this data folder."""
    return Meshes(bench.store.path.parent)


def asked_of(bench: Bench, found: JawLine) -> dict[str, Any]:
    """Return what is asked of a check of this jaw, by its protocol and the lab's settings."""
    protocol = protocol_of(bench, found)
    cut = protocol.seating.cut if protocol.seating else None
    leave, kerf = (float(cut.leave), float(cut.kerf)) if cut else (LEAVE, KERF)
    return asked(found.jaw["jaw"], found.jaw["teeth"], setting(bench, "seating_axis"), leave, kerf)


def pair_of(found: JawLine) -> tuple[MeshFile, MeshFile] | None:
    """Return the files of base and arch of which a check can be made, None where `why_none` says why none can."""
    files = meshes(found.seating, found.jaw)
    base, arch = (files[part] for part in PARTS)
    return None if base is None or arch is None or why_none(found, files) else (base, arch)


def check_of(found: JawLine, pair: tuple[MeshFile, MeshFile]) -> Checked | None:
    """Return the check of two files that is in force, None where none came to its end."""
    return in_force(checks(found.seating), *(file.hash for file in pair))


def due(found: JawLine) -> tuple[MeshFile, MeshFile] | None:
    """Return base and arch of which a check is still to be stored, None where there is none.

    A file that is attached anew asks for a check anew, also when it is the same file.
    """
    pair = pair_of(found)
    made = pair and any(set(one.of) == {file.id for file in pair} for one in checks(found.seating))
    return None if made else pair


def _under_way(
    bench: Bench, found: JawLine, files: tuple[MeshFile, MeshFile], last: Checked | None
) -> Progress:
    """Return how far the check is that is still to be stored; state none where there is none."""
    if last is not None and due(found) is None:
        return Progress("none")
    now = checks_of(bench).look(checks_of(bench).named(files[0].hash, files[1].hash, asked_of(bench, found)))
    return Progress("waiting") if now.state == "none" else now
