"""Pairs by chance: a plan from a seed, its files, and how far each number of the report is off."""

from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

import manifold3d as m3
import numpy as np

from benchapp.core.teeth import ROW
from benchapp.seating.check import Checked, check
from benchapp.seating.faults import Unusable
from benchapp.seating.report import Report
from benchapp.seating.tell import Asked
from tests.seating.made import turned
from tests.seating.pairs import FULL, Pair, Plan, stl
from tests.seating.shapes import Floats
from tests.seating.truth import Known, all_known

FEATURES = {
    "rim": (0.1, 0.25), "uneven": (0.1, 0.3), "scallop": (0.2, 0.8), "fillet": (0.1, 0.4), "taper": (0.1, 0.3),
    "lean": (2.0, 6.0), "lopsided": (0.05, 0.15), "crowded": (0.3, 1.0), "tilted": (2.0, 5.0), "hug": (0.2, 0.8),
    "tight": (0.1, 0.3),
}  # fmt: skip


ABOUT, MOVED = (1.0, 0.4, -0.3), (10.0, -20.0, 5.0)


@dataclass(frozen=True)
class Chance:
    """One pair by chance: its plan, noise of its corners in mm, whether the axis is given, how it is turned."""

    seed: int
    plan: Plan
    noise: float
    axis: bool
    turn: float
    kind: str


