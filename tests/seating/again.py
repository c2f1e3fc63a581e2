"""Intervals of pairs that were checked before, by what `trust` reckons now; and the factors that fit half of them."""

from types import SimpleNamespace
from typing import Any, cast

import numpy as np
from scipy.optimize import linprog
from scipy.sparse import csr_array, eye_array, hstack

from benchapp.seating import trust
from benchapp.seating.evenness import Evenness
from benchapp.seating.places import ways_of
from benchapp.seating.sockets import Socket

HOLD = 0.973  # of the pairs that are fitted; of others a little less is held
LEAST_HELD = 0.96  # of each group of them
NOISY_HELD = -0.018  # more of noisy ones, of which as many others are held
MORE_HELD = 0.015  # more of bonds and volumes: of shapes that were not fitted fewer are held than of depths
MOST = 8.0  # times a move that may be believed
TURNS = 24  # in which groups of pairs that are held too seldom come to count more
LEAST = dict.fromkeys(("depth", "deepest", "crest", "side", "face", "gap"), 0.0005)  # mm: half of the last decimal told
FITTED = ("depth", "deepest", "crest", "side", "face", "gap", "bond", "volume", "area")
SMALL = 0.001  # of a number: so much of its interval at most stands for no cause; groups that need less count no more
AXISLESS = ("gap", "area")  # an axis does not move these
SUMS = ("bond", "volume")
UNITS = {"volume": 1000.0, "resin": 1000.0}  # the report tells ml, the check reckons in mm3


def refreshed(row: dict[str, Any]) -> dict[str, Any]:
    """Return a row whose intervals are reckoned anew from what the check saw."""
    if "errors" not in row:
        return row
    errors = []
    for name, true, error, _ends, whose in row["errors"]:
        off = _off(row, name, whose)
        unit = UNITS.get(name, 1.0)
        least = 0.0 if name in ("bond", "volume", "area", "resin") else -np.inf
        low, high = off.about((true + error) * unit, least) or (np.nan, np.nan)
        errors.append((name, true, error, (low / unit - true, high / unit - true), whose))
    return row | {"errors": errors}


def _off(row: dict[str, Any], name: str, whose: Any) -> trust.Off:
    if name == "resin":
        every = trust.of_sockets(sockets_of(row), row["seen"], row["spread"])
        return trust.of_all([one["volume"] for one in every])
    return _causes(row, name, whose).off(name)


