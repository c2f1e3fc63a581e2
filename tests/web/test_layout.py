"""Lay out and part check: what the bench page is told of lots, devices, parts and labels, and what the PC marks."""

import html
import json
import re
from collections.abc import Iterator
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest

from benchapp.actions import shelf
from benchapp.actions.cases import Opened, add_case
from benchapp.actions.desk import Seat, store
from benchapp.actions.jaws import entries_of
from benchapp.actions.lab import people
from benchapp.actions.records import record_of
from benchapp.actions.stock import things
from benchapp.core.events import fold_event, read_body
from benchapp.core.sheet import DeviceSheet, MaterialSheet, read_sheet
from benchapp.core.stock import Thing
from benchapp.core.walk import MINUTE
from tests.actions.worked import CASE, LAB, LOWER, PROTOCOL, UPPER, Worked
from tests.web.clients import deliver, fact
from tests.web.desks import SUPERVISOR, Desk, desk

NASTY = "<script>x</script>"
DAY = 24 * 60 * MINUTE
TODAY = "2026-11-24"  # of the clock in `worked`; the lab lies in Europe/Warsaw, an hour ahead of UTC then
JSON = {"Accept": "application/json"}


@pytest.fixture
def at(tmp_path: Path) -> Iterator[Desk]:
    """A supervisor at the desk, and a jaw at its beginning."""
    with desk(tmp_path / "data") as found:
        yield found


def add(at: Desk, **what: Any) -> Thing:
    """Put a lot on the shelf, or a device where there is no `lot`; return it as it is now."""
    words = {"name": "Bond new", "kind": "bonding-resin", **what}
    lot = {"expiry": date(2031, 6, 30), **words}
    sheet = MaterialSheet(**lot) if "lot" in words else DeviceSheet(**words)
    code = shelf.put_on_shelf(at.jaw.bench, at.seat(SUPERVISOR[0]), sheet)
    return next(thing for thing in things(at.jaw.bench) if thing.code == code)


def the(jaw: Worked, kind: str) -> Thing:
    """Return the first thing of a kind."""
    return next(thing for thing in things(jaw.bench) if thing.kind == kind)


def page_data(at: Desk, code: str = "") -> tuple[dict[str, Any], str]:
    """Return the data of the bench page, and the page."""
    page = at.get(f"/bench/{code or at.jaw.code}")
    found = re.search(r'<script type="application/json" id="data">(.*?)</script>', page, re.S)
    assert found
    data: dict[str, Any] = json.loads(found[1])
    return data, page


def tiles(page: str, step: str, pick: str) -> list[tuple[str, bool, str]]:
    """Return the tiles of a pick: code, whether it is filled in, and why it cannot be taken."""
    card = page[page.index(f'data-step="{step}"'):]
    card = card[card.index(f'data-pick="{pick}"'):]
    card = card[:card.index("</fieldset>")]
    found = re.findall(r'data-value="(\w+)" aria-pressed="(\w+)".*?data-part="why"[^>]*>(.*?)</small>', card, re.S)
    return [(code, pressed == "true", html.unescape(why)) for code, pressed, why in found]


@pytest.mark.parametrize(("expiry", "why"), [
    ("2026-11-23", "Expired on 2026-11-23, its last day of use."), (TODAY, ""), ("2026-11-25", ""),
])
def test_expired_yesterday_today_and_tomorrow(expiry: str, why: str, at: Desk) -> None:
    """A lot of yesterday is shown with its reason and not filled in; of today or tomorrow it is fit, and until when."""
    lot = add(at, lot="X", expiry=date.fromisoformat(expiry))
    data, page = page_data(at)
    assert {code: said for code, _, said in tiles(page, "lay-out", "resin")}[lot.code] == why
    assert data["things"][lot.code]["unfit"] == ([why] if why else [])
    ends = {TODAY: datetime(2026, 11, 24, 23, tzinfo=UTC), "2026-11-25": datetime(2026, 11, 25, 23, tzinfo=UTC)}
    wanted = [[round(ends[expiry].timestamp() * 1000), f"Expired on {expiry}, its last day of use."]] if not why else []
    assert data["things"][lot.code]["later"] == wanted


