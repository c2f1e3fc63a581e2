"""What a report asks to mind: axis, coarse or noisy meshes, connectors, as sentences."""

from typing import Final

from benchapp.core.words import _
from benchapp.seating.connectors import Connector
from benchapp.seating.measure import Measured
from benchapp.seating.pair import Axis
from benchapp.seating.sockets import Socket

COARSE: Final = 0.32  # mm: wider triangles in the sockets are said
ROUGH: Final = 0.008  # mm: more noise is said
BRIDGED: Final = 0.06  # of a section that facets may bridge before it is said
MOVES: Final = 0.05  # mm that an unsure axis may move a depth before it is said


def of_meshes(measured: Measured) -> list[str]:
    """Return what coarse or noisy meshes hide more of than their intervals tell."""
    found = []
    if measured.edge > COARSE:
        found.append(
            _(
                "The triangles in the sockets are coarse (about {edge} mm wide), and margins are seen no finer: depths "
                "may be off by more than 0.1 mm, resin and connectors by more than 10 %. Export triangles of 0.25 mm.",
                edge=f"{measured.edge:.2f}",
            )
        )
    if measured.noise > ROUGH:
        found.append(
            _(
                "The corners of the meshes stray by about {noise} mm: depths may be off by more than 0.1 mm, bond by "
                "more than 5 %. Export the design's own surfaces, not a scan of them.",
                noise=f"{measured.noise:.3f}",
            )
        )
    return found


def of_axis(sockets: list[Socket], axis: Axis) -> list[str]:
    """Return what an axis that was not given may cost each kind of depth, where it is more than 0.05 mm."""
    if axis.source == "given":
        return []
    names = {
        _("median"): ("depth",),
        _("greatest"): ("deepest",),
        _("to the crest"): ("crest",),
        _("mesial or distal"): ("on", "back"),
        _("buccal or lingual"): ("buccal", "lingual"),
    }
    costs = {
        words: max((one.leaning.get(key, 0.0) for one in sockets for key in keys), default=0.0) * axis.spread
        for words, keys in names.items()
    }
    said = ", ".join(
        _("{number} {mm} mm", number=words, mm=f"{cost:.2f}") for words, cost in costs.items() if cost > MOVES
    )
    if not said:
        return []
    return [
        _(
            "The axis was found from the sockets themselves and may be {degrees} degrees off, which moves depths by up "
            "to: {said}. Give the axis of the design; its z axis is the usual one.",
            degrees=f"{axis.spread:.1f}",
            said=said,
        )
    ]


def of_limit(one: Connector, words: str) -> list[str]:
    """Return what is said of a connector, by its name, whose least section lies at the limit of the search."""
    if not one.at_limit:
        return []
    return [
        _(
            "Connector {name}: the least section lies at the limit of what was looked through (0.8 mm, 28 degrees); "
            "there may be a lesser one beyond.",
            name=words,
        )
    ]


def of_floors(holes: dict[str, float]) -> list[str]:
    """Return what is said of sockets that are open below, by their teeth's names: mm2."""
    if not holes:
        return []
    said = ", ".join(_("{tooth} ({area} mm²)", tooth=name, area=f"{area:.1f}") for name, area in holes.items())
    return [
        _(
            "The base is open below the sockets of {teeth}: resin can run out there to the side that lies on the gum. "
            "Resin and depths are told as if there were a floor. Close the holes in the design, or cover them before "
            "the resin is filled in.",
            teeth=said,
        )
    ]


def of_hollows(hollows: dict[str, float]) -> list[str]:
    """Return what is said of teeth that are hollow from below, by their names: mm3 above the margin."""
    if not hollows:
        return []
    return [
        _(
            "These teeth are hollow from below: {teeth}. What of their hollows lies above the margins, about {volume} "
            "ml in all, is in no figure of resin; resin that is to fill it comes on top.",
            teeth=", ".join(hollows),
            volume=f"{sum(hollows.values()) / 1000:.3f}",
        )
    ]


def of_gaps(names: list[str]) -> list[str]:
    """Return what is said where pieces of the arch stand apart, by the names of their neighbours."""
    if not names:
        return []
    return [
        _(
            "The arch is in pieces that stand apart at {names}: nothing joins them there. If it is to be one piece, "
            "export its connectors with it.",
            names=", ".join(names),
        )
    ]


def of_necks(names: list[str]) -> list[str]:
    """Return what is said of connectors whose necks or clefts facets bridge, by their names."""
    if not names:
        return []
    return [
        _(
            "Connectors {names} have narrow necks or clefts beside them that the triangles are too coarse for: their "
            "sections may well be less than told, about down to the lower end of the interval. Export finer triangles.",
            names=", ".join(names),
        )
    ]


def of_undercut(width: float, noise: float, spread: float) -> str:
    """Return why it is not told whether the arch goes in: mm, mm, and degrees by which the axis may be off."""
    return _(
        "Whether the arch goes in is not told: the undercut of {width} mm may come from coarse triangles, from the "
        "meshes' noise ({noise} mm) or from an axis that is {degrees} degrees off. Give the axis, or export better "
        "meshes.",
        width=f"{width:.2f}",
        noise=f"{noise:.3f}",
        degrees=f"{spread:.1f}",
    )
