"""The numbers of a seating check as rows of a table, each with the interval that holds the true one.

Made from the plain JSON of a report (`benchapp seating --schema`); definitions are in DEVELOPERS.md.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from benchapp.core.numbers import Numbers, number
from benchapp.core.seatmap import place_of
from benchapp.core.stops import Stop, of_kind, placed
from benchapp.core.teeth import Jaw
from benchapp.core.words import N_, _, n_

NOT_KNOWN: Final = "–"


@dataclass(frozen=True)
class Column:
    """One number of a tooth or connector: its key, title and unit, how exactly, and what it means."""

    key: str
    title: str
    unit: str
    decimals: int
    about: str
    times: float = 1.0


@dataclass(frozen=True)
class Cell:
    """One number as it is shown, and the two ends of its interval ("" where there is none)."""

    figure: str
    interval: str = ""


@dataclass(frozen=True)
class Row:
    """One tooth or connector: its stored place ("" where its number is not known), its title, its cells."""

    place: str
    title: str
    cells: tuple[Cell, ...]


@dataclass(frozen=True)
class Fact:
    """One number of the whole jaw, or a plain fact: its title, what is shown, and what it means."""

    title: str
    cell: Cell
    about: str = ""


TOOTH: Final = (
    Column("depth_median_mm", N_("Depth"), "mm", 2,
           N_("From the margin of the socket to the lowest point of the tooth, along the axis: median around it.")),
    Column("depth_max_mm", N_("Greatest"), "mm", 2, N_("The greatest depth around the tooth.")),
    Column("buccal", N_("Buccal"), "mm", 2, N_("Least depth on that side; its greatest would only tell the papilla.")),
    Column("lingual", N_("Lingual"), "mm", 2, N_("Least depth on that side.")),
    Column("mesial", N_("Mesial"), "mm", 2, N_("Greatest depth on that side.")),
    Column("distal", N_("Distal"), "mm", 2, N_("Greatest depth on that side.")),
    Column("crest_depth_median_mm", N_("Crest"), "mm", 2,
           N_("Depth below the crest of the gum: a rounded margin stands above its wall.")),
    Column("gap_median_mm", N_("Gap"), "mm", 2, N_("Distance between socket wall and tooth: median over the wall.")),
    Column("gap_volume_ml", N_("Resin"), "µl", 1,
           N_("Volume of the gap up to the margin: what lies above it is not in it. 1 ml is 1000 µl."), 1000.0),
    Column("bond_area_mm2", N_("Bond area"), "mm²", 1, N_("Surface of the tooth below the margin.")),
)  # fmt: skip
CONNECTOR: Final = (
    Column("area_mm2", N_("Section"), "mm²", 2, N_("The least section near the narrowest place, across its own run.")),
    Column("height_mm", N_("Height"), "mm", 2, N_("Of that section, along the axis.")),
    Column("thickness_mm", N_("Thickness"), "mm", 2, N_("Of that section, across.")),
    Column("cut_depth_mm", N_("Cut"), "mm", 2,
           N_("Depth of a straight cut from the gum side that leaves the section to leave; 0 where no more is there.")),
    Column("relief_volume_ml", N_("Cut away"), "µl", 1, N_("What such a cut takes out, as wide as the kerf."), 1000.0),
)  # fmt: skip
PALATAL: Final = N_("Palatal")


def columns(jaw: Jaw) -> tuple[tuple[Column, str], ...]:
    """Return the columns of a jaw's teeth with their titles as they are called there."""
    return tuple((one, _(PALATAL if one.key == "lingual" and jaw == "upper" else one.title)) for one in TOOTH)


def tooth_rows(report: Mapping[str, Any], numbers: Numbers) -> tuple[Row, ...]:
    """Return a row for each tooth, in the order of the row; one whose number is not known says so."""
    return tuple(
        Row(
            place_of(one), str(number(one["tooth"], numbers)) if one["tooth"] else NOT_KNOWN,
            tuple(_cell(column, one) for column in TOOTH),
        )
        for one in report["teeth"]
    )  # fmt: skip


def connector_rows(report: Mapping[str, Any], numbers: Numbers, cuts: Mapping[str, str]) -> tuple[Row, ...]:
    """Return a row for each connector; `cuts` says by place in a word how far it is cut back.

    After its numbers stand that word, its islands, and whether it is at the limit.
    """
    return tuple(
        Row(
            place_of(one),
            "-".join(str(number(tooth, numbers)) if tooth else NOT_KNOWN for tooth in one["between"]),
            (*(_cell(column, one) for column in CONNECTOR), Cell(cuts.get(place_of(one), "")),
             Cell(_islands(one["islands_mm2"])), Cell(_limit(one))),
        )
        for one in report["connectors"]
    )  # fmt: skip