def test_the_day_is_the_labs(at: Desk) -> None:
    """At 23:00 UTC the next day begins in Warsaw: a lot of the 24th is over then, whatever the day in UTC is."""
    lot = add(at, lot="X", expiry=date(2026, 11, 24))
    at.jaw.now[0] = round(datetime(2026, 11, 24, 22, 59, tzinfo=UTC).timestamp() * 1000)
    assert page_data(at)[0]["things"][lot.code]["unfit"] == []
    at.jaw.now[0] += MINUTE
    assert page_data(at)[0]["things"][lot.code]["unfit"] != []


def test_the_first_fit_tile_of_the_bases_tint_is_filled_in(at: Desk) -> None:
    """Unfit ones stand last, a lot of the base's tint first; what is filled in is fit."""
    wrong = add(at, lot="A", tint="rose 3")
    right = add(at, lot="B", tint="Rose 2")
    same = add(at, lot="C", tint="rose 2")
    found = tiles(page_data(at)[1], "lay-out", "resin")
    assert found[-1] == (wrong.code, False, "Its tint is rose 3; the base's tint is rose 2.")
    assert {code for code, _, _ in found[:3]} == {the(at.jaw, "bonding-resin").code, right.code, same.code}
    assert [pressed for _, pressed, _ in found] == [True, False, False, False]


def test_nothing_is_filled_in_where_nothing_is_fit(at: Desk) -> None:
    """With every lot blocked the tiles stand there with their reasons, and none is filled in."""
    shelf.block(at.jaw.bench, at.seat(), the(at.jaw, "bonding-resin").code, f"recalled {NASTY}")
    data, page = page_data(at)
    assert [(pressed, why) for _, pressed, why in tiles(page, "lay-out", "resin")] == [
        (False, f"Blocked: recalled {NASTY}.")]
    assert NASTY not in page
    assert data["things"][the(at.jaw, "bonding-resin").code]["unfit"] == [f"Blocked: recalled {NASTY}."]


def test_names_with_script_are_shown_as_words(at: Desk) -> None:
    """A name with a script in it stands escaped in the tile and in the page's data."""
    add(at, lot=NASTY, name=NASTY, tint="rose 2", shade=NASTY)
    page = page_data(at)[1]
    assert NASTY not in page and html.escape(NASTY) in page


def test_a_spent_lot_is_no_tile_but_its_label_is_known(at: Desk) -> None:
    """A spent lot leaves the tiles; read at the bench, its label still says what it is and why not."""
    lot = add(at, lot="X")
    shelf.set_spent(at.jaw.bench, at.seat(), lot.code, True)
    data, page = page_data(at)
    assert lot.code not in [code for code, _, _ in tiles(page, "lay-out", "resin")]
    assert "lot X" in data["labels"][lot.code]["what"] and data["things"][lot.code]["unfit"] != []


def test_lamp_and_resin_of_other_bands(at: Desk) -> None:
    """A clash stands in the data for both; the lamp filled in goes with the resin; an unknown band says so."""
    resin = add(at, lot="B", tint="rose 2", band=[385, 410])
    shelf.set_spent(at.jaw.bench, at.seat(), the(at.jaw, "bonding-resin").code, True)
    shelf.set_spent(at.jaw.bench, at.seat(), the(at.jaw, "lamp").code, True)
    blue, near = add(at, kind="lamp", name="Blue", band=[450, 470]), add(at, kind="lamp", name="Near", band=[410, 420])
    unknown = add(at, kind="lamp", name="Old")
    data, page = page_data(at)
    found = {code: pressed for code, pressed, _ in tiles(page, "lay-out", "lamp")}
    assert found == {blue.code: False, near.code: True, unknown.code: False}
    assert data["things"][resin.code]["clash"].keys() == {blue.code}
    assert data["things"][blue.code]["clash"] == {resin.code: data["things"][resin.code]["clash"][blue.code]}
    assert "band not known" in page


