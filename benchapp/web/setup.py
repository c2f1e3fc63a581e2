"""The set-up page of an empty data folder, for the PC itself only."""

from typing import Any

from flask import Blueprint, current_app, redirect, render_template, request
from werkzeug.wrappers import Response as AnyResponse

from benchapp.actions.bench import Refused
from benchapp.actions.lab import lab_of, no_lab
from benchapp.actions.settings import Amiss, zones
from benchapp.actions.setup import Beginning, must_not_be_set_up, not_set_up, set_up
from benchapp.core.words import _
from benchapp.web.app import the_bench
from benchapp.web.lan import from_the_pc
from benchapp.web.tablets import same_site

views = Blueprint("setup", __name__)

OPEN = frozenset({"setup", "local"})  # rooms that may be used before anybody works here
KEYS = ("lab", "address", "zone", "name")


class NotOnThePC(Refused):
    """The set-up page was asked for from another machine, or under a name that is not this PC's."""

    status = 403


class NotYet(Refused):
    """Nobody works here yet."""


def waits_for_set_up() -> bool:
    """Tell whether nobody was ever taken on here; asked of the journal until somebody was."""
    if "set up" not in current_app.extensions and not not_set_up(the_bench()):
        current_app.extensions["set up"] = True
    return "set up" not in current_app.extensions


@views.before_app_request
def first_things_first() -> AnyResponse | None:
    """Lead every page to the set-up page until somebody works here."""
    if request.blueprint in OPEN or request.endpoint == "static" or not waits_for_set_up():
        return None
    if request.method != "GET":
        raise NotYet(_("This laboratory is not set up yet. Open /setup on the PC first."))
    return redirect("/setup")


def only_the_pc() -> None:
    """Raise NotOnThePC unless the request comes from this machine, by its own name."""
    if not from_the_pc():
        raise NotOnThePC(
            _("A laboratory is set up on its PC itself, at the address that `benchapp serve` prints there.")
        )


@views.get("/setup")
def form() -> str:
    """Ask who the laboratory is and who its first supervisor, as long as nobody works here."""
    only_the_pc()
    must_not_be_set_up(the_bench())
    lab = lab_of(the_bench())
    known = {} if lab == no_lab() else {"lab": lab.name, "address": lab.address, "zone": lab.zone}
    return _page(known, [])


def _page(typed: dict[str, str], faults: list[str]) -> str:
    return render_template("setup/setup.html", typed=typed, faults=faults, zones=zones())


@views.post("/setup")
def begin() -> Any:
    """Store the laboratory and its first supervisor, and lead to the desk's door."""
    only_the_pc()
    same_site()
    typed = {key: request.form.get(key, "") for key in KEYS}
    try:
        set_up(the_bench(), Beginning(**typed, pin=request.form.get("pin", ""), again=request.form.get("again", "")))
    except Amiss as error:
        return _page(typed, error.faults), error.status
    return redirect("/desk/signin", 303)
