"""The chart of a protocol: what it draws is what the table runs, inside its box, with nothing on top of another."""

import re
from itertools import combinations, pairwise
from random import Random
from typing import Any

import pytest
from PIL import ImageFont

from benchapp.core.chart import CARD_X, TITLE_LETTER, WIDTH, WORDS_LETTER, Chart, chart, wrap
from benchapp.core.course import compile_table
from benchapp.core.protocol import Protocol
from benchapp.core.protocol_rules import read_protocol
from benchapp.core.teeth import ROW
from benchapp.core.ways import clocks_of, kind_of, leads
from benchapp.paths import FONTS
from tests.core.randoms import protocols
from tests.core.small import SMALL
from tests.core.test_random_protocols import random_protocol, toml


def compiled(protocol: Protocol, *options: str) -> dict[str, Any]:
    """Return a protocol's table for the first of its jaws."""
    jaw = protocol.jaws[0]
    return compile_table(protocol, jaw, ROW[jaw][1:-1], options)


def drawn(protocol: Protocol) -> Chart:
    """Return the chart of a protocol with every option."""
    return chart(protocol, compiled(protocol, *protocol.options))


def some_protocols() -> list[Protocol]:
    """Return the default protocol, the small one, and accepted random ones."""
    found, random = [*protocols(), read_protocol("small", SMALL)], Random(7)
    while len(found) < 14:
        try:
            found.append(read_protocol("made up", toml(random_protocol(random))))
        except Exception as error:
            assert type(error).__name__ == "FileFaults"
    return found


def numbers(path: str) -> list[float]:
    """Return every number of a path."""
    return [float(n) for n in re.findall(r"-?\d+(?:\.\d+)?", path)]


def test_every_card_of_the_table_is_drawn_in_order() -> None:
    """Cards stand in the order of the table from top to bottom, none over another, each with its title."""
    for protocol in some_protocols():
        found = drawn(protocol)
        table = compiled(protocol, *protocol.options)
        assert [card.step for card in found.cards] == [card["step"] for card in table["cards"]]
        tops = [(card.y, card.y + card.h) for card in found.cards]
        assert all(one[1] < two[0] for one, two in pairwise(tops))
        titles = {step.id: step.title for step in protocol.steps}
        for card in found.cards:
            assert " ".join(line.words for line in card.lines if line.title).replace(" ", "") == (
                titles[card.step].replace(" ", ""))
            assert all(card.y < line.y < card.y + card.h and line.x > card.x for line in card.lines)


def test_everything_lies_inside_the_box() -> None:
    """No coordinate of a path, line or clock lies outside the view box."""
    for protocol in some_protocols():
        found = drawn(protocol)
        assert found.view_box == f"0 0 {WIDTH} {found.height}"
        for card in found.cards:
            assert card.x >= CARD_X and card.x + card.w <= WIDTH and card.y + card.h <= found.height
        for arrow in found.arrows:
            assert all(0 <= float(x) <= WIDTH for x in re.findall(r"[MH]([-\d.]+)", arrow.path)), arrow
            assert all(0 <= float(y) <= found.height for y in re.findall(r"V([-\d.]+)", arrow.path)), arrow
        for clock in found.clocks:
            assert 0 < clock.y < found.height and all(line.y < found.height for line in clock.lines)
            assert all(160 <= float(x) <= WIDTH for x in re.findall(r"[MH]([-\d.]+)", clock.path)), clock


def test_loops_are_those_of_the_protocol() -> None:
    """Each outcome that opens, wakes or leads back has its arrow from its step to its target, and no other arrow."""
    for protocol in some_protocols():
        found = drawn(protocol)
        known = {card.step for card in found.cards}
        wanted = {
            (o.leads, step.id, o.to) for step in protocol.steps if step.id in known
            for o in step.outcomes if o.leads in ("opens", "wakes", "back") and o.to in known
        }
        assert {(a.kind, a.start, a.to) for a in found.arrows if a.kind != "on"} == wanted
    assert len([a for a in drawn(protocols()[0]).arrows if a.kind != "on"]) >= 11


def test_where_outcomes_lead_is_what_the_file_says() -> None:
    """Read back from the table, each outcome leads as the protocol file says, and places return where it says."""
    for protocol in some_protocols():
        table = compiled(protocol, *protocol.options)
        known = {card["step"] for card in table["cards"]}
        for step in protocol.steps:
            for outcome in step.outcomes if step.id in known else []:
                way = leads(table, step.id, outcome.id)
                assert way.how == outcome.leads or outcome.to not in (None, *known), (step.id, outcome.id)
                assert way.to == (outcome.to if outcome.to in known else "")
                if outcome.leads == "opens" and outcome.until is None:
                    assert way.until == outcome.to


