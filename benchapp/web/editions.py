"""Editions of the lab's protocols: look at one, put it in force, take a file in, take one out."""

import re
from typing import Any

from flask import Blueprint, Response, g, request

from benchapp.actions.bench import Refused
from benchapp.actions.editions import WRITERS, edition, editions, put_in_force
from benchapp.actions.lab import people, zone_of
from benchapp.core.faults import FileFaults
from benchapp.core.record_words import minute
from benchapp.core.words import _
from benchapp.web.app import the_bench
from benchapp.web.desk import EVERYBODY, done, page, seated
from benchapp.web.uploads import chosen_text

views = Blueprint("editions", __name__)

MOST = 200_000


@views.get("/desk/protocol/editions")
@seated(*EVERYBODY)
def every() -> str:
    """List the editions that are known here."""
    return _page([])


def _page(faults: list[str]) -> str:
    bench = the_bench()
    zone = zone_of(bench)
    names = {person.id: person.name for person in people(bench)}
    found = editions(bench)
    since = {e.hash: minute(e.since, zone) for e in found if e.since}
    return page(
        "course/editions.html", editions=found, since=since, names=names, faults=faults, zone=str(zone),
        may=bool(set(WRITERS) & set(g.seat.person.roles)),
    )


@views.post("/desk/protocol/editions")
@seated(*WRITERS)
def force() -> Any:
    """Put an edition in force: {hash} of a known one, or a file that was chosen."""
    bench = the_bench()
    try:
        if request.form.get("hash"):
            known = edition(bench, request.form["hash"])
            name, text = f"{known.protocol.id}.toml", known.text
        else:
            name, text = chosen_text(MOST, _("a protocol file (TOML)"))
        protocol = put_in_force(bench, g.seat, name, text)
    except FileFaults as error:
        return _page([f"{error.name}: {fault}" for fault in error.faults]), 422
    except Refused as error:
        return _page([str(error)]), 422
    said = _("New cases are worked by {protocol}, edition {edition}.", protocol=protocol.title,
             edition=protocol.edition)
    return done(said, "/desk/protocol/editions")


@views.get("/desk/protocol/editions/<name>.toml")
@seated(*EVERYBODY)
def file(name: str) -> Response:
    """Send the text of an edition, to write the next one from it."""
    found = edition(the_bench(), name)
    plain = re.sub(r"[^0-9A-Za-z.-]", "-", f"{found.protocol.id}-{found.protocol.edition}")
    headers = {"Content-Disposition": f'attachment; filename="{plain}.toml"'}
    return Response(found.text, mimetype="text/plain", headers=headers)
