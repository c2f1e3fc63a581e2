"""The words of pair check, release, and what comes after it; ids are stored, so none of them ever changes.

People see all but the meanings in the language in use; a meaning is shown as it was signed.
"""

from benchapp.core.words import N_

MEANING = "may-leave-1"
MEANINGS: dict[str, str] = {
    "may-leave-1": (
        "I have read this record and what was out of the ordinary about this jaw. By what was recorded, the jaw "
        "may leave the laboratory. This is no medical release: whether it suits the patient is for the "
        "prescriber to judge. It is neither the statement on a custom-made device nor a statement of conformity."
    ),
}

PAIR: dict[str, str] = {
    "right": N_("bite of the pair right"),
    "not-mounted": N_("not mounted: the pair was not checked on an articulator"),
    "not-right": N_("not right: both jaws are on hold"),
}
PAIR_SETTLED = frozenset({"right", "not-mounted"})

TICKS: dict[str, str] = {
    "mark": N_("Early, late, or outside a limit"),
    "stated": N_("Times stated afterwards"),
    "taken back": N_("Taken back"),
    "hold": N_("Put on hold"),
    "dark": N_("Light off in mid-cure"),
    "carried over": N_("Carried over: lay open over a night, or changed hands within a stage"),
    "sent back": N_("Sent back to an earlier step"),
    "again": N_("Tried more than once"),
    "refused": N_("Not taken when it came"),
    "tablet": N_("Sent by another tablet than the one it names"),
    "server": N_("Found by the laboratory's PC"),
    "finding": N_("Findings of the seating check"),
    "mended": N_("Mended more than twice at one place"),
    "repair": N_("Repairs, and places that went back"),
    "remade": N_("Parts made again"),
    "parts": N_("Parts of different design revisions"),
    "allergy": N_("Allergy"),
    "pair": N_("Pair check"),
    "due": N_("Later than ordered"),
    "other": N_("Other matters"),
}

GAPS: dict[str, str] = {
    "scrapped": N_("the jaw is scrapped"),
    "not-through": N_("not all steps are confirmed"),
    "held": N_("on hold"),
    "pair": N_("the pair check is missing"),
    "pair-not-right": N_("the pair check was not right"),
    "open-marks": N_("refused entries that nobody has decided on"),
    "no-reason": N_("deviations without a reason"),
    "not-closed": N_("deviations that no supervisor has closed"),
    "allergy": N_("an allergy without a decision"),
    "allergy-against": N_("the decision on the allergy was against it"),
    "cancelled": N_("the case is cancelled"),
    "strange": N_("something was picked that is not known for this jaw"),
    "seating-open": N_("findings of the seating check that nobody has answered"),
    "claimed": N_("persons who were only claimed, without a PIN"),
    "silent": N_("a tablet that may still hold entries"),
}

BACK: dict[str, str] = {
    "tissue": N_("does not fit on the tissue"),
    "bite": N_("bite not right"),
    "came-off": N_("a tooth or the arch came off"),
    "broke": N_("base or tooth broke"),
    "void": N_("hole, pit or stain"),
    "looks": N_("shade or looks"),
    "ordered": N_("ordered otherwise"),
    "repair": N_("for repair or adding to it"),
    "other": N_("other, see the words"),
}
