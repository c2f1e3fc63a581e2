"""The protocols that ship beside the default one: what each claims to ask, and that no jaw gets stuck in them.

What a final check asks, and where a hazard applies, is common practice at the bench (no source).
"""

import re
import tomllib
from collections.abc import Iterator
from functools import cache, partial
from itertools import groupby, pairwise
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from benchapp.core.course import compile_table
from benchapp.core.fold import State, fold
from benchapp.core.protocol import Protocol, Step
from benchapp.core.protocol_rules import read_protocol
from benchapp.core.record_checks import check_steps
from benchapp.core.record_words import Names
from benchapp.core.teeth import ROW, Jaw
from benchapp.core.walk import MINUTE, event, main_act, next_places, ready_at, walk_on
from benchapp.paths import PROTOCOLS, STATIC
from tests.core.jaw import SECOND, TEETH, refused, still
from tests.core.jaw import Jaw as JawAtWork
from tests.core.randoms import protocols

NAMES = ("green-splinted-full", "green-splinted-short", "roughened-cured")
FULL, SHORT, CURED = NAMES
Table = dict[str, Any]

STAGES = {
    FULL: "Intake, Part check, Dry fit, Cut back, Lay out, Clean, second dry fit, Wet, Seat, Fill, Bubble check, "
          "Shape, Last look, Tack, Barrier, Final cure, Cool, rinse, Finish, Stain, glaze, mark, Final check, Pack",
    SHORT: "Intake, Part check, Dry fit, Cut back, Lay out, Clean, second dry fit, Wet, Seat, Fill, shape, "
           "Bubble check, last look, Tack, Barrier, Final cure, Cool, rinse, Finish, Final check, Pack",
    CURED: "Intake, Part check, Dry fit, Cut back, Roughen, Lay out, Clean, second dry fit, Condition, Wet, Seat, "
           "Fill, Bubble check, Shape, Last look, Tack, Barrier, Final cure, Cool, rinse, Finish, Mark, "
           "Final check, Pack",
}
# Confirmations of a whole upper jaw of 14 teeth: without options, those in the wet window, with every option.
TAPS = {FULL: (46, 11, 56), SHORT: (20, 5, 22), CURED: (41, 9, 45)}

# Words that must stand together in the answer that finishes a point of the final check.
POINTS = {
    "not tacky": r"not tacky", "no void": r"no void", "margins, both sides": r"margins closed( both sides)?",
    "teeth separate": r"separate", "no smear": r"no smear", "number of teeth": r"number",
    "shade": r"shade", "tint over tissue-coloured backing": r"tint.* over tissue-coloured backing",
    "edges and fitting surface smooth": r"smooth", "seats without rocking": r"without rocking",
    "midline and plane": r"midline and plane", "bite": r"bite right", "not mounted is an answer": r"not mounted",
}
ROWS: tuple[tuple[Jaw, tuple[int, ...]], ...] = (
    ("upper", TEETH), ("upper", ROW["upper"]), ("upper", (17, 15, 13, 11, 21, 24)), ("upper", (11, 21)),
    ("lower", ROW["lower"][1:-1]), ("lower", (46, 45, 43, 41, 31, 33, 36)), ("lower", (37, 36, 35)),
)


@cache
def drawings() -> frozenset[str]:
    """Return the names of the drawings at hand."""
    return frozenset(path.stem for path in (STATIC / "pictures").glob("*.svg"))


@cache
def protocol(name: str) -> Protocol:
    """Read one of the files, drawings included."""
    return read_protocol(name, (PROTOCOLS / f"{name}.toml").read_text("utf-8"), drawings())


def table(name: str, *options: str, jaw: Jaw = "upper", teeth: tuple[int, ...] = TEETH) -> Table:
    """Compile one of the files for a jaw."""
    return compile_table(protocol(name), jaw, teeth, options)


def step(name: str, wanted: str) -> Step:
    """Return a step by its id."""
    return next(s for s in protocol(name).steps if s.id == wanted)


def jaw(name: str, *options: str, to: str) -> JawAtWork:
    """Return a jaw that has been worked to a step."""
    return JawAtWork(table=table(name, *options)).go_on(to)


