"""The entries of a jaw in words, one after the other, and the clocks that ran between them."""

from typing import Any

from benchapp.core.protocol import Limit, Step
from benchapp.core.record_entries import Clock, Done, Picked, SourceOf, ValueSaid, graded
from benchapp.core.record_trail import Deed, Ran, Trail
from benchapp.core.record_words import WHY, Names, length, listed, plain, quoted
from benchapp.core.teeth import SEXTANTS
from benchapp.core.words import N_, _, n_

SHORT = frozenset({"hold", "resume", "sendback", "scrap", "dark", "bright"})
PLAIN = {
    "hold": N_("put on hold"), "resume": N_("work goes on"), "scrap": N_("scrapped as a whole"),
    "dark": N_("light of the load went off, the chamber was opened"), "bright": N_("light of the load came on again"),
}  # fmt: skip
ASKED = {"floor": N_("not before {time}"), "ceiling": N_("not after {time}")}
RUNNING = {"floor": N_("running: not before {moment}"), "ceiling": N_("running: not after {moment}")}


def steps(names: Names, trail: Trail) -> list[Done]:
    """Return every entry of the jaw in words."""
    pending: dict[tuple[int, str], list[tuple[str, str]]] = {}
    deeds = {deed.id: deed for deed in trail.deeds}
    return [_done(names, deeds, deed, _named(names, pending, deed)) for deed in trail.deeds]


def _named(names: Names, pending: dict[tuple[int, str], list[tuple[str, str]]], deed: Deed) -> list[str]:
    """Return the exceptions of this step that a confirmation of their group closes; the others wait."""
    if deed.kind != "confirm" or not deed.effective or deed.act is None:
        return []
    event, singles = deed.event, names.singles(deed.event["step"])
    waiting = pending.setdefault((event["round"], event["step"]), [])
    if deed.act["of"] == "place":
        waiting += [(place, names.said(event["step"], event["outcome"])) for place in event["places"]]
        return []
    covered = [(p, said) for p, said in waiting if "-" in event["places"] or {p, singles.get(p)} & set(event["places"])]
    for one in covered:
        waiting.remove(one)
    return [f"{names.place(place)} {said}" for place, said in covered]


def _done(names: Names, deeds: dict[str, Deed], deed: Deed, named: list[str]) -> Done:
    event, at = deed.event, deed.event["at"]
    confirm = deed.kind == "confirm"
    stated = at.get("stated")
    return Done(
        seq=deed.seq,
        round=event["round"],
        kind=deed.kind,
        stage=names.stage(event["step"]),
        step=names.step(event["step"]),
        said=names.said(event["step"], event["outcome"]) if confirm else "",
        words=confirmed(names, deed) if confirm else other(names, deeds, deed),
        places=list(event["places"]),
        count=covers(names, deed) if confirm else 0,
        viewed_ms=event["saw"]["ms"],
        named=named,
        at=names.at(deed.server["when"]),
        stated=None if stated is None else names.at(stated),
        who=names.who(deed),
        how=names.how(deed),
        values=values(names, deed),
        picks=picks(names, deed),
        fate=deed.fate,
        fate_words=fate(names, deed),
        marks=marks(names, deed),
    )


def covers(names: Names, deed: Deed) -> int:
    """Return how many single places a confirmation covers: those of its groups, or the ones it names."""
    singles, said = names.singles(deed.event["step"]), set(deed.event["places"])
    if deed.act is not None and deed.act["of"] == "place":
        return len(said & set(singles))
    return sum(1 for place, sextant in singles.items() if "-" in said or {place, sextant} & said)


def confirmed(names: Names, deed: Deed) -> str:
    """Return a confirmation in words: right back, 12 places, viewed 14 s, none open."""
    event = deed.event
    said = names.said(event["step"], event["outcome"])
    of_the_jaw = deed.act is not None and deed.act["of"] == "group" and "-" in event["places"]
    if of_the_jaw or not names.singles(event["step"]):
        return said
    words = [listed([names.place(place) for place in event["places"]])]
    if any(place in ("-", *SEXTANTS) for place in event["places"]):
        count = covers(names, deed)
        words.append(n_("{n} place", "{n} places", count))
    seconds = round(event["saw"]["ms"] / 1000) * 1000
    return ", ".join([*words, _("viewed {time}", time=length(seconds)), said])


def other(names: Names, deeds: dict[str, Deed], deed: Deed) -> str:
    """Return an entry that is not a confirmation in words."""
    event = deed.event
    if deed.kind in ("dark", "bright"):
        return _(PLAIN[deed.kind])
    if deed.kind in SHORT:
        sent = deed.kind == "sendback"
        what = _("sent back to {step}", step=quoted(names.step(event["step"]))) if sent else _(PLAIN[deed.kind])
        why = names.why(event)
        return f"{what}: {why}" if why else what
    about = deeds.get(event.get("undo") or event.get("allow") or "")
    entry = _("an entry that is not about this jaw")
    if about:
        entry = _("{entry} (entry {number})", entry=about_words(names, about), number=about.seq)
    match deed.kind:
        case "undo":
            return _("taken back: {entry}", entry=entry)
        case "reason":
            return _("reason for {entry}: {reason}", entry=entry, reason=names.reason(event["outcome"]))
        case "resolve" if event["outcome"] == "in":
            return _("taken in: {entry}", entry=entry)
        case "resolve":
            return _("set aside: {entry}", entry=entry)
    return _(deed.kind)


