"""Intervals of pairs that were checked before, by what `trust` reckons now; and the factors that fit half of them."""

from types import SimpleNamespace
from typing import Any, cast

import numpy as np
from scipy.optimize import linprog

from benchapp.seating import trust
from benchapp.seating.sockets import Socket

HOLD = 0.96  # of the pairs that are fitted; of others a little less is held
BY_TOOTH = {"depth": "depth", "deepest": "deepest", "crest": "crest", "bond": "bond", "volume": "volume", "gap": "gap"}
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
    if name == "area":
        area, more, less, around = row["connectors"][whose]
        return trust.of_connector(area, more, less, row["seen"], around)["area"]
    every = trust.of_sockets(sockets_of(row), row["seen"], row["spread"])
    if name == "resin":
        return trust.of_all([one["volume"] for one in every])
    number, _space, side = str(whose).partition(" ")
    return every[list(row["sockets"]).index(number)][_key(name, int(number), side)]


def _key(name: str, number: int, side: str) -> str:
    if not side:
        return BY_TOOTH[name]
    ways = {"mesial": "back", "distal": "on"} if number // 10 in (2, 3) else {"mesial": "on", "distal": "back"}
    return ways.get(side, side)


def half_of(row: dict[str, Any]) -> int:
    """Tell which half a pair is of: 0 for the fit, 1 for the table; all meshes of one shape are of the same half."""
    number = int(str(row["seed"]).split()[-1])
    return (number // 4 if row["kind"] == "blended" else number) % 2


def sockets_of(row: dict[str, Any]) -> list[Socket]:
    """Return what a row holds of each tooth in its socket."""
    return [cast(Socket, SimpleNamespace(**one)) for one in row["sockets"].values()]


def fitted(rows: list[dict[str, Any]]) -> dict[str, tuple[float, ...]]:
    """Return factors by number, as `trust.FACTORS`: intervals that hold 96 % of the rows' numbers and are as narrow as
    they then can be on the whole, every group of rows counting alike."""
    found: dict[str, tuple[float, ...]] = {}
    for name in trust.FACTORS:
        some = [(row, *one) for row in rows for one in row.get("errors", ()) if one[0] == name]
        if some:
            found[name] = _fit(some, name)
    return found


def _fit(some: list[Any], name: str) -> tuple[float, ...]:
    parts, needs, sizes, weights = [], [], [], []
    groups: dict[Any, int] = {}
    for row, _name, _true, error, _ends, whose in some:
        causes = _causes(row, name, whose)
        unit = UNITS.get(name, 1.0)
        parts.append(causes)
        needs.append(-error * unit)
        sizes.append(max(causes.size, 1e-9))
        groups[_group(row)] = groups.get(_group(row), 0) + 1
        weights.append(_group(row))
    scale = np.array(sizes)
    need = np.array(needs) / scale
    moved = np.array([one.shift for one in parts]) / scale
    count = np.array([1 / groups[group] for group in weights])
    shift = trust.FACTORS[name][0]
    if np.abs(moved).max() > 0 and name != "area":
        quiet = np.array([not row["seen"] for row, *_rest in some])
        shift = float(np.median(need[quiet]) / np.median(moved[quiet])) if quiet.any() else 1.0
        shift = float(np.clip(shift, 0.0, 2.0))
    left = np.abs(need - shift * moved) - np.array([one.known for one in parts]) / scale
    columns = np.array([(one.size, one.facets, one.noise, one.rise) for one in parts]) / scale[:, None]
    return (round(shift, 2), *(float(f"{value:.2g}") for value in _quantile(columns, left, count)))


def _group(row: dict[str, Any]) -> Any:
    return row["kind"] == "blended", bool(row["noise"]), str(row["seed"]).startswith("fine")


def _causes(row: dict[str, Any], name: str, whose: Any) -> trust.Causes:
    if name == "area":
        area, more, less, around = row["connectors"][whose]
        return trust.causes_of_connector(area, more, less, row["seen"], around)
    number, _space, side = str(whose).partition(" ")
    socket = cast(Socket, SimpleNamespace(**row["sockets"][number]))
    return trust.causes_of(socket, _key(name, int(number), side), row["seen"], row["spread"])


def _quantile(columns: np.ndarray, values: np.ndarray, weights: np.ndarray) -> np.ndarray:
    """Return factors, none negative, of columns whose sum lies above a share HOLD of the values (pinball loss)."""
    count, many = columns.shape
    over, under = HOLD * weights, (1 - HOLD) * weights
    found = linprog(
        np.concatenate([np.zeros(many), over, under]),
        A_eq=np.hstack([columns, np.eye(count), -np.eye(count)]) if count < 400 else _sparse(columns),
        b_eq=values, bounds=(0, None), method="highs",
    )  # fmt: skip
    return np.asarray(found.x[:many])


def _sparse(columns: np.ndarray) -> Any:
    from scipy.sparse import csr_array, eye_array, hstack

    return hstack([csr_array(columns), eye_array(len(columns)), -eye_array(len(columns))], format="csr")
