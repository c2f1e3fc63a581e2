"""What a record says of the pair check, of the release, and of what came after it; each as type and as found."""

from collections.abc import Iterable, Mapping
from typing import Any

from pydantic import Field

from benchapp.core.caseline import MOVES
from benchapp.core.codes import spaced
from benchapp.core.protocol import ROLE_WORDS
from benchapp.core.record_entries import Moment, Said
from benchapp.core.record_trail import Trail
from benchapp.core.record_words import Names, plain
from benchapp.core.release_words import BACK, GAPS, MEANINGS, PAIR, PAIR_SETTLED, TICKS
from benchapp.core.words import N_, _

Body = Mapping[str, Any]
ERASED = N_("(erased)")


class PairCheck(Said):
    """One check of both jaws of the case together."""

    at: Moment = Field(description="when")
    who: str = Field(description="by whom")
    said: str = Field(description="what was found")
    settled: bool = Field(description="whether it lets the jaws be released")


class Passed(Said):
    """One gap that the release passed over, since it need not refuse it."""

    what: str = Field(description="which gap")
    reason: str = Field(description="the reason that was given; empty where reading it was enough")


class Release(Said):
    """The release: printed name, date and time, and what the signature means."""

    seq: int = Field(description="number of the entry in the journal")
    who: str = Field(description="printed name of who released it")
    roles: list[str] = Field(description="that person's roles at that time")
    at: Moment = Field(description="date and time")
    how: str = Field(description="how the person was known: the PIN is asked again at the release")
    meaning_id: str = Field(description="which wording of the meaning was signed")
    meaning: str = Field(description="what the signature means, in words")
    own: bool = Field(description="whether the same person did the last final check, which a setting of the lab allows")
    read: list[str] = Field(description="what was out of the ordinary and was ticked as read, with how many")
    passed: list[Passed] = Field(description="gaps that were passed over")
    together: str = Field(description="code of the other jaw released in the same act, in groups; empty when alone")
    checkpoint_seq: int = Field(description="number of the journal's last entry before the release")
    checkpoint_hash: str = Field(description="its hash, SHA-256, hexadecimal")
    stands: bool = Field(description="false when an entry of the bench changed the jaw after it")

    def text(self) -> str:
        """Return who released it and when, as it is printed."""
        return _("Released by {who} on {moment} ({offset})", who=self.who, moment=plain(self.at), offset=self.at[19:])

    def signed(self) -> str:
        """Return date, time and offset from UTC, as they are printed."""
        return f"{plain(self.at)} (UTC{self.at[19:]})"

    def role_words(self) -> str:
        """Return the roles as they are printed."""
        return ", ".join(_(ROLE_WORDS.get(role, role)) for role in self.roles)

    def own_words(self) -> str:
        """Return the note about a release by who also did the last final check; empty otherwise."""
        if not self.own:
            return ""
        return _("The same person did the last final check; the laboratory's setting allows that.")


class SentOut(Said):
    """The jaw left the laboratory."""

    on: str = Field(description="day on which it left, YYYY-MM-DD")
    means: str = Field(description="with whom or what it left")
    who: str = Field(description="who entered it")
    at: Moment = Field(description="when it was entered")


class CameBack(Said):
    """The jaw came back to the laboratory."""

    on: str = Field(description="day on which it came back, YYYY-MM-DD")
    reason: str = Field(description="why, of a short list")
    place: str = Field(description="stored name of the place that it is about; empty when it is about none")
    place_words: str = Field(description="the place in words; empty when it is about none")
    words: str = Field(description="what was said about it; empty when nothing was")
    who: str = Field(description="who entered it")
    at: Moment = Field(description="when it was entered")
    settled_by: str = Field(description="which supervisor settled it; empty while nobody has")
    settled_at: Moment | None = Field(description="when it was settled; null while it is not")

    def more(self) -> str:
        """Return place, words, and who settled it when, as it is printed."""
        said = ": ".join(words for words in (self.place_words, self.words) if words)
        settled = ""
        if self.settled_at:
            settled = _("settled by {name}, {moment}", name=self.settled_by, moment=plain(self.settled_at))
        return "; ".join(words for words in (said, settled) if words)


class Amendment(Said):
    """Something added to the record after the release."""

    seq: int = Field(description="number of the entry in the journal")
    at: Moment = Field(description="when")
    who: str = Field(description="by whom")
    words: str = Field(description="what was added")


class After(Said):
    """Release and what came after it; nothing else of a record changes any more then."""

    release: Release | None = Field(description="the last release; null while there is none")
    earlier: list[Release] = Field(description="releases that no longer stand, since the jaw was changed after them")
    sent: list[SentOut] = Field(description="when it was sent out")
    back: list[CameBack] = Field(description="when it came back")
    amendments: list[Amendment] = Field(description="what was added after the release")


