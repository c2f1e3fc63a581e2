"""Pages, scripts, styles and drawings go over the lab's radio compressed; what they say stays the same.

Scripts leave their comments and indentation at home: that is a fifth of their bytes, and none of what they do.
"""

import gzip
from functools import lru_cache

from flask import Response, request
from rjsmin import jsmin

SCRIPT = "text/javascript"
TEXTS = frozenset({
    "text/html", "text/css", SCRIPT, "image/svg+xml", "application/json", "application/manifest+json",
    "application/wasm",
})
LEAST = 1024  # bytes; below that a packet is a packet


def squeezed(response: Response) -> Response:
    """Compress the whole text that answers a GET, for browsers that take gzip; everything else passes as it is."""
    if request.method != "GET" or response.status_code != 200 or response.mimetype not in TEXTS:
        return response
    response.vary.add("Accept-Encoding")
    if not request.accept_encodings["gzip"] or response.content_encoding is not None:
        return response
    response.direct_passthrough = False  # static files pass by the body otherwise
    body = response.get_data()
    if len(body) < LEAST:
        return response
    tag, _ = response.get_etag()
    response.set_data(_packed(body, response.mimetype == SCRIPT))
    response.content_encoding = "gzip"
    if tag is not None:
        response.set_etag(tag, weak=True)  # other bytes under the same tag: it can only be a weak one
    return response


@lru_cache(maxsize=128)
def _packed(body: bytes, script: bool) -> bytes:
    plain = jsmin(body, keep_bang_comments=True) if script else body  # licences stand in comments of that kind
    return gzip.compress(plain, 6, mtime=0)
