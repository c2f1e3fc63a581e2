"""What a seating check asks of the steps of a jaw: places to watch and why, who holds it, figures filled in."""

from typing import Any

import pytest

from benchapp.core.course import compile_table, with_its_outcomes
from benchapp.core.findings import cuts, watched, whys
from benchapp.core.fold import acts_of, fold, start, take
from benchapp.core.protocol import Step, Value
from benchapp.core.protocol_rules import read_protocol
from benchapp.core.seating_steps import filled, holding, tally, watches
from benchapp.core.walk import event
from tests.core.test_findings import TEETH, of, report
from tests.core.test_protocol import DEFAULT
from tests.seated import WATCHING

LIMITS = 'gap = { least = 0.05, most = 0.3, source = "lab" }\ndepth = { least = 0.2, most = 0.8, source = "lab" }'
PLACES = ("m16b", "m16l", "m11b", "m11l", "17", "m99b")


def jaw() -> tuple[dict[str, Step], list[Step], dict[str, object]]:
    """Return the steps of an upper jaw whose part check can have places watched, and its table."""
    protocol = read_protocol("x", WATCHING)
    table = compile_table(protocol, "upper", TEETH)
    cards = {card["step"] for card in table["cards"]}
    steps = [with_its_outcomes(step, table) for step in protocol.steps if step.id in cards]
    return {step.id: step for step in steps}, steps, table


def test_why_a_margin_is_watched() -> None:
    """Thin or wide gaps come before depths; what is watched and why are told of the same margins."""
    seen = report(gaps={16: 0.02, 15: 0.4, 14: None}, depths={16: 0.9, 14: 0.9, 13: 0.1})
    found = whys(seen, of(LIMITS))
    assert {place: why for place, why in found.items() if place.endswith("b")} == {
        "m16b": "thin", "m15b": "wide", "m14b": "deep", "m13b": "shallow"}
    assert tuple(found) == watched(seen, of(LIMITS))
    assert whys(seen, None) == {} and whys(report(row=(None, 11), gaps={None: 0.9}), of(LIMITS)) == {}


def test_places_are_watched_where_both_cards_have_them() -> None:
    """Each outcome that wakes a step that fills takes the places that exist at both; others and strange ones do not."""
    steps, every, table = jaw()
    found = watches(steps["part-check"], every, table, PLACES)
    assert found == (("watch-filling", PLACES[:4]), ("watch-bubbles", PLACES[:4]))
    assert watches(steps["part-check"], every, table, ("17",)) == ()
    assert watches(steps["repair-void"], every, table, PLACES) == ()


def test_watched_places_ask_when_filling() -> None:
    """Said before the part check is confirmed they stand open at both steps; taken back in turn none of it is left."""
    steps, every, table = jaw()
    acts, state = acts_of(table), start(table)
    said = [("intake", "order-accepted", ["-"])]
    said += [("part-check", outcome, list(places)) for outcome, places in
             watches(steps["part-check"], every, table, PLACES)]
    said.append(("part-check", "parts-right", ["-"]))
    for number, (step, outcome, places) in enumerate(said):
        state = take(table, acts, state, event(state, number, number, "confirm", step, outcome, places))
    assert state["marks"] == [] and state["now"] == "dry-fit"
    for step in ("fill-gaps", "bubble-check"):
        assert {place for place in PLACES[:4] if state["cells"][step][place] == "open"} == set(PLACES[:4])
    for number in (3, 2, 1):
        back = event(state, 10 + number, 10, "undo", "", "", []) | {"undo": f"e{number}"}
        state = take(table, acts, state, back)
    begun = fold(table, [event(start(table), 0, 0, "confirm", *said[0])])
    assert state["cells"] == begun["cells"] and state["now"] == "part-check" and state["marks"] == []


def test_watched_places_still_ask_after_a_way_back() -> None:
    """Sent back to a step after the part check they ask anew when filling, also twice, and no more once that is taken
    back; sent back to the part check nothing is left of them until they are said again. A table of format 1 forgets
    them, as it did when its jaws were worked."""
    steps, every, table = jaw()
    pairs = watches(steps["part-check"], every, table, PLACES)
    said: list[tuple[str, str, str, list[str]]] = [("confirm", "intake", "order-accepted", ["-"])]
    said += [("confirm", "part-check", outcome, list(places)) for outcome, places in pairs]
    said += [("confirm", "part-check", "parts-right", ["-"]), ("sendback", "dry-fit", "", [])]

    def after(*more: tuple[str, str, str, list[str]], format: int = 2) -> dict[str, Any]:
        kind = table | {"format": format}
        acts, state = acts_of(kind), start(kind)
        for number, one in enumerate((*said, *more)):
            state = take(kind, acts, state, event(state, number, number, *one))
        assert state["marks"] == []
        return state

    def asked(state: dict[str, Any]) -> list[set[str]]:
        return [{place for place in PLACES[:4] if state["cells"][step][place] == "open"}
                for step in ("fill-gaps", "bubble-check")]

    watched_at_both = [set(PLACES[:4])] * 2
    assert after()["now"] == "dry-fit" and asked(after()) == watched_at_both
    assert asked(after(("sendback", "dry-fit", "", []))) == watched_at_both
    assert asked(after(("sendback", "part-check", "", []))) == [set(), set()]
    again = after(("sendback", "part-check", "", []), ("confirm", "part-check", "parts-right", ["-"]),
                  ("sendback", "dry-fit", "", []))
    assert asked(again) == [set(), set()], "what was said before the part check began anew no longer counts"
    assert asked(after(format=1)) == [set(), set()]
    back = take(table, acts_of(table), after(), event(after(), 9, 9, "undo", "", "", []) | {"undo": "e4"})
    assert asked(back) == watched_at_both and back["round"] == 2


def test_the_outcome_that_holds() -> None:
    """It is said of the jaw as a whole: cut through at one connector is not it."""
    steps, _every, _table = jaw()
    held = holding(steps["part-check"])
    assert held and held.id == "part-wrong" and holding(steps["cut-back"]) is None


def test_connectors_are_counted_by_their_cut() -> None:
    """From leave to deep, without those that no connector has."""
    seen = report(joints={16: (4.0, 0.0, 4.0), 15: (4.0, 3.0, 4.0)})
    assert tally(cuts(seen)) == (("none", 1), ("light", 9), ("deep", 1)) and tally(()) == ()


@pytest.mark.parametrize(("drops", "usual"), [(9, "9"), (None, "0"), (100, "0"), (0, "0"), (99, "99")])
def test_drops_are_filled_in(drops: int | None, usual: str) -> None:
    """With the figure where it is known and lies within the value's own limits; what is typed stays a person's."""
    value = Value.model_validate({"name": "resin-drops", "title": "Drops", "unit": "", "usual": 0, "min": 0, "max": 99,
                                  "source": "cp"})
    assert filled(value, drops).filled == usual
    other = value.model_copy(update={"name": "positions"})
    assert filled(other, drops) is other


def test_the_protocol_of_the_tests_differs_in_the_check_alone() -> None:
    """Its steps are those of the protocol that ships, in their order."""
    assert [s.id for s in read_protocol("x", WATCHING).steps] == [s.id for s in read_protocol("x", DEFAULT).steps]
