"""What a code on a label is, in a sentence: for whoever scans it where something else was asked for."""

from dataclasses import asdict, dataclass
from typing import Any

from benchapp.actions.bench import Bench, Unknown
from benchapp.actions.cases import jaw_of_part
from benchapp.actions.jaws import JawLine, line, texts_of
from benchapp.actions.stock import thing_now
from benchapp.core.codes import KINDS, spaced
from benchapp.core.stock import Thing

PART = "This label is not of this jaw"
NOT_THIS = "Put the part aside and read the tag of the right one."
SCRAPPED = "This part is scrapped"
NOT_SCRAPPED = "Put it where scrapped parts go, and read the tag of the part that is in use."
NOT_ASKED = "That is not what is asked for"
AGAIN = "Nothing was changed. Scan what this step asks for, or go on."
UNKNOWN = "This code is not known here"
READ_AGAIN = "Put it aside, read the right label, or ask a supervisor."


@dataclass(frozen=True)
class Meaning:
    """What a code is: a title, a sentence, what to do next; `fine` where it belongs to the jaw that is worked on."""

    title: str
    what: str
    next: str
    fine: bool = False

    def plain(self) -> dict[str, Any]:
        """Return it as plain data for a page."""
        return asdict(self)


def by_letter() -> dict[str, dict[str, Any]]:
    """Return what can be said of a code by its first letter alone, and under "" of a text that is no code."""
    found = {
        letter: Meaning(UNKNOWN, f"It looks like the code of {_an(name)}.", READ_AGAIN)
        for letter, name in KINDS.items()
    }
    for letter in "AB":
        what = f"It is the tag of {_an(KINDS[letter])} that does not belong to this jaw."
        found[letter] = Meaning(PART, what, NOT_THIS)
    for letter in "PT":
        what = f"It is the code of a {_HOLDER[letter]}, not of a part, a lot or a device."
        found[letter] = Meaning(NOT_ASKED, what, AGAIN)
    for letter in "DS":
        name = "device" if letter == "D" else "lot"
        found[letter] = Meaning(NOT_ASKED, f"It is the code of a {name} that this page does not know.", READ_AGAIN)
    found[""] = Meaning(UNKNOWN, "It is no label of this lab.", READ_AGAIN)
    return {letter: meaning.plain() for letter, meaning in found.items()}


_HOLDER = {"P": "person's badge", "T": "tablet"}


def _an(name: str) -> str:
    return f"an {name}" if name[0] in "aeiou" else f"a {name}"


def of_case(found: JawLine) -> dict[str, Meaning]:
    """Return the codes that belong to the case of a jaw: its own parts and old parts, the other jaw and its parts."""
    meanings: dict[str, Meaning] = {}
    for jaw in found.case["jaws"]:
        own = jaw["code"] == found.code
        whose = "this jaw" if own else f"the {jaw['jaw']} jaw of this case"
        if not own:
            meanings[jaw["code"]] = Meaning(PART, f"It is the label of {whose}.", NOT_THIS)
        for part in jaw["parts"]:
            what = f"It is {_part(part)} of {whose}."
            meanings[part["code"]] = Meaning(PART, what, "" if own else NOT_THIS, own)
        for part in jaw.get("old_parts", []):
            what = f"It is {_part(part)} of {whose}: that one is scrapped and was made again."
            meanings[part["code"]] = Meaning(SCRAPPED, what, NOT_SCRAPPED)
    return meanings


def of_thing(thing: Thing) -> Meaning:
    """Return what the code of a device or a lot is."""
    about = f", {thing.about}" if thing.about else ""
    kind = thing.kind.replace("-", " ")
    return Meaning(NOT_ASKED, f"It is {thing.name}{about} ({kind}).", AGAIN)


def what_is(bench: Bench, code: str, jaw: str = "") -> Meaning:
    """Return what a whole code is for whoever works on `jaw`, as the journal knows it; never a person's name."""
    own = of_case(line(bench, jaw)) if jaw else {}
    if code in own:
        return own[code]
    letter = code[0]
    if letter in "DS":
        thing = thing_now(bench.store, code)
        return of_thing(thing) if thing else Meaning(UNKNOWN, f"No {KINDS[letter]} here has this code.", READ_AGAIN)
    if letter in "PT":
        return Meaning(**by_letter()[letter])
    holder = jaw_of_part(bench, code) if letter in "AB" else code
    try:
        found = line(bench, holder) if holder and letter in "12AB" else None
    except Unknown:
        found = None
    if found is not None:
        return _elsewhere(bench, found, code)
    if letter == "0" and bench.store.first_tagged("case", code):
        return Meaning(NOT_ASKED, "It is the code of a case, not of a jaw or a part.", AGAIN)
    return Meaning(UNKNOWN, f"No {KINDS[letter]} here has this code.", READ_AGAIN)


def _elsewhere(bench: Bench, found: JawLine, code: str) -> Meaning:
    patient = found.case["texts"]["patient"]
    whose = f"the {found.jaw['jaw']} jaw {spaced(found.code)} of another case ({texts_of(bench, [patient])[patient]})"
    gone = " That jaw is scrapped as a whole." if found.state["ended"] == "scrap" else ""
    if code == found.code:
        return Meaning(PART, f"It is the label of {whose}.{gone}", NOT_THIS)
    old = next((part for part in found.jaw.get("old_parts", []) if part["code"] == code), None)
    if old is not None:
        return Meaning(SCRAPPED, f"It is {_part(old)} of {whose}: scrapped and made again.", NOT_SCRAPPED)
    part = next((part for part in found.jaw["parts"] if part["code"] == code), None)
    name = _part(part) if part else "a part"
    return Meaning(PART, f"It is {name} of {whose}.{gone}", NOT_THIS)


def _part(part: dict[str, Any]) -> str:
    return f"{part['part']} {part['make']} (design revision {part['revision']})"
