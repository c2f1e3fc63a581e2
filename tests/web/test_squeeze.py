"""What goes over the lab's radio: compressed, without comments, and what it says and does stays the same."""

import gzip
import zlib
from collections.abc import Iterator
from pathlib import Path

import brotli
import pytest
from flask.testing import FlaskClient
from playwright.sync_api import Page

from benchapp import paths
from benchapp.web.app import static_files
from tests.test_house import JS_TOKEN, js_tokens
from tests.web.clients import asked

SCRIPTS = [address for address in static_files("js", "vendor") if address.endswith(".js")]
STYLES = static_files("css")
PLAIN, GZIP = {"Accept-Encoding": "identity"}, {"Accept-Encoding": "gzip"}
BOTH = {"Accept-Encoding": "gzip, deflate, br, zstd"}  # as a browser asks over https
RULES = """
(text) => {
  const sheet = new CSSStyleSheet();
  sheet.replaceSync(text);
  return [...sheet.cssRules].map((rule) => rule.cssText);
}
"""


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[FlaskClient]:
    """A tablet of a lab."""
    with asked(tmp_path_factory.mktemp("lab") / "data") as (client, _):
        yield client


def served(client: FlaskClient, address: str) -> str:
    """Return what a browser that takes gzip reads at an address."""
    answer = client.get(address, headers=GZIP, buffered=True)
    assert answer.status_code == 200
    body = gzip.decompress(answer.data) if answer.headers.get("Content-Encoding") == "gzip" else answer.data
    return body.decode()


def code_of(text: str) -> str:
    """Return a script without comments and blanks outside of strings."""
    kept, at = [], 0
    for token in JS_TOKEN.finditer(text):
        kept.append("".join(text[at:token.start()].split()))
        kept.append(token[0] if token["string"] or token["name"] else "")
        at = token.end()
    return "".join(kept) + "".join(text[at:].split())


@pytest.mark.parametrize("address", [*SCRIPTS, "/sw.js"])
def test_a_script_says_the_same_without_its_comments(address: str, client: FlaskClient) -> None:
    """Every name, string and sign of the file arrives in its order; without gzip the file arrives as it is."""
    plain = client.get(address, headers=PLAIN, buffered=True).get_data(as_text=True)
    if address != "/sw.js":
        assert plain == (paths.STATIC / address.removeprefix("/static/")).read_text("utf-8")
    packed = served(client, address)
    plain, packed = (text.replace("return .", "return.") for text in (plain, packed))  # a number needs no blank
    assert js_tokens(packed) == js_tokens(plain)
    assert code_of(packed) == code_of(plain)


def test_comments_stay_at_home(client: FlaskClient) -> None:
    """A script of ours travels without comment and indentation, which makes it smaller than gzip alone does."""
    plain = (paths.STATIC / "js/bench.js").read_text("utf-8")
    packed = served(client, "/static/js/bench.js")
    assert "\n  " in plain and "// " in plain
    assert "\n  " not in packed and "// " not in packed
    body = client.get("/static/js/bench.js", headers=GZIP, buffered=True).data
    assert len(body) < len(zlib.compress(plain.encode(), 9))


@pytest.mark.parametrize("name", ["css/work.css", "pictures/app.svg", "js/bench.js"])
def test_a_weak_tag_lets_a_browser_keep_what_it_has(name: str, client: FlaskClient) -> None:
    """Asked again with the tag of what was compressed, the PC sends nothing; other bytes have no strong tag."""
    answer = client.get(f"/static/{name}", headers=GZIP, buffered=True)
    tag, weak = answer.get_etag()
    assert weak or "Content-Encoding" not in answer.headers
    again = client.get(f"/static/{name}", headers={**GZIP, "If-None-Match": answer.headers["ETag"]}, buffered=True)
    assert (again.status_code, again.data) == (304, b"") and tag


def test_each_file_of_ours_is_at_hand(client: FlaskClient) -> None:
    """No script was left out of the look above."""
    assert len(SCRIPTS) == len(list(Path(paths.STATIC).rglob("*.js"))) > 20


@pytest.mark.parametrize("address", [*SCRIPTS, *STYLES, "/sw.js", "/"])
def test_brotli_says_what_gzip_says_in_fewer_bytes(address: str, client: FlaskClient) -> None:
    """A browser that takes both gets Brotli, which the library's own reader opens; each way has answers of its own."""
    packed = client.get(address, headers=GZIP, buffered=True)
    tighter = client.get(address, headers=BOTH, buffered=True)
    assert "Accept-Encoding" in tighter.headers["Vary"]
    if "Content-Encoding" not in packed.headers:  # a few words are sent as they are
        assert "Content-Encoding" not in tighter.headers and tighter.data == packed.data
        return
    assert (packed.content_encoding, tighter.content_encoding) == ("gzip", "br")
    assert brotli.decompress(tighter.data) == gzip.decompress(packed.data)
    assert len(tighter.data) < len(packed.data)


@pytest.mark.parametrize(("asked", "way"), [
    ("br", "br"), ("gzip", "gzip"), ("br;q=0, gzip", "gzip"), ("deflate, zstd", None), ("identity", None), ("", None),
])
def test_nobody_gets_what_they_do_not_take(asked: str, way: str | None, client: FlaskClient) -> None:
    """What is not asked for, or is asked not to be sent, is not sent."""
    assert client.get("/", headers={"Accept-Encoding": asked}, buffered=True).headers.get("Content-Encoding") == way


@pytest.mark.browser
def test_a_style_means_the_same_without_its_comments(client: FlaskClient, page: Page) -> None:
    """The browser reads the same rules from each style sheet as it travels and as it is written."""
    for address in STYLES:
        plain = client.get(address, headers=PLAIN, buffered=True).get_data(as_text=True)
        packed = served(client, address)
        assert page.evaluate(RULES, packed) == page.evaluate(RULES, plain) != [], address
        assert "/*" not in packed and len(packed) < len(plain)