def choices(name: str) -> list[tuple[str, ...]]:
    """Return no option, each alone, and all together."""
    options = protocol(name).options
    return [(), *((option,) for option in options), tuple(options)]


def test_the_default_protocol_stays_the_first() -> None:
    """The protocols of the package are the default one and, after it, these three, each named as its file."""
    assert [p.id for p in protocols()] == ["green-splinted", *NAMES]


@pytest.mark.parametrize("name", NAMES)
def test_each_reads_without_a_fault_and_uses_what_it_lists(name: str) -> None:
    """A file has no fault, drawings included, and no stage, caution or option stands in it that no step uses."""
    found = protocol(name)
    assert found.id == name and found.jaws == ["upper", "lower"]
    assert {c.id for c in found.cautions} == {caution for s in found.steps for caution in s.cautions}
    assert {s.id for s in found.stages} == {s.stage for s in found.steps}
    assert set(found.options) == {s.option for s in found.steps if s.option}


@pytest.mark.parametrize("name", NAMES)
def test_stages_are_those_claimed_and_come_in_order(name: str) -> None:
    """The stages are the ones of the trade that the file claims, and its steps pass through them once, in order."""
    found = protocol(name)
    assert ", ".join(s.title for s in found.stages) == STAGES[name]
    passed = [stage for stage, _ in groupby(s.stage for s in found.steps)]
    assert passed == [s.id for s in found.stages]


@pytest.mark.parametrize("name", NAMES)
def test_confirmations_of_a_whole_jaw(name: str) -> None:
    """An upper jaw of 14 teeth takes the counted taps, and the short protocol twenty at most."""
    plain, every = (walk_on(table(name, *options), [], 0)[1] for options in ((), protocol(name).options))
    wet = {s.id for s in protocol(name).steps if s.wet}
    assert (len(plain), len([e for e in plain if e["step"] in wet]), len(every)) == TAPS[name]
    assert TAPS[SHORT][0] <= 20 < TAPS[CURED][0] < TAPS[FULL][0]


def numbers(tree: Any, where: str = "") -> Iterator[tuple[str, dict[str, Any]]]:
    """Yield each table of a file that holds a number, with where it stands."""
    if isinstance(tree, dict):
        if any(isinstance(value, int | float) and not isinstance(value, bool) for value in tree.values()):
            yield where, tree
        for key, value in tree.items():
            yield from numbers(value, f"{where}.{key}")
    for at, value in enumerate(tree if isinstance(tree, list) else []):
        yield from numbers(value, f"{where}[{at}]")


@pytest.mark.parametrize("name", NAMES)
def test_every_number_names_its_source_and_claims_no_more_than_it_has(name: str) -> None:
    """Each number names a source; none claims instructions or a standard, which only a lab with both can name."""
    found = list(numbers(tomllib.loads((PROTOCOLS / f"{name}.toml").read_text("utf-8"))))
    kinds = {source.id: source.kind for source in protocol(name).sources}
    tables = [(where, entry) for where, entry in found if where]  # the file itself holds one: its format
    assert len(found) - len(tables) == 1 and len(tables) > 30
    assert {kinds[entry["source"]] for _, entry in tables} == {"common-practice", "lab"}
    start = next(source for source in protocol(name).sources if source.id == "start")
    assert "no source" in start.title and "instructions for use" in start.title


@pytest.mark.parametrize("name", NAMES)
def test_every_stop_is_asked_before_resin_is_wet(name: str) -> None:
    """Wet runs without a gap to first light, picks nothing, refuses no tap; resin and lamp were picked before."""
    steps = protocol(name).steps
    wet = [at for at, s in enumerate(steps) if s.wet]
    assert wet == list(range(wet[0], wet[-1] + 1))
    assert steps[wet[0]].id == "wet-sockets" and steps[wet[-1]].irreversible
    assert not [s.id for s in steps if s.wet and (s.picks or any(f.breach == "stop" for f in s.floors))]
    before = {pick.kind for s in steps[: wet[0]] for pick in s.picks}
    assert {"base", "arch", "bonding-resin", "lamp", "solvent", "barrier"} <= before
    stops = {s.stage for s in steps[: wet[0]] if any(o.leads in ("hold", "back") for o in s.outcomes)}
    assert {"stage-intake", "stage-parts", "stage-dry", "stage-cut"} < stops and steps[wet[0] - 1].floors


