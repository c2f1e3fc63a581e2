"""The assembly record: everything known of one jaw as one document; screen, paper and JSON only show it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any
from zoneinfo import ZoneInfo

from benchapp.core.codes import spaced
from benchapp.core.numbers import SYSTEM, Numbers, number, system_words
from benchapp.core.orders_words import PART_WORDS, choice_words
from benchapp.core.protocol import Protocol
from benchapp.core.record_after import after_release, pair_checks
from benchapp.core.record_changes import Detail, case_changes, details, prescribed_further
from benchapp.core.record_checks import checks
from benchapp.core.record_deviations import deviations, matters_of
from benchapp.core.record_entries import Done, SourceOf
from benchapp.core.record_models import (
    Checkpoint,
    Identity,
    Laboratory,
    Part,
    ProtocolOf,
    Record,
)
from benchapp.core.record_seating import SeatingCheck, seating_check
from benchapp.core.record_standing import standing
from benchapp.core.record_statement import Statement, statement
from benchapp.core.record_steps import clocks, steps
from benchapp.core.record_trail import Entry, Trail, follow
from benchapp.core.record_unusual import not_ordinary
from benchapp.core.record_used import Used, old_parts, repairs, used
from benchapp.core.record_who import counts, who_worked
from benchapp.core.record_words import NOTES, ORDER, SOURCE, Names
from benchapp.core.stock import Thing
from benchapp.core.teeth import JAW_WORDS, in_row
from benchapp.core.words import N_, _

__all__ = ["Given", "Record", "make_record", "names_of", "seating_of"]

ERASED = N_("(erased)")
AFTER = frozenset({"release", "amend", "sent", "back", "close", "remake"})


@dataclass(frozen=True)
class Given:
    """What a record is made from.

    `case` and `jaw` as they stood at the release, or as they stand now where there is none; `accepted` the data
    the case was accepted with, and `changes` all bodies that changed it since; `entries` the jaw's journal
    entries in order, as (seq, hash, body); `texts` words by text id; `people` names by person id; `things`
    devices and lots by code; `lab` its name, address and IANA zone; `checkpoint` (seq, hash) of the journal's
    last entry; `made` UTC ms; `numbers` those of teeth in words, the stored names of places stay ISO 3950; `reports` of
    seating checks by hash, `pictures` the keys of those that have a still picture.
    """

    case: Mapping[str, Any]
    jaw: Mapping[str, Any]
    accepted: Mapping[str, Any]
    changes: Sequence[dict[str, Any]]
    table: dict[str, Any]
    protocol: Protocol
    entries: Sequence[Entry]
    texts: Mapping[str, str]
    people: Mapping[str, str]
    things: Mapping[str, Thing]
    lab: tuple[str, str, str]
    checkpoint: tuple[int, str]
    version: str
    made: int
    numbers: Numbers = "fdi"
    reports: Mapping[str, Any] = field(default_factory=dict)
    pictures: frozenset[str] = frozenset()

    @property
    def after(self) -> list[dict[str, Any]]:
        """Bodies of what the fold does not ask: release, what came after it, closings, remakes."""
        return [body for _seq, _hash, body in self.entries if body["event"]["kind"] in AFTER]


def names_of(given: Given) -> Names:
    """Return what the names in a jaw's events stand for."""
    things = {code: " · ".join(w for w in (thing.name, thing.about) if w) for code, thing in given.things.items()}
    return Names(given.protocol, given.jaw, given.table, given.people, things, ZoneInfo(given.lab[2]), given.numbers)


def make_record(given: Given) -> Record:
    """Return the record of a jaw as its entries stand; they are folded by the one fold, whatever they say."""
    names = names_of(given)
    trail = follow(given.table, given.entries)
    seating = seating_of(given, names, trail)
    unusual = not_ordinary(names, trail, seating)
    done = steps(names, trail)
    training = bool(given.case["training"]) or given.case["speed"] > 1
    after = after_release(names, trail, given.after, given.texts)
    identity, picked = _identity(given, names), used(names, trail, given.things)
    return Record(
        format=3,
        made=names.at(given.made),
        software=given.version,
        numbers=SYSTEM[given.numbers],
        training=training,
        speed=given.case["speed"],
        warning=_warning(given.case["speed"]) if training else "",
        lab=_lab(given, names, done),
        identity=identity,
        standing=standing(names, trail, [i.words for i in unusual.items if i.open], after),
        not_ordinary=unusual,
        checks=checks(names, trail),
        who=who_worked(names, trail),
        confirmations=counts(trail),
        steps=done,
        clocks=clocks(names, trail),
        used=picked,
        old_parts=old_parts(names, given.changes),
        repairs=repairs(names, trail),
        changes=case_changes(
            names, given.accepted, given.changes, given.texts, after.release.seq if after.release else 0
        ),
        deviations=deviations(names, matters_of(given.table, trail, given.entries), given.texts),
        pair_checks=pair_checks(names, given.changes, given.jaw["code"]),
        after=after,
        seating=seating,
        photos=[],
        statement=_statement(given, identity, picked),
        protocol=_protocol(given),
        checkpoint=Checkpoint(
            seq=given.checkpoint[0],
            hash=given.checkpoint[1],
            text=f"SC1 {given.jaw['code']} {given.checkpoint[0]} {given.checkpoint[1]}",
        ),
        notes=[_(note) for note in NOTES],
    )


