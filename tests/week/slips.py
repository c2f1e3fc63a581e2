"""Mistakes at the bench, each at the step where it can be made; what it must leave is noted when it is made."""

from collections.abc import Callable

from benchapp.core.walk import MINUTE, main_act, next_places
from tests.week.people import JawInHand

Slip = Callable[[JawInHand], None]


def wrong_step(jaw: JawInHand) -> None:
    """Confirm a step that is not on."""
    jaw.fact("confirm", ("step", "refused"), slip="a step that is not on", step="pack-up",
             outcome="packed-up", places=["-"])


def unknown_outcome(jaw: JawInHand) -> None:
    """Say what the step does not know, as a page of another edition might."""
    jaw.say("no-such-answer", ["-"], ("unknown", "refused"), slip="an answer that the step does not know")


def strange_place(jaw: JawInHand) -> None:
    """Name a place that this jaw does not have."""
    jaw.say(main_act(jaw.table, jaw.at)["outcome"], ["99-98"], ("place", "refused"), slip="a place that is not there")


def unknown_jaw(jaw: JawInHand) -> None:
    """Misread the code of the jaw: it is none of this lab."""
    jaw.fact("confirm", ("jaw", "refused"), slip="a jaw that is not known", jaw="1ZZZZZZZZZ", step="intake",
             outcome="order-accepted", places=["-"])


def not_held(jaw: JawInHand) -> None:
    """Let a jaw go on that is not held."""
    jaw.resume(("step", "refused"), slip="resume without a hold")


def eased(jaw: JawInHand) -> None:
    """Try again: a tight spot was eased."""
    jaw.lab.ledger.note("tried again")
    jaw.say("tight-spot-eased", ["-"])


def undo(jaw: JawInHand) -> None:
    """Tap, and take it back at once."""
    jaw.lab.ledger.note("taken back")
    done = jaw.main()
    jaw.fact("undo", undo=done)
    jaw.lab.ledger.took_back(done)


def undo_too_late(jaw: JawInHand) -> None:
    """Tap, and want it back after the time for that."""
    done = jaw.main()
    jaw.wait(12)
    jaw.fact("undo", ("undo", "refused"), slip="taken back too late", undo=done)


def hold(jaw: JawInHand) -> None:
    """Put the jaw on hold, tap on it all the same, and go on later."""
    jaw.fact("hold", picks={"reason": "ask-the-clinic"})
    jaw.say(main_act(jaw.table, jaw.at)["outcome"], next_places(jaw.table, jaw.state), ("held", "refused"),
            slip="a tap on a held jaw")
    jaw.wait(35)
    jaw.resume()


def held_by_answer(jaw: JawInHand) -> None:
    """Give an answer that holds the jaw, and go on after it was looked at."""
    jaw.lab.ledger.note("held by an answer")
    jaw.say("count-wrong", ["-"])
    jaw.wait(10)
    jaw.resume()


def send_back(jaw: JawInHand) -> None:
    """Send the jaw back, and tap once more in the round that is over."""
    before, step = jaw.state["round"], jaw.at
    jaw.fact("sendback", step="dry-fit", picks={"reason": "wrong-tap"})
    jaw.fact("confirm", ("round", "refused"), slip="sent back, and a tap of the round before", round=before, step=step,
             outcome=main_act(jaw.table, step)["outcome"], places=["-"])


def chipped(jaw: JawInHand) -> None:
    """Chip a connector."""
    jaw.lab.ledger.note("an exception at a place")
    jaw.say("chipped", jaw.single()[:1])


def early(jaw: JawInHand) -> None:
    """Tap before the floor is over."""
    jaw.say(main_act(jaw.table, jaw.at)["outcome"], ["-"], ("early", "refused"), slip="a tap before the floor is over")


def tack_late(jaw: JawInHand) -> None:
    """Tack after the open time, and say why."""
    jaw.wait(26)
    done = jaw.main(("late", "deviation"), slip="tacked after the open time")
    jaw.fact("reason", allow=done, outcome="more-to-fill")


def tack_long(jaw: JawInHand) -> None:
    """Light each position longer than the protocol says."""
    values = [{"name": "positions", "value": "8", "unit": ""}, {"name": "seconds", "value": "90", "unit": "s"}]
    jaw.main(("limit", "deviation"), slip="a number outside its limits", values=values)


def chamber_late(jaw: JawInHand) -> None:
    """Let the tacked jaw lie for long before the chamber."""
    jaw.wait(135)
    jaw.main(("late", "note"), slip="into the chamber late")


def door(jaw: JawInHand) -> None:
    """Open the chamber in mid-cure, tap while its light is off, and tap when the time would have been up before."""
    lit = jaw.state["stamps"]["cure-first-side"]
    jaw.fact("dark")
    jaw.say("second-side-on", ["-"], ("dark", "refused"), slip="a tap while the light was off")
    jaw.wait(7)
    jaw.fact("bright")
    jaw.tablet.t = max(jaw.tablet.t, lit + 30 * MINUTE)
    jaw.say("second-side-on", ["-"], ("early", "refused"), slip="the door was opened, and the time counted without it")


