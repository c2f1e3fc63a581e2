"""People of the lab: roles, PINs, badges, leavers; settings that a rule depends on."""

import base64
from dataclasses import dataclass
from typing import Any

from flask import Blueprint, Response, current_app, g, make_response, redirect, request
from werkzeug.datastructures import MultiDict
from werkzeug.wrappers import Response as AnyResponse

from benchapp.actions import badges, staff
from benchapp.actions.bench import Refused
from benchapp.actions.lab import lab_of, people, today, zone_of
from benchapp.actions.settings import Amiss, change, change_lab, settings, zones
from benchapp.core.codes import CodeError, spaced
from benchapp.core.protocol import ROLE_WORDS
from benchapp.core.record_words import minute
from benchapp.core.words import N_, _
from benchapp.paper import label as paper
from benchapp.web.app import the_bench
from benchapp.web.desk import done, end_sittings, page, seated

views = Blueprint("staff", __name__, url_prefix="/desk")

SUPERVISOR = ("supervisor",)
READERS = ("supervisor", "technique-lead")
LIST = "/desk/people"
CHANGED, AS_BEFORE = N_("Changed."), N_("It stood so already; nothing was changed.")
MOST_UNREAD = 100  # PINs and badges that nobody came to read; each waits in memory only


@dataclass(frozen=True)
class Once:
    """A PIN or a badge that is shown on one page, once, and kept nowhere."""

    kind: str
    secret: str


def _once() -> dict[tuple[str, str], Once]:
    found: dict[tuple[str, str], Once] = current_app.extensions.setdefault("shown once", {})
    return found


def _show_once(person_id: str, kind: str, secret: str) -> AnyResponse:
    """Lead to the page that shows a secret once; loading it again draws nothing anew."""
    waiting = _once()
    while len(waiting) >= MOST_UNREAD:
        waiting.pop(next(iter(waiting)), None)
    waiting[g.seat.signin, person_id] = Once(kind, secret)
    return redirect(f"{LIST}/{person_id}/once", 303)


def _moment(ms: int) -> str:
    """Return a moment (UTC ms) as day and time in the lab's zone, "" for none."""
    return minute(ms, zone_of(the_bench()))


@views.get("/people")
@seated(*SUPERVISOR)
def everybody() -> str:
    """List everybody: roles, since when, last sign-in, locked until, badge or not, left or not."""
    bench = the_bench()
    return page(
        "staff/people.html", staff=staff.staff(bench), moment=_moment, zone=lab_of(bench).zone, role_words=ROLE_WORDS
    )


@views.get("/people/new")
@seated(*SUPERVISOR)
def new() -> str:
    """Ask who is taken on."""
    return _new_form({"roles": ["technician"]}, [])


def _new_form(typed: dict[str, Any], faults: list[str]) -> str:
    return page(
        "staff/new.html", typed=typed, faults=faults, role_words=ROLE_WORDS, day=today(the_bench()).isoformat()
    )


@views.post("/people/new")
@seated(*SUPERVISOR)
def take_on() -> Any:
    """Take somebody on, and lead to the page that shows their PIN once."""
    form = request.form
    try:
        person_id, pin = staff.add_person(
            the_bench(), g.seat, form.get("name", ""), form.getlist("roles"), form.get("pin", ""),
            form.get("until", ""),
        )
    except Refused as error:
        return _new_form(_typed(form), _faults(error)), error.status
    return _show_once(person_id, "pin", pin)


def _typed(form: MultiDict[str, str]) -> dict[str, Any]:
    """Return what was typed, to be shown again; a PIN is never sent back."""
    return {"name": form.get("name", ""), "roles": form.getlist("roles"), "until": form.get("until", "")}


def _faults(error: Refused) -> list[str]:
    return error.faults if isinstance(error, Amiss) else [str(error)]


@views.get("/people/<person_id>")
@seated(*SUPERVISOR)
def one(person_id: str) -> str:
    """Show one person, with all that can be changed."""
    return _person_form(person_id, {}, [])


def _person_form(person_id: str, typed: dict[str, Any], faults: list[str]) -> str:
    known = staff.member(the_bench(), person_id)
    now = {"name": known.person.name, "roles": known.person.roles, "until": known.person.until}
    return page(
        "staff/person.html", member=known, typed=typed or now, faults=faults, role_words=ROLE_WORDS, moment=_moment,
        day=today(the_bench()).isoformat(), zone=lab_of(the_bench()).zone,
    )


@views.post("/people/<person_id>")
@seated(*SUPERVISOR)
def alter(person_id: str) -> Any:
    """Change name, roles and last day."""
    form = request.form
    try:
        changed = staff.change_person(
            the_bench(), g.seat, person_id, form.get("name", ""), form.getlist("roles"), form.get("until", "")
        )
    except Refused as error:
        return _person_form(person_id, _typed(form), _faults(error)), error.status
    said = _(CHANGED) if changed else _("Nothing was different, so nothing was changed.")
    return done(said, f"{LIST}/{person_id}")


