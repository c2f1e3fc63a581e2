"""Materials and devices of the lab: lists, their dates, blocking, labels, and which cases got a lot."""

from collections.abc import Callable
from datetime import date
from typing import Any

from flask import Blueprint, Response, g, request

from benchapp.actions import shelf as actions
from benchapp.actions.bench import Refused
from benchapp.actions.desk import NotYours
from benchapp.actions.lab import today, zone_of
from benchapp.actions.stock import things
from benchapp.core.codes import read_code
from benchapp.core.record_words import minute
from benchapp.core.stock import Thing, band_words, kind_words, standing
from benchapp.core.words import N_, _
from benchapp.paper import label as paper
from benchapp.web.app import the_bench
from benchapp.web.desk import EVERYBODY, done, page, seated
from benchapp.web.stock_forms import NOTHING, SHELVES, Shelf, read_day, read_form, typed

views = Blueprint("stock", __name__, url_prefix="/desk")

ON = "/<any(materials, devices):at>"
BOTH = ("technician", "supervisor")
ORDER = {"stop": 0, "soon": 1, "fit": 2, "gone": 3}
SPENT_SHOWN = 50
CHECKED = N_("Checked on")


@views.get(ON)
@seated(*EVERYBODY)
def shelf_list(at: str) -> str:
    """List what stands on a shelf, what needs somebody first; `?q=` searches, `?all=1` lists all that is spent."""
    shelf, day = SHELVES[at], today(the_bench())
    asked = " ".join(request.args.get("q", "").split())
    here = [thing for thing in things(the_bench()) if thing.of == shelf.of]
    found = [(thing, standing(thing, day)) for thing in here if _fits(thing, asked)]
    found.sort(key=lambda one: (ORDER[one[1][0][0]], one[0].kind, one[0].name, one[0].expiry))
    spent = [one for one in found if one[0].spent]
    shown = spent if request.args.get("all") else spent[-SPENT_SHOWN:]
    return page(
        "stock/list.html", shelf=shelf, rows=[one for one in found if not one[0].spent], spent=shown,
        more=len(spent) - len(shown), asked=asked, none=not here, may_add=_may_add(shelf), band=band_words,
        kind_words=kind_words,
    )


def _fits(thing: Thing, asked: str) -> bool:
    told = (thing.code, thing.name, thing.kind, kind_words(thing.kind), thing.lot, thing.tint, thing.shade)
    words = " ".join(told).casefold()
    code = asked.replace(" ", "").replace("-", "").casefold()
    return all(word in words for word in asked.casefold().split()) or (bool(code) and code == thing.code.casefold())


def _may_add(shelf: Shelf) -> bool:
    roles = set(g.seat.person.roles)
    return "supervisor" in roles or (shelf.of == "material" and "technician" in roles)


@views.get(f"{ON}/new")
@seated(*BOTH)
def new(at: str) -> str:
    """Ask for a new lot or device."""
    return _form(SHELVES[at], {}, [])


@views.post(f"{ON}/new")
@seated(*BOTH)
def add(at: str) -> Any:
    """Add a lot or a device, and lead to its page."""
    shelf = SHELVES[at]
    sheet, faults = read_form(shelf, request.form)
    try:
        code = actions.put_on_shelf(the_bench(), g.seat, sheet) if sheet else ""
    except NotYours:
        raise
    except Refused as error:
        code, faults = "", [str(error)]
    if not code:
        return _form(shelf, request.form, faults), 422
    return done(_("Added with the code {code}. Print its label and stick it on.", code=code), f"/desk/{at}/{code}")


def _form(shelf: Shelf, values: Any, faults: list[str], thing: Thing | None = None, seen: str = "") -> str:
    return page("stock/form.html", shelf=shelf, values=values, faults=faults, thing=thing, seen=seen)


def _thing(at: str, code: str) -> tuple[Shelf, Thing]:
    shelf = SHELVES[at]
    return shelf, actions.the_thing(the_bench(), shelf.of, read_code(code).code)


@views.get(f"{ON}/<code>")
@seated(*EVERYBODY)
def one(at: str, code: str) -> str:
    """Show a lot or a device: how it stands, what can be done, which cases got it, its history."""
    return _page(*_thing(at, code), [])


def _page(shelf: Shelf, thing: Thing, faults: list[str]) -> str:
    bench = the_bench()
    day, zone = today(bench), zone_of(bench)
    uses = actions.recall(bench, thing.code)
    roles = set(g.seat.person.roles)
    return page(
        "stock/thing.html", shelf=shelf, thing=thing, stands=standing(thing, day), faults=faults, day=day.isoformat(),
        kind=kind_words(thing.kind),
        uses=uses, jaws=len({use.jaw for use in uses if use.counts}), band=band_words(thing),
        cases=len({use.case for use in uses if use.counts}), history=actions.history(bench, thing.code),
        zone=zone.key, at_moment=lambda ms: minute(ms, zone), supervisor="supervisor" in roles,
        marks=bool(roles & set(BOTH if thing.of == "material" else ("supervisor",))), typed=request.form,
    )


