"""Whether somebody works with wet resin at this moment: then nothing of the PC's own may come between."""

from benchapp.actions.bench import Bench
from benchapp.actions.cases import all_cases
from benchapp.actions.jaws import line
from benchapp.actions.overview import LOOKED_AT


def wet_now(bench: Bench) -> list[str]:
    """Return the codes of the jaws whose step that is on is a wet one, of cases that go on."""
    found = []
    for accepted in all_cases(bench)[-LOOKED_AT:]:
        for jaw in line(bench, accepted["jaws"][0]["code"]).case["jaws"]:
            known = line(bench, jaw["code"])
            wet = any(card["step"] == known.state["now"] and card["wet"] for card in known.table["cards"])
            if wet and not known.state["ended"] and not known.case["cancelled"]:
                found.append(known.code)
    return found
