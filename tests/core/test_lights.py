"""Several irreversible steps in one protocol: which rules hold them, what a case's table and the fold make of them.

That light on wet resin is a point of no return, in spots too, is common practice, no source.
"""

import tomllib
from collections.abc import Callable
from copy import deepcopy
from itertools import combinations
from typing import Any

import pytest

from benchapp.core.course import can_be_said, compile_table, with_its_outcomes
from benchapp.core.faults import FileFaults
from benchapp.core.fold import fold
from benchapp.core.protocol import Protocol
from benchapp.core.protocol_rules import read_protocol
from benchapp.core.walk import walk_on
from benchapp.core.ways import kind_words
from tests.core.jaw import Jaw, refused, still
from tests.core.small import SMALL
from tests.core.test_random_protocols import toml

TEETH = (15, 14, 13, 12, 11, 21, 22, 23)
Steps = dict[str, dict[str, Any]]


def _step(name: str, *others: dict[str, Any], **what: Any) -> dict[str, Any]:
    main = {"id": f"{name}-done", "title": "Done", "said": "done", "of": "each"}
    return {
        "id": name, "stage": "work", "title": name, "words": "Do it.", "picture": "fill", "places": ["connector"],
        "minutes": {"is": 1, "source": "lab"}, "outcomes": [main, *others], **what,
    }


def _outcome(name: str, **what: Any) -> dict[str, Any]:
    return {"id": name, "title": name, "said": name, **what}


LEFT = _outcome("spots-left", left_out=True)
STEPS = [
    _step("prep"),
    _step("seat", wet=True),
    _step("spots", LEFT, wet=True, irreversible=True, option="spots"),
    _step("fill", wet=True),
    _step("look", _outcome("up", leads="back", to="seat"),
          _outcome("bubble", of="place", leads="opens", to="fill"), wet=True),
    _step("tack", wet=True, irreversible=True),
    _step("cure"),
    _step("check", _outcome("smear", of="place", leads="opens", to="cure")),
]


def text(change: Callable[[Steps], None] = lambda steps: None) -> str:
    """Return a protocol with a spot tack by option and a tack, after a change of its steps."""
    steps = deepcopy(STEPS)
    change({step["id"]: step for step in steps})
    return toml(tomllib.loads(SMALL) | {"options": ["spots", "extra"], "steps": steps})


def protocol(change: Callable[[Steps], None] = lambda steps: None) -> Protocol:
    """Return that protocol, read."""
    return read_protocol("lights", text(change))


def ways(found: Protocol, *options: str) -> set[str]:
    """Return which outcomes the table of a case has of the exceptions and send-backs of this protocol."""
    acts = compile_table(found, "upper", TEETH, options)["acts"]
    return {act["outcome"] or f"to {act['step']}" for act in acts
            if act["kind"] == "sendback" or act["outcome"] in ("up", "bubble", "smear", "spots-left")}


def opens_seat(steps: Steps) -> None:
    """Let the look send single places back to the seating."""
    steps["look"]["outcomes"][2]["to"] = "seat"


def always(steps: Steps) -> None:
    """Let every case have its spots lit."""
    steps["spots"].pop("option")
    steps["spots"]["outcomes"].pop()


