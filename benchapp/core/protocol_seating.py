"""The lab's limits for the seating check, as a protocol file carries them, each with its source."""

from decimal import Decimal
from typing import Annotated, Any, Final, Literal

from pydantic import BeforeValidator, Field, StringConstraints, model_validator

from benchapp.core.faults import Written
from benchapp.core.words import _

Id = Annotated[str, StringConstraints(pattern=r"^[a-z][a-z0-9]*(-[a-z0-9]+)*$", max_length=40)]
MOST: Final = 1_000_000
Shows = Literal["answers", "cut", "resin", "fill"]


def exact(number: Any) -> Decimal:
    """Return a number of a file as it stands there; ValueError for what cannot be read off to three decimals."""
    if isinstance(number, bool) or not isinstance(number, int | Decimal):
        raise ValueError(_("not a number. Write a number without quotation marks"))
    found = Decimal(number)
    if not found.is_finite() or not -MOST <= found <= MOST or found.as_tuple().exponent < -3:  # type: ignore[operator]
        raise ValueError(_("not a number that can be read off. Use at most three decimals"))
    return found


Length = Annotated[Decimal, BeforeValidator(exact), Field(ge=0, le=100)]


class Bounds(Written):
    """What is usual for one number of the seating check, and beyond what it becomes a finding."""

    usual: Length | None = Field(default=None, description="what is usual, shown beside the number; no limit")
    least: Length | None = Field(default=None, description="less is a finding; left out: the lab has set no limit")
    most: Length | None = Field(default=None, description="more is a finding; left out: the lab has set no limit")
    source: Id = Field(description="where the numbers come from")

    @model_validator(mode="after")
    def _in_order(self) -> "Bounds":
        said = [one for one in (self.least, self.usual, self.most) if one is not None]
        if not said:
            raise ValueError(_("no number. Give `usual`, `least` or `most`"))
        if said != sorted(said):
            raise ValueError(_("`least`, `usual` and `most` are not in order. Put the smallest first"))
        return self


class Cut(Written):
    """How connectors are cut back."""

    leave: Length = Field(description="section of a connector that is left standing, mm2; the arch stays in one piece")
    kerf: Length = Field(description="width of the cut of the disc, mm")
    source: Id = Field(description="where the numbers come from")

    @model_validator(mode="after")
    def _above_0(self) -> "Cut":
        if self.leave <= 0 or self.kerf <= 0:
            raise ValueError(_("a cut has a width, and leaves something. Use numbers above 0"))
        return self


class SeatingLimits(Written):
    """What the lab wants of base and arch, for the seating check."""

    depth: Bounds | None = Field(default=None, description="how deep a tooth sits, median of its wall depth, mm")
    connector: Bounds | None = Field(default=None, description="section of a connector before it is cut, mm2")
    gap: Bounds | None = Field(
        default=None, description="median gap of a tooth, mm; outside it its margins ask for a tap of their own")
    clearance: Bounds | None = Field(default=None, description="least distance between base and arch, mm")
    cut: Cut | None = Field(default=None, description="how connectors are cut back")

    def named(self) -> list[tuple[str, Bounds | Cut]]:
        """Return what is given, by its key."""
        return [(name, one) for name in type(self).model_fields if (one := getattr(self, name)) is not None]