@views.post("/people/<person_id>/pin")
@seated(*SUPERVISOR)
def pin(person_id: str) -> Any:
    """Draw a new PIN, and lead to the page that shows it once."""
    try:
        drawn = staff.new_pin(the_bench(), g.seat, person_id)
    except Refused as error:
        return _person_form(person_id, {}, _faults(error)), error.status
    end_sittings(person_id)  # whoever knew the old PIN may sit there
    return _show_once(person_id, "pin", drawn)


@views.post("/people/<person_id>/badge")
@seated(*SUPERVISOR)
def badge(person_id: str) -> Any:
    """Draw a badge, and lead to the page that shows it once; one given before is struck off."""
    try:
        code = badges.give_badge(the_bench(), g.seat, person_id)
    except Refused as error:
        return _person_form(person_id, {}, _faults(error)), error.status
    end_sittings(person_id, "badge")
    return _show_once(person_id, "badge", code)


@views.post("/people/<person_id>/badge/off")
@seated(*SUPERVISOR)
def strike(person_id: str) -> Any:
    """Strike somebody's badge off."""
    answer = _plainly(badges.strike_badge, person_id, _("The badge is struck off."))
    if not staff.member(the_bench(), person_id).badge:
        end_sittings(person_id, "badge")  # whoever found it may sit there
    return answer


@views.post("/people/<person_id>/left")
@seated(*SUPERVISOR)
def left(person_id: str) -> Any:
    """Say that somebody left."""
    answer = _plainly(staff.let_go, person_id, _("They can no longer sign in. Records go on naming them."))
    if staff.member(the_bench(), person_id).person.left:
        end_sittings(person_id)  # if they come back, they sign in anew
    return answer


@views.post("/people/<person_id>/back")
@seated(*SUPERVISOR)
def back(person_id: str) -> Any:
    """Say that somebody who left works here again."""
    return _plainly(staff.come_back, person_id, _("They can sign in again, with the PIN and badge they had."))


def _plainly(verb: Any, person_id: str, words: str) -> Any:
    try:
        verb(the_bench(), g.seat, person_id)
    except Refused as error:
        return _person_form(person_id, {}, _faults(error)), error.status
    return done(words, f"{LIST}/{person_id}")


@views.get("/people/<person_id>/once")
@seated(*SUPERVISOR)
def once(person_id: str) -> Response:
    """Show a PIN or a badge that was just drawn, this one time."""
    known = staff.member(the_bench(), person_id)
    found = _once().pop((g.seat.signin, person_id), None)
    picture = ""
    if found and found.kind == "badge":
        drawn = paper.png(_label(found.secret, known.person.name))
        picture = f"data:image/png;base64,{base64.b64encode(drawn).decode()}"
    shown = page("staff/once.html", member=known, once=found, picture=picture, spaced=spaced)
    answer = make_response(shown)
    answer.headers["Cache-Control"] = "no-store"
    return answer


@views.post("/people/<person_id>/label")
@seated(*SUPERVISOR)
def label(person_id: str) -> Response:
    """Send the label of a badge as PDF, for whom the code in the form belongs to."""
    bench = the_bench()
    code = request.form.get("badge", "")
    try:
        holder = badges.holder_of(bench, code)
    except CodeError:
        holder = None
    if holder is None or holder.id != person_id:
        raise Refused(_("That is not the badge of this person any more. Draw a new one."))
    answer = Response(paper.pdf([_label(code, holder.name)]), mimetype="application/pdf")
    answer.headers["Cache-Control"] = "no-store"
    answer.headers["Content-Disposition"] = 'attachment; filename="badge.pdf"'
    return answer


def _label(code: str, name: str) -> paper.Label:
    return paper.Label(code, name, (_("badge"), lab_of(the_bench()).name))


@views.get("/settings")
@seated(*READERS)
def all_settings() -> str:
    """Show every setting with its meaning, since when it stands and by whom, and who the laboratory is."""
    return _settings_page({}, {}, [])


def _settings_page(typed: dict[str, str], lab_typed: dict[str, str], faults: list[str]) -> str:
    bench = the_bench()
    lab = lab_of(bench)
    now = {"name": lab.name, "address": lab.address, "zone": lab.zone}
    return page(
        "staff/settings.html", settings=settings(bench), typed=typed, lab=lab_typed or now, faults=faults,
        names={p.id: p.name for p in people(bench)}, moment=_moment, zone=lab.zone, zones=zones(),
        may="supervisor" in g.seat.person.roles,
    )


@views.post("/settings")
@seated(*SUPERVISOR)
def set_one() -> Any:
    """Change one setting: name and value."""
    name, value = request.form.get("name", ""), request.form.get("value", "")
    try:
        changed = change(the_bench(), g.seat, name, value)
    except Refused as error:
        return _settings_page({name: value}, {}, _faults(error)), error.status
    return done(_(CHANGED if changed else AS_BEFORE), "/desk/settings")


@views.post("/settings/lab")
@seated(*SUPERVISOR)
def set_lab() -> Any:
    """Correct the laboratory's name, address and time zone."""
    typed = {key: request.form.get(key, "") for key in ("name", "address", "zone")}
    try:
        changed = change_lab(the_bench(), g.seat, **typed)
    except Refused as error:
        return _settings_page({}, typed, _faults(error)), error.status
    return done(_(CHANGED if changed else AS_BEFORE), "/desk/settings")