def half_of(row: dict[str, Any]) -> int:
    """Tell which half a pair is of: 0 for the fit, 1 for the table; all meshes of one shape are of the same half."""
    number = int(str(row["seed"]).split()[-1])
    return (number // 4 if row["kind"] == "blended" and "fine" not in str(row["seed"]) else number) % 2


def sockets_of(row: dict[str, Any]) -> list[Socket]:
    """Return what a row holds of each tooth in its socket."""
    return [_socket(one) for one in row["sockets"].values()]


def _socket(one: dict[str, Any]) -> Socket:
    uneven = {name: Evenness(*parts) for name, parts in one["uneven"].items()}
    return cast(Socket, SimpleNamespace(**{"aside": {}} | one | {"uneven": uneven}))


def fitted(rows: list[dict[str, Any]]) -> dict[str, tuple[tuple[float, ...], tuple[float, ...]]]:
    """Return factors by number, as `trust.FACTORS`: intervals that hold about 95 % of the rows' numbers and are as
    narrow as they then can be on the whole, every group of rows counting alike."""
    found = {}
    for name in FITTED:
        some = [(row, *one) for row in rows for one in row.get("errors", ()) if one[0] == name]
        if some:
            found[name] = _fit(some, name)
    return found


def _fit(some: list[Any], name: str) -> tuple[tuple[float, ...], tuple[float, ...]]:
    causes = [_causes(row, name, whose) for row, *_numbers, whose in some]
    scale = np.array([max(one.parts[0], 1e-9) for one in causes])
    need = np.array([-error * UNITS.get(name, 1.0) for _row, _name, _true, error, *_rest in some]) / scale
    moves = np.array([one.shifts for one in causes]) / scale[:, None]
    columns = np.array([one.parts for one in causes]) / scale[:, None]
    groups = np.array([_group(row) for row, *_rest in some])
    given = np.array([row["source"] == "given" or name in AXISLESS for row, *_rest in some])
    each = np.array([1.0 / np.sum(groups == group) for group in groups])
    known = moves.any(axis=0)  # the factor of what is 0 in every row could be anything: it is left at 0
    least, most = np.full(len(known), -MOST) * known, np.full(len(known), MOST) * known
    least[:2], most[:2] = 0.0, 3.0 * known[:2]
    believed = [(float(low), float(high)) for low, high in zip(least, most, strict=True)]
    shifts = _rounded(_quantile(moves[given], need[given], each[given], 0.5, believed))
    left = np.abs(need - moves @ np.array(shifts))
    factors = _halves(columns[given], left[given], each[given], groups[given], name)
    if name in SUMS:  # as much as pairs whose axis may be far off ask for
        more = (left - columns[:, :-1] @ factors[:-1]) / np.maximum(columns[:, -1], 1e-12)
        far = [group for group in set(groups[~given]) if group.startswith("blended")]
        factors[-1] = max(0.0, *(np.quantile(more[groups == group], HOLD) for group in far))
    elif name not in AXISLESS:
        factors[-1] = 1.0  # what the report's sentence says that the axis may move a depth by
    return shifts, _rounded(factors)


def _halves(columns: np.ndarray, left: np.ndarray, each: np.ndarray, groups: np.ndarray, name: str) -> np.ndarray:
    """Return factors of an interval's half, the narrowest on the whole that hold every group of pairs; each group
    counts by what it needs."""
    least, more = LEAST.get(name, 0.0), MORE_HELD if name in SUMS else 0.0
    bounds = [(least, None if least else SMALL)] + [(0.0, None)] * (columns.shape[1] - 1)
    every = {group: more + (NOISY_HELD if "noise" in group else 0.0) for group in set(groups)}
    share = HOLD + np.array([every[group] for group in groups])
    weight = {group: 1 / max(float(np.quantile(left[groups == group], HOLD)), least, SMALL) for group in every}
    for _turn in range(TURNS):
        weights = each * np.array([weight[group] for group in groups])
        factors = _quantile(columns, left, weights, share, bounds)
        holds = left <= columns @ factors
        short = [group for group in every if np.mean(holds[groups == group]) < LEAST_HELD + every[group]]
        if not short:
            break
        for group in short:
            weight[group] *= 1.5
    return factors


def _rounded(factors: np.ndarray) -> tuple[float, ...]:
    return tuple(float(f"{value:.3g}") + 0.0 for value in factors)  # no -0.0


def _group(row: dict[str, Any]) -> str:
    fine = str(row["seed"]).startswith("fine") and not row["noise"]  # few fine ones are noisy
    family = "blended" if row["kind"] == "blended" else "fine" if fine else "first"
    return " ".join([family] + ["noise"] * bool(row["noise"]) + ["given"] * (row["source"] == "given"))


def _causes(row: dict[str, Any], name: str, whose: Any) -> trust.Causes:
    if name == "area":
        area, more, less, around = row["connectors"][whose]
        return trust.causes_of_connector(area, more, less, row["seen"], around)
    number, _space, side = str(whose).partition(" ")
    socket = _socket(row["sockets"][number])
    key = ways_of(int(number)).get(side, side) or name
    return trust.causes_of(socket, key, row["seen"], row["spread"])


def _quantile(
    columns: np.ndarray,
    values: np.ndarray,
    weights: np.ndarray,
    share: float | np.ndarray,
    bounds: list[tuple[float, float | None]],
) -> np.ndarray:
    """Return factors within their bounds of columns whose sum lies above a share of the values, one share or each its
    own (pinball loss, as a linear program)."""
    count, many = columns.shape
    found = linprog(
        np.concatenate([np.zeros(many), share * weights, (1 - share) * weights]),
        A_eq=hstack([csr_array(columns), eye_array(count), -eye_array(count)], format="csr"),
        b_eq=values, bounds=[*bounds, *[(0, None)] * (2 * count)], method="highs",
    )  # fmt: skip
    return np.asarray(found.x[:many])