def of_case(at: Desk, revisions: tuple[str, str] = ("B", "B")) -> Opened:
    """Take in a case with both jaws; the upper one's base and arch are of these revisions."""
    text = CASE.format(training="false", jaw="upper", teeth=UPPER).replace("T-2026-0017", f"T-{revisions}")
    one, two = revisions
    text = text.replace('"base", revision = "B"', f'"base", revision = "{one}"', 1)
    text = text.replace('"arch", revision = "B"', f'"arch", revision = "{two}"', 1)
    text += CASE[CASE.index("[[jaws]]"):].format(jaw="lower", teeth=LOWER).replace("P-11", "P-21")
    return add_case(at.jaw.bench, read_sheet("case.toml", text), PROTOCOL)


def test_parts_of_two_revisions_clash(at: Desk) -> None:
    """Base A with arch B: both tiles name their revision, the arch is not filled in, and the clash says why."""
    upper = of_case(at, ("A", "B")).jaws[0]
    base, arch = (part["code"] for part in upper["parts"])
    data, page = page_data(at, upper["code"])
    assert tiles(page, "part-check", "base")[0][1] and not tiles(page, "part-check", "arch")[0][1]
    assert "rev A" in page and "rev B" in page
    assert "design revision A" in data["things"][base]["clash"][arch]
    assert data["things"][base]["clash"][arch] != "" and base in data["things"][arch]["clash"]
    data, page = page_data(at)
    assert tiles(page, "part-check", "base")[0][1] and tiles(page, "part-check", "arch")[0][1]


def remake(at: Desk, opened: Opened, part: str, code: str) -> None:
    """Scrap a part of the upper jaw and make it again, as the desk stores it."""
    jaw = opened.jaws[0]
    made = {"part": part, "code": code, "make": 2, "revision": "B", "print_job": "P-300"}
    with at.jaw.bench.store.writing() as writer:
        store(at.jaw.bench, writer, at.seat(), "remake", case=opened.code, jaw=jaw["code"], data={"made": made})


def test_labels_of_the_case_are_known_beforehand(at: Desk) -> None:
    """Own parts, the other jaw and its parts, and a scrapped part are told apart without asking the PC."""
    opened = of_case(at)
    upper, lower = opened.jaws
    old, fresh = upper["parts"][0]["code"], at.jaw.bench.code("B")
    remake(at, opened, "base", fresh)
    data = page_data(at, upper["code"])[0]
    labels = data["labels"]
    assert labels[fresh]["fine"] and labels[fresh]["what"] == "It is base 2 (design revision B) of this jaw."
    assert labels[old]["title"] == "This part is scrapped" and not labels[old]["fine"]
    assert "the lower jaw of this case" in labels[lower["parts"][0]["code"]]["what"]
    assert "the label of the lower jaw of this case" in labels[lower["code"]]["what"]
    assert all(not labels[part["code"]]["fine"] and labels[part["code"]]["next"] for part in lower["parts"])
    assert set(data["strange"]) >= {"", "A", "B", "P", "T", "D", "S", "0"}


def what(at: Desk, code: str, jaw: str = "") -> dict[str, Any]:
    """Ask the PC what a code is."""
    answer = at.client.get(f"/what/{code}", query_string={"jaw": jaw} if jaw else {}, headers=JSON)
    assert answer.status_code == 200, answer.text
    return dict(answer.get_json())


