"""Pages, scripts, styles and drawings go over the lab's radio compressed; what they say stays the same.

Scripts and styles leave their comments and indentation at home: a fifth of their bytes, and none of what they do.
Browsers take Brotli (RFC 7932) over https and from `localhost`, gzip (RFC 1952) everywhere.
"""

import gzip
from collections.abc import Callable
from functools import lru_cache

import brotli
from flask import Response, request
from rcssmin import cssmin
from rjsmin import jsmin

SCRIPT, STYLE = "text/javascript", "text/css"
FILES = frozenset({SCRIPT, STYLE, "image/svg+xml", "application/wasm"})  # made once, so that time may be spent on them
TEXTS = FILES | {"text/html", "application/json", "application/manifest+json"}
LEAST = 256  # bytes; below that nothing is gained
# Brotli's effort, of 11: a page is made anew for each visit, and somebody waits for a large file when it is first used.
FRESH, SMALL, LARGE = 5, 11, 9
LARGE_BYTES = 128 * 1024


def squeezed(response: Response) -> Response:
    """Compress the whole text that answers a GET, as tightly as the browser takes it; all else passes as it is."""
    if request.method != "GET" or response.status_code != 200 or response.mimetype not in TEXTS:
        return response
    response.vary.add("Accept-Encoding")
    way = next((one for one in WAYS if request.accept_encodings[one]), "")
    if not way or response.content_encoding is not None:
        return response
    response.direct_passthrough = False  # static files pass by the body otherwise
    body = response.get_data()
    if len(body) < LEAST:
        return response
    tag, _ = response.get_etag()
    response.set_data(_packed(body, response.mimetype, way))
    response.content_encoding = way
    if tag is not None:
        response.set_etag(tag, weak=True)  # other bytes under the same tag: it can only be a weak one
    return response


def _packed(body: bytes, kind: str, way: str) -> bytes:
    return _packed_file(body, kind, way) if kind in FILES else WAYS[way](body, FRESH)


@lru_cache(maxsize=256)
def _packed_file(body: bytes, kind: str, way: str) -> bytes:
    plain, large = body, len(body) >= LARGE_BYTES
    if kind == SCRIPT and not large:  # what is large others wrote, and it came without comments
        plain = jsmin(body, keep_bang_comments=True)  # licences stand in comments of that kind
    elif kind == STYLE:
        plain = cssmin(body, keep_bang_comments=True)
    return WAYS[way](plain, LARGE if large else SMALL)


def _brotli(plain: bytes, effort: int) -> bytes:
    return bytes(brotli.compress(plain, quality=effort))


def _gzip(plain: bytes, effort: int) -> bytes:
    return gzip.compress(plain, 6, mtime=0)


WAYS: dict[str, Callable[[bytes, int], bytes]] = {"br": _brotli, "gzip": _gzip}
