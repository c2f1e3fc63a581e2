"""A new data folder gets its laboratory and its first supervisor; afterwards both are changed at the desk."""

from dataclasses import dataclass

from werkzeug.security import generate_password_hash

from benchapp.actions.bench import Bench, Refused
from benchapp.actions.desk import Seat, store
from benchapp.actions.lab import Person
from benchapp.actions.settings import Amiss, lab_data, lab_faults
from benchapp.actions.staff import PIN, enrol, person_faults
from benchapp.core.lines import tidy
from benchapp.core.words import _

FIRST_ROLES = ("technician", "supervisor")


class SetUp(Refused):
    """The laboratory is set up already."""


@dataclass(frozen=True)
class Beginning:
    """What the set-up page asks: the laboratory's name, address and zone, the first supervisor's name, a PIN twice."""

    lab: str
    address: str
    zone: str
    name: str
    pin: str
    again: str


def not_set_up(bench: Bench) -> bool:
    """Tell whether nobody was ever taken on here."""
    return bench.store.first_tagged("kind", "person") is None


def set_up(bench: Bench, begun: Beginning) -> Person:
    """Store the laboratory and its first supervisor; Amiss with every fault at once, SetUp for a second time."""
    must_not_be_set_up(bench)
    lab, address = tidy(begun.lab), tidy(begun.address)
    person = Person(bench.chance.new_id(), tidy(begun.name), FIRST_ROLES)
    faults = lab_faults(lab, address, begun.zone) + person_faults(bench, person)
    if not PIN.fullmatch(begun.pin):
        faults.append(_("A PIN has four to eight digits. Choose one and write it twice."))
    elif begun.pin != begun.again:
        faults.append(_("The two PINs differ. Write the same one twice."))
    if faults:
        raise Amiss(faults)
    hashed = generate_password_hash(begun.pin)
    with bench.store.writing() as writer:
        must_not_be_set_up(bench)  # two pages may be sent at the same moment
        seat = Seat(person)
        store(bench, writer, seat, "lab", data=lab_data(bench, writer, lab, address, begun.zone))
        enrol(bench, writer, seat, person, hashed)
    return person


def must_not_be_set_up(bench: Bench) -> None:
    """Raise SetUp when somebody was taken on before."""
    if not not_set_up(bench):
        raise SetUp(_("This laboratory is set up already. A supervisor changes people and settings at the desk."))
