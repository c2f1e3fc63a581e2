"""What the page of a jaw's seating check shows, made ready for its template."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from benchapp.actions.jaws import JawLine
from benchapp.core import seatmap, seatrows
from benchapp.core.findings import lie_in
from benchapp.core.numbers import Numbers
from benchapp.core.scales import Beyond, Limits, scale
from benchapp.core.seating_line import PARTS
from benchapp.core.seatmap import GAP, KINDS, USUAL_GAPS, Kind, seat_map
from benchapp.core.stops import Stop, placed, stopping
from benchapp.core.words import N_, _, for_scripts, n_


@dataclass(frozen=True)
class Finding:
    """What lies outside the lab's limits, and what was answered to it by whom ("" as long as nobody did)."""

    words: str
    answer: str = ""
    by: str = ""


@dataclass(frozen=True)
class SeatingPage:
    """The seating check of a jaw: its report as plain JSON (None where there is none), and what belongs to the lab.

    `said` are sentences on how the check stands: what is missing, how far it is, why there is no report. `limits` are
    by kind of number (`depth`, `connector`, `resin`, `bond`, `gap`, `clearance`), in the unit that is shown; `cuts`
    says by place, in a word, how far a connector is cut back; `drops` of the lab's dispenser hold the resin. `solid`
    and `picture` are files (GLB, PNG), None as long as there are none.
    """

    report: Mapping[str, Any] | None
    said: tuple[str, ...] = ()
    limits: Mapping[str, Limits] = field(default_factory=dict)
    findings: tuple[Finding, ...] = ()
    cuts: Mapping[str, str] = field(default_factory=dict)
    drops: int | None = None
    solid: Path | None = None
    picture: Path | None = None


SOLID_WORDS: dict[str, Any] = {
    "loading": N_("The picture is being fetched …"),
    "shown": N_("The picture is shown. Arrow keys turn it, plus and minus change its size, Home begins anew."),
    "gone": N_("The picture did not come. Where the PC can be reached, load this page once more."),
    "noWebgl": N_("This browser draws nothing in three dimensions. The still picture shows the same."),
    "lost": N_("The drawing stopped: the tablet took it back. Show it once more, or look at the still picture."),
    "older": N_("The picture is of other files than the numbers. "
                "Where the PC can be reached, load this page once more."),
    "lifted": N_("lifted by {mm} mm"),
    "at": N_("Turned to {place}."),
}


def shown(found: JawLine, seating: SeatingPage, numbers: Numbers) -> dict[str, Any]:
    """Return what the template needs of a seating check that has a report."""
    report, jaw, teeth = seating.report or {}, found.jaw["jaw"], found.jaw["teeth"]
    stopped = _stopped(seating, report)
    maps = [seat_map(kind, jaw, teeth, report, limits_of(seating, kind), numbers, stopped) for kind in KINDS]
    gap = scale(USUAL_GAPS, limits_of(seating, GAP), GAP.decimals)
    spots = [spot for one in maps[:2] for spot in one.spots]
    places = {one.name: placed(one, numbers) for one in stopped}
    said = {one.name: seatrows.stop_words(one) for one in stopped}
    data = {
        "words": for_scripts(SOLID_WORDS),
        "solid": {
            "parts": PARTS,
            "file": f"/seating/{found.code}.glb" if seating.solid else "",
            "bounds": {"depth": maps[0].scale.bounds, "gap": gap.bounds},
            "meshes": [report["meshes"][part]["sha256"] for part in PARTS],
            "labels": {spot.place: spot.label for spot in spots} | places,
            "words": {spot.place: _placed(spot) for spot in spots}
            | {name: f"{place}: {said[name]}" for name, place in places.items()},
        },
    }
    return {
        "report": report, "lies_in": lie_in(report["overlap_mm3"]), "maps": maps, "seat_data": data,
        "stops_title": _stops_title(report, stopped),
        "stops": [(one.name, places[one.name], said[one.name]) for one in stopped],
        "solid_legends": [(maps[0].kind, maps[0].rows), (GAP, seatmap.legend(GAP, gap, unknown=False))],
        "goes_in": seatrows.goes_in_words(report["goes_in"]), "verdict": _verdict(seating, report),
        "columns": seatrows.columns(jaw), "connector_columns": seatrows.CONNECTOR,
        "tooth_rows": seatrows.tooth_rows(report, numbers),
        "connector_rows": seatrows.connector_rows(report, numbers, seating.cuts),
        "whole": seatrows.whole(report, numbers), "origins": seatrows.origins(report),
    }  # fmt: skip


def limits_of(seating: SeatingPage, kind: Kind) -> Limits:
    """Return the limits at which the bands of a kind are parted: where the lab set none, a connector's is its cut."""
    limits = seating.limits.get(kind.name, Limits())
    leave = float(seating.report["leave_mm2"]) if seating.report else 0.0
    if kind.name == "connector" and limits.least is None and limits.most is None and leave > 0:
        return Limits(least=leave, cut=True)
    return limits


def _stopped(seating: SeatingPage, report: Mapping[str, Any]) -> tuple[Stop, ...]:
    """Return where the arch is stopped, and where the parts come nearest if that is nearer than the lab accepts."""
    close = _side(report["least_clearance_mm"], seating.limits.get("clearance", Limits())) == "under"
    return stopping(report, *(("nearest",) if close else ()))


def _stops_title(report: Mapping[str, Any], stopped: tuple[Stop, ...]) -> str:
    """Return what is said above the places: an undercut that noise or the axis may be stops the arch only perhaps."""
    if all(one.kind == "nearest" for one in stopped):
        return _("Where they come nearest")
    sure = report["goes_in"] is False or lie_in(report["overlap_mm3"])
    return _("Where the arch is stopped") if sure else _("Where the arch may be stopped")


def _placed(spot: seatmap.Spot) -> str:
    return _("connector {name}", name=spot.label) if "-" in spot.place else _("tooth {tooth}", tooth=spot.label)


def _verdict(seating: SeatingPage, report: Mapping[str, Any]) -> list[tuple[str, str, str]]:
    """Return the few numbers that come first: title, figure, and what is said beside it."""
    resin = seatrows.cell(report["resin_ml"], report["intervals"].get("resin_ml"), 3, 1.0, "ml")
    drops = "" if seating.drops is None else n_("{n} drop", "{n} drops", seating.drops)
    least, clearance = report["least_clearance_mm"], seating.limits.get("clearance", Limits())
    return [
        (_("Goes in"), {True: _("yes"), False: _("no"), None: _("not known")}[report["goes_in"]],
         _("base and arch lie in each other") if lie_in(report["overlap_mm3"]) else ""),
        (_("Resin of the jaw"), resin.figure, drops),
        (_("Least clearance"), seatrows.cell(least, None, 2, 1.0, "mm").figure, _beside(least, clearance)),
    ]


def _beside(value: float | None, limits: Limits) -> str:
    words = {"under": _("under what the lab accepts"), "over": _("over what the lab accepts"), "": ""}
    return words[_side(value, limits)]


def _side(value: float | None, limits: Limits) -> Beyond:
    """Return on which side of the limits a number lies, "" within them and where it is not known."""
    if value is None:
        return ""
    if limits.least is not None and value < limits.least:
        return "under"
    return "over" if limits.most is not None and value > limits.most else ""