@pytest.mark.parametrize("name", NAMES)
def test_open_time_has_its_ceiling(name: str) -> None:
    """Light later than twenty minutes after the first wet socket is taken all the same, and a reason is asked."""
    at_work = jaw(name, to="tack-light")
    at_work.t = at_work.state["stamps"]["wet-sockets"]
    assert at_work.say("tacked", after=20.6) == [("late", "deviation")]
    assert at_work.state["lit"] == 1


@pytest.mark.parametrize("name", NAMES)
def test_the_final_cure_is_a_load_with_its_floors(name: str) -> None:
    """Three load taps in a chamber that is picked with the first; half an hour of light before each of the others."""
    load = [s for s in protocol(name).steps if s.load]
    assert [len(s.picks) for s in load] == [1, 0, 0] and load[0].picks[0].kind == "chamber"
    at_work = jaw(name, to=load[0].id)
    for before, after in pairwise(load):
        at_work.say(before.outcomes[0].id)
        assert at_work.say(after.outcomes[0].id, after=29.5) == refused("early")
        at_work.t += MINUTE // 2
    assert at_work.say(load[-1].outcomes[0].id, after=0) == []


@pytest.mark.parametrize("name", NAMES)
def test_the_final_check_asks_every_point(name: str) -> None:
    """Each point of the trade's final check stands in the words of an answer that finishes a step of that stage."""
    steps = [s for s in protocol(name).steps if s.stage == "stage-final"]
    said = {s.id: " | ".join(o.said for o in s.outcomes if o.leads == "on") for s in steps}
    asked = {point: [i for i, words in said.items() if re.search(pattern, words)] for point, pattern in POINTS.items()}
    assert all(len(found) == 1 for found in asked.values()), asked
    assert all(any(o.leads in ("hold", "opens") for o in s.outcomes) for s in steps)
    assert len({found[0] for found in asked.values()}) == len(steps) == (3 if name == SHORT else 12)


@pytest.mark.parametrize("name", NAMES)
def test_who_did_the_final_check_can_be_told(name: str) -> None:
    """A record takes the stage with the most questions for the final check: here it is the one that has the name."""
    names = Names(protocol(name), {"jaw": "upper", "teeth": TEETH}, table(name), {}, {}, ZoneInfo("UTC"))
    stages = [s.stage for s in check_steps(names)]
    assert max(set(stages), key=stages.count) == "stage-final"
    assert stages.count("stage-final") == len([s for s in protocol(name).steps if s.stage == "stage-final"])


HAZARDS: list[tuple[str, set[str]]] = [
    (r"tack-light|light-spots|cure-.*-side|repair-(void|fill)|lay-out|read-lamp|glaze-light", {"light"}),
    (r"wet-sockets|seat-arch|fill-gaps|bubble-check|shape-papillae|last-look|tack-light|light-spots", {"resin"}),
    (r"cut-back|finish-off|roughen|repair-(void|open)", {"disc"}),
    (r"clean|clean-on|lay-out-(solvent|liquids)", {"solvent"}),
    (r"condition-o.*|lay-out-liquids|repair-(void|open)", {"conditioner"}),
    (r"intake", {"allergy"}),
    (r"pack-up|label-pack", {"waste"}),
    (r"disinfect-jaw|pack-up", {"disinfectant"}),
]


