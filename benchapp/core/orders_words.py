"""The columns that a list of orders may have, and how days, choices and teeth may be written in its cells."""

import datetime
import re
from dataclasses import dataclass
from typing import Literal, get_args

from benchapp.core.sheet import Bite, CaseSheet, Mounting, Opposing, TryIn, YesNo
from benchapp.core.teeth import JAWS, ROW, Jaw

NOT_STATED = "not stated"  # stands for a revision or a print job that the list does not know yet
PARTS = ("base", "arch")
MOST_TEETH = 64  # numbers in one cell; a jaw has 16


@dataclass(frozen=True)
class Column:
    """One column: its name, its title, what stands in it, and what it means when empty."""

    name: str
    title: str
    of: Literal["text", "words", "day", "other"]
    must: bool = False
    words: tuple[str, ...] = ()
    default: str = ""
    about: str = ""


def _choice(annotation: object) -> tuple[str, ...]:
    return tuple(word for word in get_args(annotation) if word)


COLUMNS: tuple[Column, ...] = (
    Column("order", "Order", "text", True, about="number of the order; with the patient it tells orders apart"),
    Column("patient", "Patient", "text", True, about="the lab's code for the patient, not a name"),
    Column("prescriber", "Prescriber", "text", True, about="who ordered it"),
    Column("pan", "Pan", "text", about="number of the pan or tray"),
    Column("kind", "Kind", "words", words=_choice(CaseSheet.model_fields["kind"].annotation), default="new",
           about="new, copy, immediate or remake; empty: new"),
    Column("due", "Due", "day", True, about="2026-12-01 or 01.12.2026"),
    Column("surgery", "Surgery", "day", about="day of a surgery that is fixed; may be empty"),
    Column("jaws", "Jaws", "other", about="upper, lower or both; may be empty where teeth are listed"),
    Column("teeth", "Teeth", "other", about="17 16 15 … or 17-27; empty: the usual 14 of each jaw"),
    Column("shade", "Tooth shade", "text", True, about="as ordered"),
    Column("tint", "Base tint", "text", True, about="as ordered"),
    Column("allergy", "Allergy", "words", words=_choice(CaseSheet.model_fields["allergy"].annotation),
           default="none stated", about="none stated, no or yes; empty: none stated"),
    Column("opposing", "Other jaw", "words", words=_choice(Opposing), about=", ".join(_choice(Opposing))),
    Column("bite", "Bite record", "words", words=_choice(Bite), about=", ".join(_choice(Bite))),
    Column("mounting", "Mounting", "words", words=_choice(Mounting), about=", ".join(_choice(Mounting))),
    Column("tryin", "Try-in", "words", words=_choice(TryIn), about=", ".join(_choice(TryIn))),
    Column("marking", "Identification mark", "words", words=_choice(YesNo), about="yes or no"),
    Column("marking_words", "Words of the mark", "text", about="what the mark says"),
    Column("options", "Options", "other", about="options of the protocol, with blanks between"),
    Column("training", "Training", "other", about="yes for an exercise"),
    Column("revision", "Revision", "other", about="revision of the design, of both parts; can be filled in later"),
    Column("print_job_base", "Print job of the base", "other", about="can be filled in later"),
    Column("print_job_arch", "Print job of the arch", "other", about="can be filled in later"),
)
GUESSES: dict[str, tuple[str, ...]] = {
    "order": ("order no", "order number", "order id", "job", "job number", "number", "no"),
    "patient": ("patient code", "patient id", "patient no"),
    "prescriber": ("clinic", "practice", "dentist", "doctor", "ordered by", "client", "customer"),
    "pan": ("pan no", "pan number", "tray", "tray no", "tray number", "box"),
    "kind": ("kind of order", "type", "order type"),
    "due": ("due date", "due on", "delivery", "delivery date", "deadline", "ship date"),
    "surgery": ("surgery date", "day of surgery", "surgery day"),
    "jaws": ("jaw", "arch", "arches"),
    "teeth": ("tooth", "tooth numbers", "teeth present"),
    "shade": ("tooth shade", "tooth colour", "tooth color", "teeth shade"),
    "tint": ("base tint", "gum tint", "base shade", "gum shade", "base colour", "base color"),
    "allergy": ("allergies", "allergy stated"),
    "opposing": ("other jaw", "opposing jaw", "opposing arch", "antagonist"),
    "bite": ("bite record", "bite registration"),
    "mounting": ("mounted", "articulator"),
    "tryin": ("try in",),
    "marking": ("identification mark", "mark", "id mark"),
    "marking_words": ("words of the mark", "mark text", "marking text"),
    "options": ("option",),
    "training": ("exercise",),
    "revision": ("design revision", "rev", "design"),
    "print_job_base": ("print job of the base", "base print job", "base job"),
    "print_job_arch": ("print job of the arch", "arch print job", "arch job"),
}
_YES_NO = {"y": "yes", "x": "yes", "true": "yes", "1": "yes", "n": "no", "false": "no", "0": "no"}
_RANGE = re.compile(r"(\d{1,3})\s*(?:-|\u2010|\u2011|\u2012|\u2013|\u2014|to)\s*(\d{1,3})")
_DAY = re.compile(r"(\d{4})-(\d{1,2})-(\d{1,2})(?:[T ]00:00(?::00)?)?|(\d{1,2})\.(\d{1,2})\.(\d{4})", re.ASCII)


