"""The seating check on the record: what base and arch said before resin, and what people said to it."""

from collections.abc import Mapping, Sequence
from typing import Any, Final, Literal

from pydantic import Field

from benchapp.core import findings as told_by
from benchapp.core.findings import CUTS, Finding
from benchapp.core.orders_words import PART_WORDS
from benchapp.core.protocol_seating import Bounds
from benchapp.core.record_entries import Moment, Said, SourceOf
from benchapp.core.record_trail import Trail
from benchapp.core.record_words import SOURCE, Names
from benchapp.core.seating_line import Checked, Told, belongs, checks, in_force, in_order, meshes, told
from benchapp.core.seating_steps import DROPS
from benchapp.core.seatrows import stop_words
from benchapp.core.stops import placed, stopping
from benchapp.core.words import N_, _, n_

LIMITS: Final = {
    "depth": N_("depth of a tooth, mm"), "connector": N_("section of a connector, mm²"),
    "gap": N_("gap of a tooth, mm"), "clearance": N_("least distance, mm"), "cut": N_("cut"),
}
AXIS: Final = {
    "given": N_("axis of the files"), "floors": N_("found from the socket floors"),
    "margins": N_("found from the margins"),
}


class SeatingFile(Said):
    """The design file of a part."""

    part: Literal["base", "arch"] = Field(description="which part")
    revision: str = Field(description="design revision that it belongs to")
    hash: str = Field(description="SHA-256 of the file, hexadecimal")
    bytes: int = Field(description="size of the file")
    at: Moment = Field(description="when it was attached")
    who: str = Field(description="by whom")

    def text(self) -> str:
        """Return it as it is printed."""
        return _("{part}, revision {revision}: {bytes} bytes, SHA-256 {hash}", part=_(PART_WORDS[self.part]),
                 revision=self.revision, bytes=self.bytes, hash=self.hash)


class SeatingFinding(Said):
    """One thing that lay outside what the laboratory wants."""

    kind: str = Field(description="what sort of finding")
    words: str = Field(description="the finding in words")
    places: list[str] = Field(description="stored names of the places")
    source: str = Field(description="where the limit comes from; empty where none is needed")
    answer: str = Field(description="words of the answer; empty when there is none")
    at: Moment | None = Field(description="when it was answered")
    who: str = Field(description="by whom")
    open: bool = Field(description="whether nobody has said that it may stay so")

    def said(self) -> str:
        """Return the answer as it is printed."""
        return self.answer or _("NOT ANSWERED")


class SeatingLimit(Said):
    """A limit of the laboratory, as its protocol carries it."""

    title: str = Field(description="of what")
    usual: str = Field(description="what is usual; empty where nothing is said")
    least: str = Field(description="less is a finding; empty where no limit is set")
    most: str = Field(description="more is a finding; empty where no limit is set")
    words: str = Field(description="in words, where it is no least and most; empty otherwise")
    source: SourceOf | None = Field(description="where the numbers come from")

    def text(self) -> str:
        """Return it as it is printed."""
        said = [
            (_("least {number}", number=self.least), self.least),
            (_("usual {number}", number=self.usual), self.usual), (_("most {number}", number=self.most), self.most),
        ]
        return self.words or ", ".join(words for words, number in said if number)


class SeatingCut(Said):
    """How far a connector is to be cut back."""

    place: str = Field(description="stored name of the connector")
    words: str = Field(description="the same with the numbers of teeth that this record has")
    area_mm2: float = Field(description="its section before the cut")
    depth_mm: float = Field(description="how deep the cut goes")
    how: str = Field(description="the same in a word")
    at_limit: bool = Field(description="whether there may be a lesser section beyond what was looked through")


