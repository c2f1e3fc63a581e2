"""What the bench page shows of a seating check, asked without a browser: lines, findings, places, cuts, drops."""

import html
import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from benchapp.actions.desk import Seat
from benchapp.actions.lab import people
from benchapp.actions.settings import change
from benchapp.seating.report import schema
from benchapp.web import seated as shown
from tests import seated as made
from tests.web.clients import deliver, fact
from tests.web.desks import Desk, desk


@pytest.fixture
def at(tmp_path: Path) -> Iterator[Desk]:
    """A supervisor at the desk, and a jaw under a protocol that shows the seating check."""
    with desk(tmp_path / "data") as found:
        made.watching(found.jaw)
        yield found


def page_of(at: Desk) -> tuple[dict[str, Any], str]:
    """Return the data of the bench page, and the page."""
    page = at.get(f"/bench/{at.jaw.code}")
    found = re.search(r'<script type="application/json" id="data">(.*?)</script>', page, re.S)
    assert found
    data: dict[str, Any] = json.loads(found[1])
    return data, page


def card_of(page: str, step: str) -> str:
    """Return the card of a step, as plain text with its markup."""
    part = page[page.index(f'data-step="{step}"'):]
    return html.unescape(part[:part.index("</section>")])


def tiles(page: str, kind: str) -> list[tuple[str, bool]]:
    """Return the tiles of a finding: what each says, and whether it is filled in."""
    part = page[page.index(f'data-pick="seating-{kind}"'):]
    found = re.findall(r'data-value="([\w-]+)" aria-pressed="(\w+)"', part[:part.index("</fieldset>")])
    return [(value, pressed == "true") for value, pressed in found]


def lab_sets(at: Desk, name: str, value: str) -> None:
    """Change a setting as a supervisor."""
    change(at.jaw.bench, Seat(next(p for p in people(at.jaw.bench) if "supervisor" in p.roles)), name, value)


def test_without_files_there_is_one_quiet_line(at: Desk) -> None:
    """No file, or one: a line at the part check says so; no script, no style, no pick, no map, nothing elsewhere."""
    data, page = page_of(at)
    assert "Seating check: No design file is attached." in card_of(page, "part-check")
    assert "seated.js" not in page and "seated.css" not in page and "cutsign" not in page and "seated" not in data
    assert [pick[0] for pick in data["steps"]["part-check"]["picks"]] == ["base", "arch"] and data["check"] == ""
    assert "data-mapped" not in card_of(page, "part-check").partition(">")[0]
    assert "data-part=\"seat\"" not in card_of(page, "cut-back") + card_of(page, "lay-out")


@pytest.mark.parametrize("state", ["waiting", "refused"])
def test_a_check_without_a_report_is_a_line(state: str, at: Desk) -> None:
    """One that is still to come, or whose files cannot be used, says so and asks nothing."""
    if state == "refused":
        made.check(at.jaw, None)
    else:
        made.attach(at.jaw)
    data, page = page_of(at)
    assert html.unescape(shown.STATES[state]) in card_of(page, "part-check") and "seated" not in data
    assert bool(data["check"]) == (state == "refused")


def test_nothing_outside_the_limits_is_a_line_too(at: Desk) -> None:
    """It leads to the page of the check, and nothing has to be answered; what is not known is not said to go in."""
    made.check(at.jaw, made.good())
    data, page = page_of(at)
    card = card_of(page, "part-check")
    assert shown.GOES_IN[True] in card and f'href="/bench/{at.jaw.code}/seating"' in card
    assert "finding" not in card and len(data["steps"]["part-check"]["picks"]) == 2
    made.check(at.jaw, made.good() | {"goes_in": None, "overlap_mm3": None})
    assert shown.GOES_IN[None] in card_of(page_of(at)[1], "part-check")


def test_findings_are_picks_that_nothing_fills_in(at: Desk) -> None:
    """Each kind once, with the reasons of the protocol and "Print again"; their words are those of the finding."""
    made.check(at.jaw, made.bad())
    data, page = page_of(at)
    assert data["steps"]["part-check"]["picks"][2:] == [
        ["seating-deep", "2 teeth deeper than 0.8 mm: 16 26", "finding"],
        ["seating-shallow", "1 tooth less deep than 0.3 mm: 12", "finding"],
        ["seating-thick", "2 connectors thicker than 8 mm²: 17-16 25-26", "finding"],
    ]
    wanted = [("as-ordered", False), ("tried-and-fits", False), ("designer-agrees", False), ("print-again", False)]
    assert [tiles(page, kind) for kind in ("deep", "shallow", "thick")] == [wanted] * 3
    assert "Seating check: 3 findings" in card_of(page, "part-check")
    assert data["seated"]["again"] == {"part-check": {"outcome": "part-wrong", "title": "A part is wrong: hold"}}


def answers(**said: str) -> dict[str, str]:
    """Return picks that answer findings."""
    return {f"seating-{kind}": value for kind, value in said.items()}


def test_answers_are_taken_without_a_mark_and_filled_in_again(at: Desk) -> None:
    """A confirm with answers is marked by nothing; sent back, the page shows what was said of each finding."""
    made.check(at.jaw, made.bad())
    at.jaw.main()
    picks = at.jaw.extra("part-check")["picks"] | answers(deep="as-ordered", shallow="tried-and-fits",
                                                          thick="designer-agrees")
    sent = fact(at.jaw, step="part-check", outcome="parts-right", picks=picks)
    assert deliver(at.client, [sent])["acks"][0]["marks"] == []
    page = page_of(at)[1]
    chosen = [[value for value, pressed in tiles(page, kind) if pressed] for kind in ("deep", "shallow", "thick")]
    assert chosen == [["as-ordered"], ["tried-and-fits"], ["designer-agrees"]]


