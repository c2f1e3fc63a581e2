"""Enrolling tablets: the page that a stranger's device sees, and at the desk the list of tablets and their codes."""

import base64
import io
from typing import Any

import qrcode
from flask import Blueprint, Response, g, make_response, redirect, render_template, request
from qrcode.image.pil import PilImage

from benchapp.actions import tablets as actions
from benchapp.actions.bench import Refused
from benchapp.actions.guesses import ENROL, count_guess, must_not_guess
from benchapp.actions.lab import lab_of, zone_of
from benchapp.actions.settings import Amiss
from benchapp.core import events
from benchapp.core.codes import CodeError, spaced
from benchapp.core.record_words import minute
from benchapp.core.words import _, for_scripts
from benchapp.web.app import page_version, the_bench
from benchapp.web.desk import done, page, seated
from benchapp.web.gate import caller, standing_of_request
from benchapp.web.lan import from_the_pc, network, origin
from benchapp.web.tablets import same_site, tablet_of_request, token_hash, with_token
from benchapp.web.words import HOME_WORDS

views = Blueprint("enrol", __name__)

SUPERVISOR = ("supervisor",)
LIST, CODES = "/desk/tablets", "/desk/tablets/codes"


class OnThePC(Refused):
    """The PC itself needs no code."""


@views.get("/enrol", endpoint="page")
def enrol_page(error: str = "") -> str:
    """Ask for the code that a supervisor shows, and for the tablet's name; `?code=` stands in the field already."""
    known = standing_of_request()
    name = actions.names_of_tablets(the_bench()).get(tablet_of_request() or "", "") if known else ""
    stands = "pc" if from_the_pc() else "stranger" if known is None else "struck" if known.struck else "known"
    return render_template(
        "enrol/enrol.html", stands=stands, name=name, error=error, words=for_scripts(HOME_WORDS),
        code=request.values.get("code", "")[:40], typed=request.form.get("name", "")[:80],
    )


@views.post("/enrol")
def enter() -> Any:
    """Enrol the tablet that asks: form fields code, name; wrong codes are counted for its address."""
    same_site()
    if from_the_pc():
        raise OnThePC(_("This is the PC itself: it needs no code. Enter it on the tablet."))
    bench, who = the_bench(), caller()
    token = bench.chance.random_bytes(32).hex()
    try:
        must_not_guess(bench, who, ENROL)
        actions.enrol(
            bench, request.form.get("code", "")[:80], request.form.get("name", ""), token_hash(token), who.tablet
        )
    except actions.BadCode as error:
        count_guess(bench, who, ENROL)
        return enrol_page(str(error)), error.status
    except Refused as error:
        return enrol_page(str(error)), error.status
    except CodeError as error:
        return enrol_page(f"{str(error)[:1].upper()}{str(error)[1:]}."), 422
    return with_token(make_response(redirect("/", 303)), token)


@views.get(LIST)
@seated(*SUPERVISOR)
def every() -> str:
    """List tablets, displays and the browsers on the PC: since when, last heard, what waits on them, their pages."""
    return _list([])


def _list(faults: list[str], at: str = "") -> str:
    bench = the_bench()
    found = actions.tablets(bench)
    restored = bench.store.last_tagged("kind", "restored")
    return page(
        "enrol/list.html", tablets=[one for one in found if one.kind != actions.PC],
        browsers=[one for one in found if one.kind == actions.PC], kinds=actions.KINDS, faults=faults, wrong=at,
        typed=request.form, history=actions.history(bench), moment=_moment, zone=lab_of(bench).zone,
        version=page_version(),
        restored=_moment(events.read_body(restored.body)["server"]["when"]) if restored else "",
    )


def _moment(ms: int) -> str:
    return minute(ms, zone_of(the_bench()))


@views.post(f"{LIST}/code")
@seated(*SUPERVISOR)
def code() -> Any:
    """Show a new code: form fields kind, name, and thing for a tablet that is enrolled anew."""
    form = request.form
    try:
        actions.show_code(
            the_bench(), g.seat, form.get("kind", "tablet"), form.get("name", ""), form.get("thing", "")
        )
    except Refused as error:
        return _list(_faults(error)), error.status
    return redirect(CODES, 303)


def _faults(error: Refused) -> list[str]:
    return error.faults if isinstance(error, Amiss) else [str(error)]


@views.get(CODES)
@seated(*SUPERVISOR)
def codes() -> Response:
    """Show the codes that are open, each as words and as a symbol to scan."""
    return _unkept(page("enrol/codes.html", **_codes()))


@views.get(f"{CODES}/list")
@seated(*SUPERVISOR, prolongs=False)
def codes_list() -> Response:
    """Send the open codes alone, for the page that asks again until they are used."""
    return _unkept(render_template("enrol/_codes.html", **_codes()))


def _unkept(shown: str) -> Response:
    answer = make_response(shown)
    answer.headers["Cache-Control"] = "no-store"
    return answer


def _codes() -> dict[str, Any]:
    bench = the_bench()
    names = actions.names_of_tablets(bench)
    found = actions.shown_codes(bench)
    return {
        "codes": found, "names": names, "spaced": spaced, "kinds": actions.KINDS, "moment": _moment,
        "address": _address(), "pictures": {one.code: _picture(one.code) for one in found if not one.tablet},
    }


def _address() -> str:
    """Return the address under which tablets reach the PC, "" where they cannot."""
    return "" if network() is None and from_the_pc() else origin()


def _picture(code: str) -> str:
    """Return a QR symbol that opens the enrolment page with the code in its field, as the address of a picture."""
    if not _address():
        return ""
    symbol = qrcode.QRCode(error_correction=qrcode.ERROR_CORRECT_M, border=4, box_size=6, image_factory=PilImage)
    symbol.add_data(f"{_address()}/enrol?code={code}")
    with io.BytesIO() as file:
        symbol.make_image().save(file)
        return f"data:image/png;base64,{base64.b64encode(file.getvalue()).decode()}"


@views.post(f"{LIST}/<thing>/name")
@seated(*SUPERVISOR)
def name(thing: str) -> Any:
    """Name a tablet, or a browser on the PC: form field name."""
    try:
        changed = actions.rename(the_bench(), g.seat, thing, request.form.get("name", ""))
    except Refused as error:
        return _list(_faults(error), thing), error.status
    return done(_("Named.") if changed else _("It had that name already; nothing was changed."), LIST)


@views.post(f"{LIST}/<thing>/off")
@seated(*SUPERVISOR)
def off(thing: str) -> Any:
    """Strike a tablet off: from this moment its token opens nothing."""
    try:
        struck = actions.strike(the_bench(), g.seat, thing)
    except Refused as error:
        return _list(_faults(error)), error.status
    return done(_("{name} is struck off: it opens nothing any more. What waits on it stays there.", name=struck), LIST)
