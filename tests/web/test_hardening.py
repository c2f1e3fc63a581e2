"""Junk, bombs, strange addresses and stolen tokens: each answered in words, and nothing is changed by them."""

import io
import json
import re
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from benchapp.web.app import CSP, create_app
from benchapp.web.desk import COOKIE
from tests.web.clients import KEY
from tests.web.desks import SUPERVISOR, TECHNICIAN, Desk, desk
from tests.web.test_authority import address, asked, rules

NAMES = [
    "person", "pin", "reason", "badge", "event", "outcome", "name", "value", "words", "why", "by", "on", "means",
    "place", "what", "part", "key", "hash", "way", "label", "zone", "address", "lab", "until", "roles", "row", "next",
    "again", "goes_on", "day", "due", "kind", "lot", "expiry", "q",
]  # fmt: skip
URLENCODED = "application/x-www-form-urlencoded"
JUNK: dict[str, dict[str, Any]] = {
    "nothing": {"data": {}},
    "a list": {"data": json.dumps([1, {"a": None}]), "content_type": "application/json"},
    "wrong sorts": {"data": json.dumps({name: [1.5] for name in NAMES}), "content_type": "application/json"},
    "half signs": {"data": json.dumps(dict.fromkeys(NAMES, "\ud800")), "content_type": "application/json"},
    "nesting": {"data": "[" * 200_000, "content_type": "application/json"},
    "controls": {"data": dict.fromkeys(NAMES, "\x00\x07\x1b\u202e\x85")},
    "broken bytes": {"data": "&".join(f"{n}=%ED%A0%80%FF" for n in NAMES), "content_type": URLENCODED},
    "10 000 fields": {"data": "&".join(f"f{at}={at}" for at in range(10_000)), "content_type": URLENCODED},
    "10 000 of one": {"data": "&".join(["label=x&roles=x&row=9&jaw=x&options=x"] * 2000), "content_type": URLENCODED},
    "no parts": {"data": b"--x\r\nfoo", "content_type": "multipart/form-data; boundary=y"},
}


def in_parts(name: str, data: bytes, file: str = "") -> dict[str, Any]:
    """Return a form of one field or file as browsers send it; the client's own way leaves temporary files open."""
    told = f'name="{name}"' + (f'; filename="{file}"' if file else "")
    head = f"--edge\r\nContent-Disposition: form-data; {told}\r\n\r\n".encode()
    return {"data": head + data + b"\r\n--edge--\r\n", "content_type": "multipart/form-data; boundary=edge"}


HUGE: dict[str, dict[str, Any]] = {
    "plain": {"data": b"words=" + b"x" * 4_400_000, "content_type": URLENCODED},
    "in parts": in_parts("words", b"x" * 4_400_000),
}
# Forms that ask for nothing, or for one word: junk that happens to be enough for them.
MAY = {"/order/cancel": "words of any kind are a reason", "/order/reopen": "asks for nothing", "/outbox/1": "parks"}


@pytest.fixture
def at(tmp_path: Path) -> Iterator[Desk]:
    """A desk at which a supervisor sits."""
    with desk(tmp_path / "data") as found:
        yield found


def posts(at: Desk) -> list[str]:
    """Return an address for every route that takes something, with things that exist."""
    found = [address(at, rule) for rule in rules(at) if "POST" in (rule.methods or ())]
    return [where for where in found if where not in ("/desk/signout",)]


@pytest.mark.parametrize("what", JUNK)
def test_junk_is_refused_and_changes_nothing(what: str, at: Desk) -> None:
    """No form and no program's door answers junk with an error of ours, and the journal stays as it was."""
    bench, told = at.jaw.bench, 0
    for where in posts(at):
        for headers in ({}, {"Accept": "application/json", "X-Local-Key": KEY}):
            before = bench.store.tip()
            answer = at.client.post(where, headers=headers, **JUNK[what])
            assert answer.status_code < 500, (where, answer.text[:300])
            changed = [e for e in bench.store.entries() if e.seq > before.seq]
            kinds = {json.loads(entry.body)["event"]["kind"] for entry in changed}
            assert kinds <= {"locked"} or any(where.endswith(end) for end in MAY), (where, kinds)
            told += answer.status_code >= 400
    assert told > 40


@pytest.mark.parametrize("how", HUGE)
def test_more_than_4_mb_is_refused_with_a_sentence(how: str, at: Desk) -> None:
    """A field of over 4 MB is never read: 413 says what to do, or the form did not look at it and says so in words."""
    before, refused = at.jaw.bench.store.tip(), 0
    for where in posts(at):
        answer = at.client.post(where, headers={"Accept": "application/json", "X-Local-Key": KEY}, **HUGE[how])
        assert answer.status_code < 500, where
        if answer.status_code == 413:
            refused += 1
            assert "nothing was changed" in answer.text and "smaller file" in answer.text, where
    kinds = {json.loads(e.body)["event"]["kind"] for e in at.jaw.bench.store.entries() if e.seq > before.seq}
    assert refused > 20 and kinds <= {"reopen", "cancel"}