BROKEN: list[tuple[str, Callable[[Steps], Any], str, str]] = [
    ("wet after the tack", lambda s: s["cure"].update(wet=True), "steps[cure].wet",
     "wet after the last irreversible step"),
    ("wet after a tack that only some cases have", lambda s: s["tack"].update(option="extra"), "steps[fill].wet",
     "in cases without option 'extra'"),
    ("back after light that is always given", always, "steps[look].outcomes[up].to", "no way back after first light"),
    ("back after the tack", lambda s: s["check"]["outcomes"].append(_outcome("again", leads="back", to="cure")),
     "steps[check].outcomes[again].to", "no way back after first light"),
    ("back behind the tack", lambda s: s["check"]["outcomes"].append(_outcome("again", leads="back", to="fill")),
     "steps[check].outcomes[again].to", "no way back after first light"),
    ("opens across the tack", lambda s: s["check"]["outcomes"][1].update(to="fill"),
     "steps[check].outcomes[smear].to", "before first light"),
    ("opens the tack", lambda s: s["check"]["outcomes"][1].update(to="tack"), "steps[check].outcomes[smear].to",
     "before first light"),
    ("opens across spots that can be left out",
     lambda s: (opens_seat(s), s["spots"].pop("option")), "steps[look].outcomes[bubble].to", "before first light"),
    ("comes back by a step before the spots",
     lambda s: (always(s), s["look"]["outcomes"].pop(1), s["look"]["outcomes"][1].update(until="seat")),
     "steps[look].outcomes[bubble].until", "before first light"),
    ("the main action wakes a step before the spots",
     lambda s: s["fill"]["outcomes"][0].update(leads="wakes", to="seat"), "steps[fill].outcomes[fill-done].to",
     "before first light"),
    ("left out, said of no light", lambda s: s["fill"]["outcomes"].append(_outcome("none", left_out=True)),
     "steps[fill].outcomes[none]", "said of light only"),
    ("left out, and asked again", lambda s: s["spots"]["outcomes"][1].update(leads="again"),
     "steps[spots].outcomes[spots-left]", "goes with on only"),
    ("left out as the main action", lambda s: s["spots"]["outcomes"].reverse(),
     "steps[spots].outcomes[spots-left]", "main action"),
]


@pytest.mark.parametrize(("change", "where", "what"), [row[1:] for row in BROKEN], ids=[row[0] for row in BROKEN])
def test_what_crosses_light_is_a_fault(change: Callable[[Steps], None], where: str, what: str) -> None:
    """Each slip is told at its place, in words, with a remedy."""
    with pytest.raises(FileFaults) as caught:
        protocol(change)
    found = [fault for fault in caught.value.faults if fault.where == where]
    assert any(what in fault.what for fault in found), caught.value.faults
    assert all(len(fault.mend) > 8 for fault in caught.value.faults)


SOUND: list[tuple[str, Callable[[Steps], Any]]] = [
    ("as it is", lambda s: None),
    ("spots in every case, to be left out", lambda s: s["spots"].pop("option")),
    ("spots in every case, no back", lambda s: (always(s), s["look"]["outcomes"].pop(1))),
    ("spots of an option, always given then", lambda s: s["spots"]["outcomes"].pop()),
    ("single places back across an option", opens_seat),
    ("a way back that only the spots' own cases have", lambda s: s["spots"]["outcomes"].append(
        _outcome("not-home", leads="back", to="seat"))),
    ("a third light, after a dry step", lambda s: s["check"].update(irreversible=True)),
    ("both lights and all between of one option",
     lambda s: [s[name].update(option="spots") for name in ("seat", "fill", "look", "tack")]),
]


@pytest.mark.parametrize("change", [row[1] for row in SOUND], ids=[row[0] for row in SOUND])
def test_several_lights_with_wet_steps_between_are_sound(change: Callable[[Steps], None]) -> None:
    """Such a protocol has no fault, and every case of it, whatever its options, is walked to its end unmarked."""
    found = protocol(change)
    for count in range(3):
        for options in combinations(found.options, count):
            table = compile_table(found, "upper", TEETH, options)
            state, _ = walk_on(table, [], 0)
            lit = max(card["light"] for card in table["cards"])
            assert (state["ended"], state["marks"], state["lit"]) == ("through", [], lit), options


def test_the_table_of_a_case_has_no_way_across_its_light() -> None:
    """Back and opens stand in the table without the option; with it, only what can be said where light was left out."""
    plain, spots = protocol(lambda s: (opens_seat(s), s["spots"]["outcomes"].pop())), ("spots",)
    back = {f"to {step}" for step in ("prep", "seat", "fill", "look", "tack")}
    assert ways(plain) == ways(plain, "extra") == back | {"up", "bubble", "smear"}
    assert ways(plain, *spots) == {"to prep", "to seat", "to spots", "smear"}
    left = protocol(opens_seat)  # the same, but the spots can be left out: then the whole jaw can still go back
    assert ways(left) == back | {"up", "bubble", "smear"}
    assert ways(left, *spots) == back | {"to spots", "up", "smear", "spots-left"}