def test_what_a_code_is(at: Desk) -> None:
    """Every sort of code is named in a sentence, for whoever works on another jaw."""
    opened = of_case(at)
    upper, lower = opened.jaws
    old = upper["parts"][0]["code"]
    remake(at, opened, "base", at.jaw.bench.code("B"))
    other, bench = at.jaw.code, at.jaw.bench
    lot = the(at.jaw, "bonding-resin")
    for code, words in {
        upper["parts"][1]["code"]: "It is arch 1 (design revision B) of the upper jaw",
        upper["code"]: "is the label of",
        old: "scrapped and made again", lot.code: "lot L-77", the(at.jaw, "lamp").code: "Lamp Plover",
        opened.code: "the code of a case", bench.code("P"): "badge", bench.code("T"): "tablet",
        bench.code("A"): "No arch here has this code", bench.code("S"): "No stock here has this code",
        bench.code("2"): "No lower jaw here has this code", bench.code("0"): "No case here has this code",
    }.items():
        told = what(at, code, other)
        assert words in told["what"] and told["title"] and told["next"] and told["fine"] is False, (code, told)
    assert "another case (Żuraw 17)" in what(at, lower["code"], other)["what"]
    assert "the lower jaw of this case" in what(at, lower["code"], upper["code"])["what"]
    assert "this jaw" in what(at, upper["parts"][1]["code"], upper["code"])["what"]


def test_the_first_page_leads_from_every_label(at: Desk) -> None:
    """A chamber's label leads to its page; what has no page is named in words, and nothing else comes of it."""
    def found(code: str) -> tuple[int, str]:
        answer = at.client.get(f"/find?code={code}", headers=JSON)
        body = answer.get_json()
        return answer.status_code, body["to"] if answer.status_code == 200 else body["error"]

    bench, lamp, chamber = at.jaw.bench, the(at.jaw, "lamp"), add(at, kind="chamber", name="Chamber Teal")
    assert found(chamber.code) == (200, f"/chamber/{chamber.code}")
    assert at.client.get(f"/chamber/{chamber.code}").status_code == 200
    for code, words in {
        lamp.code: "It is Lamp Plover", the(at.jaw, "bonding-resin").code: "lot L-77", bench.code("P"): "badge",
        bench.code("T"): "tablet", bench.code("D"): "No device here has this code",
    }.items():
        status, said = found(code)
        assert status == 404 and words in said and said.endswith("."), (code, said)
    assert found(at.jaw.code) == (200, f"/bench/{at.jaw.code}")


def test_the_tag_of_a_scrapped_part_leads_to_its_jaw(at: Desk) -> None:
    """Asked by nobody's jaw, an old tag is said to be scrapped and made again, and leads to the jaw it belonged to."""
    opened = of_case(at)
    upper = opened.jaws[0]
    old, second, third = upper["parts"][0]["code"], at.jaw.bench.code("B"), at.jaw.bench.code("B")
    remake(at, opened, "base", second)
    remake(at, opened, "base", third)
    for tag, make in ((old, 1), (second, 2)):
        told = what(at, tag)
        assert told["title"] == "This part is scrapped" and told["to"] == f"/bench/{upper['code']}"
        assert f"base {make} (design revision B) of the upper jaw" in told["what"]
        assert "scrapped and made again" in told["what"] and "another case" not in told["what"]
        assert at.client.get(told["to"]).status_code == 200
    fresh = what(at, third)
    assert fresh["to"] == f"/bench/{upper['code']}" and "scrapped" not in fresh["what"]
    assert what(at, at.jaw.bench.code("B"))["to"] == "" and what(at, third, upper["code"])["to"] == ""


def test_only_known_tablets_ask(at: Desk) -> None:
    """A stranger learns nothing of a code; a text that is none is answered in words."""
    at.client.delete_cookie("tablet")
    answer = at.client.get(f"/what/{at.jaw.code}", headers=JSON)
    assert answer.status_code == 401 and "what" not in answer.get_json()
    at.client.get("/")
    assert at.client.get("/what/nonsense", headers=JSON).status_code == 404
    assert at.client.get(f"/what/{at.jaw.code}?jaw={at.jaw.bench.code('1')}", headers=JSON).status_code == 404


