"""The settings that a rule depends on: what each means, what it may be, and what it is until somebody changes it."""

import json
from dataclasses import dataclass
from functools import reduce

from benchapp.core.words import N_, _


@dataclass(frozen=True)
class Setting:
    """One setting: its name, title, default, what it means, the rule that reads it, and what it may be.

    It is one of `choices` (value, words), a whole number from `least` to `most` of `unit`, or, where `longest`
    is above 0, words of at most that length which a page of ours writes.
    """

    name: str
    title: str
    default: str
    meaning: str
    rule: str
    choices: tuple[tuple[str, str], ...] = ()
    least: int = 0
    most: int = 0
    unit: str = ""
    longest: int = 0

    def fault(self, value: str) -> str:
        """Return what is wrong with a value and how to mend it, "" when it may be taken."""
        if self.choices:
            known = [words for one, words in self.choices if one == value]
            said = reduce(_either, (_(words) for _one, words in self.choices))
            return "" if known else _("“{title}” is {choices}. Choose one of them.", title=_(self.title), choices=said)
        if self.longest:
            if len(value) <= self.longest and all(c.isprintable() for c in value):
                return ""
            return _(
                "“{title}” holds at most {most} characters that can be printed. Make it shorter.",
                title=_(self.title), most=self.longest,
            )
        whole = value.isascii() and value.isdigit() and len(value) < 6 and value == str(int(value))
        if whole and self.least <= int(value) <= self.most:
            return ""
        return _(
            "“{title}” is a whole number from {least} to {most} ({unit}). Write one.",
            title=_(self.title), least=self.least, most=self.most, unit=_(self.unit),
        )

    def words(self, value: str) -> str:
        """Return a value as people read it."""
        if self.choices:
            known = dict(self.choices)
            return _(known[value]) if value in known else value
        if self.longest:
            return _pairs(value) or _("none yet")
        return f"{value} {_(self.unit)}"


def _either(first: str, second: str) -> str:
    return _("{first} or {second}", first=first, second=second)


def _pairs(value: str) -> str:
    """Return a mapping that is kept as JSON as a list of words, and anything else as it is."""
    try:
        found = json.loads(value)
    except (ValueError, RecursionError):
        return value
    return ", ".join(f"{key}: {one}" for key, one in found.items()) if isinstance(found, dict) else value


SETTINGS: dict[str, Setting] = {one.name: one for one in (
    Setting(
        "own_release", N_("Release by whoever did the final check"), "0",
        N_("A second person reads a jaw before it leaves. In a very small lab there may be only one."),
        N_("Asked when a jaw is released: without this, whoever answered a check of its last stage is refused."),
        choices=(("0", N_("not allowed")), ("1", N_("allowed"))),
    ),
    Setting(
        "numbers", N_("Tooth numbers on screen and paper"), "fdi",
        N_("How teeth are written. Stored are always the two digits of ISO 3950."),
        N_("Read by every page and record that names a tooth."),
        choices=(("fdi", N_("two digits (ISO 3950)")), ("universal", N_("1 to 32 (universal)"))),
    ),
    Setting(
        "alarm_all", N_("An unanswered alarm rings for everybody after"), "5",
        N_("An alarm rings first where the jaw is open. If nobody answers, it rings on every tablet."),
        N_("Read by the first page and the bench pages of all tablets."),
        least=0, most=60, unit="min",
    ),
    Setting(
        "idle_lock", N_("A bench page forgets who is signed in after"), "10",
        N_("Without a tap or a key for so long, the next tap asks who is working. 0 min: never. "
           "Never while resin is wet."),
        N_("Read by the bench page when it is loaded."),
        least=0, most=240, unit="min",
    ),
    Setting(
        "seating_axis", N_("Axis of the design files"), "z",
        N_("Along which axis of the files the arch lifts off the base. Which way is found from the parts. Where the "
           "design program has none of the three, let it be found; depths by side are then less sure."),
        N_("Read when the seating check of a jaw begins."),
        choices=(("z", N_("z of the file")), ("x", N_("x of the file")), ("y", N_("y of the file")),
                 ("found", N_("to be found"))),
    ),
    Setting(
        "drops_per_ml", N_("Drops in 1 ml of the bonding resin"), "0",
        N_("Weigh or count them for your dispenser and resin. 0: not said, and the figure is told in ml alone."),
        N_("Read where the seating check tells how much resin a jaw takes."),
        least=0, most=100, unit=N_("drops"),
    ),
    Setting(
        "csv_map", N_("Columns of the last list of orders"), "",
        N_("Which column of a list of orders means what, as it was said when one was last taken in."),
        N_("Read when the next list of orders is taken in."),
        longest=4000,
    ),
)}  # fmt: skip
