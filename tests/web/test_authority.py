"""Who may ask what: every route of the application, as everybody, as nobody, and from another site."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from werkzeug.routing import AnyConverter, IntegerConverter, Rule

from benchapp.web.app import create_app
from benchapp.web.desk import EVERYBODY
from tests.web.desks import Desk, desk, enrolled, from_network

# Views without a sign-in at the desk, each with the reason why it needs none.
OPEN = {
    "static": "files of the application",
    "home.home": "first page: codes and steps of jaws, for the tablets of the lab",
    "home.find": "leads to a page",
    "bench.jaw_page": "the bench page; a tablet without token gets one",
    "bench.base": "known tablets",
    "outbox.deliver": "known tablets",
    "people.tiles": "names for the tiles",
    "people.enter": "PIN", "people.by_badge": "badge",
    "oops.script_error": "known tablets",
    "bench.what": "known tablets", "due.running": "known tablets", "labels.picture": "label as a picture",
    "setup.form": "only from the PC itself, only while nobody works here",
    "setup.begin": "only from the PC itself, only while nobody works here",
    "people.scrap_jaw": "PIN", "people.resolve_mark": "PIN",
    "labels.sheet": "labels of a jaw", "records.page": "record", "records.pdf": "record", "records.plain": "record",
    "seating.at_bench": "a jaw's seating check", "seating.solid": "its picture", "seating.picture": "its picture",
    "this_tablet.page": "a page of settings that the tablet keeps for itself",
    "worker.service_worker": "script", "worker.manifest": "manifest",
    "local.add": "key of the data folder", "local.lab": "key of the data folder",
    "local.mesh": "key of the data folder",
    "chamber.every": "chambers of the lab", "chamber.page": "a chamber's page", "chamber.of_load": "known tablets",
    "desk.first": "leads to a page", "desk.door": "sign-in", "desk.enter": "PIN or badge",
    "desk.leave": "ends a sitting",
    "enrol.page": "asks a stranger for a code", "enrol.enter": "a code that a supervisor shows",
}


@pytest.fixture
def at(tmp_path: Path) -> Iterator[Desk]:
    """A desk at which a supervisor sits."""
    with desk(tmp_path / "data") as found:
        yield found


def rules(at: Desk) -> list[Rule]:
    """Return every route of the application."""
    return list(at.client.application.url_map.iter_rules())


def roles_of(at: Desk, rule: Rule) -> tuple[str, ...] | None:
    """Return the roles that a view names, None where it names none."""
    found: Any = getattr(at.client.application.view_functions[rule.endpoint], "roles", None)
    return found


def address(at: Desk, rule: Rule) -> str:
    """Return an address of a route, with codes of things that exist."""
    jaw = at.jaw.line
    known = {"code": jaw.case["code"] if "case" in rule.rule else jaw.code, "jaw": jaw.code, "case": jaw.case["code"]}
    values = {name: known.get(name) or _fit(rule, name) for name in rule.arguments}
    with at.client.application.test_request_context():
        built = at.client.application.url_map.bind("localhost").build(rule.endpoint, values, method=sorted(
            rule.methods - {"HEAD", "OPTIONS"})[0])
    return str(built)


def _fit(rule: Rule, name: str) -> Any:
    """Return something that the converter of an argument takes."""
    converter = rule._converters[name]
    if isinstance(converter, AnyConverter):
        return sorted(converter.items)[0]
    return 1 if isinstance(converter, IntegerConverter) else "x"


def asked(at: Desk) -> list[tuple[str, str, tuple[str, ...]]]:
    """Return (method, address, roles) for every route of the desk."""
    found = []
    for rule in rules(at):
        roles = roles_of(at, rule)
        if roles is not None:
            found += [(m, address(at, rule), roles) for m in sorted(rule.methods & {"GET", "POST"})]
    return found


def test_every_route_says_who_may_use_it(at: Desk) -> None:
    """A view names its roles, or stands in the list above with the reason; the list names nothing that is gone."""
    silent = {rule.endpoint for rule in rules(at) if roles_of(at, rule) is None}
    assert silent - OPEN.keys() == set()
    assert OPEN.keys() - silent == set()
    assert len(asked(at)) > 20
    assert all(set(roles) <= set(EVERYBODY) for *_, roles in asked(at))


def test_nobody_gets_past_the_door(at: Desk) -> None:
    """Without a sign-in every page of the desk leads to the door, and every form is turned away."""
    client = create_app(at.jaw.bench).test_client()
    for method, where, _ in asked(at):
        answer = client.open(where, method=method)
        if method == "GET":
            assert (answer.status_code, "/desk/signin" in answer.headers.get("Location", "")) == (302, True), where
        else:
            assert answer.status_code == 401, where


def test_another_sites_forms_are_turned_away(at: Desk) -> None:
    """A form of another origin is refused by every route of the desk, whoever is signed in."""
    tip = at.jaw.bench.store.tip()
    for method, where, _ in asked(at):
        if method == "POST":
            answer = at.client.post(where, headers={"Origin": "https://elsewhere.example"})
            assert answer.status_code == 401, where
            answer = at.client.post(where, headers={"Sec-Fetch-Site": "cross-site"})
            assert answer.status_code == 401, where
    assert at.jaw.bench.store.tip() == tip


# What answers a stranger's device on the network: what the page of enrolment needs, and that page.
FOR_STRANGERS = {"static", "worker.service_worker", "worker.manifest", "enrol.page", "enrol.enter"}
METHODS = {"GET", "POST"}


def on_the_network(at: Desk) -> list[tuple[str, str, str]]:
    """Return (endpoint, method, address) for every route of the application."""
    return [
        (rule.endpoint, method, address(at, rule)) for rule in rules(at)
        for method in sorted((rule.methods or set()) & METHODS)
    ]


@pytest.mark.parametrize("sort", ["unknown", "struck off", "token of the PC", "foreign host"])
def test_a_stranger_on_the_network_is_answered_nowhere(sort: str, at: Desk) -> None:
    """Whoever is no tablet of the lab gets 401 in words from every route, as page and as JSON, and changes nothing."""
    stranger = from_network(at)
    if sort == "struck off":
        stranger = enrolled(at, "Lost one")
        at.post(f"/desk/tablets/{next(t.id for t in at.tablets() if t.name == 'Lost one')}/off")
    elif sort == "token of the PC":
        at.client.get("/")
        stranger.set_cookie("tablet", at.client.get_cookie("tablet").value)  # type: ignore[union-attr]
    elif sort == "foreign host":
        stranger = at.client.application.test_client()
    # A page of another site that leads its name to this PC asks from the PC itself.
    named = {"Host": "elsewhere.example"} if sort == "foreign host" else {}
    tip, seen = at.jaw.bench.store.tip(), 0
    for endpoint, method, where in [*on_the_network(at), ("none", "GET", "/nothing-here"), ("none", "POST", "/desk")]:
        for accept in ("text/html", "application/json"):
            answer = stranger.open(where, method=method, headers={"Accept": accept, **named})
            if endpoint in FOR_STRANGERS:
                assert answer.status_code != 401, where
                continue
            seen += 1
            assert answer.status_code == 401, (method, where, answer.status_code)
            assert "enrol" in answer.text.lower() and at.jaw.code not in answer.text.replace(where, ""), where
            if accept == "application/json":
                assert answer.get_json() == {"error": answer.get_json()["error"], "struck": sort == "struck off"}
    assert seen > 200 and at.jaw.bench.store.tip() == tip


def test_a_display_sees_and_does_nothing(at: Desk) -> None:
    """A display gets every page that its kind of person could get, and 403 in words for every form and delivery."""
    display, refused = enrolled(at, "Wall", "display"), 0
    tip = at.jaw.bench.store.tip()
    for endpoint, method, where in on_the_network(at):
        for accept in ("text/html", "application/json"):
            answer = display.open(where, method=method, headers={"Accept": accept})
            if method == "GET":
                assert answer.status_code not in (401, 500) and b"it only shows. Do that" not in answer.data, where
            elif endpoint != "enrol.enter":
                refused += 1
                assert answer.status_code == 403 and "only shows" in answer.text, (where, answer.status_code)
                assert accept == "text/html" or answer.get_json()["display"] is True
    assert refused > 100 and at.jaw.bench.store.tip() == tip


@pytest.mark.parametrize("role", EVERYBODY)
def test_each_role_gets_its_routes_and_no_others(role: str, tmp_path: Path) -> None:
    """A person with one role is let in where the view names it, and refused with 403 everywhere else."""
    lab = LAB_OF_THREE
    with desk(tmp_path / "data", who=(role, "1234"), lab=lab) as at:
        tip = at.jaw.bench.store.tip()
        refused = 0
        for method, where, roles in asked(at):
            answer = at.client.open(where, method=method)
            if role in roles:
                assert answer.status_code not in (401, 500), (method, where, answer.status_code)
                assert b"That takes a" not in answer.data, (method, where)
            else:
                refused += 1
                assert (answer.status_code, b"That takes a" in answer.data) == (403, True), (method, where)
        assert refused > 0 or role == "supervisor"
        if role == "technique-lead":
            assert at.jaw.bench.store.tip() == tip


LAB_OF_THREE = """
format = 1
name = "Three Roles, invented"
address = "Wharf 3, Nowhere"
zone = "Europe/Warsaw"
people = [
  { name = "Łukasz Wiśniewski", roles = ["technician"], pin = "2468" },
  { name = "technician", roles = ["technician"], pin = "1234" },
  { name = "supervisor", roles = ["supervisor"], pin = "1234" },
  { name = "technique-lead", roles = ["technique-lead"], pin = "1234" },
]
devices = [{ name = "Lamp Plover", kind = "lamp" }, { name = "Chamber Tern", kind = "chamber" }]
materials = [
  { name = "Bond pink", kind = "bonding-resin", lot = "L-77", expiry = 2031-06-30 },
]
"""
