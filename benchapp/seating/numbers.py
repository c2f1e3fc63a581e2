"""Which tooth is which: ISO 3950 numbers for the pieces of a row, or the reason why they cannot be told."""

from dataclasses import dataclass

from benchapp.core.teeth import ROW, Jaw, in_row
from benchapp.core.words import _
from benchapp.seating.measure import Measured

USUAL = {14: slice(1, 15), 16: slice(0, 16)}  # rows of so many teeth are these, from one side to the other


@dataclass(frozen=True)
class Numbered:
    """Numbers from the patient's right to the left, None where they cannot be told, and why."""

    teeth: tuple[int | None, ...]
    warnings: tuple[str, ...]


def numbered(measured: Measured, jaw: Jaw, teeth: tuple[int, ...] | None) -> Numbered:
    """Return the numbers of a row's pieces; `teeth` is the case's list, where there is one."""
    count = len(measured.sockets)
    none: tuple[int | None, ...] = (None,) * count
    if not measured.curve.bowed:
        return Numbered(
            none,
            (
                _(
                    "The row is too straight to show its front: right and left, buccal and lingual cannot be told, "
                    "so no tooth is numbered."
                ),
            ),
        )
    if teeth is not None:
        row = in_row(jaw, teeth)
        if len(row) == count:
            return Numbered(row, ())
        return Numbered(
            none,
            (
                _(
                    "The arch has {count} teeth, the case lists {listed}: no tooth is numbered. Compare file and case.",
                    count=count,
                    listed=len(row),
                ),
            ),
        )
    if count not in USUAL:
        return Numbered(
            none,
            (
                _(
                    "The arch has {count} teeth. Which ones cannot be told without the list of teeth; give it.",
                    count=count,
                ),
            ),
        )
    said = _(
        "Numbers are told from the count of {count} teeth alone, as many on both sides; no list was given.", count=count
    )
    return Numbered(ROW[jaw][USUAL[count]], (said,))
