"""Pairs that several tests look at: built once a process, and given as files."""

from functools import cache

import numpy as np

from benchapp.seating.check import Checked, check
from benchapp.seating.tell import Asked
from tests.seating.pairs import Pair, Plan, stl, triangles_of
from tests.seating.shapes import Floats

SMALL = (43, 42, 41, 31, 32, 33)
UP = (0.0, 0.0, 1.0)


@cache
def corners(plan_of: str = "") -> tuple[Floats, Floats]:
    """Return base and arch (n, 3, 3) of a plan, written as the arguments of `Plan`."""
    pair = pair_of(plan_of)
    return triangles_of(pair.base()), triangles_of(pair.arch())


@cache
def pair_of(plan_of: str = "") -> Pair:
    """Return the pair of a plan, written as the arguments of `Plan`."""
    plan: Plan = eval(f"Plan({plan_of})", {"Plan": Plan})
    return Pair(plan)


@cache
def checked(plan_of: str = "") -> Checked:
    """Return the check of a plan's files, with the axis and the teeth given."""
    pair = pair_of(plan_of)
    base, arch = corners(plan_of)
    return check(stl(base), stl(arch), Asked(pair.plan.jaw, pair.plan.row, UP))


def small() -> tuple[Floats, Floats]:
    """Return base and arch of six front teeth with few triangles."""
    return corners(f"teeth={SMALL}, fine=16")


def ascii_stl(triangles: Floats, end: str = "endsolid part\n") -> bytes:
    """Return an ASCII STL of triangles (n, 3, 3)."""
    lines = ["solid part"]
    for triangle in triangles:
        lines += ["facet normal 0 0 0", "outer loop", *(f"vertex {x:.6f} {y:.6f} {z:.6f}" for x, y, z in triangle)]
        lines += ["endloop", "endfacet"]
    return ("\n".join(lines) + "\n" + end).encode()


def turned(one: Floats, degrees: float, about: tuple[float, float, float], moved: tuple[float, float, float]) -> Floats:
    """Return triangles turned about an axis through the origin and moved."""
    axis = np.array(about) / np.linalg.norm(about)
    k = np.cross(np.eye(3), -axis)
    angle = np.radians(degrees)
    matrix = np.eye(3) + np.sin(angle) * k + (1 - np.cos(angle)) * (k @ k)
    return one @ matrix.T + np.array(moved)
