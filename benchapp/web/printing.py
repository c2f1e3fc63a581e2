"""Printing labels: of a case on any of the ways that printing.toml names, and whether that file is sound."""

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from typing import Any
from urllib.parse import urlencode

from flask import Blueprint, Response, abort, g, redirect, request
from werkzeug.wrappers import Response as AnyResponse

from benchapp.actions.bench import Bench, Refused
from benchapp.actions.jaws import case_as_it_is, line, texts_of
from benchapp.actions.lab import today
from benchapp.actions.printing import EXAMPLE, MARK, NO_FILE, Printing, config_file, printing_of, way_of, ways_of
from benchapp.actions.printing_out import print_out
from benchapp.core.codes import read_code, spaced
from benchapp.core.faults import Fault, FileFaults
from benchapp.core.words import N_, _, n_
from benchapp.paper.label import pdf, png
from benchapp.paper.label_files import files_of, title_of, trial_label
from benchapp.paper.label_sheet import sheet_pdf
from benchapp.paper.tray import CaseLabel, case_labels
from benchapp.web.app import the_bench
from benchapp.web.desk import EVERYBODY, done, page, seated

views = Blueprint("printing", __name__, url_prefix="/desk")

TEST = N_("Test label")
TAKES: dict[str, str] = {"labels": N_("labels"), "sheet": N_("sheet")}  # a picture is named as in the file, png-203


@views.get("/printing")
@seated("supervisor")
def printers() -> str:
    """Show the ways to print that printing.toml names, what is wrong with that file, and a test for each."""
    return _printers([])


def _printers(faults: list[str]) -> str:
    config, wrong = _config()
    file = config_file(the_bench())
    ways = [(way, way.trouble()) for way in ways_of(config)]
    return page(
        "printing/printers.html", ways=ways, wrong=wrong, file=file, there=file.exists(), faults=faults,
        paper=config.paper, example=_(EXAMPLE), takes=TAKES, file_mark=MARK,
    )


def _config() -> tuple[Printing, list[Fault]]:
    """Return what printing.toml says, and its faults; with faults it counts as if it were not there."""
    try:
        return printing_of(the_bench()), []
    except FileFaults as error:
        return NO_FILE, error.faults


@views.post("/printing/test")
@seated("supervisor")
def test() -> Any:
    """Print a test label on a way."""
    bench, (config, _wrong) = the_bench(), _config()
    try:
        way = way_of(config, request.form.get("way", ""))
        if way.does is None:
            return redirect("/desk/printing/test.pdf", 303)
        label = trial_label(way.name, today(bench).isoformat())
        said = print_out(bench, way, files_of([label], way.file, config.paper, _(TEST), "test", _moment(bench)))
    except Refused as error:
        return _printers([str(error)]), 422
    return done(" ".join([said, _("Scan the symbol and measure it.")]), "/desk/printing")


@views.get("/printing/test.pdf")
@seated("supervisor")
def test_sheet() -> Response:
    """Send a sheet with a test label, for the browser."""
    bench, (config, _wrong) = the_bench(), _config()
    label = trial_label(_("Browser"), today(bench).isoformat())
    return _pdf(sheet_pdf([label], config.paper, _(TEST), _moment(bench)))


@views.get("/print/<code>")
@seated(*EVERYBODY)
def case(code: str) -> str:
    """Show every label of a case, and the ways to print them; the code of a jaw leads to its case."""
    return _page(_case(code), [], None)


def _case(typed: str) -> str:
    read = read_code(typed)
    return read.code if read.kind == "case" else str(line(the_bench(), read.code).case["code"])


def _page(code: str, faults: list[str], chosen: Sequence[str] | None) -> str:
    bench, (config, wrong) = the_bench(), _config()
    labels = case_labels(bench, code)
    return page(
        "printing/case.html", code=code, spaced=spaced, labels=labels, faults=faults, wrong=wrong,
        chosen={one.key for one in labels} if chosen is None else set(chosen), ways=ways_of(config),
        title=_title(bench, code), keeps="supervisor" in g.seat.person.roles,
    )


def _title(bench: Bench, code: str) -> str:
    texts = case_as_it_is(bench.store, code)["texts"]
    words = texts_of(bench, [texts[name] for name in ("order", "patient")])
    return title_of(code, words[texts["order"]], words[texts["patient"]])


@views.post("/print/<code>")
@seated(*EVERYBODY)
def print_labels(code: str) -> Any:
    """Print the labels that were chosen, on the way that was chosen; the browser gets a sheet."""
    bench, (config, _wrong), read = the_bench(), _config(), _case(code)
    keys = request.form.getlist("label")
    try:
        way = way_of(config, request.form.get("way", ""))
        chosen = _chosen(case_labels(bench, read), keys)
        if not chosen:
            return _page(read, [_("No label is chosen. Tick at least one.")], keys), 422
        if way.does is None:
            return _sheet_of(read, chosen)
        made = _moment(bench)
        labels = [one.label for one in chosen]
        said = print_out(bench, way, files_of(labels, way.file, config.paper, _title(bench, read), read, made))
    except Refused as error:
        return _page(read, [str(error)], keys), 422
    return done(" ".join([said, n_("{n} label.", "{n} labels.", len(chosen))]), f"/desk/print/{read}")


def _chosen(labels: Sequence[CaseLabel], keys: Sequence[str]) -> list[CaseLabel]:
    return [one for one in labels if one.key in keys]


def _sheet_of(code: str, chosen: Sequence[CaseLabel]) -> AnyResponse:
    query = urlencode([("label", one.key) for one in chosen])
    return redirect(f"/desk/print/{code}/sheet.pdf?{query}", 303)


@views.get("/print/<code>/<any(sheet, labels):which>.pdf")
@seated(*EVERYBODY)
def as_pdf(code: str, which: str) -> Response:
    """Send the labels of a case as PDF, all or those of `?label=`: a sheet with a bar of 100 mm, or one page each."""
    bench, (config, _wrong), read = the_bench(), _config(), _case(code)
    every = case_labels(bench, read)
    keys = request.args.getlist("label")
    labels = [one.label for one in (_chosen(every, keys) if keys else every)]
    if not labels:
        abort(404, _("The case has no such label any more. Load its page again and choose anew."))
    made = _moment(bench)
    return _pdf(
        sheet_pdf(labels, config.paper, _title(bench, read), made) if which == "sheet" else pdf(labels, made=made)
    )


@views.get("/print/<code>/<key>.png")
@seated(*EVERYBODY)
def picture(code: str, key: str) -> Response:
    """Send one label of a case as a picture."""
    found = _chosen(case_labels(the_bench(), _case(code)), [key])
    if not found:
        abort(404, _("The case has no such label any more. Load its page again."))
    return Response(png(found[0].label, 203), mimetype="image/png")


def _pdf(data: bytes) -> Response:
    return Response(data, mimetype="application/pdf")


def _moment(bench: Bench) -> datetime:
    return datetime(1970, 1, 1, tzinfo=UTC) + timedelta(milliseconds=bench.clock())