class SeatingCheck(Said):
    """The seating check in force: base and arch against each other, from their design files, before any resin."""

    made: Moment = Field(description="when its result was stored")
    who: str = Field(description="whose file began it")
    refused: list[str] = Field(description="why no check could be made; empty where there is a report")
    report: str = Field(description="SHA-256 of the whole report's JSON; empty where there is none")
    definitions: int = Field(description="version of the definitions of its numbers")
    goes_in: bool | None = Field(description="whether the arch goes in along the axis; null: not told")
    stops: list[str] = Field(description="where the arch is stopped: tooth, side, how much; else empty")
    depth_least_mm: float | None = Field(description="depth of the tooth that sits least deep; null: not told")
    depth_most_mm: float | None = Field(description="depth of the tooth that sits deepest; null: not told")
    resin_ml: float | None = Field(description="resin below the margins; null: not told")
    booked_drops: str = Field(description="drops that were put out, as confirmed; empty where nothing was said")
    axis_source: str = Field(description="where the axis comes from: given, floors, margins; empty without a report")
    axis_spread_deg: float = Field(description="how far the axis may be off")
    findings: list[SeatingFinding] = Field(description="what lay outside, each with its answer")
    cuts: list[SeatingCut] = Field(description="connectors")
    limits: list[SeatingLimit] = Field(description="the laboratory's limits")
    files: list[SeatingFile] = Field(description="both files")
    warnings: list[str] = Field(description="what the check itself said beside its numbers")
    picture: str = Field(description="name of the still picture in the data folder; empty where there is none")

    def facts(self) -> list[tuple[str, str]]:
        """Return names and words of what it told, as they are printed."""
        goes = {True: _("yes"), False: _("NO"), None: _("not told")}[self.goes_in]
        depths = "" if self.depth_least_mm is None or self.depth_most_mm is None else _(
            "{least} to {most} mm (median of each tooth)", least=f"{self.depth_least_mm:.2f}",
            most=f"{self.depth_most_mm:.2f}")
        axis = _(AXIS.get(self.axis_source, self.axis_source))
        if self.axis_spread_deg:
            axis = _("{source}; may be {degrees} degrees off", source=axis, degrees=f"{self.axis_spread_deg:.1f}")
        found = [
            (_("Goes in"), goes), (self.stops_title(), "; ".join(self.stops)), (_("Depth"), depths),
            (_("Resin"), self.resin_words()), (_("Connectors"), self.cut_words()), (_("Axis"), axis),
            (_("Definitions"), _("version {version}; report SHA-256 {hash}", version=self.definitions,
                                 hash=self.report)),
        ] if self.report else []
        found += [(_("File"), file.text()) for file in self.files]
        return [(name, words) for name, words in found if words]

    def stops_title(self) -> str:
        """Return what the places are called: of an undercut that noise or the axis may be it is not known."""
        sure = self.goes_in is False or any(one.kind == "overlap" for one in self.findings)
        return _("Stopped at") if sure else _("May be stopped at")

    def resin_words(self) -> str:
        """Return what the check told of the resin beside what was put out."""
        told = _("not told") if self.resin_ml is None else _(
            "{volume} ml below the margins", volume=f"{self.resin_ml:.2f}")
        booked = _("not counted") if self.booked_drops in ("", "0") else n_(
            "{n} drop", "{n} drops", int(self.booked_drops)) if self.booked_drops.isdigit() else self.booked_drops
        return _("{told}; put out: {booked}", told=told, booked=booked)

    def cut_words(self) -> str:
        """Return how the connectors were to be cut, each with its depth."""
        return "; ".join(
            f"{cut.words} {_(CUTS[cut.how])} {told_by.written(cut.depth_mm)} mm"  # type: ignore[index]
            for cut in self.cuts if cut.how != "none"
        ) or _("none to cut")


