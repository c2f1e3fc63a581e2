"""Somebody who opens every page of an application and fills every form of it with markup."""

import io
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import Any
from urllib.parse import urlsplit

from werkzeug.routing import AnyConverter, Rule
from werkzeug.test import TestResponse

from benchapp.actions.lab import people
from benchapp.actions.stock import things
from tests.web.desks import Desk

BOMB = """<script>alert(1)</script><img src=x onerror=alert(2)>"'"""
RAW = ("<script>alert(", "<img src=x")
DAY = "2026-11-24"
MOST_TRIES = 12

# Fields that hold no words of people, and what stands in them: another rule refuses markup there.
NO_WORDS = {
    "due": DAY, "surgery": "", "on": DAY, "kind": "stain", "band_low": "", "band_high": "", "after_opening": "",
    "opened": "", "checked": "", "until": "", "value": "7",
}


@dataclass
class Form:
    """A form of a page: where it goes, its fields as (name, sort, value), its lists of choices."""

    action: str
    method: str
    fields: list[tuple[str, str, str]] = field(default_factory=list)


class Page(HTMLParser):
    """The forms of a page, and everything in it that a browser would run."""

    def __init__(self, where: str, text: str) -> None:
        super().__init__()
        self.where, self.text = where, text
        self.forms: list[Form] = []
        self.runs: list[str] = []
        self._open: Form | None = None
        self._choice: list[Any] | None = None
        self._option: tuple[bool, str | None] | None = None
        self._by_id: dict[str, Form] = {}
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note a form, a field, and what would run."""
        said = {name: value or "" for name, value in attrs}
        self.runs += [name for name in said if name.startswith("on")]
        self.runs += [said[name] for name in ("href", "src", "action") if said.get(name, "").startswith("javascript:")]
        ours = said.get("src", "").startswith("/static/") or said.get("type") == "application/json"
        if tag == "script" and not ours:
            self.runs.append(f"script {said}")
        if tag == "form":
            self._open = Form(said.get("action") or self.where, said.get("method", "get").lower())
            self._by_id[said.get("id", "")] = self._open
            self.forms.append(self._open)
        form = self._by_id.get(said["form"]) if "form" in said else self._open
        if form is None:
            return
        name = said.get("name", "")
        if tag == "select":
            self._choice = [form, name, None]
        elif tag == "option" and self._choice is not None:
            self._option = ("selected" in said, said.get("value"))
        elif tag == "textarea" or (tag == "input" and name):
            form.fields.append((name, "text" if tag == "textarea" else said.get("type", "text"), said.get("value", "")))
        elif tag == "button" and name:
            form.fields.append((name, "button", said.get("value", "")))

    def handle_data(self, data: str) -> None:
        """Take the words of a choice that has no value of its own; the chosen one, or else the first that says any."""
        if self._choice is not None and self._option is not None:
            selected, value = self._option
            if selected or not self._choice[2]:
                self._choice[2] = data.strip() if value is None else value
            self._option = None

    def handle_endtag(self, tag: str) -> None:
        """End a form or a list of choices."""
        if tag == "select" and self._choice is not None:
            self._choice[0].fields.append((self._choice[1], "select", self._choice[2] or ""))
            self._choice = None
        if tag == "form":
            self._open = None


@dataclass
class Walker:
    """Somebody who opens every page and fills every form of a desk; `marks` are the words put into each field."""

    at: Desk
    marks: dict[str, str] = field(default_factory=dict)
    sent: dict[str, int] = field(default_factory=dict)
    lists: list[str] = field(default_factory=list)
    files: dict[str, bytes] = field(default_factory=dict)
    pin: str = ""
    names: set[str] = field(default_factory=set)
    pages: dict[str, str] = field(default_factory=dict)
    refused: dict[str, str] = field(default_factory=dict)

    def mark(self, key: str) -> str:
        """Return the words for a field, the same each time."""
        return self.marks.setdefault(key, f"{BOMB}{len(self.marks):03d}")

    def stored(self) -> str:
        """Return everything that the store holds as text."""
        bodies = [entry.body for entry in self.at.jaw.bench.store.entries()]
        ids = {found.decode() for body in bodies for found in re.findall(rb'"([0-9a-f]{64})"', body)}
        rows = [words for words in self.at.jaw.bench.store.texts(sorted(ids)).values() if words]
        return "\n".join([*rows, *(body.decode().replace('\\"', '"') for body in bodies)])

    def codes(self) -> list[str]:
        """Return every code that an address may name: cases, jaws, parts, lots and devices."""
        bench = self.at.jaw.bench
        entries = bench.store.tagged("kind", "case") + bench.store.tagged("kind", "successor")
        jaws = {value for entry in entries for value in re.findall(rb'"code":"([0-9A-Z]{10})"', entry.body)}
        cases = {value for entry in entries for value in re.findall(rb'"case":"([0-9A-Z]{10})"', entry.body)}
        shelf = {kind: [t.code for t in things(bench) if t.of == kind] for kind in ("material", "device")}
        # The oldest and the newest of each: between them lie all ways of coming in.
        return sorted({code.decode() for code in jaws | cases} | {
            code for found in shelf.values() for code in (found[:2] + found[-2:])
        })

    def addresses(self, forms_only: bool = False) -> Iterator[str]:
        """Give an address for each GET route and each thing that it can be about; papers may be left out."""
        app = self.at.client.application
        codes, who = self.codes(), [p.id for p in people(self.at.jaw.bench)]
        for rule in app.url_map.iter_rules():
            if "GET" not in (rule.methods or ()) or rule.endpoint == "static":
                continue
            if forms_only and (not rule.rule.startswith("/desk") or rule.rule.endswith((".pdf", ".png", ".toml"))):
                continue
            for values in self._values(rule, codes, who):
                with app.test_request_context():
                    yield str(app.url_map.bind("localhost").build(rule.endpoint, values, method="GET"))

    def _values(self, rule: Rule, codes: list[str], who: list[str]) -> Iterable[dict[str, str]]:
        names = sorted(rule.arguments)
        if not names:
            return [{}]
        first = {name: sorted(rule._converters[name].items) for name in names
                 if isinstance(rule._converters[name], AnyConverter)}
        found: list[dict[str, str]] = [{}]
        for name in names:
            known = first.get(name) or (who if name == "person_id" else self.lists if name == "at" else codes)
            found = [one | {name: value} for one in found for value in (known or ["x"])]
        return found if len(names) == 1 or first else [dict.fromkeys(names, value) for value in codes]

    def open(self, where: str) -> Page | None:
        """Open an address; whatever it answers must be harmless."""
        return self.look(where, self.at.client.get(where))

    def look(self, where: str, answer: TestResponse) -> Page | None:
        """Look at an answer: no page runs what was typed, programs get JSON, paper is paper."""
        path = urlsplit(where).path
        assert answer.status_code < 500, (where, answer.status_code, answer.text[:300])
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
        if answer.mimetype == "application/pdf":
            assert answer.data.startswith(b"%PDF-")
        elif answer.mimetype == "text/html":
            page = Page(path, answer.text)
            assert page.runs == [], (where, page.runs)
            assert [raw for raw in RAW if raw in answer.text] == [], where
            self.pages[where] = answer.text
            return page
        if path.endswith(".json") and answer.status_code == 200:
            assert answer.mimetype == "application/json", where
        return None

    def every_page(self, forms_only: bool = False) -> list[Page]:
        """Open every address, or only those that may have forms."""
        return [page for where in self.addresses(forms_only) if (page := self.open(where)) is not None]

    def fill(self, form: Form, endpoint: str) -> dict[str, Any]:
        """Return a form as somebody fills it who writes markup wherever words are taken."""
        filled: dict[str, Any] = {}
        for name, sort, value in form.fields:
            if self._words(name, sort):
                filled[name] = self.mark(self.key(endpoint, name))
            elif sort in ("text", "date"):
                filled[name] = NO_WORDS.get(name) or value or (DAY if sort == "date" and name not in NO_WORDS else "")
            elif sort == "password":
                filled[name] = self.pin
            elif sort == "file":
                assert endpoint in self.files, f"{endpoint} asks for a file; say in the test which"
                filled[name] = (io.BytesIO(self.files[endpoint]), f"{BOMB}.csv")
            elif sort == "checkbox":
                filled.setdefault(name, []).append(value or "on")
            elif sort in ("radio", "button"):
                filled.setdefault(name, value)
            else:
                filled[name] = value
        return filled

    @staticmethod
    def _words(name: str, sort: str) -> bool:
        return sort == "text" and name not in NO_WORDS

    def key(self, endpoint: str, name: str) -> str:
        """Return the name under which a field is known, whatever thing it is about."""
        return f"{endpoint}.{re.sub(r'[0-9A-Z]{10}', 'CODE', name)}"

    def me(self, name: str) -> str:
        """Return the name that somebody bears now, who was called `name` before the forms were filled."""
        names = [p.name for p in people(self.at.jaw.bench)]
        return name if name in names else next(n for n in names if n == self.marks["staff.alter.name"])

    def endpoint(self, form: Form) -> str:
        """Return the view that a form is sent to."""
        urls = self.at.client.application.url_map.bind("localhost")
        return str(urls.match(urlsplit(form.action).path, form.method.upper())[0])

    def ask(self, forms: Iterable[Form]) -> None:
        """Send each form that only asks, once, with markup in its fields."""
        for form in {(f.action, str(f.fields)): f for f in forms}.values():
            words = {name: f"{BOMB}?" for name, sort, _ in form.fields if sort in ("text", "search")}
            self.look(form.action, self.at.client.get(form.action, query_string=words))

    def submit(self, form: Form) -> None:
        """Send a form whose words are not all stored yet; what it answers must be harmless."""
        endpoint = self.endpoint(form)
        self.names |= {name for name, *_ in form.fields}
        words = [name for name, sort, _ in form.fields if sort == "file" or self._words(name, sort)]
        boxes = any(sort == "checkbox" for _, sort, _ in form.fields)
        if not words and not boxes:
            return
        filled, text = self.fill(form, endpoint), self.stored()
        keys = [self.key(endpoint, name) for name in words]
        again = self.sent.get(endpoint, 0)
        if again >= MOST_TRIES or (again and all(self.marks.get(key, "") in text for key in keys)):
            return
        self.sent[endpoint] = again + 1
        answer = self.at.client.post(form.action, data=filled)
        page = self.look(form.action, answer)
        if answer.status_code == 303:
            self.refused.pop(endpoint, None)
            self.open(answer.location)
            led = re.fullmatch(r"/desk/cases/orders/([^/]+)", answer.location)
            self.lists += [led[1]] if led and led[1] not in self.lists else []
        elif page is not None:
            self.refused[endpoint] = " ".join(re.findall(r'(?s)class="faults".*?</ul>', page.text))[:600]
