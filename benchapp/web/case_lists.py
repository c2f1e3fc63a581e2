"""Lists of orders (CSV): chosen, their columns named once, every row shown with its faults, the sound ones taken in."""

import csv
import io
from dataclasses import dataclass
from typing import Any

from flask import Blueprint, Response, current_app, g, request

from benchapp.actions.bench import Refused
from benchapp.actions.cases import orders_known
from benchapp.actions.editions import in_force
from benchapp.actions.orders import csv_map, import_orders, keep_csv_map
from benchapp.core.faults import FileFaults
from benchapp.core.orders import COLUMNS, MOST_BYTES, MOST_ROWS, Row, Table, read_rows, read_table
from benchapp.core.words import _, n_
from benchapp.web.app import the_bench
from benchapp.web.desk import done, page, seated
from benchapp.web.uploads import chosen

views = Blueprint("case_lists", __name__)

KEPT = 20  # lists that are looked through at a time; older ones are chosen again
SAMPLE = {
    "order": "S-1", "patient": "P-001", "prescriber": "Practice", "pan": "12", "kind": "new", "due": "2031-01-15",
    "jaws": "both", "shade": "light", "tint": "rose", "allergy": "no",
}


@dataclass(frozen=True)
class List:
    """A list that is at hand until it is taken in: its file's name, and what was read."""

    name: str
    table: Table


@dataclass(frozen=True)
class Shown:
    """A row as it is shown: what it makes, or its faults, or the case that it is already."""

    row: Row
    known: str

    @property
    def sound(self) -> bool:
        """Whether it can be taken in."""
        return self.row.sheet is not None and not self.known


@views.get("/desk/cases/orders")
@seated("supervisor")
def ask() -> str:
    """Ask for a list of orders, and say how it may look."""
    return _ask([])


def _ask(faults: list[str]) -> str:
    return page("cases/orders.html", faults=faults, columns=COLUMNS, most_rows=MOST_ROWS)


@views.get("/desk/cases/orders/sample.csv")
@seated("supervisor")
def sample() -> Response:
    """Send a list with one invented order, to be filled in."""
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    writer.writerow(_(column.title) for column in COLUMNS)
    writer.writerow(SAMPLE.get(column.name, "") for column in COLUMNS)
    answer = Response("\ufeff" + text.getvalue(), mimetype="text/csv")
    answer.headers["Content-Disposition"] = 'attachment; filename="orders.csv"'
    return answer


@views.post("/desk/cases/orders")
@seated("supervisor")
def upload() -> Any:
    """Read a list that was chosen as a file, and show its rows."""
    name, data = chosen(MOST_BYTES)
    try:
        table = read_table(name, data)
    except FileFaults as error:
        return _ask([f"{error.name}: {fault}" for fault in error.faults]), 422
    at = the_bench().chance.new_id()
    lists = _lists()
    lists[at] = List(name, table)
    while len(lists) > KEPT:
        lists.pop(next(iter(lists)))
    said = n_("{file}: {n} row read. Nothing is taken in yet.", "{file}: {n} rows read. Nothing is taken in yet.",
              len(table.rows), file=name)
    return done(said, f"/desk/cases/orders/{at}")


def _lists() -> dict[str, List]:
    found: dict[str, List] = current_app.extensions.setdefault("lists of orders", {})
    return found


def _of(at: str) -> List:
    found = _lists().get(at)
    if found is None:
        raise Refused(_("That list is not at hand any more. Choose the file again; what was taken in before stays."))
    return found


@views.get("/desk/cases/orders/<at>")
@seated("supervisor")
def look(at: str) -> str:
    """Show which heading means what, and every row with its faults."""
    found = _of(at)
    return _look(at, found, csv_map(the_bench(), found.table.headings), [])


def _look(at: str, found: List, mapping: dict[str, str], faults: list[str]) -> str:
    shown = _shown(found, mapping)
    return page(
        "cases/rows.html", at_list=at, name=found.name, headings=found.table.headings, columns=COLUMNS,
        mapping=mapping, shown=shown, faults=faults, sound=sum(1 for one in shown if one.sound),
        known=sum(1 for one in shown if one.known),
    )


def _shown(found: List, mapping: dict[str, str]) -> list[Shown]:
    known = orders_known(the_bench().store)
    return [
        Shown(row, known.get((row.sheet.case.order, row.sheet.case.patient), "") if row.sheet else "")
        for row in read_rows(found.table, mapping, in_force(the_bench())[1].options)
    ]


@views.post("/desk/cases/orders/<at>/columns")
@seated("supervisor")
def columns(at: str) -> Any:
    """Remember which heading means what, for this list and for those to come."""
    found = _of(at)
    mapping = {column.name: request.form.get(column.name, "") for column in COLUMNS}
    mapping = {name: heading for name, heading in mapping.items() if heading in found.table.headings}
    try:
        keep_csv_map(the_bench(), g.seat, mapping)
    except FileFaults as error:
        return _look(at, found, mapping, [str(fault) for fault in error.faults]), 422
    return done(_("The columns are remembered."), f"/desk/cases/orders/{at}")


@views.post("/desk/cases/orders/<at>/import")
@seated("supervisor")
def take_in(at: str) -> Any:
    """Accept the chosen rows as cases; rows with faults and orders known already are left."""
    found, bench = _of(at), the_bench()
    mapping = csv_map(bench, found.table.headings)
    chosen = set(request.form.getlist("row"))
    every = read_rows(found.table, mapping, in_force(the_bench())[1].options)
    rows = [row for row in every if str(row.number) in chosen and row.sheet]
    if not rows:
        none = _("No sound row is ticked. Tick one, or mend the list and choose it again.")
        return _look(at, found, mapping, [none]), 422
    try:
        added = import_orders(bench, g.seat, rows)
    except Refused as error:
        return _look(at, found, mapping, [str(error)]), 422
    said = n_("{n} case accepted", "{n} cases accepted", len(added.cases))
    if added.known:
        said += ", " + n_("{n} row known already", "{n} rows known already", len(added.known))
    return done(f"{said}. {_('Print the labels from the list of cases.')}", f"/desk/cases/orders/{at}")
