"""The service worker and the manifest: pages of opened jaws stay readable without the PC."""

import json
from typing import Any

from flask import Blueprint, Response, render_template

from benchapp.core.words import language
from benchapp.web.app import page_version, static_files, static_url

views = Blueprint("worker", __name__)

# The desk is not worked without the PC; the app's icons are taken by the tablet itself when it is installed.
NOT_KEPT = ("/desk.css", "/htmx-2.0.11.js", "/meshes.js", ".png")
# What reads the camera's pictures is large, and not every tablet has one that is used: it is kept from then on.
# So is what draws in three dimensions: a seating check may be read without it.
WHEN_USED = ("/vendor/zxing-reader-", "/vendor/three-")
ICONS = (
    ("app-192.png", "192x192", "any"), ("app-512.png", "512x512", "any"), ("app-whole-512.png", "512x512", "maskable"),
)


@views.get("/sw.js")
def service_worker() -> Response:
    """Send the worker's script with this version's name and its list of files."""
    every = [file for file in static_files("js", "css", "vendor", "pictures")
             if not file.endswith(NOT_KEPT) and "LICENSE-" not in file]
    late = [file for file in every if any(part in file for part in WHEN_USED)]
    files = [file for file in every if file not in late]
    lists = {"files": json.dumps(files), "when_used": json.dumps(late)}
    script = render_template("worker/sw.js", version=page_version(), **lists)
    return Response(script, mimetype="text/javascript")


@views.get("/manifest.webmanifest")
def manifest() -> tuple[dict[str, Any], int, dict[str, str]]:
    """Describe the app to the tablet."""
    plain = {
        "id": "/", "name": "Seat & Cure", "short_name": "Seat & Cure", "lang": language(),
        "start_url": "/", "scope": "/", "display": "standalone",
        "background_color": "#ffffff", "theme_color": "#16302b",
        "icons": [
            {"src": static_url(f"pictures/{name}"), "sizes": sizes, "type": "image/png", "purpose": purpose}
            for name, sizes, purpose in ICONS
        ] + [{"src": static_url("pictures/app.svg"), "sizes": "any", "type": "image/svg+xml", "purpose": "any"}],
    }
    return plain, 200, {"Content-Type": "application/manifest+json"}