def about_words(names: Names, deed: Deed) -> str:
    """Return a short name for an entry: its step and what was said."""
    if deed.kind == "confirm":
        step, outcome = deed.event["step"], deed.event["outcome"]
        return f"{quoted(names.step(step))} {names.said(step, outcome)}"
    return other(names, {}, deed) if deed.kind in SHORT else _(deed.kind)


def fate(names: Names, deed: Deed) -> str:
    """Return what became of an entry, empty where it simply counts."""
    if deed.taken_back_by is not None and deed.fate == "taken back":
        return _("taken back with entry {number}", number=deed.taken_back_by.seq)
    if deed.fate == "taken in":
        return _("not taken when it came; taken in by a supervisor afterwards")
    if deed.fate == "not taken":
        why = next((m["why"] for m in deed.marks if m["grade"] == "refused"), "")
        aside = any(m["resolved"] for m in deed.marks)
        reason = _("not a possible time") if why == "stated" else _(WHY.get(why, why))
        if aside:
            return _("not taken, {reason}; set aside by a supervisor", reason=reason)
        return _("not taken, {reason}", reason=reason)
    return ""


def marks(names: Names, deed: Deed) -> list[str]:
    """Return what was out of the ordinary in an entry, without what its fate says anyway."""
    extra = [tuple(mark) for mark in deed.server["marks"] if mark[0] in ("claimed", "tablet")]
    own = [(mark["why"], mark["grade"]) for mark in deed.marks if mark["grade"] != "refused"]
    found = [(_(WHY.get(why, why)), grade) for why, grade in [*own, *extra]] + names.server_marks(deed)
    return [graded(words, grade) for words, grade in found]


def values(names: Names, deed: Deed) -> list[ValueSaid]:
    """Return the numbers of an entry with their limits and where those come from."""
    step = names.of_step(deed.event["step"])
    found: list[ValueSaid] = []
    for said in deed.event["values"]:
        known = next((v for v in step.values if v.name == said["name"]), None) if step else None
        found.append(
            ValueSaid(
                title=known.title if known else said["name"],
                value=said["value"],
                unit=said["unit"],
                least=f"{known.min:f}" if known else "",
                most=f"{known.max:f}" if known else "",
                source=names.source(known.source) if known else None,
            )
        )
    return found


def picks(names: Names, deed: Deed) -> list[Picked]:
    """Return what was picked with an entry."""
    step = names.of_step(deed.event["step"])
    found: list[Picked] = []
    for name, code in names.own_picks(deed).items():
        title = next((p.title for p in step.picks if p.name == name), name) if step else name
        words, right = names.picked(code, name)
        found.append(Picked(title=title, words=words, code=code, right=right))
    return found


def clocks(names: Names, trail: Trail) -> list[Clock]:
    """Return the clocks that ran, with what was asked and what passed between the two taps."""
    stated = {d.t for d in trail.deeds if d.event["at"].get("stated") is not None}
    return [_clock(names, ran, stated) for ran in trail.clocks]


def _clock(names: Names, ran: Ran, stated: set[int]) -> Clock:
    between = None if ran.ended is None else ran.ended - ran.started
    words, kept = _kept(names, ran, between)
    return Clock(
        kind=ran.kind,
        since=names.step(ran.since),
        step=names.step(ran.step),
        started=names.at(ran.started),
        ended=None if ran.ended is None else names.at(ran.ended),
        asked_ms=ran.asked,
        asked=_(ASKED[ran.kind], time=length(ran.asked)),
        grace_ms=ran.grace,
        between_ms=between,
        between="" if between is None else length(between),
        kept=kept,
        words=words,
        stated=bool({ran.started, ran.ended} & stated),
        grade=ran.grade,  # type: ignore[arg-type]
        source=_source(names, ran),
    )


def _kept(names: Names, ran: Ran, between: int | None) -> tuple[str, bool | None]:
    """Say whether a clock was kept, or by how much it was missed."""
    if between is None or ran.deed is None:
        ends = plain(names.at(ran.started + ran.asked))
        return _(RUNNING[ran.kind], moment=ends), None
    over = between - ran.asked if ran.kind == "ceiling" else ran.asked - between
    if over <= 0:
        return _("kept"), True
    if over <= ran.grace:
        return _("kept, with {time} of the {grace} allowed", time=length(over), grace=length(ran.grace)), True
    if ran.deed.fate == "taken in":
        return _("missed by {time}, taken in by a supervisor", time=length(over)), False
    return _("missed by {time}", time=length(over)), False


def _source(names: Names, ran: Ran) -> SourceOf | None:
    step = names.of_step(ran.step)
    limits = _limits(step, ran.kind) if step else []
    speed = int(names.table["speed"])
    same = [x for x in limits if x.since == ran.since and _ms(x) // speed == ran.asked and x.breach == ran.grade]
    return names.source(same[0].source) if same else None


def _limits(step: Step, kind: str) -> list[Limit]:
    return step.floors if kind == "floor" else step.ceilings


def _ms(limit: Any) -> int:
    return int(limit.minutes * 60 + limit.seconds) * 1000
