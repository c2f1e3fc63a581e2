"""Labels of a whole case: its tray, its jaws with their parts, and the bag that each jaw leaves in."""

from dataclasses import dataclass
from typing import Any

from benchapp.actions.bench import Bench
from benchapp.actions.jaws import case_as_it_is, texts_of
from benchapp.actions.lab import lab_of
from benchapp.core.teeth import JAW_WORDS
from benchapp.core.words import N_, _
from benchapp.paper.jaw_labels import labels_of
from benchapp.paper.label import Label

# Regulation (EU) 2017/745, Annex XIII: a custom-made device is for the sole use of one patient, who is
# named by name, acronym or code (read by an outside reviewer, not by us).
# On two lines of their own, since a line too long for the label would be shortened in its middle.
SOLE_USE = N_("sole use by\nthis patient")

NAMED = {
    "upper": {"base": N_("upper base"), "arch": N_("upper arch"), "bag": N_("upper bag")},
    "lower": {"base": N_("lower base"), "arch": N_("lower arch"), "bag": N_("lower bag")},
}


@dataclass(frozen=True)
class CaseLabel:
    """A label of a case: `key` tells it from the others (`tray-…`, `jaw-…`, `part-…`, `bag-…`), `words` name it."""

    key: str
    words: str
    label: Label


def case_labels(bench: Bench, code: str) -> list[CaseLabel]:
    """Return every label of a case by its code: the tray's, then of each jaw its own, its parts', its bag's.

    A jaw that was made again as a whole has none: the one in its place has. Unknown where there is no such case.
    """
    case = case_as_it_is(bench.store, code)
    replaced = {jaw.get("follows", "") for jaw in case["jaws"]}
    jaws = [jaw for jaw in case["jaws"] if jaw["code"] not in replaced]
    texts = texts_of(bench, case["texts"].values())
    words = {name: texts.get(text, "") for name, text in case["texts"].items()}
    found = [CaseLabel(f"tray-{code}", _("tray"), tray_label(case, words, [jaw["jaw"] for jaw in jaws]))]
    for jaw in jaws:
        own, *parts = labels_of(bench, jaw["code"])
        found.append(CaseLabel(f"jaw-{jaw['code']}", _(JAW_WORDS[jaw["jaw"]]), own))
        for part, label in zip(jaw["parts"], parts, strict=True):
            found.append(CaseLabel(f"part-{part['code']}", _(NAMED[jaw["jaw"]][part["part"]]), label))
        bag = bag_label(case, words, jaw, lab_of(bench).name)
        found.append(CaseLabel(f"bag-{jaw['code']}", _(NAMED[jaw["jaw"]]["bag"]), bag))
    return found


def tray_label(case: dict[str, Any], words: dict[str, str], jaws: list[str]) -> Label:
    """Return the label of the pan or tray that a case lies in; its code is the case's."""
    pan = words.get("pan") or str(case.get("pan") or "")
    title = _("tray, pan {number}", number=pan) if pan else _("tray")
    which = " + ".join(_(jaw) for jaw in dict.fromkeys(jaws))
    training = (_("TRAINING"),) if case["training"] else ()
    return Label(case["code"], title, (words["patient"], _("due {day}", day=case["due"]), which, *training))


def bag_label(case: dict[str, Any], words: dict[str, str], jaw: dict[str, Any], lab: str) -> Label:
    """Return the label of the bag that a jaw leaves in; its code is the jaw's, so that it is scanned when packed."""
    maker = f"{_('TRAINING')} · {lab}" if case["training"] else lab
    first, _break, second = _(SOLE_USE).partition("\n")  # what a translation breaks further, is joined again
    about = (words["patient"], first, second, _("packed moist"), maker)
    return Label(jaw["code"], _(JAW_WORDS[jaw["jaw"]]), about)
