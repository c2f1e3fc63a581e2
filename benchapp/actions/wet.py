"""Whether somebody works with wet resin at this moment: then nothing of the PC's own may come between."""

from benchapp.actions.bench import Bench
from benchapp.actions.overview import lines_in_work


def wet_now(bench: Bench) -> list[str]:
    """Return the codes of the jaws whose step that is on is a wet one, of cases that go on."""
    return [
        known.code for known in lines_in_work(bench)
        if any(card["step"] == known.state["now"] and card["wet"] for card in known.table["cards"])
    ]
