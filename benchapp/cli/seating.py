"""The command that tells from the two meshes what the hands must do; its libraries are loaded only when it runs."""

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from benchapp.core.teeth import Jaw, check_teeth
from benchapp.seating.report import KERF, LEAVE  # plain data: it loads none of the libraries that compute

if TYPE_CHECKING:
    from benchapp.seating.check import Checked
    from benchapp.seating.report import PlaceReport, Report

CARE = (
    "Dust and leftovers of parts that are not cured are uncured resin: extraction, eye protection, nitrile gloves. "
    "The resin's instructions for use and the laboratory's own rules come first."
)
file_argument = click.Path(path_type=Path, dir_okay=False, exists=True)


def _schema(ctx: click.Context, _param: click.Parameter, wanted: bool) -> None:
    if wanted:
        from benchapp.seating.report import schema

        click.echo(json.dumps(schema(), indent=1))
        ctx.exit()


@click.command()
@click.argument("base", type=file_argument)
@click.argument("arch", type=file_argument)
@click.option("--jaw", required=True, type=click.Choice(["upper", "lower"]), help="The jaw.")
@click.option("--teeth", help="The teeth of the arch as the case lists them, ISO 3950: 17,16,15 and so on.")
@click.option("--axis", help="Way along which the arch lifts off: x,y,z in the files. Left out: found.")
@click.option("--kerf", type=click.FloatRange(0, 3), default=KERF, show_default=True, help="Width of the cut in mm.")
@click.option(
    "--leave",
    type=click.FloatRange(0, 100),
    default=LEAVE,
    show_default=True,
    help="Section that a cut leaves of a connector, in mm2.",
)
@click.option(
    "--unit",
    type=click.Choice(["mm", "cm", "m", "inch"]),
    help="Unit of the files; left out: what a 3MF states, else mm.",
)
@click.option("--json", "json_file", type=click.Path(path_type=Path, dir_okay=False), help="Write the report as JSON.")
@click.option("--glb", type=click.Path(path_type=Path, dir_okay=False), help="Write both parts as GLB for a viewer.")
@click.option("--png", type=click.Path(path_type=Path, dir_okay=False), help="Write a still picture for the record.")
@click.option(
    "--schema",
    is_flag=True,
    is_eager=True,
    expose_value=False,
    callback=_schema,
    help="Print the JSON Schema of the report.",
)
def seating(
    base: Path,
    arch: Path,
    jaw: Jaw,
    teeth: str | None,
    axis: str | None,
    kerf: float,
    leave: float,
    unit: Any,
    json_file: Path | None,
    glb: Path | None,
    png: Path | None,
) -> None:
    """Tell what the files of a base and its arch say before any resin is opened.

    STL, OBJ or 3MF, whatever their names. Exit 0 with a report, 2 with one sentence for each fault of the files.
    """
    from benchapp.seating.check import check
    from benchapp.seating.faults import Unusable
    from benchapp.seating.report import as_json
    from benchapp.seating.tell import Asked

    asked = Asked(jaw, _teeth(jaw, teeth), _axis(axis), kerf, leave, unit)
    try:
        found = check(base.read_bytes(), arch.read_bytes(), asked, _bar)
    except Unusable as faults:
        _clear()
        for fault in faults.faults:
            click.echo(fault, err=True)
        sys.exit(2)
    _clear()
    if json_file:
        json_file.write_text(json.dumps(as_json(found.report), indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
    _pictures(found, glb, png)
    _clear()
    click.echo(words_of(found.report))


def _pictures(found: "Checked", glb: Path | None, png: Path | None) -> None:
    if not glb and not png:
        return
    from benchapp.paths import FONTS
    from benchapp.seating.glb import with_shown
    from benchapp.seating.still import still_of

    _bar("pictures", 0.0)
    data, shown = with_shown(found)
    if glb:
        glb.write_bytes(data)
    if png:
        png.write_bytes(still_of(shown, found.report, FONTS))


def _teeth(jaw: Jaw, listed: str | None) -> tuple[int, ...] | None:
    if listed is None:
        return None
    try:
        teeth = tuple(int(word) for word in listed.replace(" ", ",").split(",") if word)
    except ValueError:
        raise click.UsageError(f"{listed!r} is no list of teeth. Write ISO 3950 numbers: 17,16,15.") from None
    if faults := check_teeth(jaw, teeth):
        raise click.UsageError(" ".join(faults))
    return teeth


def _axis(written: str | None) -> tuple[float, float, float] | None:
    if written is None:
        return None
    try:
        x, y, z = (float(word) for word in written.split(","))
    except ValueError:
        raise click.UsageError(f"{written!r} is no axis. Write three numbers with commas: 0,0,1.") from None
    return x, y, z


def _bar(stage: str, part: float) -> None:
    if sys.stderr.isatty():
        click.echo(f"\r{stage:<12}{part * 100:3.0f} %", nl=False, err=True)


def _clear() -> None:
    if sys.stderr.isatty():
        click.echo(f"\r{'':<18}\r", nl=False, err=True)


def words_of(report: "Report") -> str:
    """Return a report as lines for a terminal."""
    x, y, z = report.axis
    lines = [
        f"{report.jaw} jaw, axis {x:.3f} {y:.3f} {z:.3f} "
        f"({report.axis_source}, may be {report.axis_spread_deg:.1f} degrees off)",
        "",
        "tooth   depth  buccal lingual  mesial  distal   crest  bond mm2  resin ml  gap mm",
    ]
    for tooth in report.teeth:
        sides = [tooth.depth_by_side_mm[side] for side in ("buccal", "lingual", "mesial", "distal")]
        lines.append(
            " ".join(
                [
                    f"{tooth.tooth or '?':<5}",
                    *(_number(one, 7, 3) for one in (tooth.depth_median_mm, *sides, tooth.crest_depth_median_mm)),
                    _number(tooth.bond_area_mm2, 9, 2),
                    _number(tooth.gap_volume_ml, 9, 4),
                    _number(tooth.gap_median_mm, 7, 3),
                ]
            )
        )
    lines += ["", f"connector  area mm2  height   thick  cut to leave {report.leave_mm2:g} mm2  islands"]
    for one in report.connectors:
        name = f"{one.between[0] or '?'}-{one.between[1] or '?'}"
        lines.append(
            f"{name:<9} {one.area_mm2:9.2f} {one.height_mm:7.2f} {one.thickness_mm:7.2f}  "
            f"{one.cut_depth_mm:7.2f} mm deep       {len(one.islands_mm2)}"
        )
    goes = {True: "yes", False: "no", None: "not told"}[report.goes_in]
    stopped = [
        *(f"  {_place(one)}: base above the arch, {one.size_mm:.3f} mm wide" for one in report.undercuts),
        *(f"  {_place(one)}: {one.size_mm:.3f} mm deep in each other" for one in report.overlaps),
    ]
    at = f" at {_place(report.nearest)}" if report.nearest else ""
    lines += [
        "",
        f"goes in along the axis: {goes} (undercut {_number(report.undercut_width_mm, 0, 3)} mm)",
        *stopped,
        f"least clearance {_number(report.least_clearance_mm, 0, 3)} mm{at}, "
        f"overlap {_number(report.overlap_mm3, 0, 3)} mm3",
        f"resin below the margins {_number(report.resin_ml, 0, 3)} ml",
        *(f"Mind: {warning}" for warning in report.warnings),
        CARE,
    ]
    return "\n".join(lines)


def _place(place: "PlaceReport") -> str:
    """Return tooth, side and point of a place, the last in the files' coordinates."""
    x, y, z = place.point_mm
    named = " ".join([str(place.tooth or "?"), *([place.side] if place.side else [])])
    return f"{named} ({x:.2f} {y:.2f} {z:.2f})"


def _number(value: float | None, width: int, digits: int) -> str:
    return f"{'–' if value is None else format(value, f'.{digits}f'):>{width}}"