@views.get(f"{ON}/<code>/edit")
@seated("supervisor")
def edit(at: str, code: str) -> str:
    """Show what is said of a thing, to be corrected."""
    shelf, thing = _thing(at, code)
    return _form(shelf, typed(thing, shelf), [], thing, actions.last_entry(the_bench(), thing.code))


@views.post(f"{ON}/<code>/edit")
@seated("supervisor")
def correct(at: str, code: str) -> Any:
    """Correct what is said of a thing; what was said before stays in its history."""
    shelf, thing = _thing(at, code)
    sheet, faults = read_form(shelf, request.form)
    if sheet:
        try:
            new = actions.correct(the_bench(), g.seat, thing.code, sheet, request.form.get("seen", ""))
            return done(_("Corrected.") if new else _("Nothing was changed."), f"/desk/{at}/{thing.code}")
        except NotYours:
            raise
        except Refused as error:
            faults = [str(error)]
    seen = actions.last_entry(the_bench(), thing.code)
    return _form(shelf, request.form, faults, thing, seen), 422


def _do(at: str, code: str, said: str, deed: Callable[[str, list[str]], bool]) -> Any:
    """Do something to a thing; back to its page, which says `said`, or shows why it was refused (422)."""
    shelf, thing = _thing(at, code)
    faults: list[str] = []
    try:
        new = deed(thing.code, faults)
    except NotYours:
        raise
    except Refused as error:
        faults.append(str(error))
    if faults:
        return _page(shelf, thing, faults), 422
    return done(said if new else _("It was so already; nothing was changed."), f"/desk/{at}/{thing.code}")


def _day(name: str, label: str, faults: list[str]) -> date | None:
    """Return a day from the form; a fault where it is none."""
    return read_day(request.form.get(name, ""), label, faults)


@views.post("/materials/<code>/opened")
@seated(*BOTH)
def opened(code: str) -> Any:
    """Mark a lot as opened on `day`; `closed=1` or an empty day takes it back."""

    def deed(which: str, faults: list[str]) -> bool:
        day = None if request.form.get("closed") else _day("day", N_("Opened on"), faults)
        return not faults and actions.set_opened(the_bench(), g.seat, which, day)

    return _do("materials", code, _("Stored."), deed)


@views.post(f"{ON}/<code>/spent")
@seated(*BOTH)
def spent(at: str, code: str) -> Any:
    """Mark a lot as spent or a device as out of use; `back=1` takes it back."""
    gone = request.form.get("back") != "1"
    said = _("Stored. Taken back with “not after all” on this page.") if gone else _("It can be picked again.")
    return _do(at, code, said, lambda which, _faults: actions.set_spent(the_bench(), g.seat, which, gone))


@views.post(f"{ON}/<code>/block")
@seated("supervisor")
def block(at: str, code: str) -> Any:
    """Block a thing with a reason."""
    reason = request.form.get("reason", "")
    return _do(at, code, _("Blocked: the bench stops whoever picks it."),
               lambda which, _faults: actions.block(the_bench(), g.seat, which, reason))


@views.post(f"{ON}/<code>/unblock")
@seated("supervisor")
def unblock(at: str, code: str) -> Any:
    """Let a blocked thing be used again."""
    return _do(at, code, _("Unblocked."), lambda which, _faults: actions.unblock(the_bench(), g.seat, which))


@views.post("/devices/<code>/checked")
@seated("supervisor")
def checked(code: str) -> Any:
    """Enter that a device was checked on `day`, and by when it must be checked again."""

    def deed(which: str, faults: list[str]) -> bool:
        day, due = _day("day", CHECKED, faults), _day("due", N_("Next check due on"), faults)
        if day is None and not faults:
            faults.append(_(NOTHING, field=_(CHECKED)))
        return day is not None and not faults and actions.set_checked(the_bench(), g.seat, which, day, due)

    return _do("devices", code, _("The check is stored."), deed)


@views.get(f"{ON}/<code>/label.pdf")
@seated(*EVERYBODY)
def label(at: str, code: str) -> Response:
    """Send the label of a lot or a device, one 50 x 25 mm page."""
    _shelf, thing = _thing(at, code)
    kind = kind_words(thing.kind)
    lines: tuple[str, ...]
    if thing.of == "material":
        lot, last = _("lot {number}", number=thing.lot), _("use by {day}", day=thing.expiry)
        lines = (lot, last, " · ".join(w for w in (kind, thing.tint) if w))
    else:
        lines = (kind, band_words(thing)) if thing.band else (kind,)
    one_label = paper.Label(thing.code, thing.name, lines)
    return Response(paper.pdf([one_label]), mimetype="application/pdf")
