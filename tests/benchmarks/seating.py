"""The seating check by size of the meshes: `python -m tests.benchmarks.seating`.

Each pair is checked in a process of its own, as the product does (the libraries' own threads off); the floor is what
trimesh takes in another one to load both files and tell their volumes. The best of three each, by the clock. Ratios to
the floor of the same run are what counts; the peak is that of the whole process.
"""

import json
import os
import subprocess
import sys
import time
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import click

from tests.benchmarks.machine import RESULTS, machine, met, put, say, table

SIZES = {30: 21, 100: 39, 300: 70, 1000: 128}  # thousand triangles a pair: points around a tooth
AIMS = {30: 20.0, 100: 8.0, 300: 5.0, 1000: 4.0}
MOST_MB = 1000
MANY = 64  # strewn points that are looked at: in light surfaces large triangles lie beside small ones
ONE_THREAD = dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"), "1")  # as benchapp.background
JAW = "upper"


def make(folder: Path, fine: int) -> int:
    """Write the files of a pair; return the count of its triangles."""
    from tests.seating.pairs import Pair, Plan, stl, triangles_of

    pair = Pair(Plan(jaw=JAW, fine=fine, rim=0.15, scallop=0.4, uneven=0.2, fillet=0.3, lean=3))
    parts = {"base": triangles_of(pair.base()), "arch": triangles_of(pair.arch())}
    for name, part in parts.items():
        (folder / f"{name}.stl").write_bytes(stl(part))
    return sum(len(part) for part in parts.values())


def floor(folder: Path) -> dict[str, Any]:
    """Load both files and tell their volumes by trimesh."""
    import trimesh

    began = time.process_time(), time.perf_counter()
    volumes = [float(trimesh.load(folder / f"{name}.stl").volume) for name in ("base", "arch")]
    return _took(began) | {"volumes": volumes}


def whole(folder: Path) -> dict[str, Any]:
    """Check the pair, then make its pictures; the pictures' time stands beside the check's."""
    import manifold3d  # noqa: F401  what is loaded once is not the check's time
    import scipy.signal  # noqa: F401

    from benchapp.seating.check import check
    from benchapp.seating.tell import Asked

    files = [(folder / f"{name}.stl").read_bytes() for name in ("base", "arch")]
    began = time.process_time(), time.perf_counter()
    stages: dict[str, float] = {}
    last = ["", time.perf_counter()]

    def tell(stage: str, _part: float) -> None:
        now = time.perf_counter()
        stages[str(last[0])] = stages.get(str(last[0]), 0.0) + now - float(last[1])
        last[:] = [stage, now]

    found = check(files[0], files[1], Asked(JAW, axis=(0.0, 0.0, 1.0)), tell)
    took = _took(began) | {"stages": {name: round(one, 2) for name, one in stages.items() if name}}
    if not found.report.goes_in or len(found.report.teeth) != 14:
        raise SystemExit("the pair of the benchmark was not checked rightly")
    return took | _pictures(found)


def _pictures(found: Any) -> dict[str, Any]:
    from benchapp.paths import FONTS
    from benchapp.seating.glb import with_shown
    from benchapp.seating.still import still_of

    began = time.process_time()
    glb, shown = with_shown(found)
    png = still_of(shown, found.report, FONTS)
    return {"pictures": time.process_time() - began, "glb": len(glb), "png": len(png), "off": _off(found, shown)}


def _off(found: Any, shown: Any) -> float:
    """Return the greatest distance from strewn points of the given surfaces to the light ones, in mm."""
    import numpy as np

    from benchapp.seating.near import Surface

    most = 0.0
    for name, skin in (("base", shown.base), ("arch", shown.arch)):
        vertices = (getattr(found.pair, name).mesh.vertices - shown.origin) @ shown.frame.T
        some = np.random.default_rng(1).choice(len(vertices), min(20_000, len(vertices)), replace=False)
        light = Surface(skin.vertices[skin.triangles])
        most = max(most, float(np.abs(light.nearest(vertices[some], many=MANY).distance).max()))
    return most


def _took(began: tuple[float, float]) -> dict[str, Any]:
    import resource

    return {
        "cpu": time.process_time() - began[0],
        "wall": time.perf_counter() - began[1],
        "peak": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024,
    }


def _child(what: str, folder: Path) -> dict[str, Any]:
    done = subprocess.run(
        [sys.executable, "-m", "tests.benchmarks.seating", "--child", what, str(folder)],
        capture_output=True, text=True, check=False, env=os.environ | ONE_THREAD,
    )  # fmt: skip
    if done.returncode:
        raise SystemExit(done.stderr)
    found: dict[str, Any] = json.loads(done.stdout)
    return found


def measured(sizes: list[int]) -> list[dict[str, Any]]:
    """Return for each size what was measured."""
    rows = []
    for size in sizes:
        with TemporaryDirectory() as place:
            count = make(Path(place), SIZES[size])
            say(f"{count:,} triangles")
            floor, whole = (_best(what, Path(place)) for what in ("floor", "whole"))
            rows.append({"size": size, "count": count, "floor": floor, **whole})
    return rows


def _best(what: str, folder: Path) -> dict[str, Any]:
    return min((_child(what, folder) for _turn in range(3)), key=lambda one: float(one["wall"]))


def told(rows: list[dict[str, Any]]) -> str:
    """Return the results as markdown."""
    lines = []
    for row in rows:
        ratio = row["wall"] / row["floor"]["wall"]
        lines.append([
            f"{row['count']:,}", f"{row['floor']['wall']:.2f} s", f"{row['wall']:.1f} s", f"{ratio:.1f}",
            met(f"{AIMS[row['size']]:g}", ratio <= AIMS[row["size"]]), f"{row['wall'] / row['count'] * 1e6:.1f} µs",
            f"{row['cpu']:.1f} s, {row['cpu'] / row['floor']['cpu']:.1f}",
            f"{row['peak']:.0f} MB", f"{row['pictures']:.1f} s",
            f"{row['glb'] / 1000:.0f} + {row['png'] / 1000:.0f} kB",
            f"{row['off']:.3f} mm",
        ])  # fmt: skip
    stages = ", ".join(f"{name} {seconds:g}" for name, seconds in rows[-1]["stages"].items())
    peak = max(row["peak"] for row in rows)
    return "\n".join([
        f"{machine()}. `python -m tests.benchmarks.seating`. Seconds by the clock, the best of three; the floor is "
        "loading both files and telling their volumes by trimesh, on one processor; the check works on a large pair "
        "with as many as there are (four at most).",
        "",
        table(["triangles a pair", "floor", "check", "times the floor", "aim", "a triangle",
               "processor time, times the floor's", "peak", "pictures", "GLB + PNG", "light surface off by at most"],
              lines),
        "",
        f"Peak under {MOST_MB} MB: {met('aim', peak < MOST_MB)}. Stages of the largest, in s: {stages}.",
    ])  # fmt: skip


@click.command()
@click.option("--sizes", default=",".join(map(str, SIZES)), help="Thousand triangles a pair: 30,100,300,1000.")
@click.option("--child", type=(click.Choice(["floor", "whole"]), Path), default=None, hidden=True)
def main(sizes: str, child: tuple[str, Path] | None) -> None:
    """Measure the seating check beside loading the same files."""
    if child:
        click.echo(json.dumps({"floor": floor, "whole": whole}[child[0]](child[1])))
        return
    text = told(measured([int(size) for size in sizes.split(",")]))
    put("seating check", text, RESULTS)
    click.echo(text)


if __name__ == "__main__":
    main()
