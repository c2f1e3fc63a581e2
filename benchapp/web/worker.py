"""The service worker and the manifest: pages of opened jaws stay readable without the PC."""

import json
from typing import Any

from flask import Blueprint, Response, render_template

from benchapp.web.app import page_version, static_files

views = Blueprint("worker", __name__)

# What reads the camera's pictures is large, and not every tablet has one that is used: it is kept from then on.
WHEN_USED = "/vendor/zxing-reader-"
DESK_ONLY = ("/desk.css", "/htmx-2.0.11.js", "/ring.js")  # the desk is not worked without the PC


@views.get("/sw.js")
def service_worker() -> Response:
    """Send the worker's script with this version's name and its list of files."""
    every = [file for file in static_files("js", "css", "vendor", "pictures")
             if not file.endswith(DESK_ONLY) and "LICENSE-" not in file]
    late = [file for file in every if WHEN_USED in file]
    files = [file for file in every if file not in late]
    lists = {"files": json.dumps(files), "when_used": json.dumps(late)}
    script = render_template("worker/sw.js", version=page_version(), **lists)
    return Response(script, mimetype="text/javascript")


@views.get("/manifest.webmanifest")
def manifest() -> tuple[dict[str, Any], int, dict[str, str]]:
    """Describe the app to the tablet."""
    plain = {
        "name": "Seat & Cure", "short_name": "Seat & Cure", "start_url": "/", "display": "standalone",
        "background_color": "#ffffff", "theme_color": "#16302b",
        "icons": [{"src": "/static/pictures/app.svg", "sizes": "any", "type": "image/svg+xml"}],
    }
    return plain, 200, {"Content-Type": "application/manifest+json"}