def _cell(column: Column, one: Mapping[str, Any]) -> Cell:
    sides = one.get("depth_by_side_mm", {})
    side = column.key in sides
    value = sides[column.key] if side else one[column.key]
    ends = one["intervals"].get(f"{column.key}_mm" if side else column.key)
    return cell(value, ends, column.decimals, column.times)


def cell(value: float | None, ends: Sequence[float] | None, decimals: int, times: float = 1.0, unit: str = "") -> Cell:
    """Return a number with its interval, both times a factor; a number that is not known has neither."""
    if value is None:
        return Cell(NOT_KNOWN)
    figure = f"{value * times:.{decimals}f}{' ' if unit else ''}{unit}"
    if not ends:
        return Cell(figure)
    low, high = (f"{end * times:.{decimals}f}" for end in ends)
    return Cell(figure, f"{low}–{high}".replace("-", "−"))


def _islands(areas: Sequence[float]) -> str:
    return ", ".join(f"{area:.2f}" for area in areas) if areas else _("none")


def _limit(one: Mapping[str, Any]) -> str:
    return _("at the limit") if one["at_limit"] else ""


def goes_in_words(goes_in: bool | None) -> str:
    """Return the verdict on seating in a sentence."""
    if goes_in is None:
        return _("Whether the arch goes in is not known: the warnings say why.")
    return _("The arch goes in along its axis.") if goes_in else _("The arch does not go in along its axis.")


def stop_words(stop: Stop) -> str:
    """Return what is the matter at a place where the arch is stopped."""
    mm = f"{stop.mm:.2f}"
    if stop.kind == "undercut":
        return _("base stands above the arch, {mm} mm wide", mm=mm)
    return _("{mm} mm deep in each other", mm=mm) if stop.kind == "overlap" else _("{mm} mm apart", mm=mm)


def whole(report: Mapping[str, Any], numbers: Numbers) -> tuple[Fact, ...]:
    """Return the numbers of the whole jaw."""
    ends, nearest = report["intervals"], of_kind(report, "nearest")
    exactly = _("The least distance between both parts, exactly.")
    if nearest:
        exactly = _("The least distance between both parts, exactly: at {place}.", place=placed(nearest[0], numbers))

    def of(key: str, decimals: int, unit: str) -> Cell:
        return cell(report[key], ends.get(key), decimals, 1.0, unit)

    return (
        Fact(_("Least clearance"), of("least_clearance_mm", 3, "mm"), exactly),
        Fact(_("Overlap"), of("overlap_mm3", 3, "mm³"),
             _("Volume that both parts claim. Above 0.01 mm³ resin and undercut are not told.")),
        Fact(_("Undercut"), of("undercut_width_mm", 3, "mm"),
             _("Widest strip of base above arch along the axis. The arch goes in up to 0.05 mm.")),
        Fact(_("Resin"), of("resin_ml", 3, "ml"),
             _("Sum of all gaps up to the margins; what is wiped off, and what lies above them, is not in it.")),
    )  # fmt: skip


AXIS: Final = {
    "given": N_("given"),
    "floors": N_("found from the floors of the sockets"),
    "margins": N_("found from the margins of the sockets"),
}


def origins(report: Mapping[str, Any]) -> tuple[Fact, ...]:
    """Return what the numbers rest on: axis, cut, unit, files, definitions."""
    x, y, z = report["axis"]
    axis = _(
        "{axis}, {source}, may be {degrees} degrees off", axis=f"{x:.3f} {y:.3f} {z:.3f}",
        source=_(AXIS[report["axis_source"]]), degrees=f"{report['axis_spread_deg']:.1f}",
    )  # fmt: skip
    cut = _(
        "leaves {area} mm², kerf {kerf} mm", area=f"{report['leave_mm2']:g}", kerf=f"{report['kerf_mm']:g}",
    )  # fmt: skip
    return (
        Fact(_("Axis"), Cell(axis), _("The way along which the arch lifts off, in the files' own coordinates.")),
        Fact(_("Cut"), Cell(cut)),
        Fact(_("Unit of the files"), Cell(report["unit"])),
        *(Fact(_(title), Cell(_mesh(report["meshes"][part]), report["meshes"][part]["sha256"]))
          for part, title in FILES.items()),
        Fact(_("Definitions"), Cell(_("version {version}", version=report["definitions_version"]))),
    )  # fmt: skip


FILES: Final = {"base": N_("File of the base"), "arch": N_("File of the arch")}


def _mesh(mesh: Mapping[str, Any]) -> str:
    count = n_("{n} triangle", "{n} triangles", mesh["triangles"])
    closed = _("closed") if mesh["closed"] else _("not closed")
    return f"{count}, {closed}"
