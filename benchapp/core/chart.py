"""A protocol as a chart in plain numbers: cards in order by stage, loops to the right, clocks to the left.

Drawn from the compiled table, so what is shown is what the fold runs; only words and sources come from the protocol
file. All lengths are CSS px of the view box, which is meant to be shown no smaller than it is.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Final, Literal

from benchapp.core.course import with_its_outcomes
from benchapp.core.protocol import Protocol
from benchapp.core.record_words import length, quoted
from benchapp.core.ways import Kind, Table, clocks_of, kind_of, kind_words, leads, step_of
from benchapp.core.words import N_, _

WIDTH: Final = 760
CARD_X: Final = 250
CARD_W: Final = 330
LINE: Final = 20  # from line to line of text
# Mean widths of a letter, bold at 17 px and plain at 14 px, in the broadest face that browsers are likely to bring
# (DejaVu Sans; measured on words of the default protocol in tests/core/test_chart.py).
TITLE_LETTER, WORDS_LETTER = 11.4, 8.3
_PAD, _GAP, _STAGE, _TOP = 12, 26, 34, 12
_LANE, _NEAR = 24, 12  # from lane to lane, right and left; less where there are many
_ASIDE = 70  # by how much cards that are only called stand aside, so that the way down passes them
_LABEL = 60  # from one clock's words to the next one's beside the same card


@dataclass(frozen=True)
class Line:
    """One line of text: its left end, its baseline, its words, and whether it is a title."""

    x: float
    y: float
    words: str
    title: bool = False


@dataclass(frozen=True)
class CardShape:
    """One step: its rectangle, the path of its outline, what it is in shape and word, its lines of text."""

    step: str
    kind: Kind
    x: float
    y: float
    w: float
    h: float
    path: str
    lines: tuple[Line, ...]


@dataclass(frozen=True)
class StageBand:
    """The heading of a stage: its words and baseline, and where the rule above it lies."""

    title: str
    x: float
    y: float
    rule: float


@dataclass(frozen=True)
class Arrow:
    """A way from one step to another: its path, and its head as a path of its own (a dot where it joins another way).

    `kind` is on (the next step), opens (a place goes there and returns), wakes (a place goes on there) or back
    (the whole jaw).
    """

    kind: Literal["on", "opens", "wakes", "back"]
    start: str
    to: str
    path: str
    head: str


@dataclass(frozen=True)
class ClockMark:
    """A floor or ceiling between two steps: its bracket, where that ends (bar or ring), its words."""

    kind: Literal["floor", "ceiling"]
    since: str
    step: str
    path: str
    x: float
    y: float
    lines: tuple[Line, ...]


@dataclass(frozen=True)
class Chart:
    """The whole chart; everything in it lies inside the view box."""

    width: int
    height: int
    view_box: str
    stages: tuple[StageBand, ...]
    cards: tuple[CardShape, ...]
    arrows: tuple[Arrow, ...]
    clocks: tuple[ClockMark, ...]


def chart(protocol: Protocol, table: Table) -> Chart:
    """Return the chart of a protocol as it was compiled to a table."""
    stages: list[StageBand] = []
    cards: list[CardShape] = []
    y: float = _TOP
    titles = {stage.id: stage.title for stage in protocol.stages}
    stage = ""
    for card in table["cards"]:
        if card["stage"] != stage:
            stage = card["stage"]
            stages.append(StageBand(titles[stage], 8, y + 20, y))
            y += _STAGE
        cards.append(_card(protocol, table, card, y))
        y += cards[-1].h + _GAP
    at = {card.step: card for card in cards}
    arrows = [*_way_down(cards), *_loops(table, cards, at)]
    height = round(y)
    return Chart(
        WIDTH, height, f"0 0 {WIDTH} {height}", tuple(stages), tuple(cards), tuple(arrows),
        tuple(_clocks(protocol, table, at)),
    )


def wrap(words: str, width: float, letter: float) -> list[str]:
    """Break words into lines of at most `width` px where a letter takes `letter` px; longer words are broken."""
    most = max(4, int(width / letter))
    lines: list[str] = [""]
    for word in words.split():
        while len(word) > most:
            room = most - len(lines[-1]) - bool(lines[-1])
            if room < 4:
                lines.append("")
                continue
            lines[-1] = f"{lines[-1]} {word[:room]}".strip()
            word = word[room:]
            lines.append("")
        if len(lines[-1]) + len(word) + bool(lines[-1]) > most:
            lines.append(word)
        else:
            lines[-1] = f"{lines[-1]} {word}".strip()
    return [line for line in lines if line]


def _card(protocol: Protocol, table: Table, card: Mapping[str, Any], y: float) -> CardShape:
    step, kind = step_of(protocol, card["step"]), kind_of(protocol, card)
    words = [word for word in (kind_words(protocol, table, card),) if word]
    words += [_("only with option {option}", option=quoted(step.option))] if step.option else []
    left, wide = (CARD_X + _ASIDE, CARD_W - _ASIDE) if kind == "called" else (CARD_X, CARD_W)
    inner = wide - 2 * _PAD - (16 if kind == "light" else 0)
    x = left + _PAD + (8 if kind == "light" else 0)
    texts = [(line, True) for line in wrap(step.title, inner, TITLE_LETTER)]
    texts += [(line, False) for text in words for line in wrap(text, inner, WORDS_LETTER)]
    for outcome in with_its_outcomes(step, table).outcomes:
        way = leads(table, step.id, outcome.id)
        if way.how in ("opens", "wakes", "back"):
            to = quoted(step_of(protocol, way.to).title)
            said = _(_WAYS[way.how], outcome=quoted(outcome.title), step=to)
            texts += [(line, False) for line in wrap(said, inner, WORDS_LETTER)]
    clocks = len(clocks_of(protocol, table, step.id))
    height = max(2 * _PAD + LINE * len(texts) - 4, _LABEL * (clocks - 1) + 60 if clocks > 1 else 0)
    lines = tuple(Line(x, y + _PAD + 13 + LINE * at, text, title) for at, (text, title) in enumerate(texts))
    return CardShape(step.id, kind, left, y, wide, height, _outline(kind, left, y, wide, height), lines)


_WAYS = {
    "opens": N_("{outcome} goes back for that place to {step}"),
    "wakes": N_("{outcome} goes on with that place at {step}"),
    "back": N_("{outcome} goes back to {step}"),
}


def _outline(kind: Kind, x: float, y: float, w: float, h: float) -> str:
    """First light has pointed sides, wet a second line inside, called cut corners; the others are plain."""
    if kind == "light":
        return (f"M{x + 14} {y} H{x + w - 14} L{x + w} {y + h / 2:g} L{x + w - 14} {y + h} H{x + 14} "
                f"L{x} {y + h / 2:g} Z")
    if kind == "wet":
        inner = f"M{x + 5} {y + 5} H{x + w - 5} V{y + h - 5} H{x + 5} Z"
        return f"M{x} {y} H{x + w} V{y + h} H{x} Z {inner}"
    if kind == "called":
        return (f"M{x + 10} {y} H{x + w - 10} L{x + w} {y + 10} V{y + h - 10} L{x + w - 10} {y + h} H{x + 10} "
                f"L{x} {y + h - 10} V{y + 10} Z")
    return f"M{x} {y} H{x + w} V{y + h} H{x} Z"


def _way_down(cards: list[CardShape]) -> Iterable[Arrow]:
    """The way down passes cards that are only called: they stand in the row, but aside."""
    x = CARD_X + 40
    for one, two in pairwise(card for card in cards if card.kind != "called"):
        head = f"M{x - 5} {two.y - 8:g} L{x} {two.y:g} L{x + 5} {two.y - 8:g} Z"
        yield Arrow("on", one.step, two.step, f"M{x} {one.y + one.h:g} V{two.y - 4:g}", head)


def _loops(table: Table, cards: list[CardShape], at: Mapping[str, CardShape]) -> list[Arrow]:
    """Arrows to one target share a lane; lanes that overlap stand side by side, the shortest next to the cards."""
    ways: dict[tuple[str, str], list[str]] = {}
    for card in cards:
        for act in table["acts"]:
            if act["kind"] == "confirm" and act["step"] == card.step:
                way = leads(table, card.step, act["outcome"])
                if way.to and card.step not in ways.setdefault((way.how, way.to), []):
                    ways[way.how, way.to].append(card.step)
    spans = {
        way: (min(at[s].y for s in (*starts, way[1])), max(at[s].y + at[s].h for s in (*starts, way[1])))
        for way, starts in ways.items() if starts
    }
    lanes = _lanes(spans)
    pitch = min(_LANE, (WIDTH - CARD_X - CARD_W - 8) / (max(lanes.values(), default=0) + 1))
    entries: dict[str, int] = {}
    found: list[Arrow] = []
    for (how, to), starts in ways.items():
        if starts:
            entries[to] = entries.get(to, 0) + 1
            x, y = CARD_X + CARD_W + round(pitch * (lanes[how, to] + 1), 1), at[to].y + 10 + 12 * (entries[to] - 1)
            found += _bundle(how, to, [at[start] for start in starts], x, y)
    return found


def _bundle(how: str, to: str, starts: list[CardShape], x: float, y: float) -> Iterable[Arrow]:
    """Arrows to one target at `y` in one lane at `x`: the farthest above and below run, the others join them."""
    right = CARD_X + CARD_W
    outs = {start.step: start.y + start.h - 10 for start in starts}
    ends = {min(outs.values()), max(outs.values())}
    for start, out in outs.items():
        if out in ends and (out == min(ends) < y or out == max(ends) > y):
            path = f"M{right} {out:g} H{x} V{y:g} H{right + 4}"
            head = f"M{right + 9} {y - 5:g} L{right + 1} {y:g} L{right + 9} {y + 5:g} Z"
        else:
            path, head = f"M{right} {out:g} H{x}", f"M{x - 4} {out:g} a4 4 0 1 0 8 0 a4 4 0 1 0 -8 0 Z"
        yield Arrow(how, start, to, path, head)  # type: ignore[arg-type]


def _lanes(spans: Mapping[tuple[str, str], tuple[float, float]]) -> dict[tuple[str, str], int]:
    """Give each span the innermost lane in which nothing else lies beside it."""
    taken: list[list[tuple[float, float]]] = []
    lanes: dict[tuple[str, str], int] = {}
    for way, (top, bottom) in sorted(spans.items(), key=lambda item: item[1][1] - item[1][0]):
        free = next((n for n, held in enumerate(taken) if all(bottom < a or b < top for a, b in held)), len(taken))
        if free == len(taken):
            taken.append([])
        taken[free].append((top, bottom))
        lanes[way] = free
    return lanes


def _clocks(protocol: Protocol, table: Table, at: Mapping[str, CardShape]) -> Iterable[ClockMark]:
    """Brackets from the foot of the step that starts a clock to the head of the one that it is asked of."""
    asked = [(card, clock) for card in at.values() for clock in clocks_of(protocol, table, card.step)]
    order = [sum(1 for other, _clock in asked[:n] if other is card) for n, (card, _clock) in enumerate(asked)]
    spans = {
        (f"{n}", card.step): (at[clock.since].y + at[clock.since].h - 14, card.y + 16 + _LABEL * order[n])
        for n, (card, clock) in enumerate(asked)
    }
    lanes = _lanes(spans)
    pitch = min(_NEAR, 50 / (max(lanes.values(), default=0) + 1))
    for n, (card, clock) in enumerate(asked):
        top, bottom = spans[f"{n}", card.step]
        x = CARD_X - 20 - pitch * lanes[f"{n}", card.step]
        path = f"M{at[clock.since].x} {top:g} H{x:g} V{bottom:g} H{card.x - 4}"
        time = length(clock.ms)
        limit = _("at least {time}", time=time) if clock.kind == "floor" else _("at most {time}", time=time)
        texts = [limit, *wrap(f"({clock.source.partition(':')[0]})", 170, WORDS_LETTER)[:2]]
        lines = tuple(Line(8, bottom + 4 + 17 * i, text, i == 0) for i, text in enumerate(texts))
        yield ClockMark(clock.kind, clock.since, card.step, path, card.x, bottom, lines)
