"""What a protocol and a jaw are compiled to: a sound table, the same every time, with all that the fold needs."""

import json
import random
from typing import Any

import pytest

from benchapp.core.course import TABLE_FORMAT, compile_table, table_bytes
from benchapp.core.protocol import Protocol
from benchapp.core.teeth import JAWS, ROW, Jaw
from benchapp.core.walk import dead_ends, walk_on
from tests.core.jaw import TEETH
from tests.core.randoms import protocols, some

KEYS = {
    "shift",
    "kind", "step", "outcome", "of", "from", "to", "also", "stamp", "floors", "ceilings", "limits", "reset", "held",
    "light", "round", "undo", "who",
}


def default() -> Protocol:
    """Return the default protocol: read when it is first asked for, not by every process that collects tests."""
    return protocols()[0]


def table(*options: str, speed: int = 1, jaw: Jaw = "upper", teeth: tuple[int, ...] = TEETH) -> dict[str, Any]:
    """Compile the default protocol."""
    return compile_table(default(), jaw, teeth, options, speed)


def card(compiled: dict[str, Any], step: str) -> dict[str, Any]:
    """Return the card of a step."""
    return next(card for card in compiled["cards"] if card["step"] == step)


def act(compiled: dict[str, Any], outcome: str) -> dict[str, Any]:
    """Return the act of an outcome."""
    return next(act for act in compiled["acts"] if act["outcome"] == outcome)


def check(compiled: dict[str, Any]) -> None:
    """Assert that a table is plain data in which every name that is used also stands."""
    assert json.loads(table_bytes(compiled)) == compiled
    places = {card["step"]: card["places"] for card in compiled["cards"]}
    stamps = {act["stamp"] for act in compiled["acts"]}
    single = {name for name, _ in compiled["groups"]}
    for one in compiled["cards"]:
        assert len(set(one["places"])) == len(one["places"]) and set(one["asleep"]) <= set(one["places"])
        assert set(one["places"]) - single <= {"s1", "s2", "s3", "-"}
    for one in compiled["acts"]:
        assert one.keys() == KEYS
        assert one["step"] in places or one["kind"] in ("hold", "resume", "scrap", "dark", "bright")
        assert set(one["shift"]) <= stamps
        assert {limit[0] for limit in one["floors"] + one["ceilings"]} <= stamps
        assert set(one["reset"]) <= places.keys() and {entry[0] for entry in one["also"]} <= places.keys()
        for target, froms, to in one["also"]:
            assert to == "open"
            assert froms == ["wait"] or single & set(places[one["step"]]) <= set(places[target])


def test_every_table_is_sound_and_walks_to_the_end() -> None:
    """Any jaw with any teeth, options and speed compiles to a sound table without a dead end."""
    for seed in range(40):
        source = random.Random(seed)
        jaw = source.choice(JAWS)
        compiled = compile_table(
            default(), jaw, some(source, list(ROW[jaw]), 2), some(source, default().options), source.choice([1, 60])
        )
        check(compiled)
        state, _ = walk_on(compiled, [], 0)
        assert state["ended"] == "through" and (state["marks"] == [] or compiled["speed"] > 1)
        if seed < 4:
            assert list(dead_ends(compiled)) == []


def test_a_table_is_written_in_one_way() -> None:
    """The same jaw gives the same bytes, in whatever order its teeth and options are listed; another jaw does not."""
    assert table_bytes(table("barrier", "mark")) == table_bytes(table("mark", "barrier", teeth=tuple(reversed(TEETH))))
    assert table_bytes(table()) != table_bytes(table("mark"))
    assert table_bytes(table()) != table_bytes(table(teeth=TEETH[1:]))
    assert table()["format"] == TABLE_FORMAT == 2


def test_a_table_has_no_floats() -> None:
    """Integers, strings and lists only, so that both folds read the same numbers."""
    def plain(tree: Any) -> bool:
        if isinstance(tree, dict):
            return all(isinstance(key, str) and plain(value) for key, value in tree.items())
        return all(map(plain, tree)) if isinstance(tree, list) else type(tree) in (int, str)

    assert plain(table("barrier", "character", "mark", speed=7))