def day_of(cell: str) -> datetime.date | None:
    """Return the day that a cell names (2026-12-01 or 01.12.2026), None where it names none."""
    found = _DAY.fullmatch(cell.strip())
    if found is None:
        return None
    year, month, day = found.group(1, 2, 3) if found.group(1) else found.group(6, 5, 4)
    try:
        return datetime.date(int(year), int(month), int(day))
    except ValueError:
        return None


def in_words(cell: str, words: tuple[str, ...], empty: str) -> str:
    """Return the one of `words` that a cell names, small and capital letters alike; the cell where it is none."""
    plain = " ".join(cell.casefold().split())
    if "yes" in words:
        plain = _YES_NO.get(plain, plain)
    return plain if plain in words else cell if plain else empty


def teeth_of(cell: str) -> dict[Jaw, list[int]]:
    """Return the teeth that a cell lists, by jaw in row order: `17 16 15`, `17-27`, `17-14, 47-37`.

    An empty cell gives none. ValueError says what is wrong and how to mend it.
    """
    found: dict[Jaw, list[int]] = {}
    plain = _RANGE.sub(r"\1-\2", cell.casefold())
    for word in (word for word in re.split(r"[\s,;/]+", plain) if word):
        for tooth in _stretch(word):
            jaw: Jaw = next(jaw for jaw in JAWS if tooth in ROW[jaw])
            if tooth in found.setdefault(jaw, []):
                raise ValueError(f"tooth {tooth} stands twice. Take one of the two out")
            found[jaw].append(tooth)
        if sum(map(len, found.values())) > MOST_TEETH:
            break
    return {jaw: sorted(found[jaw], key=ROW[jaw].index) for jaw in JAWS if jaw in found}


def _stretch(word: str) -> list[int]:
    first, dash, last = word.partition("-")
    ends = [_tooth(first, word), _tooth(last, word)] if dash else [_tooth(word, word)]
    row = next(ROW[jaw] for jaw in JAWS if ends[0] in ROW[jaw])
    if ends[-1] not in row:
        raise ValueError(f"{word[:20]!r} runs from one jaw into the other. Write a range for each jaw: 17-27 47-37")
    low, high = sorted((row.index(ends[0]), row.index(ends[-1])))
    return list(row[low: high + 1])


def _tooth(word: str, whole: str) -> int:
    plain = word.removesuffix(".0")  # as spreadsheets write whole numbers
    number = int(plain) if plain.isascii() and plain.isdigit() and len(plain) < 4 else 0
    if not any(number in ROW[jaw] for jaw in JAWS):
        raise ValueError(
            f"{whole[:20]!r} is no tooth of ISO 3950. Use 11 to 18, 21 to 28, 31 to 38, 41 to 48, or a range like 17-27"
        )
    return number