@pytest.mark.parametrize("name", NAMES)
def test_cautions_stand_where_they_apply(name: str) -> None:
    """Light, resin, discs with their dust, liquids, allergy and waste are warned of at their steps."""
    dust = "cured-dust" if name == CURED else "green-dust"
    missing = [
        (s.id, caution) for pattern, wanted in HAZARDS for s in protocol(name).steps if re.fullmatch(pattern, s.id)
        for caution in wanted | ({dust} if "disc" in wanted else set()) if caution not in s.cautions
    ]
    assert missing == []
    used = {pattern for pattern, _ in HAZARDS for s in protocol(name).steps if re.fullmatch(pattern, s.id)}
    assert len(used) >= 7


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize(("side", "teeth"), ROWS, ids=lambda value: "-".join(map(str, value)) if value else "")
def test_every_jaw_comes_to_its_end(name: str, side: Jaw, teeth: tuple[int, ...]) -> None:
    """Upper or lower, whole or with teeth missing, with no option, each and all: the work ends, unmarked."""
    for options in choices(name):
        state, events = walk_on(table(name, *options, jaw=side, teeth=teeth), [], 0)
        assert (state["ended"], state["marks"]) == ("through", []), options
        asked = {s.id for s in protocol(name).steps if s.option is None or s.option in options}
        called = {s.id for s in protocol(name).steps if s.called}
        assert {e["step"] for e in events} == asked - called


def places_for(compiled: Table, state: State, act: dict[str, Any]) -> list[str]:
    """Return the places that an act of the card in hand can be said of."""
    single = {place for place, _ in compiled["groups"]}
    cells = state["cells"][act["step"]]
    fit = [p for p, cell in cells.items() if cell in act["from"] and (p in single or act["of"] != "place")]
    return next_places(compiled, state) if act is main_act(compiled, act["step"]) else fit[:1]


def said_of(compiled: Table, events: list[dict[str, Any]], act: dict[str, Any]) -> list[dict[str, Any]]:
    """Return events and one more, in which an act of the card in hand is said as soon as its floors allow."""
    state = fold(compiled, events)
    t = ready_at(state, act, (events[-1]["t"] if events else 0) + MINUTE)
    places = places_for(compiled, state, act)
    return [*events, event(state, len(events), t, "confirm", act["step"], act["outcome"], places)]


Ways = dict[str, list[dict[str, Any]]]


def follow(compiled: Table, ways: Ways, events: list[dict[str, Any]]) -> None:
    """Go the plain way on from events, and note for each step that is on which events led there first."""
    _, whole = walk_on(compiled, events, events[-1]["t"] if events else 0)
    for count in range(len(events), len(whole)):
        ways.setdefault(fold(compiled, whole[:count])["now"], whole[:count])


def ways_to(compiled: Table) -> Ways:
    """Return for each step events after which it is on: on the plain way, or after an exception that calls it."""
    ways: Ways = {}
    follow(compiled, ways, [])
    for act in compiled["acts"]:
        if act["to"] == "wait" and act["step"] in ways:
            follow(compiled, ways, said_of(compiled, ways[act["step"]], act))
    return ways


def ways_without_light(name: str, compiled: Table, ways: Ways) -> Ways:
    """Return for each step events after which it is on where light that can be left out was left out."""
    found: Ways = {}
    for s in protocol(name).steps:
        for act in compiled["acts"]:
            if (act["step"], act["outcome"]) in {(s.id, o.id) for o in s.outcomes if o.left_out}:
                follow(compiled, found, said_of(compiled, ways[s.id], act))
    return found


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("side", ["upper", "lower"])
def test_every_outcome_can_be_said_and_leads_to_the_end(name: str, side: Jaw) -> None:
    """With every option, each outcome of each step, called ones too, is taken while its card is on; the jaw ends.

    What leads back behind light that can be left out is said where it was left out.
    """
    compiled = table(name, *protocol(name).options, jaw=side, teeth=ROW[side][2:-2])
    ways = ways_to(compiled)
    assert set(ways) == {s.id for s in protocol(name).steps}
    unlit = ways | ways_without_light(name, compiled, ways)
    for act in compiled["acts"]:
        if act["kind"] == "confirm":
            events = said_of(compiled, (unlit if act["reset"] else ways)[act["step"]], act)
            assert fold(compiled, events)["marks"] == [], (act["step"], act["outcome"])
            state, _ = walk_on(compiled, events, events[-1]["t"])
            assert state["ended"] == "through", (act["step"], act["outcome"])
            assert not [s for s, cells in state["cells"].items() if "wait" in cells.values()]


