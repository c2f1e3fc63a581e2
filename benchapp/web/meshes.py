"""The design files of a jaw at the desk: attached by upload, the check that follows, its findings in short."""

from pathlib import Path
from typing import IO, Any

from flask import Blueprint, Request, g, jsonify, render_template, request
from werkzeug.exceptions import RequestEntityTooLarge

from benchapp.actions.bench import Bench, Refused
from benchapp.actions.jaws import JawLine, line, protocol_of
from benchapp.actions.lab import people
from benchapp.actions.meshes import MAY, MOST_BYTES, WrongFile, attach, check_again, coming, must_take
from benchapp.actions.seating import Seating, seating_of
from benchapp.core.codes import read_code
from benchapp.core.orders_words import PART_WORDS
from benchapp.core.protocol import Reason
from benchapp.core.record_identity import PART_TITLES
from benchapp.core.seating_line import Answer
from benchapp.core.words import N_, _, n_
from benchapp.store.engine import on_disk
from benchapp.store.errors import StoreError
from benchapp.web.app import the_bench
from benchapp.web.desk import EVERYBODY, done, page, say, seated

views = Blueprint("meshes", __name__)

FORM = 64 * 1024  # bytes of the form around the file
BUFFER = 1 << 20  # bytes of a form at once: what looks for the end of a part holds several pieces of the file
STAGES = {
    "read": N_("reads the files"), "row": N_("finds the row"),
    "connectors": N_("measures connectors"), "sockets": N_("measures sockets"), "clearance": N_("measures clearance"),
    "pictures": N_("draws the pictures"),
}
ORDER = ("read", "row", "connectors", "sockets", "clearance", "pictures")
STATES = {
    "none": N_("not made"), "half": N_("not made"), "waiting": N_("waits for its turn"), "running": N_("runs"),
    "done": N_("done"), "refused": N_("cannot be made"), "lost": N_("broke off, begins anew"),
}


class Upload(Request):
    """A request whose files go straight to the data folder, so that none is held in memory or written twice."""

    place: Path | None = None
    into: IO[bytes] | None = None

    def _get_file_stream(self, *_about: Any, **_more: Any) -> IO[bytes]:
        if self.into is not None:
            raise WrongFile(_("One file at a time."))
        self.place = coming(the_bench())
        self.into = self.place.open("wb+")
        return self.into

    def leave(self) -> None:
        """Close what came, and remove it where nothing was made of it."""
        if self.place is not None and self.into is not None:
            self.into.close()
            self.place.unlink(missing_ok=True)


@views.get("/desk/jaw/<code>/check")
@seated(*EVERYBODY, prolongs=False)
def check(code: str) -> str:
    """Send the seating check of a jaw alone, for the page that asks again while it runs."""
    return render_template("meshes/_check.html", check=check_words(the_bench(), read_code(code).code))


@views.post("/desk/jaw/<code>/check")
@seated(*MAY)
def again(code: str) -> Any:
    """Ask for the check of a jaw anew, of the same files, by what the settings say now."""
    read = read_code(code).code
    check_again(the_bench(), g.seat, read)
    return done(_("The check was asked for anew."), _address(read))


@views.get("/desk/jaw/<code>/files")
@seated(*MAY)
def files(code: str) -> str:
    """Show the design files of a jaw, and ask for others."""
    return _page(read_code(code).code)


@views.post("/desk/jaw/<code>/files")
@seated(*MAY)
def put(code: str) -> Any:
    """Attach a file to a part of a jaw: form fields part, file; a script that asks for JSON gets {to}."""
    read, bench = read_code(code).code, the_bench()
    upload = _upload()
    try:
        part = _attached(bench, read, upload)
    except (Refused, StoreError) as error:
        status = 507 if isinstance(error, StoreError) else getattr(error, "status", 409)
        return (jsonify(error=str(error)), status) if _script() else (_page(read, [str(error)]), status)
    finally:
        upload.leave()
    words = _("The file of the {part} is attached.", part=_(PART_WORDS[part]))
    if _script():
        say(words)
        return jsonify(to=_address(read))
    return done(words, _address(read))


def _script() -> bool:
    return request.accept_mimetypes.best_match(["text/html", "application/json"]) == "application/json"


def _upload() -> Upload:
    """Return this request as one whose file goes to the data folder."""
    found = Upload(request.environ, populate_request=False)
    found.max_content_length = MOST_BYTES + FORM
    found.max_form_memory_size = BUFFER
    return found


