"""What the bench page shows of a jaw's seating check: findings to answer, places to watch, cuts, resin."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Final

from benchapp.actions.bench import Bench
from benchapp.actions.jaws import JawLine
from benchapp.actions.seating import Seating, check_of, pair_of, seating_of
from benchapp.core import seating_steps as steps_of
from benchapp.core.archsigns import beside, between
from benchapp.core.findings import AGAIN, CUTS, WHYS, CutHere, Why, whys, written
from benchapp.core.numbers import Numbers, number
from benchapp.core.pictures import ArchPicture
from benchapp.core.protocol import Protocol, Step
from benchapp.core.stops import placed, stopping
from benchapp.core.teeth import connector_name, connectors, in_row
from benchapp.core.words import N_, NN_, _, for_scripts, n_

STATES: Final = {
    "waiting": N_("Seating check: waits for its turn"),
    "running": N_("Seating check: still running"),
    "lost": N_("Seating check: begun anew"),
    "refused": N_("Seating check: the files cannot be used"),
}
GOES_IN: Final = {
    True: N_("Seating check: goes in, nothing outside the limits"),
    None: N_("Seating check: nothing outside the limits; not known whether it goes in"),
}

SEATED_WORDS: Final[dict[str, Any]] = {
    "turn": N_("Finding {n} of {count}"),
    "left": NN_("{n} to answer", "{n} to answer"),
    "all": N_("all answered"),
    "back": N_("Taken back, and with it the places to be watched"),
}


def check_now(found: JawLine) -> str:
    """Return a word that changes when another check comes into force: an open page then offers to be loaded anew."""
    pair = pair_of(found)
    last = check_of(found, pair) if pair else None
    return last.id if last else ""


CROSS: Final = 36  # px from the number of a tooth to a cross on one of its sides


@dataclass(frozen=True)
class Seated:
    """What the cards and the arch map show of a check; empty as long as there is no report.

    `lines` and `asks` are by step; `cuts`, `whys` and `stopped` by place; `signs`, `named` and `crosses` (as `stopped`:
    where the arch does not go further in) lie on the whole arch; `resin` is shown beside the value that is filled in.
    """

    word: str = ""
    has: bool = False
    lines: dict[str, str] = field(default_factory=dict)
    asks: dict[str, list[dict[str, Any]]] = field(default_factory=dict)
    watch: dict[str, list[list[Any]]] = field(default_factory=dict)
    watched: str = ""
    again: dict[str, dict[str, str]] = field(default_factory=dict)
    tally: list[tuple[str, str]] = field(default_factory=list)
    cuts: dict[str, dict[str, Any]] = field(default_factory=dict)
    whys: dict[str, str] = field(default_factory=dict)
    limit: bool = False  # some cut reaches the limit of what was looked at
    resin: str = ""
    signs: list[dict[str, Any]] = field(default_factory=list)
    named: list[dict[str, Any]] = field(default_factory=list)
    crosses: list[dict[str, Any]] = field(default_factory=list)
    stopped: dict[str, str] = field(default_factory=dict)
    drops: int | None = None

    def tell(self, data: dict[str, Any]) -> None:
        """Put what the scripts read into the page's data; findings become picks of their steps."""
        data["check"] = self.word
        if self.has:
            data["seated"] = {
                "watch": self.watch, "again": self.again, "says": AGAIN, "words": for_scripts(SEATED_WORDS),
            }
        for step, asks in self.asks.items():
            data["steps"][step]["picks"] += [[one["name"], one["title"], "finding"] for one in asks]

    def filled(self, steps: list[Step]) -> list[Step]:
        """Return the steps with the drops that the jaw takes filled in where they are put out."""
        return [
            step.model_copy(update={"values": [steps_of.filled(value, self.drops) for value in step.values]})
            if step.seating == "resin" else step
            for step in steps
        ]


def seated(
    bench: Bench, found: JawLine, protocol: Protocol, steps: list[Step], whole: ArchPicture, numbers: Numbers
) -> Seated:
    """Return what the bench page of a jaw shows of its check; `steps` with the outcomes that its table knows."""
    seating = seating_of(bench, found)
    answering = [step for step in steps if step.seating == "answers"]
    lines = {step.id: _line(seating) for step in answering}
    if seating.report is None:
        return Seated(check_now(found), lines=lines)
    for step in steps:
        if step.seating == "cut":
            lines[step.id] = _("Sections and cuts in the seating check")
        elif step.seating == "resin" and not any(value.name == steps_of.DROPS for value in step.values):
            lines[step.id] = f"{_('Seating check')}: {_resin(seating)}"
    why = whys(seating.report, protocol.seating)
    watch = {
        step.id: [[outcome, list(places)] for outcome, places in pairs]
        for step in steps if (pairs := steps_of.watches(step, steps, found.table, seating.watched))
    }
    return Seated(
        check_now(found), has=True, lines=lines, watch=watch, watched=_watched(seating, numbers) if watch else "",
        asks={step.id: _asks(seating, protocol) for step in answering},
        again={step.id: {"outcome": one.id, "title": one.title} for step in answering
               if (one := steps_of.holding(step))},
        tally=[(how, _("{n} {how}", n=n, how=_(CUTS[how]))) for how, n in steps_of.tally(seating.cuts)],
        cuts={cut.place: _cut(cut) for cut in seating.cuts}, limit=any(cut.at_limit for cut in seating.cuts),
        whys={place: _(WHYS[one]) for place, one in why.items()}, resin=_resin(seating), drops=seating.drops,
        signs=_signs(seating, found, whole), named=_named(why, found, whole),
        crosses=_crosses(seating.report, found, whole, numbers), stopped=_stopped(seating.report, numbers),
    )