def test_the_base_tells_when_the_shelf_changed(at: Desk) -> None:
    """What tablets ask every few seconds says that tiles are others now; a tap on the jaw leaves it as it is."""
    def now() -> str:
        answer = at.client.get(f"/bench/{at.jaw.code}/base?after=0", headers=JSON)
        return str(answer.get_json()["shelf"])

    first = now()
    assert first == page_data(at)[0]["shelf"]
    at.jaw.main()
    assert now() == first
    shelf.block(at.jaw.bench, at.seat(), the(at.jaw, "lamp").code, "cracked")
    assert now() != first


def lay_out(at: Desk, when: int, **picks: str) -> list[list[str]]:
    """Send the fact of Lay out as a tablet that did it at `when` (UTC ms); return its marks."""
    usual = {"resin": the(at.jaw, "bonding-resin").code, "lamp": the(at.jaw, "lamp").code}
    sent = fact(at.jaw, step="lay-out", outcome="all-at-hand", picks=usual | picks)
    sent["at"]["wall"] = when
    at.jaw.now[0] = max(at.jaw.now[0], when)
    return list(deliver(at.client, [sent])["acks"][0]["marks"])


UNFIT = ["unfit", "deviation"]


def test_what_was_fit_is_not_marked(at: Desk) -> None:
    """A lot on its last day and a lamp on the day its check is due are picked without a mark."""
    at.jaw.run_to("lay-out")
    lot = add(at, lot="X", expiry=date(2026, 11, 24))
    lamp = add(at, kind="lamp", name="Due", due=date(2026, 11, 24))
    assert lay_out(at, at.jaw.now[0] + MINUTE, resin=lot.code, lamp=lamp.code) == []


@pytest.mark.parametrize("case", ["expired", "open too long", "spent", "overdue", "tint", "clash"])
def test_what_was_not_fit_is_stored_and_marked(case: str, at: Desk) -> None:
    """A fact that names what was not fit counts, and is marked as a deviation."""
    at.jaw.run_to("lay-out")
    picks = {
        "expired": lambda: {"resin": add(at, lot="X", expiry=date(2026, 11, 23)).code},
        "open too long": lambda: {"resin": add(at, lot="X", opened=date(2026, 11, 1), after_opening=22).code},
        "spent": lambda: {"resin": add(at, lot="X", spent=True).code},
        "overdue": lambda: {"lamp": add(at, kind="lamp", name="Due", due=date(2026, 11, 23)).code},
        "tint": lambda: {"resin": add(at, lot="X", tint="rose 3").code},
        "clash": lambda: {"resin": add(at, lot="X", band=[385, 410]).code,
                          "lamp": add(at, kind="lamp", name="Blue", band=[450, 470]).code},
    }[case]()
    assert lay_out(at, at.jaw.now[0] + MINUTE, **picks) == [UNFIT]
    assert at.jaw.line.state["now"] == "clean"


def test_blocked_while_the_tablet_was_away(at: Desk) -> None:
    """Picked after the block by a tablet that could not know: stored, marked, printed; picked before it: no mark."""
    at.jaw.run_to("lay-out")
    before = at.jaw.now[0] + 1 * MINUTE
    at.jaw.now[0] += 2 * MINUTE
    shelf.block(at.jaw.bench, at.seat(), the(at.jaw, "bonding-resin").code, "recalled")
    after = at.jaw.now[0] + 1 * MINUTE
    at.jaw.now[0] += 60 * MINUTE
    sent = fact(at.jaw, step="lay-out", outcome="all-at-hand",
                picks={"resin": the(at.jaw, "bonding-resin").code, "lamp": the(at.jaw, "lamp").code})
    sent["at"]["wall"] = before
    back = fact(at.jaw, kind="undo", step="", outcome="", places=[], undo=sent["id"])
    back["at"]["wall"] = before + 1000
    again = sent | {"id": "fact-again-1", "at": {**sent["at"], "wall": after}}
    acks = deliver(at.client, [sent, back, again])["acks"]
    assert [ack["marks"] for ack in acks] == [[], [], [UNFIT]]
    words = json.dumps(record_of(at.jaw.bench, at.jaw.code).model_dump(), ensure_ascii=False)
    assert words.count("picked a lot or a device that was not fit for use then") >= 1
    assert deliver(at.client, [again])["acks"][0]["was"] == "again"


