"""The data that a statement on a custom-made device asks for, listed; the statement itself is the maker's."""

from pydantic import Field

from benchapp.core.record_changes import Detail
from benchapp.core.record_entries import Said
from benchapp.core.words import N_, _

ABOUT = N_(
    "These are data of this record that a maker's statement on a custom-made device asks for (in the European "
    "Union: Regulation (EU) 2017/745, Annex XIII). This list is not that statement. It says nothing on conformity: "
    "the maker states it, with the requirements that are not met in full and why, on a document of its own."
)


class Statement(Said):
    """Data for the statement on a custom-made device."""

    about: str = Field(description="what this list is, and what it is not")
    data: list[Detail] = Field(description="the data, each with what it is about")


def statement(
    maker: tuple[str, str], device: str, patient: str, prescriber: str, prescribed: list[Detail], made_of: list[str]
) -> Statement:
    """Return the data; `maker` is name and address, `device` its identification, `made_of` lots and parts in words."""
    name, address = maker
    found = [
        (_("Maker"), name),
        (_("Address of the maker and of all sites"), address or _("not entered")),
        (_("Device"), device),
        (_("For the exclusive use of one patient"), patient),
        (_("Prescribed by"), prescriber),
        *((detail.title, detail.words) for detail in prescribed),
        (_("Made of"), "; ".join(made_of) or _("nothing was picked yet")),
        (_("Conformity, and exceptions with their grounds"), _("not stated here: the maker states it")),
    ]
    return Statement(about=_(ABOUT), data=[Detail(title=title, words=words) for title, words in found])
