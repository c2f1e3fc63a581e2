"""Every word of a page comes from the catalogue: pages in a made-up language have no other words than those in it."""

import html
import random
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass

import pytest

from benchapp.actions.cases import add_case
from benchapp.actions.lab import people
from benchapp.actions.restoring import note_restored
from benchapp.actions.settings import zones
from benchapp.actions.stock import things
from benchapp.actions.tablets import show_code, strike
from benchapp.core.codes import make_code, spaced
from benchapp.core.orders import COLUMNS
from benchapp.core.sheet import read_sheet
from benchapp.core.words import Catalogue, using
from benchapp.paths import PROTOCOLS
from benchapp.store.verify import Checkpoint
from tests.actions.worked import CASE, PROTOCOL, UPPER
from tests.speech import data_of, speaking, unspoken
from tests.web.desks import SUPERVISOR, Desk, desk, enrolled, from_network


@dataclass(frozen=True)
class Page:
    """A page by its address; what it and `data` have in braces is filled: {jaw}, {case}, {person}, {lot} and so on.

    `data` are words on it that come from the test's own case; `seated` says whether somebody sits at the desk;
    `status` is that of the answer.
    """

    address: str
    data: tuple[str, ...] = ()
    seated: bool = True
    status: int = 200


CHOICES = tuple(column.help() for column in COLUMNS if not column.about)  # what is written in a list, ever in English
SHIPPED = [tomllib.loads(file.read_text(encoding="utf-8")) for file in PROTOCOLS.glob("*.toml")]
FILES = tuple({str(one[key]) for one in SHIPPED for key in ("id", "edition")})
OPTIONS = (*tomllib.loads(PROTOCOL)["options"], *FILES)
PAGES = [
    Page("/"),
    Page("/bench/{jaw}", data=("s",)),  # the unit of a value
    Page("/bench/{jaw}/seating"),
    Page("/desk/jaw/{jaw}/seating"),
    Page("/chamber"),
    Page("/tablet"),
    Page("/find?code=Z-5", data=("Z-5", "T-1", "T-2")),
    Page("/desk/signin", seated=False),
    Page("/desk/people"),
    Page("/desk/people/new"),
    Page("/desk/people/{person}"),
    Page("/desk/people/{person}/once"),
    Page("/desk/tablets"),
    Page("/desk/tablets/codes"),
    Page("/enrol", seated=False),
    Page("/desk/network", data=("benchapp serve --lan --data DIR",)),
    Page("/desk/settings", data=(*zones(), "min")),
    Page("/desk/materials"),
    Page("/desk/materials?q=nothing", data=("nothing",)),
    Page("/desk/materials/new"),
    Page("/desk/materials/{lot}"),
    Page("/desk/materials/{lot}/edit"),
    Page("/desk/devices"),
    Page("/desk/devices/new"),
    Page("/desk/devices/{device}"),
    Page("/desk/jaw/{jaw}/files"),
    Page("/desk/jaw/{jaw}/check"),
    Page("/desk/today", data=("T-1", "T-2")),
    Page("/desk/today/list", data=("T-1", "T-2")),
    Page("/desk/marks"),
    Page("/desk/deviations"),
    Page("/desk/cases", data=("Z-5", "T-1", "T-2")),
    Page("/desk/cases?q=nobody&state=held:gone&page=2"),
    Page("/desk/cases/new", data=OPTIONS),
    Page("/desk/cases/orders", data=CHOICES),
    Page("/desk/cases/orders/gone", status=409),
    Page("/desk/cases/{case}/codes"),
    Page("/desk/cases/1234567890/codes", status=404),
    Page("/desk/cases/{case}/order"),
    Page("/desk/case/{case}"),
    Page("/desk/case/{case}/line"),
    Page("/desk/case/{case}/release", status=409),
    Page("/desk/jaw/{jaw}/release"),
    Page("/desk/jaw/{jaw}/after"),
    Page("/desk/jaw/{jaw}/remake"),
    Page("/desk/protocol", data=("min", *FILES)),
    Page("/desk/protocol?jaw={jaw}", data=("min", *FILES)),
    Page("/desk/protocol/editions", data=FILES),
    Page("/desk/protocol/editions/gone.toml", status=404),
    Page("/desk/printing", data=("{folder}/printing.toml", "A4")),
    Page("/desk/print/{case}"),
    Page("/record/{jaw}", data=("UTC", "min", "s", "{tip}")),
    Page("/record/1234567890", status=404),
]


@pytest.fixture(scope="module")
def at(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Desk]:
    """A supervisor at the desk of a lab with a jaw in work, and two cases with the same pan."""
    with desk(tmp_path_factory.mktemp("spoken") / "data") as sitting:
        for order, speed in (("T-1", 1), ("T-2", 60)):
            text = CASE.format(training="true", jaw="upper", teeth=UPPER).replace("T-2026-0017", order)
            sheet = read_sheet("case.toml", text.replace("order =", 'pan = "Z-5"\norder ='))
            add_case(sitting.jaw.bench, sheet, PROTOCOL, speed=speed)
        yield sitting


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.address)
def test_every_word_is_in_the_catalogue(page: Page, at: Desk) -> None:
    """Nothing that a person sees, hears or gets from a script stands outside the brackets, but data."""
    device, *_chamber, lot = things(at.jaw.bench)
    names = {"jaw": at.jaw.code, "case": at.jaw.opened.code, "person": people(at.jaw.bench)[0].id,
             "lot": lot.code, "device": device.code, "folder": at.jaw.bench.store.path.parent,
             "tip": at.jaw.bench.store.tip().hash}
    with speaking():
        client = at.client if page.seated else at.client.application.test_client()
        answer = client.get(page.address.format(**names))
    assert answer.status_code == page.status, answer.text[:400]
    assert "⟦" in answer.text
    known = [*data_of(at.jaw), *(tablet.id for tablet in at.tablets())]
    assert unspoken(answer.text, [*known, *(one.format(**names) for one in page.data)]) == []


