"""The clocks of a jaw: which floors and ceilings run now, and when each ends. Twin: static/js/clocks.js."""

from typing import Any

State = dict[str, Any]


def clocks(table: dict[str, Any], state: State) -> list[dict[str, Any]]:
    """Return the running clocks: {kind, since, step, ends, ms, grade}, `ends` in UTC ms, soonest first.

    A floor is shown on the step that waits for it; a ceiling from the moment its clock starts until its
    step is through. A clock that has run out stays, so that a late reader sees since when.
    """
    if state["ended"]:
        return []
    found: list[dict[str, Any]] = []
    for act in table["acts"]:
        if act["kind"] != "confirm" or not _asked(state, act["step"]):
            continue
        for kind in ("floors", "ceilings"):
            for since, ms, _, grade in act[kind]:
                clock = {"kind": kind[:-1], "since": since, "step": act["step"], "ms": ms, "grade": grade}
                if since in state["stamps"] and (kind == "ceilings" or act["step"] == state["now"]):
                    clock["ends"] = state["stamps"][since] + ms
                    if clock not in found:
                        found.append(clock)
    return sorted(found, key=lambda c: (c["ends"], c["kind"], c["since"], c["step"]))


def _asked(state: State, step: str) -> bool:
    return "open" in state["cells"].get(step, {}).values()