def seating_of(given: Given, names: Names, trail: Trail) -> SeatingCheck | None:
    """Return the seating check of a jaw by the entries that are given."""
    bodies = [body for _seq, _hash, body in given.entries]
    return seating_check(names, trail, bodies, given.reports, given.texts, given.pictures)


def _lab(given: Given, names: Names, done: Sequence[Done]) -> Laboratory:
    moments = [step.at for step in done] + [names.at(given.made)]
    name, address, zone = given.lab
    return Laboratory(name=name, address=address, zone=zone, offsets=sorted({at[19:] for at in moments}))


def _statement(given: Given, identity: Identity, picked: Sequence[Used]) -> Statement:
    teeth = " ".join(str(number(tooth, given.numbers)) for tooth in identity.teeth)
    device = _("joined printed denture, {jaw}, code {code}, case {case}", jaw=_(JAW_WORDS[identity.jaw]),
               code=identity.code, case=identity.case)
    prescribed = [
        Detail(title=title, words=words)
        for title, words in (
            (_("Prescribed: kind"), identity.kind),
            (_("Prescribed: teeth, {system}", system=system_words(given.numbers)), teeth),
            (_("Prescribed: shade"), identity.shade),
            (_("Prescribed: tint"), identity.tint),
        )
    ]
    lots = [f"{one.name}, {one.lot_words()}" for one in picked if one.lot]
    parts = [f"{_(PART_WORDS[part.part])}: {part.text()}" for part in identity.parts]
    made_of = list(dict.fromkeys([*parts, *lots]))
    maker = given.lab[0], given.lab[1]
    further = [*prescribed, *prescribed_further(given.case, given.texts)]
    return statement(maker, device, identity.patient, identity.prescriber, further, made_of)


def _warning(speed: int) -> str:
    if speed > 1:
        return _("TRAINING, every duration divided by {speed}: this is an exercise and not the record of a denture.",
                 speed=speed)
    return _("TRAINING: this is an exercise and not the record of a denture.")


def _identity(given: Given, names: Names) -> Identity:
    case, jaw = given.case, given.jaw
    text = {name: given.texts.get(id, _(ERASED)) for name, id in case["texts"].items()}
    opened = next((body for _seq, _hash, body in given.entries if body["event"]["kind"] in ("case", "successor")), None)
    return Identity(
        case=spaced(case["code"]),
        code=spaced(jaw["code"]),
        jaw=jaw["jaw"],
        follows=spaced(jaw.get("follows", "")),
        followed_by=spaced(next((j["code"] for j in case["jaws"] if j.get("follows") == jaw["code"]), "")),
        patient=text["patient"],
        prescriber=text["prescriber"],
        order=text["order"],
        kind=_(ORDER.get(case["kind"], case["kind"])),
        due=case["due"],
        accepted=names.at(opened["server"]["when"]) if opened else None,
        shade=case["shade"],
        tint=case["tint"],
        allergy=choice_words(case["allergy"]),
        further=details(case, given.texts),
        options=list(case["options"]),
        teeth=list(in_row(jaw["jaw"], jaw["teeth"])),
        parts=[
            Part(
                part=p["part"],
                make=p["make"],
                revision=p["revision"],
                print_job=p["print_job"],
                code=spaced(p["code"]),
            )
            for p in jaw["parts"]
        ],
        sole_use=_("Made to order, for the sole use of one patient: {patient}.", patient=text["patient"]),
    )


def _protocol(given: Given) -> ProtocolOf:
    protocol = given.protocol
    return ProtocolOf(
        id=protocol.id,
        title=protocol.title,
        edition=protocol.edition,
        hash=given.jaw["protocol"],
        table=given.jaw["table"],
        sources=[SourceOf(kind=_(SOURCE[s.kind]), title=s.title) for s in protocol.sources],
    )