def chance_of(seed: int, fine: int | None = None) -> Chance:
    """Return the pair of a seed: a third simple, a third with one feature, a third with about half of all.

    `fine` are points around a tooth; left out they are by chance, and the meshes coarse.
    """
    rng = np.random.default_rng(seed)
    kind = ("simple", "one", "many")[seed % 3]
    chosen: list[str] = []
    if kind == "one":
        chosen = [list(FEATURES)[seed // 3 % len(FEATURES)]]
    elif kind == "many":
        chosen = [name for name in FEATURES if rng.random() < 0.6]
    values: dict[str, Any] = {name: float(rng.uniform(*FEATURES[name])) for name in chosen}
    jaw = "upper" if rng.random() < 0.5 else "lower"
    row = list(FULL[jaw] if rng.random() < 0.8 else ROW[jaw])
    start = int(rng.integers(1, 6))
    row = row[start : len(row) - int(rng.integers(1, 6))]
    if rng.random() < 0.4:
        del row[int(rng.integers(1, len(row) - 1))]
    deep = {tooth: float(rng.uniform(0.6, 1.2)) for tooth in row if rng.random() < 0.1}
    rods = {pair: float(rng.uniform(0.6, 1.6)) for pair in pairwise(row)}
    plan = Plan(
        jaw, tuple(row), int(rng.integers(18, 29)), float(rng.uniform(0.4, 0.8)), deep, float(rng.uniform(0.06, 0.16)),
        rod_by=rods, chance=seed, **values,
    )  # fmt: skip
    if fine:
        plan = replace(plan, fine=fine)
    noise = float(rng.choice([0.0, 0.0, 0.0, 0.005, 0.015]))
    return Chance(seed, plan, noise, bool(rng.random() < 0.75), float(rng.uniform(0, 360)), kind)


def files_of(chance: Chance, pair: Pair) -> tuple[bytes, bytes, tuple[float, float, float]]:
    """Return base and arch as STL, turned as a whole, and the axis in their frame."""
    rng = np.random.default_rng(chance.seed + 1)
    found = [noisy(body, chance.noise, rng) for body in (pair.base(), pair.arch())]
    base, arch = (stl(turned(one, chance.turn, ABOUT, MOVED)) for one in found)
    way = turned(np.array([[[0.0, 0.0, 1.0]]]), chance.turn, ABOUT, (0, 0, 0))[0, 0]
    return base, arch, (float(way[0]), float(way[1]), float(way[2]))


def noisy(body: m3.Manifold, noise: float, rng: np.random.Generator) -> Floats:
    """Return a solid's triangles with every corner moved by chance."""
    mesh = body.to_mesh64()
    points = np.asarray(mesh.vert_properties)[:, :3]
    return (points + rng.normal(0, noise, points.shape))[np.asarray(mesh.tri_verts).astype(np.int64)]


def compared(seed: int, fine: int | None = None) -> dict[str, Any]:
    """Return for one seed every number's error, half width of its interval, and what was said."""
    chance = chance_of(seed, fine)
    pair = Pair(chance.plan)
    base, arch, way = files_of(chance, pair)
    row: dict[str, Any] = {"seed": f"fine {seed}" if fine else seed, "kind": chance.kind}
    row |= {"noise": chance.noise, "axis": chance.axis}
    row["features"] = [name for name in FEATURES if getattr(chance.plan, name)]
    try:
        asked = Asked(chance.plan.jaw, chance.plan.row, way if chance.axis else None)
        found = check(base, arch, asked)
        report = found.report
    except Unusable as fault:
        return row | {"refused": fault.faults}
    row["source"], row["warnings"] = report.axis_source, list(report.warnings)
    row["off"] = float(np.degrees(np.arccos(np.clip(np.dot(report.axis, way), -1, 1))))
    row["numbers_right"] = _numbers_right(found, pair, chance)
    row["goes_in"], row["overlap"] = report.goes_in, report.overlap_mm3
    row["triangles"] = report.meshes["base"].triangles + report.meshes["arch"].triangles
    if not row["numbers_right"]:
        return row
    known, areas = all_known(pair), {frozenset(rod.between): rod.area() for rod in pair.rods if pair.bare(rod)}
    return row | causes_of(found) | {"errors": errors_of(report, known, areas)}


def causes_of(found: Checked) -> dict[str, Any]:
    """Return what the intervals are made from, so that they can be reckoned anew from a row."""
    sockets = {}
    for tooth, one in zip(found.report.teeth, found.measured.sockets, strict=True):
        if one:
            sockets[str(tooth.tooth)] = {
                "facets": one.facets, "leaning": one.leaning, "around": one.around, "bond": one.bond,
                "volume": one.volume, "gap": one.gap, "edge": one.edge, "crest_median": one.crest_median,
                "depth_median": one.depth_median, "uneven": one.uneven, "aside": one.aside,
            }  # fmt: skip
    connectors = [
        (one.area, one.more, one.less, float(np.linalg.norm(np.diff(one.outline, axis=1), axis=2).sum()))
        for one in found.measured.connectors
    ]
    spread = found.report.axis_spread_deg
    return {"spread": spread, "seen": found.measured.noise, "sockets": sockets, "connectors": connectors}


def _numbers_right(found: Checked, pair: Pair, chance: Chance) -> bool | None:
    """Tell whether each told number stands where the plan's tooth stands; None when numbers were withheld."""
    report = found.report
    if not all(tooth.tooth for tooth in report.teeth):
        return None
    stands = {tooth.number: np.array([*tooth.at, 0.0]) for tooth in pair.teeth}
    for tooth, socket in zip(report.teeth, found.measured.sockets, strict=True):
        if socket:
            there = turned(stands[tooth.tooth or 0][None, None], chance.turn, ABOUT, MOVED)[0, 0] @ found.frame.T
            if np.linalg.norm(there[:2] - socket.rim.centre) > 2.0:
                return False
    return True


def errors_of(report: Report, known: dict[int, Known], areas: dict[frozenset[int], float]) -> list[Any]:
    """Return (name, true, error, interval's ends less the true value, whose) of every number that was told."""
    found = [one for tooth in report.teeth for one in _of_tooth(tooth, known[tooth.tooth or 0])]
    for at, one in enumerate(report.connectors):
        true = areas.get(frozenset(number or 0 for number in one.between), float("nan"))
        found.append(_one("area", true, one.area_mm2, one.intervals.get("area_mm2"), at))
    resin = sum(one.volume for one in known.values()) / 1000
    found.append(_one("resin", resin, report.resin_ml, report.intervals.get("resin_ml"), 0))
    return [one for one in found if one]


def _of_tooth(tooth: Any, true: Known) -> list[Any]:
    ends, whose = tooth.intervals, tooth.tooth
    found = [
        _one("depth", true.depth_median, tooth.depth_median_mm, ends.get("depth_median_mm"), whose),
        _one("deepest", true.depth_max, tooth.depth_max_mm, ends.get("depth_max_mm"), whose),
        _one("crest", true.crest_median, tooth.crest_depth_median_mm, ends.get("crest_depth_median_mm"), whose),
        _one("bond", true.bond, tooth.bond_area_mm2, ends.get("bond_area_mm2"), whose),
        _one("volume", true.volume / 1000, tooth.gap_volume_ml, ends.get("gap_volume_ml"), whose),
        _one("gap", true.gap, tooth.gap_median_mm, ends.get("gap_median_mm"), whose),
    ]
    for side, depth in tooth.depth_by_side_mm.items():
        name = "side" if side in ("mesial", "distal") else "face"
        found.append(_one(name, true.sides[side], depth, ends.get(f"{side}_mm"), f"{whose} {side}"))
    return found


def _one(name: str, true: float, told: float | None, ends: tuple[float, float] | None, whose: Any) -> Any:
    if told is None or np.isnan(true):
        return None
    low, high = ends or (float("nan"), float("nan"))
    return name, true, told - true, (low - true, high - true), whose
