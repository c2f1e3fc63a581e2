"""Settings that a rule depends on, and who the laboratory is: read by anyone, changed by a supervisor."""

from dataclasses import dataclass
from functools import lru_cache
from typing import Any
from zoneinfo import available_timezones

from benchapp.actions.bench import Bench, Refused
from benchapp.actions.desk import Seat, store
from benchapp.actions.lab import lab_of
from benchapp.core import events
from benchapp.core.lines import fault_of, tidy
from benchapp.core.settings import SETTINGS, Setting
from benchapp.core.words import _
from benchapp.store.journal import Writer

NO_PLACES = frozenset({"Factory", "localtime", "posixrules"})  # in some zone databases, and no place on earth


class Amiss(Refused):
    """What was typed into a form cannot be taken; `faults` are the sentences, all at once."""

    status = 422

    def __init__(self, faults: list[str]) -> None:
        self.faults = faults
        super().__init__(" ".join(faults))


@dataclass(frozen=True)
class Standing:
    """A setting as it stands: its value, since when (UTC ms) and by whom (a person's id); 0 and "" as delivered."""

    setting: Setting
    value: str
    since: int = 0
    by: str = ""


def settings(bench: Bench) -> list[Standing]:
    """Return every setting as it stands now."""
    found = {name: Standing(one, one.default) for name, one in SETTINGS.items()}
    for entry in bench.store.tagged("kind", "setting"):
        body = events.read_body(entry.body)
        name, value = body["event"]["data"]["name"], body["event"]["data"]["value"]
        # A value that this version does not allow counts as the default: no rule may stand on it.
        if name in SETTINGS and not SETTINGS[name].fault(value):
            found[name] = Standing(SETTINGS[name], value, body["server"]["when"], body["event"]["by"]["person"])
    return list(found.values())


def setting(bench: Bench, name: str) -> str:
    """Return the value of a setting; KeyError for a name that is not in `core.settings`."""
    return {one.setting.name: one.value for one in settings(bench)}[name]


def change(bench: Bench, seat: Seat, name: str, value: str) -> bool:
    """Set a setting and return whether that changed anything; Amiss for a name or a value that is not known."""
    seat.must("supervisor")
    if name not in SETTINGS:
        raise Amiss([_("There is no setting {name}. Load the page again.", name=repr(name[:40]))])
    if fault := SETTINGS[name].fault(value):
        raise Amiss([fault])
    with bench.store.writing() as writer:
        if setting(bench, name) == value:
            return False
        store(bench, writer, seat, "setting", data={"name": name, "value": value})
    return True


@lru_cache(maxsize=1)
def zones() -> tuple[str, ...]:
    """Return the IANA time zones that this machine knows, sorted."""
    return tuple(sorted(available_timezones() - NO_PLACES))


def lab_faults(name: str, address: str, zone: str) -> list[str]:
    """Return what is wrong with a laboratory's name, address and zone, in sentences."""
    found = [fault_of(_("The laboratory's name"), name), fault_of(_("The laboratory's address"), address)]
    if zone not in zones():
        found.append(_("Choose the laboratory's time zone from the list."))
    return [fault for fault in found if fault]


def change_lab(bench: Bench, seat: Seat, name: str, address: str, zone: str) -> bool:
    """Correct who the laboratory is, and return whether that changed anything; Amiss with every fault at once."""
    seat.must("supervisor")
    name, address = tidy(name), tidy(address)
    if faults := lab_faults(name, address, zone):
        raise Amiss(faults)
    with bench.store.writing() as writer:
        lab = lab_of(bench)
        if (lab.name, lab.address, lab.zone) == (name, address, zone):
            return False
        store(bench, writer, seat, "lab", data=lab_data(bench, writer, name, address, zone))
    return True


def lab_data(bench: Bench, writer: Writer, name: str, address: str, zone: str) -> dict[str, Any]:
    """Return the data of a `lab` event; the words lie apart."""
    return {"texts": {"name": bench.text(writer, name), "address": bench.text(writer, address)}, "zone": zone}
