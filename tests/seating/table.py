"""The table of errors of pairs by chance: by feature, how often intervals hold, and what was wrong without a word."""

from collections import defaultdict
from typing import Any

import numpy as np

from benchapp.seating.mind import BRIDGED, COARSE, MOVES, ROUGH
from tests.benchmarks.machine import machine, table
from tests.seating.again import half_of, refreshed

PARTS = {"bond", "volume", "area", "resin"}  # told in per cent of the true value
WORDS = {
    "depth": "depth, median (mm)", "deepest": "depth, greatest (mm)", "side": "depth, mesial or distal (mm)",
    "face": "depth, buccal or lingual (mm)", "crest": "crest (mm)", "bond": "bond area (%)", "volume": "gap volume (%)",
    "gap": "gap (mm)", "area": "connector area (%)", "resin": "resin of the jaw (%)",
}  # fmt: skip
LAST = 0.001  # mm: the last decimal that is told
HELD = {
    "exact meshes, axis given": ("all", False, True), "first family": ("first", False, True),
    "fine": ("fine", False, True), "blended": ("blended", False, True), "noise": ("all", True, True),
    "axis found": ("all", False, False), "noise, axis found": ("all", True, False),
}  # fmt: skip
WRONG = {"depth": 0.1, "side": 0.25, "face": 0.25, "bond": 5.0, "area": 4.0, "resin": 10.0, "gap": 0.02}
AXIS_SAYS = {"depth": ("depth",), "side": ("on", "back"), "face": ("buccal", "lingual")}  # as `mind.of_axis`


def table_of(rows: list[dict[str, Any]]) -> str:
    """Return the results of rows as markdown."""
    rows = [refreshed(row) for row in rows]
    whole = [row for row in rows if "errors" in row]
    lines = [
        f"{machine()}. `python -m tests.seating pairs`, then `python -m tests.seating table`: {len(rows)} pairs, "
        f"{sum(row['kind'] == 'blended' for row in rows if 'kind' in row)} of them blended; {len(whole)} with numbers, "
        f"{sum('refused' in row for row in rows)} refused, {sum('crash' in row for row in rows)} ended in a trace, "
        f"{sum(row.get('numbers_right', 0) is None for row in rows)} not numbered (said), "
        f"{sum(row.get('numbers_right') is False for row in rows)} numbered wrongly.",
        "",
        "Errors against the smooth description: median / 95th percentile. Noise is 0.005 or 0.015 mm at every corner; "
        "meshes have "
        f"{min(row['triangles'] for row in whole):,} to {max(row['triangles'] for row in whole):,} triangles a pair.",
        "",
    ]
    groups = {
        **{
            f"{words}{of}": [row for row in whole if row["kind"] in kinds and _fine(row) == fine and not row["noise"]]
            for fine, of in ((False, ""), (True, ", fine"))
            for words, kinds in (("simple", ("simple",)), ("with features", ("one", "many")))
        },
        "noise": [row for row in whole if row["noise"] and row["kind"] != "blended" and not _fine(row)],
        "noise, fine": [row for row in whole if row["noise"] and _fine(row)],
        **{
            f"blended, cubes of {cell} mm": [
                row for row in whole if row.get("cell") == cell and not row["noise"] and row["source"] == "given"
            ]
            for cell in (0.45, 0.32, 0.24, 0.12)
        },
        "blended, axis found": [
            row for row in whole if row["kind"] == "blended" and not row["noise"] and row["source"] != "given"
        ],
        "blended, noise": [row for row in whole if row["noise"] and row["kind"] == "blended"],
    }
    head = ["number", *(f"{name} ({len(some)})" for name, some in groups.items())]
    lines.append(table(head, [[WORDS[name], *(_spread(some, name) for some in groups.values())] for name in WORDS]))
    lines += [
        "",
        "Fine pairs have 60 points around a tooth. Blended pairs are the second family: fields whose crowns nearly "
        "touch, cut to triangles by cubes. Their connectors' clefts are narrower than the coarser cubes, which bridge "
        "them (and so does what is printed from these triangles): told is the mesh's own least section, the field's "
        "is less.",
    ]
    lines += ["", "By feature, pairs without noise that have it (alone or among others):", ""]
    features = sorted({feature for row in whole for feature in row["features"]})
    chosen = ("depth", "side", "bond", "area", "resin")
    lines.append(table(["feature", *(WORDS[name] for name in chosen)], [
        [feature, *(_spread([row for row in whole if feature in row["features"] and not row["noise"]], name)
                    for name in chosen)] for feature in features
    ]))  # fmt: skip
    lines += [
        "",
        "Intervals, over the half of the pairs that they were not fitted to: how many hold the true number, and their "
        "median width over the median error (aim: 95 %, 3). Where three times the median error are less than "
        "the last decimal that is told (0.001 mm), the width itself. Where errors are spread by chance, and nothing "
        "else tells their size, 95 % take 5.8 times the median error (of a normal distribution 2 x 1.960 / 0.6745). In "
        "brackets: per cent of the one width about what is told that would hold 95 % of the same numbers.",
        "",
    ]
    other = [row for row in whole if half_of(row)]
    held = {name: [row for row in other if _held(row, *of)] for name, of in HELD.items()}
    lines.append(table(["number", *held], [
        [WORDS[name], *(_hold(some, name) for some in held.values())] for name in WORDS
    ]))  # fmt: skip
    wrong = _wrong(rows)
    lines += [
        "",
        f"Wrong without a word (off by more than {_limits()}, outside the interval that was told beside it, and no "
        "sentence says that the mesh is too coarse or too noisy for it, or that the axis may move it by as much; or "
        "numbered wrongly, or told not to go in): "
        f"{len(wrong)}.",
    ]
    lines += [f"- {line}" for line in wrong]
    return "\n".join(lines)


