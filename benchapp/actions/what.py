"""What a code on a label is, in a sentence: for whoever scans it where something else was asked for."""

from dataclasses import asdict, dataclass
from typing import Any

from benchapp.actions.bench import Bench, Unknown
from benchapp.actions.cases import jaw_of_part
from benchapp.actions.jaws import JawLine, line, texts_of
from benchapp.actions.stock import thing_now
from benchapp.core.codes import spaced
from benchapp.core.orders_words import PART_WORDS
from benchapp.core.stock import Thing, kind_words
from benchapp.core.teeth import JAW_WORDS
from benchapp.core.words import N_, _

CHAMBER = "chamber"  # the kind of devices that have a page of their own
PART = N_("This label is not of this jaw")
NOT_THIS = N_("Put the part aside and read the tag of the right one.")
SCRAPPED = N_("This part is scrapped")
NOT_SCRAPPED = N_("Put it where scrapped parts go, and read the tag of the part that is in use.")
NOT_ASKED = N_("That is not what is asked for")
AGAIN = N_("Nothing was changed. Scan what this step asks for, or go on.")
UNKNOWN = N_("This code is not known here")
READ_AGAIN = N_("Put it aside, read the right label, or ask a supervisor.")
BY_LETTER = {  # title, sentence, what to do next
    "0": (UNKNOWN, N_("It looks like the code of a case."), READ_AGAIN),
    "1": (UNKNOWN, N_("It looks like the code of an upper jaw."), READ_AGAIN),
    "2": (UNKNOWN, N_("It looks like the code of a lower jaw."), READ_AGAIN),
    "B": (PART, N_("It is the tag of a base that does not belong to this jaw."), NOT_THIS),
    "A": (PART, N_("It is the tag of an arch that does not belong to this jaw."), NOT_THIS),
    "P": (NOT_ASKED, N_("It is the code of a person's badge, not of a part, a lot or a device."), AGAIN),
    "T": (NOT_ASKED, N_("It is the code of a tablet, not of a part, a lot or a device."), AGAIN),
    "E": (NOT_ASKED, N_("It is a code that enrols a tablet, not of a part, a lot or a device."), AGAIN),
    "D": (NOT_ASKED, N_("It is the code of a device that this page does not know."), READ_AGAIN),
    "S": (NOT_ASKED, N_("It is the code of a lot that this page does not know."), READ_AGAIN),
    "": (UNKNOWN, N_("It is no label of this lab."), READ_AGAIN),
}
NONE_HERE = {
    "0": N_("No case here has this code."), "1": N_("No upper jaw here has this code."),
    "2": N_("No lower jaw here has this code."), "B": N_("No base here has this code."),
    "A": N_("No arch here has this code."), "D": N_("No device here has this code."),
    "S": N_("No stock here has this code."),
}
ELSEWHERE = {  # of what, and whether it is another case than that of the jaw that is worked on
    ("label", False): N_("It is the label of the {jaw} {code} ({patient})."),
    ("label", True): N_("It is the label of the {jaw} {code} of another case ({patient})."),
    ("part", False): N_("It is {part} of the {jaw} {code} ({patient})."),
    ("part", True): N_("It is {part} of the {jaw} {code} of another case ({patient})."),
    ("old", False): N_("It is {part} of the {jaw} {code} ({patient}): scrapped and made again."),
    ("old", True): N_("It is {part} of the {jaw} {code} of another case ({patient}): scrapped and made again."),
}


@dataclass(frozen=True)
class Meaning:
    """What a code is: a title, a sentence, what to do next; `fine` where it belongs to the jaw that is worked on.

    `to` is the address that the label leads to: of a jaw, also from its parts, or of a chamber; "" where there is none.
    """

    title: str
    what: str
    next: str
    fine: bool = False
    to: str = ""

    @property
    def unknown(self) -> bool:
        """Whether nothing of this lab has the code."""
        return self.title == _(UNKNOWN)

    def plain(self) -> dict[str, Any]:
        """Return it as plain data for a page."""
        return asdict(self)


def by_letter() -> dict[str, dict[str, Any]]:
    """Return what can be said of a code by its first letter alone, and under "" of a text that is no code."""
    return {letter: _by_letter(letter).plain() for letter in BY_LETTER}


