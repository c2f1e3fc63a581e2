"""How far each number may be off: intervals that hold the true one in 95 of 100 made-up pairs.

The factors were fitted once to made-up pairs (`python -m tests.seating.table` prints what they reach); no source.
"""

import numpy as np

from benchapp.seating.connectors import Connector
from benchapp.seating.report import Interval
from benchapp.seating.sockets import Socket


def about(value: float | None, half: float, least: float = -np.inf) -> Interval | None:
    """Return the interval about a value, cut at the least that it can be; None where there is no value."""
    if value is None or not np.isfinite(value):
        return None
    return max(value - half, least), value + half


def of_socket(socket: Socket, spread: float) -> dict[str, float]:
    """Return half widths for a tooth's numbers: mm, mm2, mm3; `spread` is how sure the axis is, in degrees."""
    surface = 0.002 + 1.0 * socket.sag + 0.5 * socket.rough
    radius = socket.around / (2 * np.pi)
    turned = float(np.tan(np.radians(spread)))
    depth = surface + 0.25 * radius * turned
    side = 2 * surface + 1.2 * radius * turned
    bond = socket.around * depth + socket.bond * 0.001
    return {
        "depth_median_mm": depth,
        "depth_max_mm": depth + side,
        "depth_by_side_mm": side,
        "crest_depth_median_mm": depth + 0.02,
        "bond_area_mm2": bond,
        "gap_median_mm": surface,
        "gap_volume": socket.bond * surface * 0.5 + abs(socket.gap) * socket.around * depth,
    }


def of_connector(connector: Connector) -> dict[str, float]:
    """Return half widths for a connector's numbers: mm2 and mm."""
    around = float(np.linalg.norm(connector.outline[:, 1] - connector.outline[:, 0], axis=1).sum())
    area = connector.sag + 0.0005 * connector.area
    return {"area_mm2": area, "height_mm": 2 * area / around + 0.002, "thickness_mm": 2 * area / around + 0.002}