def test_a_fact_that_was_late_keeps_the_mark_of_its_own_time(at: Desk) -> None:
    """Unblocked or corrected later on, the lot was blocked when it was picked: the mark stays."""
    at.jaw.run_to("lay-out")
    code = the(at.jaw, "bonding-resin").code
    shelf.block(at.jaw.bench, at.seat(), code, "recalled")
    when = at.jaw.now[0] + MINUTE
    at.jaw.now[0] += 30 * MINUTE
    shelf.unblock(at.jaw.bench, at.seat(), code)
    assert lay_out(at, when) == [UNFIT]


def test_picks_that_are_no_things_are_no_trouble(at: Desk) -> None:
    """Codes of nothing, parts, words and an unknown jaw in picks break nothing and get no such mark."""
    at.jaw.run_to("lay-out")
    strange = {"resin": at.jaw.bench.code("S"), "lamp": "x" * 80, "part": at.jaw.bench.code("B"), "who": at.jaw.person}
    assert UNFIT not in lay_out(at, at.jaw.now[0] + MINUTE, **strange)
    lost = fact(at.jaw, jaw=at.jaw.bench.code("1"), picks={"resin": add(at, lot="X", spent=True).code})
    (ack,) = deliver(at.client, [lost])["acks"]
    assert ack["marks"] == [["jaw", "refused"], UNFIT]


def test_the_fold_knows_nothing_of_it(at: Desk) -> None:
    """The mark is the PC's alone: the folded state of the jaw is the same as without it."""
    at.jaw.run_to("lay-out")
    lay_out(at, at.jaw.now[0] + MINUTE, resin=add(at, lot="X", spent=True).code)
    assert at.jaw.line.state["marks"] == [] and not at.jaw.line.state["held"]
    (entry,) = [body for _, body in entries_of(at.jaw.bench, at.jaw.code) if UNFIT in body["server"]["marks"]]
    assert "marks" not in fold_event(entry)


def test_a_lab_of_before_still_works(tmp_path: Path) -> None:
    """Things stored by the first version, without any of the new keys, are tiles, fit, and can be corrected."""
    with desk(tmp_path / "data", lab=LAB[:LAB.index("devices")]) as at:
        bench = at.jaw.bench
        with bench.store.writing() as writer:
            name = bench.text(writer, "Old bond")
            data = {"thing": bench.code("S"), "kind": "bonding-resin", "lot": "O", "expiry": "2031-06-30", "tint": ""}
            bench.request(writer, "material", data=data | {"texts": {"name": name}})
            lamp = {"thing": bench.code("D"), "kind": "lamp", "texts": {"name": bench.text(writer, "Old lamp")}}
            bench.request(writer, "device", data=lamp)
        page = page_data(at)[1]
        assert [t[1:] for t in tiles(page, "lay-out", "resin") + tiles(page, "lay-out", "lamp")] == [(True, "")] * 2
        seat: Seat = at.seat()
        assert shelf.set_spent(bench, seat, str(lamp["thing"]), False) is False
        assert shelf.unblock(bench, seat, str(data["thing"])) is False
        assert shelf.set_opened(bench, seat, str(data["thing"]), date(2026, 11, 24)) is True
        last = bench.store.last_tagged("thing", str(data["thing"]))
        assert last and read_body(last.body)["event"]["by"]["person"] == next(
            p.id for p in people(bench) if p.name == SUPERVISOR[0])