def _by_letter(letter: str) -> Meaning:
    title, what, then = BY_LETTER[letter]
    return _meaning(title, _(what), then)


def _meaning(title: str, what: str, then: str, fine: bool = False, to: str = "") -> Meaning:
    """Return a meaning of title and advice, which are constants, and a sentence that was looked up."""
    return Meaning(_(title), what, _(then), fine, to)


def of_case(found: JawLine) -> dict[str, Meaning]:
    """Return the codes that belong to the case of a jaw: its own parts and old parts, the other jaw and its parts."""
    meanings: dict[str, Meaning] = {}
    for jaw in found.case["jaws"]:
        own = jaw["code"] == found.code
        which = _(JAW_WORDS[jaw["jaw"]])
        if not own:
            what = _("It is the label of the {jaw} of this case.", jaw=which)
            meanings[jaw["code"]] = _meaning(PART, what, NOT_THIS)
        for part in jaw["parts"]:
            what = _("It is {part} of this jaw.", part=_part(part)) if own else _(
                "It is {part} of the {jaw} of this case.", part=_part(part), jaw=which)
            meanings[part["code"]] = _meaning(PART, what, "" if own else NOT_THIS, own)
        for part in jaw.get("old_parts", []):
            what = _("It is {part} of this jaw: that one is scrapped and was made again.", part=_part(part))
            if not own:
                what = _("It is {part} of the {jaw} of this case: that one is scrapped and was made again.",
                         part=_part(part), jaw=which)
            meanings[part["code"]] = _meaning(SCRAPPED, what, NOT_SCRAPPED)
    return meanings


def of_thing(thing: Thing) -> Meaning:
    """Return what the code of a device or a lot is."""
    name = f"{thing.name}, {thing.about}" if thing.about else thing.name
    what = _("It is {name} ({kind}).", name=name, kind=kind_words(thing.kind))
    return _meaning(NOT_ASKED, what, AGAIN, to=f"/chamber/{thing.code}" if thing.kind == CHAMBER else "")


def what_is(bench: Bench, code: str, jaw: str = "") -> Meaning:
    """Return what a whole code is for whoever works on `jaw`, as the journal knows it; never a person's name."""
    own = of_case(line(bench, jaw)) if jaw else {}
    if code in own:
        return own[code]
    letter = code[0]
    if letter in "DS":
        thing = thing_now(bench.store, code)
        return of_thing(thing) if thing else _meaning(UNKNOWN, _(NONE_HERE[letter]), READ_AGAIN)
    if letter in "PTE":
        return _by_letter(letter)
    holder = jaw_of_part(bench, code) if letter in "AB" else code
    try:
        found = line(bench, holder) if holder and letter in "12AB" else None
    except Unknown:
        found = None
    if found is not None:
        return _elsewhere(bench, found, code, bool(jaw))
    if letter == "0" and bench.store.first_tagged("case", code):
        return _meaning(NOT_ASKED, _("It is the code of a case, not of a jaw or a part."), AGAIN)
    return _meaning(UNKNOWN, _(NONE_HERE[letter]), READ_AGAIN)


def _elsewhere(bench: Bench, found: JawLine, code: str, another: bool) -> Meaning:
    """Say of which jaw a label or a tag is; `another` says that its case is not that of the jaw that is worked on."""
    id, to = found.case["texts"]["patient"], f"/bench/{found.code}"
    old = next((part for part in found.jaw.get("old_parts", []) if part["code"] == code), None)
    part = old or next((part for part in found.jaw["parts"] if part["code"] == code), None)
    sort = "label" if code == found.code else "old" if old else "part"
    what = _(
        ELSEWHERE[sort, another], jaw=_(JAW_WORDS[found.jaw["jaw"]]), code=spaced(found.code),
        patient=texts_of(bench, [id])[id], part=_part(part) if part else _("a part"),
    )
    if found.state["ended"] == "scrap":
        what = " ".join([what, _("That jaw is scrapped as a whole.")])
    return _meaning(SCRAPPED, what, NOT_SCRAPPED, to=to) if old else _meaning(PART, what, NOT_THIS, to=to)


def _part(part: dict[str, Any]) -> str:
    return _("{part} {make} (design revision {revision})", part=_(PART_WORDS[part["part"]]), make=part["make"],
             revision=part["revision"])
