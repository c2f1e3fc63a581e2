"""Two jaws in one load of the chamber, whose door is opened in mid-cure."""

from benchapp.core.walk import MINUTE
from tests.week.people import JawInHand

FIRST_SIDE = "cure-first-side"
WAITS = 120  # minutes from the tack to the chamber, after which the entry gets a note


def in_one_load(jaws: list[JawInHand], name: str) -> None:
    """Cure the first side of several jaws together, open the door, tap too soon for it, and start the second side.

    A tablet sends in the order in which things were done, so that every fact goes out before that of the next jaw.
    """
    tablet = jaws[0].tablet
    tablet.lab.ledger.note("a load of two jaws, with its door opened")
    longest = max(tablet.t - jaw.state["stamps"]["tack-light"] for jaw in jaws)
    if longest > (WAITS - 10) * MINUTE:
        tablet.t += 20 * MINUTE  # near the limit: let it be clear on which side
    for jaw in jaws:
        late = tablet.t - jaw.state["stamps"]["tack-light"] > WAITS * MINUTE
        marks, slip = ((("late", "note"),), "into the chamber late") if late else ((), "")
        jaw.main(*marks, slip=slip, picks=jaw.usual_picks() | {"load": name})
        jaw.flush()
    up = max(jaw.state["stamps"][FIRST_SIDE] for jaw in jaws) + 30 * MINUTE
    for jaw in jaws:
        jaw.fact("dark")
        jaw.flush()
    for jaw in jaws:
        jaw.say("second-side-on", ["-"], ("dark", "refused"), slip="a tap while the light was off")
        jaw.flush()
    tablet.t += 7 * MINUTE
    for jaw in jaws:
        jaw.fact("bright")
        jaw.flush()
    tablet.t = max(tablet.t, up)
    for jaw in jaws:
        jaw.say("second-side-on", ["-"], ("early", "refused"),
                slip="the door was opened, and the time counted without it")
        jaw.flush()
    for jaw in jaws:
        jaw.main()
        jaw.flush()