def _fine(row: dict[str, Any]) -> bool:
    return str(row["seed"]).startswith("fine")


def _held(row: dict[str, Any], family: str, noise: bool, given: bool) -> bool:
    of = "blended" if row["kind"] == "blended" else "fine" if _fine(row) else "first"
    return family in ("all", of) and bool(row["noise"]) == noise and (row["source"] == "given") == given


def _limits() -> str:
    return ", ".join(
        f"{WORDS[name].partition(' (')[0]} {most:g} {'%' if name in PARTS else 'mm'}" for name, most in WRONG.items()
    )


def _errors(rows: list[dict[str, Any]], name: str) -> np.ndarray:
    """Return (error, low, high) of a number over rows, in mm or per cent."""
    found = []
    for row in rows:
        for kind, true, error, (low, high), _whose in row["errors"]:
            if kind == name:
                part = 100 / true if name in PARTS else 1.0
                found.append((error * part, low * part, high * part))
    return np.array(found, dtype=float).reshape(-1, 3)


def _spread(rows: list[dict[str, Any]], name: str) -> str:
    errors = np.abs(_errors(rows, name)[:, 0])
    if not len(errors):
        return "–"
    digits = 2 if name in PARTS else 3
    return f"{np.median(errors):.{digits}f} / {np.percentile(errors, 95):.{digits}f}"


def _hold(rows: list[dict[str, Any]], name: str) -> str:
    found = _errors(rows, name)
    if not len(found):
        return "–"
    holds, width = np.mean(_holds(found)), float(np.median(found[:, 2] - found[:, 1]))
    off = float(np.median(np.abs(found[:, 0])))
    small = name not in PARTS and 3 * off < LAST
    one = 2 * float(np.percentile(np.abs(found[:, 0]), 95))
    ratio = f"{width:.4f} mm" if small else f"{width / off:.1f}"
    return f"{holds * 100:.0f} % of {len(found)}, {ratio} ({width / one * 100:.0f} %)"


def _holds(errors: np.ndarray) -> np.ndarray:
    return np.asarray((errors[:, 1] <= 1e-9) & (errors[:, 2] >= -1e-9))


def _said(row: dict[str, Any], name: str, many: int) -> np.ndarray:
    """Tell for which numbers a sentence of the report says that meshes are too coarse or too noisy for them, or that
    the axis may move such numbers by as much."""
    edge = max((one["edge"] for one in row.get("sockets", {}).values()), default=0.0)
    if edge > COARSE or (row.get("seen", 0) > ROUGH and name not in ("area", "resin")):
        return np.full(many, True)
    if name in AXIS_SAYS and many:
        costs = [one["leaning"].get(key, 0.0) for one in row["sockets"].values() for key in AXIS_SAYS[name]]
        cost = max(costs) * row["spread"]
        return np.abs(_errors([row], name)[:, 0]) <= (cost if cost > MOVES else 0.0)
    if name != "area" or not many:
        return np.full(many, False)
    seen = np.array([row["connectors"][whose] for kind, *_numbers, whose in row["errors"] if kind == name])
    return np.asarray(seen[:, 2] > BRIDGED * seen[:, 0])


def _wrong(rows: list[dict[str, Any]]) -> list[str]:
    """Return what was wrong without a word, pair by pair."""
    found: dict[int, list[str]] = defaultdict(list)
    for row in rows:
        if "crash" in row:
            found[row["seed"]].append(f"a trace: {row['crash'].strip().splitlines()[-1]}")
        if row.get("numbers_right") is False:
            found[row["seed"]].append("numbered wrongly")
        if row.get("goes_in") is False:
            found[row["seed"]].append("told not to go in")
        for name, most in WRONG.items():
            errors = _errors([row], name) if "errors" in row else np.zeros((0, 3))
            wrong = np.abs(errors[:, 0]) > most
            silent = wrong & ~_holds(errors) & ~_said(row, name, len(errors))
            if silent.any():
                found[row["seed"]].append(f"{WORDS[name]} off by {np.abs(errors[silent, 0]).max():.3g}")
    kinds = {row["seed"]: row for row in rows}
    return [
        f"seed {seed} ({', '.join(kinds[seed].get('features', [])) or kinds[seed].get('kind')}; "
        f"noise {kinds[seed].get('noise')}): {'; '.join(words)}" for seed, words in found.items()
    ]  # fmt: skip