def zipped() -> bytes:
    """Return an archive of 900 kB of zeros, as somebody names it orders.csv."""
    pack = io.BytesIO()
    with zipfile.ZipFile(pack, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("orders.csv", b"\x00" * 900_000)
    return pack.getvalue()


BOMBS: dict[str, bytes] = {
    "50 MB": b"a,b\n" * 12_500_000,
    "3 MB": b"a,b\n" * 750_000,
    "an archive": zipped(),
    "nested": b"x = " + b"[" * 100_000,
    "nested tables": b"[" + b".".join([b"a"] * 20_000) + b"]\n",
    "one cell": b"order,patient\n" + b"x" * 900_000,
    "open quote": b'order,patient\n"' + b"x\n" * 100_000,
    "many columns": b",".join([b"a"] * 100_000) + b"\n1\n",
    "zeros": b"\x00" * 1000,
    "nothing": b"",
}


@pytest.mark.parametrize("what", BOMBS)
def test_a_bomb_in_a_file_is_refused_in_words(what: str, at: Desk) -> None:
    """Every form that takes a file refuses what is none of its own, says why, and stores nothing."""
    before = at.jaw.bench.store.tip()
    takes = ("/desk/cases/orders", "/desk/cases/new/sheet", "/desk/protocol/editions")
    for where in takes:
        answer = at.client.post(where, **in_parts("file", BOMBS[what], "../../orders.csv"))
        if where == "/desk/cases/orders" and answer.status_code == 303:
            assert what in ("one cell", "nested", "nested tables")  # a list of sorts; each row tells its faults
            shown = at.get(answer.location)
            assert "0 " in shown and len(shown) < 1_500_000
            continue
        assert answer.status_code in (413, 422), (where, answer.status_code, answer.text[:200])
        assert "<li>" in answer.text or "nothing was changed" in answer.text, where
    assert at.jaw.bench.store.tip() == before


@pytest.mark.parametrize("what", BOMBS)
def test_a_bomb_is_no_design_file(what: str, at: Desk) -> None:
    """The form for a part's design file refuses it in words, stores nothing, and leaves nothing in the data folder."""
    before = at.jaw.bench.store.tip()
    head = b'--edge\r\nContent-Disposition: form-data; name="part"\r\n\r\nbase\r\n'
    told = in_parts("file", BOMBS[what], "../../base.stl")
    answer = at.client.post(f"/desk/jaw/{at.jaw.code}/files", **told | {"data": head + told["data"]})
    assert answer.status_code == 422 and "<li>" in answer.text, answer.text[:300]
    assert at.jaw.bench.store.tip() == before
    folder = at.jaw.bench.store.path.parent / "meshes"
    assert not folder.exists() or list(folder.iterdir()) == []


def test_every_form_with_a_file_is_bombed(at: Desk) -> None:
    """The forms above are all forms of the desk that take a file."""
    found = set()
    for method, where, _ in asked(at):
        if method == "GET":
            answer = at.client.get(where)
            if answer.mimetype == "text/html" and 'type="file"' in answer.text:
                found.add(where)
    files = f"/desk/jaw/{at.jaw.code}/files"
    assert found == {"/desk/cases/orders", "/desk/cases/new", "/desk/protocol/editions", files}


OUTSIDE = [
    f"{start}{way}{file}"
    for start in ("/static/", "/labels/", "/record/", "/bench/", "/desk/print/", "/desk/protocol/editions/", "/what/")
    for way in ("../../", "..%2f..%2f", "%2e%2e/%2e%2e/", "..%5c..%5c", "%252e%252e%252f", "....//....//", "%00/")
    for file in ("pyproject.toml", "bench.sqlite3", "etc/passwd.pdf", "local-key")
]


def test_no_address_leads_out_of_the_house(at: Desk) -> None:
    """No way of writing `..` in an address gives a file of the PC or of the data folder."""
    for where in OUTSIDE:
        answer = at.client.get(where)
        assert answer.status_code in (302, 308, 404), (where, answer.status_code)
        assert not any(sign in answer.data for sign in (b"[project]", b"SQLite format", b"root:")), where


def test_strange_numbers_in_addresses_are_no_error(at: Desk) -> None:
    """Numbers that no entry has, of any length or sign, are answered like the nearest that could be."""
    for number in ("9" * 30, "-" + "9" * 30, "9" * 5000, "x", "1e9", "%00", ""):
        for where in (f"/bench/{at.jaw.code}/base?after=", f"/desk/case/{at.jaw.opened.code}/line?before=",
                      f"/bench/{at.jaw.code}/base?waiting=", f"/bench/{at.jaw.code}/base?tip="):
            assert at.client.get(where + number).status_code == 200, (where, number)


def test_files_are_offered_under_plain_names(at: Desk) -> None:
    """A name under which a file is offered holds letters, digits, dot and hyphen only, whatever was asked."""
    found = 0
    for method, where, _ in asked(at):
        if method == "GET":
            offered = at.client.get(where).headers.get("Content-Disposition", "")
            found += bool(offered)
            assert not offered or re.search(r'filename="?[0-9A-Za-z-]+\.[a-z]+"?$', offered), (where, offered)
    assert found > 0


def test_every_answer_carries_its_headers(at: Desk) -> None:
    """Pages, papers, pictures, data, refusals and redirects: all name what may run, and that nothing is guessed."""
    seen = set()
    for rule in rules(at):
        for method in sorted((rule.methods or set()) & {"GET", "POST"}):
            where = "/static/css/desk.css" if rule.endpoint == "static" else address(at, rule)
            answer = at.client.open(where, method=method)
            seen.add((answer.status_code, answer.mimetype))
            answer.close()
            assert answer.headers["Content-Security-Policy"] == CSP, where
            assert answer.headers["X-Content-Type-Options"] == "nosniff", where
            assert answer.headers["Referrer-Policy"] == "same-origin", where
            if rule.endpoint == "desk.leave":
                at.sit(*SUPERVISOR)
    assert {status for status, _ in seen} >= {200, 302, 303, 403, 404, 409, 422}
    assert at.client.get("/nowhere").headers["Content-Security-Policy"] == CSP
    assert "unsafe" not in CSP.replace("'wasm-unsafe-eval'", "") and "default-src 'none'" in CSP


def test_cookies_are_kept_from_scripts_and_other_sites(at: Desk) -> None:
    """Both cookies are HttpOnly and SameSite=Strict, and Secure where the page came over TLS."""
    fresh = create_app(at.jaw.bench).test_client()
    person = at.seat().person.id
    for base in ("http://localhost", "https://localhost"):
        given = fresh.get("/", base_url=base).headers.getlist("Set-Cookie")
        answer = fresh.post("/desk/signin", base_url=base, data={"person": person, "pin": SUPERVISOR[1]})
        given += answer.headers.getlist("Set-Cookie")
        assert {cookie.partition("=")[0] for cookie in given} == {"tablet", COOKIE}
        assert all("HttpOnly" in c and "SameSite=Strict" in c for c in given)
        assert all(("Secure" in c) == base.startswith("https") for c in given)


def token(at: Desk) -> str:
    """Return the token of the sitting that the client has."""
    found = at.client.get_cookie(COOKIE)
    assert found is not None
    return found.value


def opens(at: Desk, stolen: str) -> bool:
    """Tell whether a token opens the desk, from another browser."""
    other = at.client.application.test_client()
    other.set_cookie(COOKIE, stolen)
    status = other.get("/desk/today").status_code
    assert status in (200, 302, 403)
    return status == 200


def test_a_token_ends_with_its_sitting(at: Desk) -> None:
    """After signing out the token opens nothing, wherever it was copied to."""
    kept = token(at)
    assert opens(at, kept)
    at.post("/desk/signout")
    assert not opens(at, kept)


@pytest.mark.parametrize("deed", ["pin", "left"])
def test_a_token_ends_with_the_pin_and_with_the_work(deed: str, at: Desk) -> None:
    """A new PIN ends what the old one opened, and so does leaving; coming back does not open it again."""
    at.sit(*TECHNICIAN)
    kept = token(at)
    at.client.delete_cookie(COOKIE)
    at.sit(*SUPERVISOR)
    mine, person = token(at), at.seat(TECHNICIAN[0]).person.id
    assert opens(at, kept)
    at.post(f"/desk/people/{person}/{deed}")
    if deed == "left":
        at.post(f"/desk/people/{person}/back")
    assert not opens(at, kept) and opens(at, mine)


def test_a_new_pin_of_ones_own_ends_the_other_sittings_only(at: Desk) -> None:
    """Who draws a new PIN for themselves reads it on the next page; what they left open elsewhere is closed."""
    kept = token(at)
    at.client.delete_cookie(COOKIE)
    at.sit(*SUPERVISOR)
    mine = token(at)
    at.post(f"/desk/people/{at.seat().person.id}/pin")
    assert opens(at, mine) and not opens(at, kept)