def test_a_part_to_be_printed_again_holds_the_jaw(at: Desk) -> None:
    """The answer travels with the outcome that holds, without a mark; loaded anew the page shows it filled in."""
    made.check(at.jaw, made.bad())
    at.jaw.main()
    sent = fact(at.jaw, step="part-check", outcome="part-wrong", picks=answers(deep="print-again"))
    assert deliver(at.client, [sent])["acks"][0]["marks"] == [] and at.jaw.line.state["held"]
    page = page_of(at)[1]
    assert [value for value, pressed in tiles(page, "deep") if pressed] == ["print-again"]
    assert not any(pressed for _value, pressed in tiles(page, "thick"))


def test_places_to_watch_stand_on_the_card_and_on_the_map(at: Desk) -> None:
    """Listed beforehand by tooth, in the lab's numbers; handed to the script by outcome; named with why on the map."""
    made.check(at.jaw, made.bad())
    data, page = page_of(at)
    places = [f"m{tooth}{side}" for tooth in (16, 12, 11, 24, 26) for side in "bl"]
    assert data["seated"]["watch"] == {"part-check": [["watch-filling", places], ["watch-bubbles", places]]}
    assert "10 margins get a tap of their own when filling: 16 12 11 24 26" in card_of(page, "part-check")
    why = {m[1]: m[2] for m in re.finditer(r'id="why-(\w+)"[^>]*>▲ (\w+)<', page)}
    assert why == dict(zip(places, [w for w in ("deep", "shallow", "wide", "thin", "deep") for _ in "bl"], strict=True))
    lab_sets(at, "numbers", "universal")
    assert "when filling: 3 7 8 12 14" in card_of(page_of(at)[1], "part-check")


def test_cuts_stand_on_the_map(at: Desk) -> None:
    """A word and its figure at each connector, "!" where there may be less beyond; the card counts them."""
    made.check(at.jaw, made.bad())
    page = page_of(at)[1]
    told = {m[1]: m[2] for m in re.finditer(r'id="cut-at-([\d-]+)"[^>]*><title>[^<]*</title>([^<]*)<', page)}
    assert (told["17-16"], told["16-15"], told["15-14"], told["12-11"]) == ("deep 3.4", "half 2.4", "leave", "light 1")
    assert told["13-12"] == "light 1 !" and len(told) == 13
    assert "light, 1 mm, at the limit: there may be less beyond" in page
    card = card_of(page, "cut-back")
    for words in ("1 leave", "9 light", "1 half", "2 deep", "a hand-held disc holds a few tenths", "! at the limit"):
        assert words in card
    assert page.count('<use class="cutsign"') == 13


def test_where_the_arch_is_stopped_stands_in_the_sextant_too(at: Desk) -> None:
    """A cross at the margin on whose side it stands on the whole arch, with its tooth and side in the lab's numbers."""
    made.check(at.jaw, made.worse())

    def told() -> dict[str, str]:
        return {m[1]: m[2] for m in re.finditer(r'id="stop-at-(\w+)"[^>]*><title>([^<]*)</title>', page_of(at)[1])}

    assert told() == {
        "m16l": "stopped at 16 palatal", "m15b": "stopped at 15 buccal", "m15l": "stopped at 15 palatal",
        "m21b": "stopped at 21",
    }
    lab_sets(at, "numbers", "universal")
    assert told()["m16l"] == "stopped at 3 palatal"
    made.check(at.jaw, made.bad())
    assert told() == {}


@pytest.mark.parametrize(("per_ml", "said", "filled"), [("20", "takes about 0.42 ml, 9 drops", "9"),
                                                        ("0", "takes about 0.42 ml", "0")])
def test_the_resin_is_filled_in(per_ml: str, said: str, filled: str, at: Desk) -> None:
    """Drops where the lab has said what its dispenser gives; else the volume alone, and the protocol's number."""
    lab_sets(at, "drops_per_ml", per_ml)
    made.check(at.jaw, made.good())
    card = card_of(page_of(at)[1], "lay-out")
    assert f"<small>{said}</small>" in card and f'data-good="{filled}"' in card


def test_an_open_page_learns_of_a_check(at: Desk) -> None:
    """What tablets ask every few seconds says so when another check came into force, and of nothing else."""
    def now() -> str:
        return str(at.client.get(f"/bench/{at.jaw.code}/base?after=0").get_json()["check"])

    assert now() == page_of(at)[0]["check"] == ""
    of = made.attach(at.jaw)
    assert now() == ""
    first = made.check(at.jaw, made.good(), of)
    at.jaw.main()
    assert now() == page_of(at)[0]["check"] == first
    assert made.check(at.jaw, made.bad()) == now() != first


@pytest.mark.parametrize("seen", [made.good(), made.bad(), made.worse()])
def test_the_reports_of_these_tests_are_reports(seen: dict[str, Any]) -> None:
    """They keep the JSON Schema of the seating check (draft 2020-12, read by the library jsonschema)."""
    jsonschema.validate(seen, schema())