def test_the_way_down_passes_what_is_only_called() -> None:
    """The plain way joins every card that is not called, in order, and no called card stands in its way."""
    found = drawn(protocols()[0])
    plain = [card.step for card in found.cards if card.kind != "called"]
    down = [arrow for arrow in found.arrows if arrow.kind == "on"]
    assert [(a.start, a.to) for a in down] == list(pairwise(plain))
    called = [card for card in found.cards if card.kind == "called"]
    assert [card.step for card in called] == ["repair-void", "repair-cure"]
    assert all(card.x > numbers(down[0].path)[0] for card in called)


def test_clocks_have_length_kind_and_source() -> None:
    """The default protocol's eight clocks stand between the steps that start and end them, with length and source."""
    protocol = protocols()[0]
    marks = {(c.since, c.step, c.kind): " ".join(line.words for line in c.lines) for c in drawn(protocol).clocks}
    assert marks == {
        ("clean", "second-fit", "floor"): "at least 5 min (common practice, no source)",
        ("wet-sockets", "tack-light", "ceiling"): "at most 20 min (common practice, no source)",
        ("tack-light", "cure-first-side", "ceiling"): "at most 2 h (this laboratory's own rule)",
        ("cure-first-side", "cure-second-side", "floor"): "at least 30 min (common practice, no source)",
        ("cure-first-side", "cure-second-side", "ceiling"): "at most 45 min (this laboratory's own rule)",
        ("cure-second-side", "cool-down", "floor"): "at least 30 min (common practice, no source)",
        ("repair-void", "repair-cure", "floor"): "at least 30 min (common practice, no source)",
        ("cool-down", "finish-off", "floor"): "at least 10 min (common practice, no source)",
    }


def test_words_of_clocks_do_not_cover_each_other() -> None:
    """Lines of text in the left margin are 14 px apart or more, headings of stages included."""
    for protocol in some_protocols():
        found = drawn(protocol)
        lines = [line.y for clock in found.clocks for line in clock.lines] + [stage.y for stage in found.stages]
        assert all(abs(one - two) >= 14 for one, two in combinations(lines, 2)), protocol.id


def test_kinds_differ_in_shape_and_word() -> None:
    """Wet, first light, unattended and called cards each have an outline or word that no other kind has."""
    found = drawn(protocols()[0])
    shapes: dict[str, str] = {}
    for card in found.cards:
        shapes[card.kind] = re.sub(r"-?[\d.]+", "#", card.path) + " " + " ".join(
            line.words for line in card.lines if line.words in ("wet window", "runs by itself", "only when called")
            or line.words.startswith("FIRST LIGHT"))
    assert set(shapes) == {"plain", "wet", "light", "alone", "called"}
    assert len(set(shapes.values())) == 5


def test_options_say_so() -> None:
    """A step that only some cases have says with which option."""
    card = next(card for card in drawn(protocols()[0]).cards if card.step == "oxygen-barrier")
    assert "only with option “barrier”" in [line.words for line in card.lines]
    assert "oxygen-barrier" not in {c.step for c in chart(protocols()[0], compiled(protocols()[0])).cards}


def test_a_speed_shortens_the_clocks_shown() -> None:
    """In training the chart shows the durations that really run."""
    protocol = protocols()[0]
    fast = compile_table(protocol, "upper", ROW["upper"], (), 60)
    clock = clocks_of(protocol, fast, "cure-second-side")[0]
    assert clock.ms == 30_000 and kind_of(protocol, fast["cards"][0]) == "plain"


@pytest.mark.parametrize("words", ["", "a", "one two three four five", "x" * 100, "a " + "y" * 50 + " b"])
def test_wrapping_loses_nothing(words: str) -> None:
    """Lines hold all letters in order, none longer than the width."""
    lines = wrap(words, 120, 8.0)
    assert "".join(lines).replace(" ", "") == words.replace(" ", "")
    assert all(len(line) <= 15 for line in lines)


def test_letters_are_no_broader_than_thought() -> None:
    """Measured with DejaVu Sans by Pillow, no line of the default chart is broader than its card."""
    for protocol in protocols():
        for card in drawn(protocol).cards:
            for line in card.lines:
                face = ImageFont.truetype(FONTS / ("DejaVuSans-Bold.ttf" if line.title else "DejaVuSans.ttf"), 34 if
                                          line.title else 28)
                assert line.x + face.getlength(line.words) / 2 <= card.x + card.w - 4, line.words
    assert TITLE_LETTER > WORDS_LETTER