def seating_check(
    names: Names, trail: Trail, bodies: Sequence[Mapping[str, Any]], reports: Mapping[str, Any],
    texts: Mapping[str, str], pictures: frozenset[str],
) -> SeatingCheck | None:
    """Return the seating check in force of a jaw, None where there is none; `bodies` are its entries."""
    ours = [body for body in bodies if belongs(body)]
    files = meshes(ours, names.jaw)
    base, arch = files["base"], files["arch"]
    last = in_force(checks(ours), base.hash, arch.hash) if base and arch else None
    if last is None:
        return None
    report = reports.get(last.report)
    attached = [
        SeatingFile(part=part, revision=one.revision, hash=one.hash, bytes=one.size,
                    at=names.at(one.at), who=names.person(one.person))
        for part in (one["part"] for one in in_order(names.jaw)) if (one := files[part])
    ]
    depths = [t["depth_median_mm"] for t in report["teeth"] if t["depth_median_mm"] is not None] if report else []
    counts = {event["id"] for event in trail.state["log"]}
    found = told(ours, counts, last, lambda one: _findings(names, reports, one)) if report else ()
    return SeatingCheck(
        made=names.at(last.at),
        who=names.person(last.person),
        refused=[texts.get(id, _("(erased)")) for id in last.faults],
        report=last.report if report else "",
        definitions=last.definitions,
        goes_in=report["goes_in"] if report else None,
        stops=_stops(report, names) if report else [],
        depth_least_mm=min(depths, default=None),
        depth_most_mm=max(depths, default=None),
        resin_ml=report["resin_ml"] if report else None,
        booked_drops=_booked(names, trail),
        axis_source=report["axis_source"] if report else "",
        axis_spread_deg=report["axis_spread_deg"] if report else 0.0,
        findings=[_finding(names, one) for one in found],
        cuts=[
            SeatingCut(
                place=cut.place, words=told_by.shown(cut.place, names.numbers), area_mm2=cut.area_mm2,
                depth_mm=cut.depth_mm, how=cut.how, at_limit=cut.at_limit,
            )
            for cut in (told_by.cuts(report) if report else ())
        ],
        limits=_limits(names),
        files=attached,
        warnings=list(report["warnings"]) if report else [],
        picture=last.key if last.key in pictures else "",
    )


def _findings(names: Names, reports: Mapping[str, Any], one: Checked) -> tuple[Finding, ...]:
    report = reports.get(one.report)
    if report is None:
        return ()
    return told_by.findings(report, names.protocol.seating, tuple(names.jaw["teeth"]), names.numbers)


def _finding(names: Names, one: Told) -> SeatingFinding:
    answer = one.answer
    said = answer.words(names.protocol.reasons) if answer else ""
    source = _source(names, one.finding.source)
    return SeatingFinding(
        kind=one.finding.kind, words=one.finding.words, places=list(one.finding.places),
        source=source.text() if source else "", answer=said, at=names.at(answer.at) if answer else None,
        who=names.person(answer.person) if answer else "", open=one.open,
    )


def _stops(report: Mapping[str, Any], names: Names) -> list[str]:
    return [f"{placed(one, names.numbers)}: {stop_words(one)}" for one in stopping(report)]


def _source(names: Names, id: str) -> SourceOf | None:
    found = next((s for s in names.protocol.sources if s.id == id), None)
    return SourceOf(kind=_(SOURCE[found.kind]), title=found.title) if found else None


def _limits(names: Names) -> list[SeatingLimit]:
    found = []
    for name, one in names.protocol.seating.named() if names.protocol.seating else []:
        if isinstance(one, Bounds):
            usual, least, most = ("" if n is None else f"{n:f}" for n in (one.usual, one.least, one.most))
        else:
            usual = least = most = ""
        cut = "" if isinstance(one, Bounds) else _(
            "leaves {area} mm², {kerf} mm wide", area=f"{one.leave:f}", kerf=f"{one.kerf:f}")
        found.append(SeatingLimit(title=_(LIMITS[name]), usual=usual, least=least, most=most, words=cut,
                                  source=_source(names, one.source)))
    return found


def _booked(names: Names, trail: Trail) -> str:
    """Return the drops that were put out, by the last confirmation that counts."""
    asked = {step.id for step in names.protocol.steps if step.seating == "resin"}
    said = [
        value["value"] for deed in trail.deeds if deed.effective and deed.kind == "confirm"
        and deed.event["step"] in asked for value in deed.event["values"] if value["name"] == DROPS
    ]
    return str(said[-1]) if said else ""
