"""Who may ask what: every route of the application, as everybody, as nobody, and from another site."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from werkzeug.routing import AnyConverter, IntegerConverter, Rule

from benchapp.web.app import create_app
from benchapp.web.desk import EVERYBODY
from tests.web.desks import Desk, desk

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
    "worker.service_worker": "script", "worker.manifest": "manifest",
    "local.add": "key of the data folder", "local.lab": "key of the data folder",
    "chamber.every": "chambers of the lab", "chamber.page": "a chamber's page", "chamber.of_load": "known tablets",
    "desk.first": "leads to a page", "desk.door": "sign-in", "desk.enter": "PIN or badge",
    "desk.leave": "ends a sitting",
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
