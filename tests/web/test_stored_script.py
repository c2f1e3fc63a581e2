"""Markup in every field that takes words: stored, shown on every page, and nowhere more than words.

The fields are found by walking the forms of all pages, so a new field is filled too, or the test names it.
"""

import re
from collections.abc import Iterator
from html import escape
from pathlib import Path

import pytest

from benchapp.actions.facts import take_facts
from benchapp.core.orders import COLUMNS
from tests.actions import worked as at_work
from tests.actions.checked import stl
from tests.actions.whole import LAB3, THIRD, settle
from tests.actions.whole import seat as seat_of
from tests.actions.worked import CASE, LOWER, PROTOCOL, TABLET, eventful
from tests.web.clients import deliver, fact
from tests.web.desks import Desk, desk
from tests.web.walker import BOMB, NO_WORDS, Page, Walker

AS_TOML = BOMB.replace('"', '\\"')
LAB = LAB3
for _list, _thing in (
    ("people = [", f'{{ name = "{AS_TOML}", roles = ["technician"], pin = "2468" }},'),
    ("devices = [", f'{{ name = "{AS_TOML}", kind = "meter" }}, '),
    ("materials = [", f'{{ name = "{AS_TOML}", kind = "barrier", lot = "{AS_TOML}", expiry = 2031-06-30, '
     f'tint = "{AS_TOML}", shade = "{AS_TOML}", blocked = "{AS_TOML}" }},'),
):
    LAB = LAB.replace(_list, f"{_list} {_thing}")
ORDER = re.sub(
    r'\b(patient|prescriber|order|shade|tint|revision|print_job) = "[^"]*"', lambda f: f'{f[1]} = "{AS_TOML}"', CASE
).replace("tint =", f'pan = "{AS_TOML}"\nmarking = "yes"\nmarking_words = "{AS_TOML}"\ntint =', 1)
STEPS = re.sub(r'\b(title|words) = "[^"]*"', lambda found: f'{found[1]} = "{AS_TOML}"', PROTOCOL)
LAST = ("cases.case_order.call_off", "remake.make")  # what would end the work of others

# Fields on forms that are not stored as words, each with the reason.
UNSTORED = dict.fromkeys(("enrol.code.name", "enrol.name.name"), "longer than the name of a tablet may be")


def orders() -> bytes:
    """Return a list of orders with markup in every heading and cell that may hold words."""
    cell = BOMB.replace('"', '""')
    usual = {"kind": "new", "jaws": "both", "allergy": "no", "due": "2031-01-15", "marking": "yes"}
    texts = [column.name for column in COLUMNS if column.of == "text"]
    lines = [f'"{cell}",' + ",".join(column.title for column in COLUMNS)]
    for kind in ("new", cell):
        found = usual | {name: f"{cell}{at}" for at, name in enumerate(texts)} | {"kind": kind}
        lines.append(f'"{cell}",' + ",".join(f'"{found.get(column.name, "")}"' for column in COLUMNS))
    return "\n".join(lines).encode()


def sheet() -> bytes:
    """Return a case sheet with markup in every word, and an allergy that somebody must decide on."""
    text = ORDER.format(training="false", jaw="lower", teeth=LOWER)
    return text.replace('allergy = "none stated"', 'allergy = "yes"').replace('order = "', 'order = "2 ').encode()


@pytest.fixture
def at(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Desk]:
    """A lab full of markup with a jaw to which everything happened, and a supervisor who may release it."""
    monkeypatch.setattr(at_work, "PROTOCOL", STEPS)
    with desk(tmp_path / "data", lab=LAB, case=ORDER) as found:
        eventful(found.jaw)
        yield found.sit(*THIRD)


def facts_of_a_strange_tablet(at: Desk) -> None:
    """Let a tablet say markup in every key that a fact has, and send what is no fact at all."""
    strange = fact(
        at.jaw, step=BOMB, outcome=BOMB, places=[BOMB], picks={BOMB: BOMB, "reason": BOMB}, undo=BOMB, allow=BOMB,
        values=[{"name": BOMB, "value": BOMB[:24], "unit": BOMB[:12]}],
    )
    strange["by"] = {"person": BOMB, "how": "claimed", "signin": BOMB}
    strange["from"] |= {"tablet": BOMB, "boot": BOMB, "app": BOMB, "table": BOMB}
    kinds = ("confirm", "hold", "sendback", "dark", "reason", "hand", "claimed", "opened")
    lost = fact(at.jaw, case=BOMB, jaw=BOMB)
    answer = deliver(at.client, [strange | {"kind": k, "id": f"strange-{k}"} for k in kinds] + [lost, {"id": BOMB}])
    assert {ack["was"] for ack in answer["acks"]} == {"stored", "parked"}
    take_facts(at.jaw.bench, TABLET, BOMB.encode())


@pytest.mark.long
def test_markup_stays_words_everywhere(at: Desk) -> None:
    """Every field of every form takes markup; no page of any route runs it, and each piece is shown as words."""
    facts_of_a_strange_tablet(at)
    walker = Walker(at, pin=THIRD[1], files={
        "cases.case_lists.upload": orders(), "cases.case_new.upload": sheet(),
        "editions.force": re.sub(r'(?m)^edition = "[^"]*"', 'edition = "2-markup"', STEPS).encode(),
        "meshes.put": stl(BOMB),
    })
    for round_ in range(7):
        forms = [form for page in walker.every_page(forms_only=True) for form in page.forms]
        assert len(forms) > 40
        walker.ask(form for form in forms if form.method == "get")
        before = len(walker.stored())
        posts = [form for form in forms if form.method == "post"]
        posts.sort(key=lambda form: walker.endpoint(form) in LAST)
        for form in posts:
            if round_ > 2 or walker.endpoint(form) not in LAST:
                walker.submit(form)
        if round_ == 0:
            settle(at.jaw, seat_of(at.jaw, walker.me(THIRD[0])))
        elif round_ > 2 and len(walker.stored()) == before:
            break
    assert {"/", "/chamber", "/due.json"} <= set(walker.addresses())
    walker.every_page()
    text, shown = walker.stored(), "\n".join(walker.pages.values())
    unstored = {key for key, words in walker.marks.items() if words not in text}
    assert unstored == UNSTORED.keys(), walker.refused
    assert len(walker.marks) > 45
    shown = shown.replace("&#34;", "&quot;").replace("&#39;", "&#x27;")
    hidden = {key for key, words in walker.marks.items() if escape(words) not in shown}
    assert hidden - UNSTORED.keys() == set()
    assert NO_WORDS.keys() <= walker.names


def test_the_walker_sees_what_would_run() -> None:
    """Raw markup, an attribute that was broken out of, a script of another place and a javascript: link are seen."""
    for page in (f"<p>{BOMB}</p>", '<input value=""onfocus=alert(1) x="">',
                 "<script src=//elsewhere.example/x.js></script>",
                 '<a href="javascript:alert(1)">x</a>'):
        assert Page("/", page).runs != [], page
    assert Page("/", f"<p title='{escape(BOMB)}'>{escape(BOMB)}</p><script src=/static/js/a.js></script>").runs == []
