"""The lab's network at the desk: how tablets are set up, and how long this PC can be trusted."""

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from cryptography import x509
from flask import Blueprint

from benchapp.actions.lab import lab_of
from benchapp.core.words import N_
from benchapp.network.addresses import LOOPBACK, own_addresses
from benchapp.network.certificates import RENEW_DAYS, days_left, fingerprint
from benchapp.network.folder import read_authority, read_leaf
from benchapp.network.place import EVERY, Network, NetworkFault
from benchapp.web.app import the_bench
from benchapp.web.desk import page, seated
from benchapp.web.lan import network
from benchapp.web.network_door import symbol

views = Blueprint("network", __name__, url_prefix="/desk")

ENDS_SOON = 397  # days: an authority that ends earlier gives no certificate of full length any more


@dataclass(frozen=True)
class Validity:
    """How long a certificate holds: what it is, from and to (days in the lab's zone), days left, and if few."""

    what: str
    since: str
    until: str
    days: int
    few: bool


@views.get("/network")
@seated("supervisor")
def overview() -> str:
    """Show under which name tablets reach this PC, how they are set up, and how long the certificates hold."""
    served = network()
    if served is None:
        return page("network/alone.html", start="benchapp serve --lan --data DIR")
    data = the_bench().store.path.parent
    return page(
        "network/network.html", network=served, groups=fingerprint(read_authority(data)), doors=_doors(served),
        validity=_validity(data), door_by_name=f"http://{served.name}:{served.setup_port}/",
        renew_days=RENEW_DAYS,
    )


def _doors(served: Network) -> list[tuple[str, str]]:
    """Return the door's addresses with their symbols: by address, since a name may not be known to a tablet yet."""
    at = own_addresses() if served.bind == EVERY else [served.bind]
    return [(door, symbol(door)) for one in at or [LOOPBACK] for door in [f"http://{one}:{served.setup_port}/"]]


def _validity(data: Path) -> list[Validity]:
    now, zone = the_bench().clock(), ZoneInfo(lab_of(the_bench()).zone)
    found = [_held(N_("This lab's authority, on every tablet"), read_authority(data), now, zone, ENDS_SOON)]
    try:
        leaf = read_leaf(data)
    except NetworkFault:  # a new one is made within a minute
        return found
    return [*found, _held(N_("This PC's certificate, renewed by itself"), leaf, now, zone, RENEW_DAYS)]


def _held(what: str, certificate: x509.Certificate, now: int, zone: ZoneInfo, few: int) -> Validity:
    left = days_left(certificate, now)
    since, until = certificate.not_valid_before_utc, certificate.not_valid_after_utc
    return Validity(what, _day(since, zone), _day(until, zone), left, left < few)


def _day(moment: datetime, zone: ZoneInfo) -> str:
    return moment.astimezone(zone).date().isoformat()