def test_what_the_table_does_not_have_is_neither_shown_nor_waited_for() -> None:
    """Pages take the outcomes of a step from its table; a way that fell away leaves no way back behind."""
    found = protocol(lambda s: (opens_seat(s), s["spots"]["outcomes"].pop()))
    look = next(step for step in found.steps if step.id == "look")
    for options, said in (((), ["look-done", "up", "bubble"]), (("spots",), ["look-done"])):
        table = compile_table(found, "upper", TEETH, options)
        assert [o.id for o in with_its_outcomes(look, table).outcomes] == said
        assert len(look.outcomes) == 3
        seat = next(act for act in table["acts"] if act["outcome"] == "seat-done")
        assert seat["also"] == ([["look", ["wait"], "open"]] if not options else [])
        steps = [step for step in found.steps if step.option is None or step.option in options]
        assert [can_be_said(steps, look, o) for o in look.outcomes] == [o.id in said for o in look.outcomes]


def at(step: str, *options: str, change: Callable[[Steps], None] = lambda steps: None) -> Jaw:
    """Return a jaw of this protocol, worked to a step."""
    return Jaw(table=compile_table(protocol(change), "upper", TEETH, options)).go_on(step)


def test_from_the_first_light_of_the_case_nothing_goes_back() -> None:
    """After the spots a way back is refused for `light`, sent back or said; places go round; the tack is light too."""
    jaw = at("look", "spots")
    assert jaw.state["lit"] == 1
    still(jaw, lambda: jaw.say("up"), "light")
    still(jaw, lambda: jaw.send(kind="sendback", step="fill"), "light")
    event = jaw.events[-2]["id"]
    jaw.send(kind="resolve", step="", allow=event, outcome="in")
    assert jaw.now == "look"  # not even a supervisor takes it in
    assert jaw.say("bubble", "11-21") == [] and jaw.say("look-done") == [] and jaw.now == "fill"
    assert jaw.say("fill-done", "11-21") == [] and jaw.now == "look"
    assert jaw.go_on("cure").state["lit"] == 1


def test_light_that_was_left_out_is_no_light() -> None:
    """Left out: no light, no stamp, the ordinary time to take back; the way back stays open until the tack."""
    jaw = at("spots", "spots")
    assert jaw.say("spots-left") == []
    assert (jaw.now, jaw.state["lit"], "spots" in jaw.state["stamps"]) == ("fill", 0, False)
    acts = {act["outcome"]: act for act in jaw.table["acts"]}
    assert (acts["spots-left"]["undo"], acts["spots-done"]["undo"], acts["tack-done"]["undo"]) == (
        600_000, 10_000, 10_000)
    assert jaw.go_on("look").say("up") == [] and jaw.now == "seat"
    assert jaw.go_on("look").state["lit"] == 1  # lit in the second round
    assert jaw.say("up") == refused("light")


def test_a_way_back_on_the_light_itself_is_gone_once_it_was_given() -> None:
    """A step of light by sextants can lead back before its first sextant was lit, and not after it."""
    def by_sextants(steps: Steps) -> None:
        steps["spots"] |= {"by": "sextant"}
        steps["spots"]["outcomes"].append(_outcome("not-home", leads="back", to="seat"))

    jaw = at("spots", "spots", change=by_sextants)
    assert jaw.say("not-home", "s2") == [] and jaw.now == "seat"
    jaw.go_on("spots")
    table, open_groups = jaw.table, [p for p, cell in jaw.state["cells"]["spots"].items() if cell == "open"]
    assert len(open_groups) > 1
    assert jaw.say("spots-done", open_groups[0]) == [] and jaw.now == "spots"
    still(jaw, lambda: jaw.say("not-home", open_groups[1]), "light")
    assert fold(table, jaw.events)["lit"] == 1


def test_a_chart_calls_one_step_first_light() -> None:
    """Each light is told as such on chart and sheet, the first of the case as first light."""
    found = protocol()
    for options, lights in ((("spots",), ["spots", "tack"]), ((), ["tack"])):
        table = compile_table(found, "upper", TEETH, options)
        said = {card["step"]: kind_words(found, table, card) for card in table["cards"]}
        assert [step for step, words in said.items() if "no way back" in words] == lights
        assert [step for step, words in said.items() if words.startswith("FIRST LIGHT")] == lights[:1]