@pytest.mark.parametrize(
    ("name", "at", "outcome"), [(FULL, "part-age", "washed-dry"), (SHORT, "part-check", "parts-right")]
)
def test_parts_too_fresh_or_too_old_hold_the_jaw(name: str, at: str, outcome: str) -> None:
    """Hours below the drying floor or beyond the green life hold the jaw; those between pass unmarked."""
    least, most = next((v.min, v.max) for v in step(name, at).values if v.name == "hours")
    for hours, marks in ((least - 1, 1), (least, 0), (most, 0), (most + 1, 1)):
        at_work = jaw(name, to=at)
        value = {"name": "hours", "value": str(hours), "unit": "h"}
        assert at_work.say(outcome, values=[value]) == [("limit", "stop")] * marks
        assert at_work.state["held"] == marks


def test_cured_parts_have_no_green_life() -> None:
    """The protocol for cured parts asks no hours since a wash, and holds a part that is still green."""
    assert not [v.name for s in protocol(CURED).steps for v in s.values if v.name == "hours"]
    at_work = jaw(CURED, to="part-check")
    at_work.say("part-green")
    assert at_work.state["held"] == 1


def test_solvent_contact_and_drying_are_clocked() -> None:
    """In the full protocol solvent left on too long asks for a reason; a second dry fit while it dries is refused."""
    at_work = jaw(FULL, to="clean")
    late = step(FULL, "clean").ceilings[0]
    assert late.seconds + late.grace == 65
    assert at_work.say("wiped", after=66 / 60) == [("late", "deviation")]
    assert at_work.say("seats-again", after=4.5) == refused("early")
    assert at_work.say("seats-again", after=0.5) == []
    assert at_work.now == "wet-sockets"


def test_conditioning_is_clocked_from_both_sides_and_onwards() -> None:
    """Conditioner is refused too early, marked too long, and marked when the jaw then waits for resin."""
    at_work = jaw(CURED, to="condition-off")
    begun = at_work.t
    assert at_work.say("conditioned", after=27 / 60) == refused("early")
    at_work.t = begun + 30 * SECOND
    assert at_work.say("conditioned", after=0) == []
    assert at_work.say("sockets-wet", after=6) == [("late", "deviation")]
    slow = jaw(CURED, to="condition-off")
    assert slow.say("conditioned", after=131 / 60) == [("late", "deviation")]


def test_bonding_surfaces_are_roughened_tooth_by_tooth_and_again_when_conditioning_failed() -> None:
    """A shiny spot is named at its tooth and its sextant asked again; streaks lead the jaw back to the roughening."""
    at_work = jaw(CURED, to="roughen")
    at_work.say("shine-left", "16")
    assert at_work.now == "roughen" and at_work.cell("roughen", "s1") == "open"
    at_work.go_on("condition-off").say("streaks-left", after=1)
    assert at_work.now == "roughen" and at_work.cell("condition-on", "-") == "open"


def test_spot_tack_is_first_light_and_has_a_way_out_that_holds() -> None:
    """The option adds one wet tap between Seat and Fill, and it is first light; what is then not home is held."""
    plain, spots = (table(FULL, *options) for options in ((), ("spot-tack",)))
    added = [card for card in spots["cards"] if card not in plain["cards"]]
    assert [(card["step"], card["wet"], card["light"]) for card in added] == [("light-spots", 1, 1)]
    order = [card["step"] for card in spots["cards"]]
    assert order.index("seat-arch") + 1 == order.index("light-spots") == order.index("fill-gaps") - 1
    at_work = jaw(FULL, "spot-tack", to="last-look")
    assert at_work.state["lit"] == 1
    at_work.say("spots-not-home")
    assert at_work.state["held"] == 1
    assert at_work.say("fit-for-light") == [] and at_work.say("tacked") == []  # wet: nothing is refused
    assert at_work.say("first-side-on") == refused("held")