def _line(seating: Seating) -> str:
    if seating.report is None:
        return _(STATES[seating.state]) if seating.state in STATES else f"{_('Seating check')}: {seating.why}"
    if not seating.findings:
        return _(GOES_IN[seating.report["goes_in"] or None])
    return n_("Seating check: {n} finding", "Seating check: {n} findings", len(seating.findings))


def _resin(seating: Seating) -> str:
    if seating.resin_ml is None:
        return _("not known how much it takes")
    volume = written(seating.resin_ml)
    if seating.drops is None:
        return _("takes about {volume} ml", volume=volume)
    return n_("takes about {volume} ml, {n} drop", "takes about {volume} ml, {n} drops", seating.drops, volume=volume)


def _asks(seating: Seating, protocol: Protocol) -> list[dict[str, Any]]:
    """Return each finding as a pick: its words, and a tile for each reason that may be given, none filled in."""
    reasons = [(one.id, one.title) for one in protocol.reasons if "finding" in one.asked]
    tiles = [*reasons, (AGAIN, _("Print again"))]
    found = []
    for told in seating.findings:
        said = told.answer.said if told.answer else ""
        found.append({
            "name": told.finding.pick, "title": told.finding.words,
            "tiles": [{"code": code, "name": name, "pressed": code == said} for code, name in tiles],
        })
    return found


def _watched(seating: Seating, numbers: Numbers) -> str:
    teeth = dict.fromkeys(place[1:-1] for place in seating.watched)
    shown = " ".join(str(number(int(tooth), numbers)) for tooth in teeth)
    return n_("{n} margin gets a tap of its own when filling: {teeth}",
              "{n} margins get a tap of their own when filling: {teeth}", len(seating.watched), teeth=shown)


def _cut(cut: CutHere) -> dict[str, Any]:
    """Return a cut in a word and its figure, and the same as a sentence."""
    how, depth = _(CUTS[cut.how]), written(cut.depth_mm, "0.1")
    if cut.how == "none":
        return {"how": cut.how, "short": how, "words": how}
    words = _("{how}, {depth} mm", how=how, depth=depth)
    if cut.at_limit:
        words = _("{how}, {depth} mm, at the limit: there may be less beyond", how=how, depth=depth)
    return {"how": cut.how, "short": f"{how} {depth}{' !' if cut.at_limit else ''}", "words": words}


def _signs(seating: Seating, found: JawLine, whole: ArchPicture) -> list[dict[str, Any]]:
    """Return the connectors on the whole arch, each with how deep it is cut."""
    names = [connector_name(*pair) for pair in connectors(found.jaw["jaw"], found.jaw["teeth"])]
    spots = dict(zip(names, between(whole), strict=True))
    return [{"at": spots[cut.place], "how": cut.how} for cut in seating.cuts if cut.place in spots]


def _crosses(
    report: Mapping[str, Any], found: JawLine, whole: ArchPicture, numbers: Numbers
) -> list[dict[str, Any]]:
    """Return a cross on the whole arch for each place where the arch is stopped, on the side of its tooth."""
    row = in_row(found.jaw["jaw"], found.jaw["teeth"])
    spots = {inner: dict(zip(row, beside(whole, (1 - 2 * inner) * CROSS), strict=True)) for inner in (False, True)}
    return [
        {"at": spots[one.side == "lingual"][one.tooth], "words": placed(one, numbers)}
        for one in stopping(report) if one.tooth in row
    ]


def _stopped(report: Mapping[str, Any], numbers: Numbers) -> dict[str, str]:
    """Return where the arch is stopped, in words, by the margin on whose side of the row its cross stands."""
    found: dict[str, list[str]] = {}
    for one in stopping(report):
        found.setdefault(f"m{one.tooth}{'l' if one.side == 'lingual' else 'b'}", []).append(placed(one, numbers))
    return {place: _("stopped at {places}", places=", ".join(words)) for place, words in found.items()}


def _named(whys: dict[str, Why], found: JawLine, whole: ArchPicture) -> list[dict[str, Any]]:
    """Return a word beside each watched tooth of the whole arch."""
    row = in_row(found.jaw["jaw"], found.jaw["teeth"])
    return [
        {"at": spot, "words": _(WHYS[whys[f"m{tooth}b"]])}
        for tooth, spot in zip(row, beside(whole), strict=True) if f"m{tooth}b" in whys
    ]
