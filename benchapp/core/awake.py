"""Until when the PC must not fall asleep for a jaw: while its clocks run, and while somebody works with wet resin.

Both spans are choices of this project (common practice, no source).
"""

from typing import Any

from benchapp.core.clocks import State, clocks

RINGS = 15 * 60_000  # an alarm goes on ringing at the PC for so long
WET = 60 * 60_000  # after the last entry of a wet step; a jaw that was left lying must not keep the PC awake for ever


def awake_until(table: dict[str, Any], state: State, last: int) -> int:
    """Return the moment (UTC ms) until which the PC stays awake for a jaw, 0 for none; `last` is its last entry's."""
    if state["ended"]:
        return 0
    wet = any(card["wet"] for card in table["cards"] if card["step"] == state["now"])
    moments: list[int] = [clock["ends"] + RINGS for clock in clocks(table, state)]
    return max([*moments, last + WET if wet else 0])