def test_nothing_goes_back_behind_a_spot_tack() -> None:
    """After it neither Send back, however far, nor `floated up` is taken; single places still go round."""
    at_work = jaw(FULL, "spot-tack", to="bubble-check")
    for target in ("intake", "seat-arch", "light-spots"):
        still(at_work, partial(at_work.send, kind="sendback", step=target), "light")
    assert at_work.say("bubble-left", "11-21") == []
    at_work.go_on("fill-gaps")
    assert at_work.say("gaps-filled", "11-21") == [] and at_work.cell("bubble-check", "11-21") == "open"
    at_work.go_on("last-look")
    still(at_work, lambda: at_work.say("floated-up"), "light")
    assert at_work.go_on().state["ended"] == "through"


@pytest.mark.parametrize("options", [(), ("spot-tack",)], ids=["without the option", "left out"])
def test_without_a_spot_the_way_back_stays_open_until_the_tack(options: tuple[str, ...]) -> None:
    """A jaw without the option, or whose spots were left out, is not lit: it is pressed home again, or sent back."""
    at_work = jaw(FULL, *options, to="light-spots" if options else "fill-gaps")
    if options:
        assert at_work.say("spots-not-lit") == []
        assert "light-spots" not in at_work.state["stamps"]
    assert at_work.go_on("last-look").state["lit"] == 0
    assert at_work.say("floated-up") == [] and at_work.now == "seat-arch"
    if options:
        at_work.say("seated-home")
        at_work.say("spots-not-lit")
    at_work.go_on("tack-light")
    assert at_work.send(kind="sendback", step="bubble-check") == [] and at_work.now == "bubble-check"
    assert at_work.go_on("oxygen-barrier" if "barrier" in options else "cure-first-side").state["lit"] == 1


def test_a_spot_tack_is_taken_back_in_ten_seconds_and_left_out_in_ten_minutes() -> None:
    """Light in spots has the short time of every light, `left out` the ordinary one; so has the tack after it."""
    for outcome, limit in (("spots-lit", 10 * SECOND), ("spots-not-lit", 10 * MINUTE)):
        for more, answer in ((0, []), (1, refused("undo"))):
            at_work = jaw(FULL, "spot-tack", to="light-spots")
            at_work.say(outcome)
            last = at_work.state["log"][-1]["id"]
            assert at_work.send(kind="undo", step="", undo=last, at=at_work.t + limit + more) == answer
            assert at_work.state["lit"] == int(outcome == "spots-lit" and more)
    at_work = jaw(FULL, "spot-tack", to="tack-light").go_on("cure-first-side")
    assert at_work.take_back() == []
    assert (at_work.now, at_work.state["lit"]) == ("tack-light", 1)  # the spots stay lit


def test_glaze_has_its_own_cure() -> None:
    """With the option, a glaze is picked, lit in a chamber of its own run, and not called cured before its floor."""
    at_work = jaw(FULL, "glaze", to="glaze-cured")
    assert [p.kind for s in protocol(FULL).steps if s.option == "glaze" for p in s.picks] == ["glaze", "chamber"]
    assert at_work.say("glaze-hard", after=9) == refused("early")
    assert at_work.say("glaze-hard", after=1) == []


def test_a_void_goes_round_once_and_the_rest_stands() -> None:
    """In the full protocol a void at one place is opened, refilled, cured and refinished there, and there alone."""
    at_work = jaw(FULL, to="finish-off")
    at_work.say("void-bare", "m11b")
    at_work.say("finished-off")
    for at in ("repair-open", "repair-fill", "repair-cure", "finish-off"):
        assert at_work.now == at
        act = main_act(at_work.table, at)
        at_work.say(act["outcome"], "m11b", after=31)
    assert at_work.now == "check-tacky"


@pytest.mark.parametrize("name", ["green-splinted", *NAMES])
def test_the_program_of_the_chamber_is_read_as_the_light_comes_on(name: str) -> None:
    """The first step of the load asks for the program's number, by the lab's own rule; the others ask for none."""
    loads = [s for s in protocol(name).steps if s.load]
    assert [[(v.name, v.title, v.filled, v.min, v.max, v.unit) for v in s.values] for s in loads] == [
        [("program", "Program of the chamber", "1", 0, 99, "")], *([] for _ in loads[1:])]
    kinds = {source.id: source.kind for source in protocol(name).sources}
    assert kinds[loads[0].values[0].source] == "lab"
