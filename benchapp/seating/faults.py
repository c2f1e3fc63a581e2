"""What may be said about files that cannot be used: one sentence for each fault, with its remedy."""

from collections.abc import Iterable

from benchapp.core.words import _


class Unusable(Exception):
    """The pair cannot be checked; `faults` are whole sentences, one for each fault."""

    def __init__(self, *faults: str) -> None:
        self.faults = list(faults)
        super().__init__("\n".join(faults))


def joined(found: Iterable["Unusable"]) -> "Unusable | None":
    """Return one Unusable with the sentences of all, or None when there is none."""
    faults = [fault for one in found for fault in one.faults]
    return Unusable(*faults) if faults else None


def torn() -> Unusable:
    """Return the fault of an arch whose surface shows no row of teeth, or no section between two of them."""
    return Unusable(
        _("The arch shows no row of teeth: its surface is torn, or lies in pieces. Export it from CAD again.")
    )
