"""The words of pair check, release, and what comes after it; ids are stored, so none of them ever changes."""

MEANING = "may-leave-1"
MEANINGS: dict[str, str] = {
    "may-leave-1": (
        "I have read this record and what was out of the ordinary about this jaw. By what was recorded, the jaw "
        "may leave the laboratory. This is no medical release: whether it suits the patient is for the "
        "prescriber to judge. It is neither the statement on a custom-made device nor a statement of conformity."
    ),
}

PAIR: dict[str, str] = {
    "right": "bite of the pair right",
    "not-mounted": "not mounted: the pair was not checked on an articulator",
    "not-right": "not right: both jaws are on hold",
}
PAIR_SETTLED = frozenset({"right", "not-mounted"})

TICKS: dict[str, str] = {
    "mark": "Early, late, or outside a limit",
    "stated": "Times stated afterwards",
    "taken back": "Taken back",
    "hold": "Put on hold",
    "dark": "Light off in mid-cure",
    "sent back": "Sent back to an earlier step",
    "again": "Tried more than once",
    "refused": "Not taken when it came",
    "tablet": "Sent by another tablet than the one it names",
    "server": "Found by the laboratory's PC",
    "mended": "Mended more than twice at one place",
    "repair": "Repairs, and places that went back",
    "remade": "Parts made again",
    "parts": "Parts of different design revisions",
    "allergy": "Allergy",
    "pair": "Pair check",
    "due": "Later than ordered",
    "other": "Other matters",
}

GAPS: dict[str, str] = {
    "scrapped": "the jaw is scrapped",
    "not-through": "not all steps are confirmed",
    "held": "on hold",
    "pair": "the pair check is missing",
    "pair-not-right": "the pair check was not right",
    "open-marks": "refused entries that nobody has decided on",
    "no-reason": "deviations without a reason",
    "not-closed": "deviations that no supervisor has closed",
    "allergy": "an allergy without a decision",
    "allergy-against": "the decision on the allergy was against it",
    "cancelled": "the case is cancelled",
    "strange": "something was picked that is not known for this jaw",
    "claimed": "persons who were only claimed, without a PIN",
    "silent": "a tablet that may still hold entries",
}

BACK: dict[str, str] = {
    "tissue": "does not fit on the tissue",
    "bite": "bite not right",
    "came-off": "a tooth or the arch came off",
    "broke": "base or tooth broke",
    "void": "hole, pit or stain",
    "looks": "shade or looks",
    "ordered": "ordered otherwise",
    "repair": "for repair or adding to it",
    "other": "other, see the words",
}