def test_options_bring_their_steps_and_no_others() -> None:
    """A step of an option is in the table only when the case sheet lists it."""
    steps = {one["step"] for one in table()["cards"]}
    assert {one["step"] for one in table("barrier")["cards"]} - steps == {"oxygen-barrier"}
    assert {one["step"] for one in table("mark", "character")["cards"]} - steps == {"characterise", "put-mark"}


def test_training_scales_every_duration() -> None:
    """At sixty times the speed minutes become seconds: floors, ceilings, graces and the time to take back."""
    slow, fast = table(), table(speed=60)
    for one, other in zip(slow["acts"], fast["acts"], strict=True):
        for kind in ("floors", "ceilings"):
            assert [[f[0], f[1] // 60, f[2] // 60, f[3]] for f in one[kind]] == other[kind]
        assert other["undo"] == (one["undo"] if one["light"] else one["undo"] // 60)


def test_places_follow_the_teeth() -> None:
    """Cut-back asks three sextants of fourteen teeth, two where the left back teeth are missing; connectors sleep."""
    cut = card(table(), "cut-back")
    assert cut["places"][:3] == ["s1", "s2", "s3"] and len(cut["places"]) == 3 + 13
    assert cut["asleep"] == cut["places"][3:]
    right = tuple(tooth for tooth in TEETH if tooth not in (24, 25, 26, 27))
    assert [p for p in card(table(teeth=right), "cut-back")["places"] if p.startswith("s")] == ["s1", "s2"]
    assert card(table(), "intake")["places"] == ["-"]
    assert card(table(), "repair-void")["asleep"] == card(table(), "repair-void")["places"]


def test_opens_and_its_way_back() -> None:
    """An outcome that opens leaves its place waiting, and the step named by `until` gives it back."""
    compiled = table()
    bubble = act(compiled, "bubble-left")
    assert (bubble["to"], bubble["also"], bubble["stamp"]) == ("wait", [["fill-gaps", ["off", "done"], "open"]], "")
    assert act(compiled, "gaps-filled")["also"] == [["bubble-check", ["wait"], "open"]]
    assert ["check-voids", ["wait"], "open"] in act(compiled, "finished-off")["also"]
    assert act(compiled, "void-refilled")["also"] == [["repair-cure", ["off", "done"], "open"]]


def test_first_light_and_the_ways_back() -> None:
    """One act alone is first light; send-backs reach each step up to it and none behind it."""
    compiled = table()
    assert [one["outcome"] for one in compiled["acts"] if one["light"]] == ["tacked"]
    ways = [one["step"] for one in compiled["acts"] if one["kind"] == "sendback"]
    assert ways == [one["step"] for one in compiled["cards"]][: len(ways)]
    assert ways[-1] == "tack-light"
    assert act(compiled, "floated-up")["reset"][0] == "seat-arch" and act(compiled, "floated-up")["round"] == 1


def test_times_to_take_back_come_from_the_file() -> None:
    """Ten minutes, for first light ten seconds, for scrap none."""
    compiled = table()
    assert act(compiled, "wiped")["undo"] == 600_000
    assert act(compiled, "tacked")["undo"] == 10_000
    assert [(one["undo"], one["who"]) for one in compiled["acts"] if one["kind"] == "scrap"] == [(0, ["supervisor"])]


def test_limits_are_written_as_a_page_reads_them() -> None:
    """Limits of a value stand as plain decimals, never with an exponent."""
    tree = default().model_dump(by_alias=True, exclude_unset=True)
    lamp = next(step for step in tree["steps"] if step["id"] == "tack-light")
    lamp["values"][0]["max"] = lamp["values"][0]["max"].__class__("1E+5")
    compiled = compile_table(Protocol.model_validate(tree), "upper", TEETH)
    assert act(compiled, "tacked")["limits"] == [
        ["positions", "6", "100000", "deviation"], ["seconds", "10", "60", "deviation"],
    ]


def test_teeth_of_the_other_jaw_are_refused() -> None:
    """A table is not compiled for teeth that the jaw does not have."""
    with pytest.raises(ValueError, match="belongs to the upper jaw"):
        table(jaw="lower")
