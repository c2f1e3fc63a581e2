"""A new case: by a form, or from a case sheet that somebody wrote."""

from collections.abc import Mapping
from typing import Any

from flask import Blueprint, g, request
from werkzeug.wrappers import Response as AnyResponse

from benchapp.actions.bench import Refused
from benchapp.actions.cases import Opened, add_case
from benchapp.actions.editions import in_force
from benchapp.actions.settings import setting
from benchapp.core.faults import Fault, FileFaults
from benchapp.core.orders import COLUMNS, sheet_of
from benchapp.core.orders_words import PARTS, day_of, in_words
from benchapp.core.sheet import Sheet, read_sheet
from benchapp.core.teeth import JAW_WORDS, JAWS, ROW, Jaw, universal
from benchapp.core.words import N_, _
from benchapp.web.app import the_bench
from benchapp.web.desk import done, page, seated
from benchapp.web.uploads import chosen_text

views = Blueprint("case_new", __name__)

MAKERS = ("technician", "supervisor")
MOST_BYTES = 200_000
FIELDS = tuple(column for column in COLUMNS if column.of != "other")
USUAL = {jaw: [tooth for tooth in ROW[jaw] if tooth % 10 < 8] for jaw in JAWS}
JAW_TITLES = {"upper": N_("Upper jaw"), "lower": N_("Lower jaw")}
OF_JAW = {
    "teeth": N_("teeth"), "revision_base": N_("revision of the base"), "revision_arch": N_("revision of the arch"),
    "print_job_base": N_("print job of the base"), "print_job_arch": N_("print job of the arch"),
}


@views.get("/desk/cases/new")
@seated(*MAKERS)
def new() -> str:
    """Ask for a new case."""
    typed = {column.name: column.default for column in FIELDS} | {
        f"{jaw}_teeth": [str(tooth) for tooth in USUAL[jaw]] for jaw in JAWS
    }
    return _form(typed, [])


@views.post("/desk/cases/new")
@seated(*MAKERS)
def add() -> Any:
    """Accept a case that was typed in."""
    typed = {name: request.form.get(name, "") for name in request.form} | {
        name: request.form.getlist(name) for name in ("jaw", "options", *(f"{jaw}_teeth" for jaw in JAWS))
    }
    faults: list[Fault] = []
    sheet = _read(typed, faults)
    if sheet is None:
        return _form(typed, [str(fault) for fault in faults]), 422
    try:
        return _accepted(add_case(the_bench(), sheet, in_force(the_bench())[0], g.seat))
    except Refused as error:
        return _form(typed, [str(error)]), 422


@views.post("/desk/cases/new/sheet")
@seated(*MAKERS)
def upload() -> Any:
    """Accept a case sheet (TOML) that was chosen as a file."""
    typed = {f"{jaw}_teeth": [str(tooth) for tooth in USUAL[jaw]] for jaw in JAWS}
    name = ""
    try:
        name, text = chosen_text(MOST_BYTES, _("a case sheet"))
        sheet = read_sheet(name, text)
        return _accepted(add_case(the_bench(), sheet, in_force(the_bench())[0], g.seat), _named(sheet))
    except FileFaults as error:
        return _form(typed, [f"{error.name}: {fault}" for fault in error.faults]), 422
    except Refused as error:
        return _form(typed, [f"{name}: {error}"]), 422


def _named(sheet: Sheet) -> list[str]:
    """Return the design files that a sheet names; the browser sends none of them with it."""
    return [part.mesh for jaw in sheet.jaws for part in jaw.parts if part.mesh]


def _accepted(opened: Opened, named: list[str] | None = None) -> AnyResponse:
    said = _("The case is accepted, with both jaws. Print the labels now.")
    if len(opened.jaws) == 1:
        jaw = _(JAW_WORDS[opened.jaws[0]["jaw"]])
        said = _("The case is accepted, with the {jaw}. Print the labels now.", jaw=jaw)
    if named:
        more = _("The sheet names design files ({files}): attach them on the page of the case.", files=", ".join(named))
        said = f"{said} {more}"
    return done(said, f"/desk/cases/{opened.code}/codes")


def _names() -> dict[str, str]:
    """Return what the fields of the form are called."""
    found = {column.name: _(column.title) for column in COLUMNS}
    return found | {
        f"{jaw}_{key}": f"{_(JAW_TITLES[jaw])}, {_(words)}" for jaw in JAWS for key, words in OF_JAW.items()
    }


def _read(typed: Mapping[str, Any], faults: list[Fault]) -> Sheet | None:
    case: dict[str, Any] = {}
    for column in FIELDS:
        cell = str(typed.get(column.name, "")).strip()
        if column.of == "day":
            case[column.name] = (day_of(cell) or cell) if cell else None
        elif column.of == "words":
            case[column.name] = in_words(cell, column.words, column.default)
        else:
            case[column.name] = cell
    case |= {"options": list(typed["options"]), "training": typed.get("training") == "yes"}
    ordered = [jaw for jaw in JAWS if jaw in typed["jaw"]]
    if not ordered:
        faults.append(
            Fault(_names()["jaws"], _("no jaw is ticked"), _("Tick the upper jaw, the lower jaw, or both"))
        )
    tree = {"format": 1, "case": case, "jaws": [_jaw(jaw, typed) for jaw in ordered]}
    return sheet_of(tree, _names(), faults)


def _jaw(jaw: Jaw, typed: Mapping[str, Any]) -> dict[str, Any]:
    teeth = [int(word) if word.isascii() and word.isdigit() and len(word) < 4 else 0 for word in typed[f"{jaw}_teeth"]]
    return {"jaw": jaw, "teeth": teeth, "parts": [
        {"part": part, **{key: str(typed.get(f"{jaw}_{key}_{part}", "")).strip() for key in ("revision", "print_job")}}
        for part in PARTS
    ]}


def _form(typed: Mapping[str, Any], faults: list[str]) -> str:
    protocol = in_force(the_bench())[1]
    numbers = setting(the_bench(), "numbers")
    shown = {tooth: str(universal(tooth) if numbers == "universal" else tooth) for jaw in JAWS for tooth in ROW[jaw]}
    return page(
        "cases/new.html", typed=typed, faults=faults, fields=FIELDS, jaws=JAWS, row=ROW, parts=PARTS, shown=shown,
        protocol=protocol,
    )