def _attached(bench: Bench, code: str, upload: Upload) -> str:
    """Take the file of a form in; return the part that it was attached to."""
    found = line(bench, code)
    if found.release is not None or found.state["ended"] == "scrap":
        must_take(found, "base")  # before anything is read: a large file takes a while
    try:
        with on_disk(bench.store.path.parent):
            file, part = upload.files.get("file"), upload.form.get("part", "")
            if upload.into is not None:
                upload.into.close()
    except RequestEntityTooLarge:
        raise WrongFile(_("The file has more than {most} MB. Export it with fewer triangles.",
                          most=MOST_BYTES // 1_000_000)) from None
    must_take(found, part)
    if file is None or upload.place is None or not file.filename:
        raise WrongFile(_("Choose the file of the {part}.", part=_(PART_WORDS[part])))
    attach(bench, g.seat, code, part, upload.place)
    return part


def _address(code: str) -> str:
    return f"/desk/case/{line(the_bench(), code).case['code']}#jaw-{code}"


def _page(code: str, faults: list[str] | None = None) -> str:
    bench = the_bench()
    found = line(bench, code)
    shown = check_words(bench, code)
    return page(
        "meshes/files.html", check=shown, jaw=found.jaw["jaw"], case=found.case["code"], faults=faults or [],
        most=MOST_BYTES // 1_000_000, most_bytes=MOST_BYTES,
    )


def check_words(bench: Bench, code: str) -> dict[str, Any]:
    """Return the seating check of a jaw as the desk says it."""
    found = line(bench, code)
    now = seating_of(bench, found)
    open_ = found.release is None and found.state["ended"] != "scrap"
    return {
        "code": code, "now": now, "state": _(STATES[now.state]), "parts": [_part(bench, part) for part in now.parts],
        "moves": now.anew or now.state in ("waiting", "running", "lost"), "done": _done(now),
        "begun": _begun(now), "findings": _findings(bench, found, now),
        "figures": _figures(now), "may": bool(set(MAY) & set(g.seat.person.roles)) and open_,
    }


def _begun(now: Seating) -> str:
    """Return how far a check has come that is not done, in words; what only waits has no stage yet."""
    state = _("is made anew") if now.anew else _(STATES[now.state])
    if now.stage not in STAGES:
        return _("A check of these files {state}.", state=state)
    return _("A check of these files {state}: {stage}.", state=state, stage=_(STAGES[now.stage]))


def _done(now: Seating) -> int:
    """Return how much of the check is done, in hundredths of all its stages."""
    return round(100 * (ORDER.index(now.stage) + now.done) / len(ORDER)) if now.stage in ORDER else 0


def _part(bench: Bench, part: Any) -> dict[str, Any]:
    mesh = part.mesh
    said = {"part": part.part, "title": _(PART_TITLES[part.part]), "revision": part.revision, "why": part.why,
            "triangles": part.triangles, "hash": "", "size": "", "who": ""}
    if mesh is None:
        return said
    names = {p.id: p.name for p in people(bench)}
    size = f"{mesh.size / 1e6:.1f} MB" if mesh.size >= 1e5 else f"{mesh.size / 1e3:.1f} kB"
    return said | {"hash": mesh.hash, "size": size, "who": names.get(mesh.person, "")}


def _findings(bench: Bench, found: JawLine, now: Seating) -> list[tuple[str, str, bool]]:
    """Return words, answer, and whether it is open, of each finding."""
    reasons = protocol_of(bench, found).reasons
    names = {p.id: p.name for p in people(bench)}
    return [(one.finding.words, _answer(one.answer, reasons, names), one.open) for one in now.findings]


def _answer(answer: Answer | None, reasons: list[Reason], names: dict[str, str]) -> str:
    if answer is None:
        return _("not answered yet: at the part check")
    return _("{said}, {who}", said=answer.words(reasons), who=names.get(answer.person, answer.person))


def _figures(now: Seating) -> list[str]:
    """Return what a report tells in short."""
    if now.report is None:
        return []
    depths = [t["depth_median_mm"] for t in now.report["teeth"] if t["depth_median_mm"] is not None]
    goes = {True: _("goes in"), False: _("does not go in"), None: _("not told whether it goes in")}
    found = [goes[now.report["goes_in"]]]
    if depths:
        found.append(_("teeth {least} to {most} mm deep", least=f"{min(depths):.2f}", most=f"{max(depths):.2f}"))
    cut = sum(1 for one in now.cuts if one.how != "none")
    found.append(n_("{n} connector to cut", "{n} connectors to cut", cut))
    if now.resin_ml is not None:
        resin = _("about {volume} ml of resin", volume=f"{now.resin_ml:.2f}")
        with_drops = n_("{resin}, {n} drop", "{resin}, {n} drops", now.drops or 0, resin=resin)
        found.append(resin if now.drops is None else with_drops)
    if now.watched:
        found.append(n_("{n} margin to watch", "{n} margins to watch", len(now.watched)))
    return found


