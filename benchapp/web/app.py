"""The web application: one factory, headers for every answer, one shape for every error."""

import hashlib
from functools import cache
from pathlib import Path
from typing import Any

from flask import Flask, Response, current_app, jsonify, render_template, request
from werkzeug.exceptions import HTTPException, RequestEntityTooLarge

from benchapp import paths
from benchapp.actions.bench import Bench, Refused
from benchapp.core.codes import CodeError
from benchapp.core.faults import FileFaults
from benchapp.core.words import N_, _, for_scripts, in_use
from benchapp.network.place import Network
from benchapp.store.errors import StoreError
from benchapp.web.again import form_again
from benchapp.web.squeeze import squeezed
from benchapp.web.tongue import dress
from benchapp.web.words import HOME_WORDS

CSP = (
    "default-src 'none'; script-src 'self' 'wasm-unsafe-eval'; style-src 'self'; img-src 'self' data:; "
    "connect-src 'self'; font-src 'self'; worker-src 'self'; manifest-src 'self'; media-src 'self' blob:; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)


def create_app(bench: Bench, local_key: str = "", network: Network | None = None) -> Flask:
    """Make the application for one bench; `local_key` lets commands on this PC hand sheets in.

    `network` is the lab's network where it is served there, None where the PC serves itself alone.
    """
    app = Flask("benchapp", static_folder=str(paths.STATIC), template_folder=str(paths.TEMPLATES))
    app.config["MAX_CONTENT_LENGTH"] = 4 * 1024 * 1024
    app.jinja_env.trim_blocks = app.jinja_env.lstrip_blocks = True
    app.jinja_env.globals["static"] = static_url
    app.jinja_env.globals["app_version"] = page_version
    dress(app.jinja_env)
    from benchapp.web.rooms import open_rooms  # here: rooms ask this module for the bench

    open_rooms(app)
    app.after_request(_headers)
    app.after_request(squeezed)
    app.register_error_handler(Exception, _on_error)
    return answer_for(app, bench, local_key, network)


def answer_for(app: Flask, bench: Bench, local_key: str = "", network: Network | None = None) -> Flask:
    """Let an application answer for one bench, with nothing left of another one; return it."""
    app.extensions.clear()
    app.extensions["bench"] = bench
    app.config["LOCAL_KEY"] = local_key
    app.config["NETWORK"] = network
    return app


def the_bench() -> Bench:
    """Return the bench of the running application."""
    found: Bench = current_app.extensions["bench"]
    return found


def page_version() -> str:
    """Return a name for this version of pages, scripts and words: it changes when any of their files does."""
    return "-".join(part for part in (_files_version(), in_use()) if part)


@cache
def _files_version() -> str:
    digest = hashlib.sha256()
    for folder in (paths.STATIC, paths.TEMPLATES):
        for file in sorted(folder.rglob("*")):
            if file.is_file() and "fonts" not in file.parts:
                digest.update(str(file.relative_to(folder)).encode() + file.read_bytes())
    return digest.hexdigest()[:12]


def static_url(name: str) -> str:
    """Return the address of a static file; scripts and styles stay at one address, the worker renews them."""
    return f"/static/{name}"


def static_files(*folders: str) -> list[str]:
    """Return the addresses of all static files in these folders, for the worker's list."""
    found: list[str] = []
    for folder in folders:
        here: Path = paths.STATIC / folder
        found += [static_url(f.relative_to(paths.STATIC).as_posix()) for f in sorted(here.rglob("*")) if f.is_file()]
    return found


def _headers(response: Response) -> Response:
    response.headers["Seat-And-Cure"] = page_version()  # tells our answers from a stranger's page
    response.headers["Content-Security-Policy"] = CSP
    response.headers["X-Content-Type-Options"] = "nosniff"
    response.headers["Referrer-Policy"] = "same-origin"  # with none, forms of ours would name no origin
    response.headers["Cross-Origin-Opener-Policy"] = "same-origin"
    response.headers.setdefault("Cache-Control", "no-cache")
    return response


def _on_error(error: Exception) -> tuple[Any, int]:
    """Answer every error in one shape: JSON {error} for programs, a page for people; never a trace."""
    status, words = _meaning(error)
    if request.accept_mimetypes.best_match(["text/html", "application/json"]) == "application/json":
        return jsonify(error=words), status
    if isinstance(error, StoreError) and (page := form_again(words)):
        return page, status
    said = for_scripts(HOME_WORDS)
    return render_template("error.html", words=words, status=status, words_of_pages=said), status


HTTP = {
    400: N_("The request came in pieces that do not fit. Load the page again, and repeat what you did."),
    404: N_("There is no such page here. Go back, or begin at the first page."),
    405: N_("That address takes no request of this kind. Go back, and use the buttons of the page."),
    415: N_("That was sent in a form that is not read here. Load the page again, and repeat what you did."),
}


def _meaning(error: Exception) -> tuple[int, str]:
    from benchapp.web.oops import not_stored, noted

    if isinstance(error, FileFaults):
        return 422, str(error)
    if isinstance(error, Refused):
        return error.status, str(error)
    if isinstance(error, CodeError):
        return 404, f"{str(error)[:1].upper()}{str(error)[1:]}."
    if isinstance(error, StoreError):
        not_stored(error)
        return 507, str(error)
    if isinstance(error, RequestEntityTooLarge):
        return 413, _(
            "That is more than the PC takes at once, so nothing was changed. Shorten it, or choose a smaller file."
        )
    if isinstance(error, HTTPException):
        code = error.code or 500
        if error.description and error.description != type(error).description:
            return code, error.description  # our own words
        return code, _(HTTP.get(code, N_("That cannot be answered. Go back, and load the page again.")))
    return 500, _(
        "Something went wrong on the PC; nothing that was stored is lost. Load the page again. Whoever looks after "
        "the PC finds this in its log as error {id}.", id=noted(error),
    )