def after_release(names: Names, trail: Trail, after: Iterable[Body], texts: Mapping[str, str]) -> After:
    """Return release, sending, return and amendments in their order; `after` are bodies of journal entries."""
    found = list(after)
    releases = [_release(names, trail, body, texts) for body in _of(found, "release")]
    last = releases[-1] if releases and releases[-1].stands else None
    return After(
        release=last,
        earlier=releases[:-1] if last else releases,
        sent=[_sent(names, body, texts) for body in _of(found, "sent")],
        back=[_back(names, body, texts, found) for body in _of(found, "back")],
        amendments=[_amendment(names, body, texts) for body in _of(found, "amend")],
    )


def pair_checks(names: Names, changes: Iterable[Body], code: str) -> list[PairCheck]:
    """Return the pair checks in which the jaw with this code was one of the two, in their order."""
    return [
        PairCheck(
            at=_at(names, body), who=_who(names, body), said=_(PAIR.get(said, said)), settled=said in PAIR_SETTLED
        )
        for body in _of(changes, "pair")
        if code in body["event"]["data"].get("pair", [code])
        for said in [str(body["event"]["outcome"])]
    ]


def standing_release(trail: Trail, after: Iterable[Body]) -> Body | None:
    """Return the last release if it still covers the jaw: no entry taken after it changed the jaw's state."""
    releases = _of(after, "release")
    return releases[-1] if releases and covers(trail, releases[-1]["server"]["seq"]) else None


def covers(trail: Trail, seq: int) -> bool:
    """Tell whether nothing that counts at the bench came after entry `seq`; scrapping leaves a release as it was."""
    return not any(d.seq > seq and d.kind in MOVES and d.fate != "not taken" for d in trail.deeds)


def _release(names: Names, trail: Trail, body: Body, texts: Mapping[str, str]) -> Release:
    event, data = body["event"], body["event"]["data"]
    given = data.get("texts", {})
    return Release(
        seq=body["server"]["seq"],
        who=_who(names, body),
        roles=list(body["server"]["roles"]),
        at=_at(names, body),
        how=_("by PIN, asked again"),
        meaning_id=data["meaning"],
        meaning=MEANINGS.get(data["meaning"], _("(a wording that this version does not know)")),
        own=bool(data.get("own", 0)),
        read=[f"{_(TICKS.get(tick['kind'], tick['kind']))} ({tick['count']})" for tick in data.get("ticks", [])],
        passed=[
            Passed(what=_(GAPS.get(kind, kind)), reason=texts.get(given[kind], _(ERASED)) if kind in given else "")
            for kind in data.get("passed", [])
        ],
        together=spaced(data["together"]) if data.get("together") else "",
        checkpoint_seq=data["seq"],
        checkpoint_hash=data["hash"],
        stands=covers(trail, body["server"]["seq"]) and event["jaw"] == names.jaw["code"],
    )


def _sent(names: Names, body: Body, texts: Mapping[str, str]) -> SentOut:
    on, means = body["event"]["data"]["on"], _words(body, "with", texts)
    return SentOut(on=on, means=means, who=_who(names, body), at=_at(names, body))


def _back(names: Names, body: Body, texts: Mapping[str, str], after: Iterable[Body]) -> CameBack:
    event = body["event"]
    settled = next((one for one in _of(after, "close") if one["event"].get("allow") == event["id"]), None)
    place = next(iter(event["places"]), "")
    return CameBack(
        on=event["data"]["on"],
        reason=_(BACK.get(event["outcome"], event["outcome"])),
        place=place,
        place_words=names.place(place) if place else "",
        words=_words(body, "words", texts),
        who=_who(names, body),
        at=_at(names, body),
        settled_by=_who(names, settled) if settled else "",
        settled_at=_at(names, settled) if settled else None,
    )


def _amendment(names: Names, body: Body, texts: Mapping[str, str]) -> Amendment:
    words = _words(body, "words", texts)
    return Amendment(seq=body["server"]["seq"], at=_at(names, body), who=_who(names, body), words=words)


def _of(bodies: Iterable[Body], kind: str) -> list[Body]:
    return [body for body in bodies if body["event"]["kind"] == kind]


def _words(body: Body, name: str, texts: Mapping[str, str]) -> str:
    id = body["event"].get("data", {}).get("texts", {}).get(name, "")
    return texts.get(id, _(ERASED)) if id else ""


def _at(names: Names, body: Body) -> str:
    return names.at(body["server"]["when"])


def _who(names: Names, body: Body) -> str:
    return names.person(body["event"]["by"]["person"])
