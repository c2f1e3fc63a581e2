"""The columns that a list of orders may have, and how days, choices and teeth may be written in its cells."""

import datetime
import re
from dataclasses import dataclass
from typing import Literal, get_args

from benchapp.core.sheet import Bite, CaseSheet, Mounting, Opposing, TryIn, YesNo
from benchapp.core.teeth import JAWS, ROW, Jaw
from benchapp.core.words import N_, _

NOT_STATED = "not stated"  # stands for a revision or a print job that the list does not know yet
PARTS = ("base", "arch")
PART_WORDS = {"base": N_("base"), "arch": N_("arch")}  # as in the middle of a sentence
# The words that choices of an order are stored by. Lists and sheets are written with them in every language.
CHOICES = (
    N_("upper"), N_("lower"), N_("both"), N_("yes"), N_("no"), N_("none stated"),
    N_("new"), N_("copy"), N_("immediate"), N_("remake"),
    N_("natural teeth"), N_("partial denture"), N_("denture"), N_("implants"), N_("no teeth"), N_("not known"),
    N_("scanned"), N_("on wax or silicone"), N_("from the old denture"), N_("none came"),
    N_("mounted"), N_("mounted on screen only"), N_("not mounted"), N_("to do"), N_("done"), N_("not planned"),
)
MOST_TEETH = 64  # numbers in one cell; a jaw has 16


@dataclass(frozen=True)
class Column:
    """One column: its name, its title, what stands in it, and what it means when empty.

    `about` says what may be written; its fields `first`, `last` and `empty` are filled with `words` and `default`.
    """

    name: str
    title: str
    of: Literal["text", "words", "day", "other"]
    must: bool = False
    words: tuple[str, ...] = ()
    default: str = ""
    about: str = ""

    def help(self) -> str:
        """Return what may be written in a list, in the language in use; the words themselves as they are read."""
        if not self.about:
            return ", ".join(self.words)
        return _(self.about, first=", ".join(self.words[:-1]), last=self.words[-1] if self.words else "",
                 empty=self.default)


def choice_words(word: str) -> str:
    """Return the stored word of a choice as people read it; whatever else stands there stays as it is."""
    return _(word) if word in CHOICES else word


def _choice(annotation: object) -> tuple[str, ...]:
    return tuple(word for word in get_args(annotation) if word)


COLUMNS: tuple[Column, ...] = (
    Column("order", N_("Order"), "text", True, about=N_("number of the order; with the patient it tells orders apart")),
    Column("patient", N_("Patient"), "text", True, about=N_("the lab's code for the patient, not a name")),
    Column("prescriber", N_("Prescriber"), "text", True, about=N_("who ordered it")),
    Column("pan", N_("Pan"), "text", about=N_("number of the pan or tray")),
    Column("kind", N_("Kind"), "words", words=_choice(CaseSheet.model_fields["kind"].annotation), default="new",
           about=N_("{first} or {last}; empty: {empty}")),
    Column("due", N_("Due"), "day", True, about=N_("2026-12-01 or 01.12.2026")),
    Column("surgery", N_("Surgery"), "day", about=N_("day of a surgery that is fixed; may be empty")),
    Column("jaws", N_("Jaws"), "other", words=("upper", "lower", "both"),
           about=N_("{first} or {last}; may be empty where teeth are listed")),
    Column("teeth", N_("Teeth"), "other", about=N_("17 16 15 … or 17-27; empty: the usual 14 of each jaw")),
    Column("shade", N_("Tooth shade"), "text", True, about=N_("as ordered")),
    Column("tint", N_("Base tint"), "text", True, about=N_("as ordered")),
    Column("allergy", N_("Allergy"), "words", words=_choice(CaseSheet.model_fields["allergy"].annotation),
           default="none stated", about=N_("{first} or {last}; empty: {empty}")),
    Column("opposing", N_("Other jaw"), "words", words=_choice(Opposing)),
    Column("bite", N_("Bite record"), "words", words=_choice(Bite)),
    Column("mounting", N_("Mounting"), "words", words=_choice(Mounting)),
    Column("tryin", N_("Try-in"), "words", words=_choice(TryIn)),
    Column("marking", N_("Identification mark"), "words", words=_choice(YesNo), about=N_("{first} or {last}")),
    Column("marking_words", N_("Words of the mark"), "text", about=N_("what the mark says")),
    Column("options", N_("Options"), "other", about=N_("options of the protocol, with blanks between")),
    Column("training", N_("Training"), "other", words=("yes",), about=N_("{last} for an exercise")),
    Column("revision", N_("Revision"), "other",
           about=N_("revision of the design, of both parts; can be filled in later")),
    Column("print_job_base", N_("Print job of the base"), "other", about=N_("can be filled in later")),
    Column("print_job_arch", N_("Print job of the arch"), "other", about=N_("can be filled in later")),
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


class TeethFault(ValueError):
    """A cell with teeth cannot be read: `what` is wrong and how to `mend` it."""

    def __init__(self, what: str, mend: str) -> None:
        self.what, self.mend = what, mend
        super().__init__(f"{what}. {mend}")


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

    An empty cell gives none. TeethFault says what is wrong and how to mend it.
    """
    found: dict[Jaw, list[int]] = {}
    plain = _RANGE.sub(r"\1-\2", cell.casefold())
    for word in (word for word in re.split(r"[\s,;/]+", plain) if word):
        for tooth in _stretch(word):
            jaw: Jaw = next(jaw for jaw in JAWS if tooth in ROW[jaw])
            if tooth in found.setdefault(jaw, []):
                raise TeethFault(_("tooth {tooth} stands twice", tooth=tooth), _("Take one of the two out"))
            found[jaw].append(tooth)
        if sum(map(len, found.values())) > MOST_TEETH:
            break
    return {jaw: sorted(found[jaw], key=ROW[jaw].index) for jaw in JAWS if jaw in found}


def _stretch(word: str) -> list[int]:
    first, dash, last = word.partition("-")
    ends = [_tooth(first, word), _tooth(last, word)] if dash else [_tooth(word, word)]
    row = next(ROW[jaw] for jaw in JAWS if ends[0] in ROW[jaw])
    if ends[-1] not in row:
        raise TeethFault(
            _("{range} runs from one jaw into the other", range=repr(word[:20])),
            _("Write a range for each jaw: 17-27 47-37"),
        )
    low, high = sorted((row.index(ends[0]), row.index(ends[-1])))
    return list(row[low: high + 1])


def _tooth(word: str, whole: str) -> int:
    plain = word.removesuffix(".0")  # as spreadsheets write whole numbers
    number = int(plain) if plain.isascii() and plain.isdigit() and len(plain) < 4 else 0
    if not any(number in ROW[jaw] for jaw in JAWS):
        raise TeethFault(
            _("{number} is no tooth of ISO 3950", number=repr(whole[:20])),
            _("Use 11 to 18, 21 to 28, 31 to 38, 41 to 48, or a range like 17-27"),
        )
    return number