def test_pages_of_tablets_are_spoken_in_every_state(at: Desk) -> None:
    """Tablet and display, struck off, named anew, a pause, open and used codes, a restore; and what each sees."""
    one, wall = enrolled(at, "Alpha"), enrolled(at, "Beta", "display")
    known = {tablet.name: tablet.id for tablet in at.tablets()}
    strike(at.jaw.bench, at.seat(), known["Alpha"])
    note_restored(at.jaw.bench, Checkpoint(1, "0" * 64))
    show_code(at.jaw.bench, at.seat())
    data = [*data_of(at.jaw), *(tablet.id for tablet in at.tablets()), *known, *at.jaw.bench.enrolments, "192.168.7.20"]
    data += [spaced(code) for code in at.jaw.bench.enrolments]
    with speaking():
        stranger = from_network(at)
        for _time in range(7):
            wrong = stranger.post("/enrol", data={"code": make_code("E", random.Random(4).choice)})
        for client, where in ((at.client, "/desk/tablets"), (at.client, "/desk/tablets/codes"), (one, "/"), (wall, "/"),
                              (wall, "/enrol"), (stranger, "/")):
            assert unspoken(client.get(where).text, data) == [], where
        assert unspoken(wrong.text, [*data, "E"]) == []


def test_bare_words_would_be_found() -> None:
    """The search sees texts, attributes, values of buttons and words of scripts, across elements, and leaves data."""
    bare = (
        "<p>Bare</p>", "<p>⟦in⟧ out</p>", '<p aria-label="Bare">⟦in⟧</p>', '<input placeholder="Bare">',
        '<img alt="Bare">', '<input type="submit" value="Bare">', "<p>⟦in <b>in</b></p>", "<p title='⟦a⟧ b'></p>",
        '<script type="application/json" id="data">{"words": {"a": {"b": "Bare"}}}</script>',
    )
    for page in bare:
        assert unspoken(page), page
    fine = (
        "<p>⟦in⟧ · 12:30 2026-12-01</p>", "<p>⟦Jaw <b>A</b> is ⟦held⟧⟧.</p>", "<p>Żuraw 17, ⟦due⟧</p>",
        '<input value="typed"><script>const bare = 1</script>', "<title>⟦in⟧ · Seat &amp; Cure</title>",
        '<script type="application/json" id="data">{"words": {"a": ["⟦in⟧"]}, "code": "X"}</script>',
    )
    for page in fine:
        assert unspoken(page, ["Żuraw 17"]) == [], page
    assert unspoken("<p>Żurawie</p>", ["Żuraw"]) == ["Żurawie"]


def test_a_catalogue_cannot_bring_markup_in(at: Desk) -> None:
    """A text of the catalogue and a value in it are both shown as text: no script runs from either."""
    nasty = "<script>ran()</script> & \"'"

    def translated(text: str) -> str:
        return f"{text} {nasty}"

    catalogue = Catalogue("pl", "nasty", translated, lambda one, many, n: nasty)
    with using(catalogue):
        text = at.client.get("/find", query_string={"code": "Z-5<script>typed()</script>"}).text
        front = at.get("/")
    for page in (text, front):
        assert "<script>ran" not in page and "<script>typed" not in page
        assert 'lang="pl"' in page
    assert html.escape(nasty) in text.replace("&#34;", "&quot;").replace("&#39;", "&#x27;")


@pytest.mark.parametrize(
    ("template", "shown"),
    [
        ('{{ _("Jaw {code} is held", code=nasty) }}', "Jaw &lt;b&gt; is held"),
        ('{{ n_("{n} jaw of {code}", "{n} jaws of {code}", 2, code=nasty) }}', "2 jaws of &lt;b&gt;"),
        ('{% set code %}<i>{{ nasty }}</i>{% endset %}{{ _("Jaw {code}", code=code) }}', "Jaw <i>&lt;b&gt;</i>"),
        ('{{ _("{code} is not safe", code="{nasty}") }}', "{nasty} is not safe"),
        ('<p title="{{ _("{code}", code=nasty + "\\"") }}">', '<p title="&lt;b&gt;&#34;">'),
        ('{{ _("Nothing < {here}") }}', "Nothing &lt; {here}"),
    ],
)
def test_values_are_escaped_and_markup_stays_markup(template: str, shown: str, at: Desk) -> None:
    """A value is shown as text, in a sentence and in an attribute; only what is markup already stays so."""
    page = at.client.application.jinja_env.overlay(autoescape=True).from_string(template)
    assert page.render(nasty="<b>") == shown


def test_the_language_is_said_to_reading_machines(at: Desk) -> None:
    """`lang` of a page is the tag of the catalogue, and a page of another language is another version of it."""
    plain = at.get("/")
    with speaking():
        other = at.get("/")
    assert '<html lang="en" data-app="' in plain
    version = plain.split('data-app="')[1].split('"')[0]
    assert f'data-app="{version}-made-up"' in other and SUPERVISOR[0] in other