def expired(jaw: JawInHand) -> None:
    """Pick a lot that expired long ago."""
    picks = jaw.usual_picks() | {"resin": jaw.lab.things["W-OLD"]}
    jaw.main(("unfit", "deviation"), slip="an expired lot", picks=picks)


def blocked(jaw: JawInHand) -> None:
    """Pick a lot that is blocked."""
    picks = jaw.usual_picks() | {"resin": jaw.lab.things["W-BLOCKED"]}
    jaw.main(("unfit", "deviation"), slip="a blocked lot", picks=picks)


def wrong_tint(jaw: JawInHand) -> None:
    """Pick a lot of another tint than the base's."""
    picks = jaw.usual_picks() | {"resin": jaw.lab.things["W-GREY"]}
    jaw.main(("unfit", "deviation"), slip="a lot of another tint", picks=picks)


def strange_part(jaw: JawInHand) -> None:
    """Read a part that belongs to no jaw here."""
    jaw.lab.ledger.note("a part that is not known")
    jaw.main(picks=jaw.usual_picks() | {"base": "BZZZZZZZZZ"})


def bubbles(jaw: JawInHand) -> None:
    """Mend one bubble and leave another one open, so that its place goes back to filling."""
    jaw.lab.ledger.note("bubbles mended and left open")
    jaw.say("bubble-mended", jaw.single()[:1])
    jaw.say("bubble-left", jaw.single()[-1:])


def stated(jaw: JawInHand) -> None:
    """Tap later than it was done, and state the time."""
    at = jaw.state["log"][-1]["t"] + 20_000
    jaw.wait(4)
    jaw.main(("stated", "note"), slip="a stated time", stated=at, picks={"reason": "forgot-to-tap"})


def stated_ahead(jaw: JawInHand) -> None:
    """State a time that is still to come."""
    jaw.say("fit-for-light", ["-"], ("stated", "refused"), slip="a stated time to come",
            stated=jaw.tablet.t + 90 * MINUTE)


def claimed(jaw: JawInHand) -> None:
    """Go on while the PC is away, without a PIN."""
    jaw.how = "claimed"
    jaw.main()
    jaw.main()
    jaw.how = "pin"


def other_tablet(jaw: JawInHand) -> None:
    """Deliver what another tablet made, as after a copied storage."""
    jaw.fact("hold", ("tablet", "note"), slip="sent by another tablet", picks={"reason": "called-away"},
             **{"from": {"tablet": "T000000000", "boot": jaw.tablet.boot, "n": 1, "app": "week", "table": ""}})
    jaw.resume()


def void_bare(jaw: JawInHand) -> None:
    """Lay a void bare, so that its place is repaired, cured and finished again."""
    jaw.lab.ledger.note("a repair")
    jaw.say("void-bare", jaw.single("off", "open")[:1])


def void_seen(jaw: JawInHand) -> None:
    """See a void at the final check."""
    jaw.lab.ledger.note("a repair after the final check")
    jaw.say("void-seen", jaw.single("off", "open")[-1:])


def band(jaw: JawInHand) -> None:
    """See a band from tooth to tooth."""
    jaw.lab.ledger.note("refinished at a place")
    jaw.say("band-seen", jaw.single("off", "open")[:1])


def no_model(jaw: JawInHand) -> None:
    """Answer that there is no model."""
    jaw.lab.ledger.note("no model")
    jaw.say("no-model", ["-"])


def handed(jaw: JawInHand) -> None:
    """Hand the jaw to a colleague."""
    jaw.lab.ledger.note("handed to a colleague")
    jaw.fact("hand", picks={"to": jaw.lab.hands[0].id})


SLIPS: tuple[tuple[str, Slip], ...] = (
    ("intake", unknown_outcome), ("part-check", strange_part), ("dry-fit", eased), ("cut-back", hold),
    ("lay-out", expired), ("clean", undo), ("second-fit", early), ("bubble-check", bubbles), ("shape-papillae", stated),
    ("last-look", stated_ahead), ("tack-light", tack_late), ("cure-first-side", chamber_late),
    ("cure-second-side", door), ("finish-off", void_bare), ("check-voids", void_seen), ("lay-out", blocked),
    ("tack-light", tack_long), ("dry-fit", undo_too_late), ("lay-out", send_back), ("cut-back", chipped),
    ("part-check", wrong_step), ("clean", strange_place), ("intake", unknown_jaw), ("check-tint", not_held),
    ("check-count", held_by_answer), ("check-midline", claimed), ("cool-down", early), ("check-separate", band),
    ("check-seat", no_model), ("cool-down", handed), ("check-shade", other_tablet), ("lay-out", wrong_tint),
    ("finish-off", early),
)


def spread(jaws: int, least: int) -> list[list[tuple[str, Slip]]]:
    """Give every slip to some jaw, none two at one step, and each jaw `least` at least."""
    given: list[list[tuple[str, Slip]]] = [[] for _ in range(jaws)]
    round_ = 0
    while round_ == 0 or min(map(len, given)) < least:
        for step, slip in SLIPS:
            fitting = [jaw for jaw in given if step not in [at for at, _ in jaw]]
            if fitting and (round_ == 0 or len(min(fitting, key=len)) < least):
                min(fitting, key=len).append((step, slip))
        round_ += 1
    return given
