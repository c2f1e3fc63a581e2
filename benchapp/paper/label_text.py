"""Where the words on a label go: sizes and rows that fit one column, whatever the words are."""

from bisect import bisect_right
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

# Gives the width in mm of a text (text, bold, em in mm).
Measure = Callable[[str, bool, float], float]

# Ems in mm, largest first. Capitals are 0.73 em high: 2.9 mm for the code is read at half a metre (20
# minutes of arc, NUREG-0700), 1.2 mm is about the smallest print read in the hand (common practice, no
# source).
CODE_EMS = tuple(n / 10 for n in range(40, 23, -1))
TITLE_EMS = tuple(n / 10 for n in range(32, 23, -1))
LINE_EMS = tuple(n / 10 for n in range(26, 17, -1))
SMALLEST_EMS = tuple(n / 10 for n in range(21, 15, -1))

# Parts of an em: height of capitals, of the tallest accent above the baseline, and from row to row.
CAPITAL, ASCENT, PITCH = 0.73, 0.93, 1.17
CODE_PITCH = 1.0  # capitals only, so the rows may be closer
GAP = 0.4  # mm between code, title and lines

ELLIPSIS = "…"


@dataclass(frozen=True)
class Row:
    """One row of text: x is the column's left edge, baseline in mm below the column's top, em in mm."""

    text: str
    bold: bool
    em: float
    baseline: float


def arrange(
    code: str, title: str, lines: Sequence[str], width: float, height: float, measure: Measure
) -> list[Row]:
    """Return the rows for a spaced code, a title and lines in a column of width x height mm.

    Long text is set smaller, then on two rows, then shortened in its middle, so that codes which begin alike
    stay apart; the code is only ever set smaller. Raises ValueError when the lines are too many for the
    column.
    """
    code_rows = _code_rows(code)
    code_em = next(
        (em for em in CODE_EMS if all(measure(row, True, em) <= width for row in code_rows)), CODE_EMS[-1]
    )
    rows: list[Row] = []
    top = 0.0
    for text in code_rows:
        rows.append(Row(text, True, code_em, top + CAPITAL * code_em))
        top += CODE_PITCH * code_em
    top += GAP
    if title:
        em, texts = _title(title, width, measure)
        if len(texts) > 1 and _too_many(lines, height - top - len(texts) * PITCH * em - GAP):
            em, texts = _title(title, width, measure, rows=1)  # better a small title than a line less
        rows += _set(texts, True, em, top)
        top += len(texts) * PITCH * em + GAP
    if lines:
        em, texts = _lines(lines, width, height - top, measure)
        rows += _set(texts, False, em, top)
    return rows


def _code_rows(code: str) -> tuple[str, str]:
    """Two rows let the code stand half again as large as on one."""
    first, _, rest = code.partition(" ")
    return first, rest


def _set(texts: Sequence[str], bold: bool, em: float, top: float) -> list[Row]:
    return [Row(text, bold, em, top + n * PITCH * em + ASCENT * em) for n, text in enumerate(texts)]


def _title(title: str, width: float, measure: Measure, rows: int = 2) -> tuple[float, list[str]]:
    ems = TITLE_EMS if rows > 1 else (*TITLE_EMS, *SMALLEST_EMS)
    for em in ems:
        if measure(title, True, em) <= width:
            return em, [title]
    em = ems[-1]
    return em, _rows(title, rows, width, lambda text: measure(text, True, em))[0]


def _too_many(lines: Sequence[str], height: float) -> bool:
    """Tell whether lines have no room even in the smallest print, a row each."""
    return len(lines) * PITCH * SMALLEST_EMS[-1] > height


def _sized(measure: Measure, em: float) -> Callable[[str], float]:
    return lambda text: measure(text, False, em)


def _lines(lines: Sequence[str], width: float, height: float, measure: Measure) -> tuple[float, list[str]]:
    """Try what costs the reader least first: smaller print, two rows, shortened text on two rows, on one."""
    for em, most, shortened in _ways():
        texts: list[str] = []
        whole = True
        for line in lines:
            got, fits = _rows(line, most, width, _sized(measure, em))
            texts += got
            whole = whole and fits
            if not (whole or shortened):
                break  # the next way is tried: how this one would be shortened is not asked
        if (whole or shortened) and len(texts) * PITCH * em <= height:
            return em, texts
    room = int(height / (PITCH * SMALLEST_EMS[-1]))
    raise ValueError(f"{len(lines)} lines do not fit a label beside its code; this one has room for {room}")


def _ways() -> Iterator[tuple[float, int, bool]]:
    for ems, most, shortened in (
        (LINE_EMS, 1, False),
        (LINE_EMS, 2, False),
        (SMALLEST_EMS, 2, True),
        (SMALLEST_EMS, 1, True),
    ):
        for em in ems:
            yield em, most, shortened


def _rows(text: str, most: int, width: float, measure: Callable[[str], float]) -> tuple[list[str], bool]:
    """Break text at blanks into at most `most` rows; say whether all of it could stay."""
    rows: list[str] = []
    words = text.split(" ")
    while words and len(rows) < most - 1:
        taken = len(words)
        while taken > 1 and measure(" ".join(words[:taken])) > width:
            taken -= 1
        rows.append(" ".join(words[:taken]))
        words = words[taken:]
    if words:
        rows.append(" ".join(words))
    shown = [_shortened(row, width, measure) for row in rows]
    return shown, shown == rows


def _shortened(text: str, width: float, measure: Callable[[str], float]) -> str:
    """Return text, or its beginning and end with an ellipsis between them, no wider than width."""
    if measure(text) <= width:
        return text

    def short(kept: int) -> str:
        tail = kept // 3
        return text[: kept - tail].rstrip() + ELLIPSIS + text[len(text) - tail :].lstrip()

    # Almost in order of width: where blanks fell away, a step or two back finds the one that fits.
    kept = bisect_right(range(1, len(text)), width, key=lambda count: measure(short(count)))
    while kept and measure(short(kept)) > width:
        kept -= 1
    return short(kept) if kept else ELLIPSIS
