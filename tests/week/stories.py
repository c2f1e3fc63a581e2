"""What becomes of a case as a whole: at the bench, and at the desk; one story for each case."""

from collections.abc import Callable
from dataclasses import dataclass, field
from random import Random

from benchapp.core.walk import main_act, next_places
from tests.week.chamber import FIRST_SIDE, in_one_load
from tests.week.closing import after, release, settle
from tests.week.people import HOUR, BenchTablet, DeskSeat, JawInHand
from tests.week.replay import Jaw
from tests.week.slips import Slip

Hook = Callable[["CaseWork", JawInHand], None]
Waiting = tuple[JawInHand, list[tuple[str, Slip]], dict[str, Hook]]


@dataclass
class Plan:
    """A case of the week: its order, its jaws, its story, and the slips at each jaw."""

    order: str
    jaws: tuple[str, ...]
    story: str
    slips: list[list[tuple[str, Slip]]]
    allergy: str = "no"


@dataclass
class CaseWork:
    """A case under work by one tablet and one seat at the desk."""

    plan: Plan
    tablet: BenchTablet
    desk: DeskSeat
    draw: Random
    code: str
    jaws: list[str]
    stopped: bool = False
    again: list[str] = field(default_factory=list)  # jaws that were made again

    def run(self) -> None:
        """Work every jaw, settle what is open, check the pair, release, send out."""
        story = STORIES[self.plan.story]
        if self.plan.allergy == "yes":
            allergy_first(self, JawInHand(self.tablet, self.jaws[0]))
        together: list[Waiting] = []
        for at, code in enumerate(self.jaws):
            if not self.stopped:
                hand = JawInHand(self.tablet, code)
                hooks = dict(story.get(self.plan.jaws[at], story.get("any", {})))
                if at == 0 and len(self.jaws) > 1 and self.plan.allergy != "yes":
                    hooks.setdefault("check-tacky", wrong_jaw)
                slips = list(self.plan.slips[at])
                shared = self.plan.story == "pair"
                self.work(hand, slips, hooks, FIRST_SIDE if shared else "")
                together += [(hand, slips, hooks)] if shared else []
                if self.again:  # what could not go wrong with the scrapped jaw does with the one in its place
                    self.work(JawInHand(self.tablet, self.again.pop()), slips, {})
            self.tablet.t += HOUR // 4
        if together:
            in_one_load([hand for hand, _, _ in together], f"load-{self.code}")
        for waiting in together:
            self.work(*waiting)
        if not self.stopped:
            self.finish()

    def work(self, hand: JawInHand, slips: list[tuple[str, Slip]], hooks: dict[str, Hook], until: str = "") -> None:
        """Work a jaw to its end, or until a step is on, with the slips and the hooks of its steps, each once."""
        for _ in range(400):
            if hand.state["ended"] or self.stopped or (until and hand.at == until):
                break
            step = hand.at
            if hand.state["held"] and not hand.wet:
                hand.resume()
            elif step in hooks:
                hooks.pop(step)(self, hand)
            elif any(at == step for at, _ in slips):
                chosen = next(one for one in slips if one[0] == step)
                slips.remove(chosen)
                chosen[1](hand)
            else:
                if step == "check-tacky" and self.draw.random() < 0.5:
                    self.tablet.sign_in(self.draw.choice(hand.lab.hands))
                hand.main()
        else:
            hand.lab.ledger.fault(f"jaw {hand.code} does not get past {hand.at}")
        if hand.state["ended"] == "through" and self.draw.random() < 0.2:
            hand.fact("confirm", ("ended", "refused"), slip="a tap after the end", step="pack-up", outcome="packed-up",
                      places=["-"])
        hand.flush()

    def finish(self) -> None:
        """Do what the desk does at the end."""
        alive = [code for code in self.codes() if Jaw(self.desk.lab.journal(), code).here.ended == "through"]
        for code in self.codes():
            settle(self.desk, code, self.draw)
        if len(self.jaws) > 1:
            said = ["not-right", "right"] if self.plan.story == "pair" else [self.draw.choice(("right", "not-mounted"))]
            for outcome in said:
                if outcome == "not-right":
                    self.desk.lab.ledger.note("pair check not right at first")
                self.desk.do(f"/desk/case/{self.code}/pair", outcome=outcome)
        if len(alive) > 1 and self.draw.random() < 0.7:
            release(self.desk, f"/desk/case/{self.code}/release", self.draw)
        else:
            for code in alive:
                release(self.desk, f"/desk/jaw/{code}/release", self.draw)
        for code in alive:
            after(self.desk, code, self.draw)

    def codes(self) -> list[str]:
        """Return the codes of every jaw of the case, those made again too."""
        journal = self.desk.lab.journal()
        return [code for code, (_, case) in journal.jaws().items() if case == self.code]


def wrong_jaw(work: CaseWork, hand: JawInHand) -> None:
    """Tap on the other jaw of the case, which lies beside this one."""
    hand.flush()  # a tablet has one outbox: what was done before goes first
    other = JawInHand(hand.tablet, work.jaws[1])
    why = "held" if other.state["held"] else "step"  # it may lie there on hold
    other.fact("confirm", (why, "refused"), slip="the wrong jaw of the case", step=hand.at,
               outcome=main_act(hand.table, hand.at)["outcome"], places=["-"])
    other.flush()


def tap_held(hand: JawInHand, slip: str) -> None:
    """Tap on a jaw that the desk put on hold."""
    places = next_places(hand.table, hand.state)
    hand.say(main_act(hand.table, hand.at)["outcome"], places, ("held", "refused"), slip=slip)


def allergy_first(work: CaseWork, hand: JawInHand) -> None:
    """An allergy is stated on the order: somebody taps, goes on too soon, and then the decision comes."""
    tap_held(hand, "a tap before an allergy was decided")
    if work.draw.random() < 0.5:
        hand.resume(("waits", "deviation"), slip="went on before an allergy was decided")
    hand.flush()
    if work.plan.story == "against":
        work.desk.do(f"/desk/cases/{work.code}/order/allergy", by="Dr. Vell", on="2024-02-01", goes_on="no")
        work.stopped = True
        return
    work.desk.do(f"/desk/cases/{work.code}/order/allergy", by="Dr. Vell", on="2024-02-01", goes_on="yes")
    hand.refresh()


def correction(work: CaseWork, hand: JawInHand) -> None:
    """What was ordered is corrected while the jaw is worked."""
    work.desk.lab.ledger.note("a correction of the order")
    hand.flush()
    work.desk.do(f"/desk/cases/{work.code}/order/correct", shade="light 3", due="2099-12-24",
                 prescriber="Practice at the weir")
    hand.refresh()


def allergy_later(work: CaseWork, hand: JawInHand) -> None:
    """The clinic tells of an allergy in the middle of the work."""
    hand.flush()
    work.desk.do(f"/desk/cases/{work.code}/order/correct", allergy="yes")
    hand.refresh()
    tap_held(hand, "a tap after an allergy was told")
    hand.flush()
    work.desk.do(f"/desk/cases/{work.code}/order/allergy", by="Dr. Vell", on="2024-02-02", goes_on="yes")
    hand.refresh()


def cancelled(work: CaseWork, hand: JawInHand) -> None:
    """The case is cancelled, and somebody goes on all the same."""
    hand.flush()
    work.desk.do(f"/desk/cases/{work.code}/order/cancel", why="The clinic called it off")
    hand.refresh()
    tap_held(hand, "a tap on a cancelled case")
    hand.resume(("waits", "deviation"), slip="went on with a cancelled case")
    hand.flush()
    work.stopped = True


def reopened(work: CaseWork, hand: JawInHand) -> None:
    """The case is cancelled and goes on again."""
    work.desk.lab.ledger.note("a cancelled case goes on")
    hand.flush()
    work.desk.do(f"/desk/cases/{work.code}/order/cancel", why="Called off by mistake")
    work.desk.do(f"/desk/cases/{work.code}/order/reopen", go="1")
    hand.refresh()
    hand.resume()


def remade(work: CaseWork, hand: JawInHand) -> None:
    """A part is scrapped and made again; the jaw goes back to where its parts are read."""
    work.desk.lab.ledger.note("a part made again")
    hand.flush()
    work.desk.do(f"/desk/jaw/{hand.code}/remake", what="part", part="base", reason="damaged", bearer="lab",
                 **{"base-revision": "C", "base-print_job": "W-9"})
    hand.refresh()
    if hand.at != "part-check":
        work.desk.lab.ledger.fault(f"a part of jaw {hand.code} was made again, but it stands at {hand.at}")


def remade_held(work: CaseWork, hand: JawInHand) -> None:
    """A part is wrong: the jaw is held for it, and the part is made again."""
    hand.say("part-wrong", ["-"])
    remade(work, hand)


def remade_late_hold(work: CaseWork, hand: JawInHand) -> None:
    """A jaw past the reading of its parts is held for one of them, and the part is made again."""
    hand.fact("hold", picks={"reason": "part-not-right"})
    remade(work, hand)


def scrapped(work: CaseWork, hand: JawInHand) -> None:
    """After first light the jaw is scrapped and made again as a whole."""
    ledger = work.desk.lab.ledger
    ledger.note("a jaw made again")
    hand.flush()
    fields = {f"{part}-{key}": value for part in ("base", "arch")
              for key, value in (("revision", "D"), ("print_job", "W-11"))}
    path = f"/desk/jaw/{hand.code}/remake"
    ledger.note("wrong PIN")
    work.desk.do(path, 422, what="jaw", pin="0000", reason="damaged", bearer="open", **fields)
    work.desk.do(path, what="jaw", pin=work.desk.who.pin, reason="damaged", bearer="open", **fields)
    work.again += [code for code, (jaw, _) in work.desk.lab.journal().jaws().items() if jaw.get("follows") == hand.code]
    hand.refresh()


def taken_in(work: CaseWork, hand: JawInHand) -> None:
    """A tap that came too early is taken in by a supervisor, who saw that it was well."""
    outcome = main_act(hand.table, hand.at)["outcome"]
    early = hand.say(outcome, ["-"], ("early", "refused"), slip="too early, but taken in")
    hand.flush()
    work.desk.do(f"/desk/marks/{hand.code}", event=early, outcome="in", pin=work.desk.who.pin)
    hand.refresh()


STORIES: dict[str, dict[str, dict[str, Hook]]] = {
    "pair": {"upper": {"cut-back": correction}, "lower": {"second-fit": taken_in}},
    "allergy": {"any": {"lay-out": remade}},
    "again": {"any": {"finish-off": scrapped}},
    "cancelled": {"any": {"cut-back": cancelled}},
    "reopened": {"upper": {"dry-fit": reopened}, "lower": {"clean": correction}},
    "later": {"any": {"cut-back": allergy_later}},
    "against": {},
    "part wrong": {"any": {"part-check": remade_held}},
    "held": {"any": {"lay-out": remade_late_hold}},
}
BOTH = ("pair", "reopened")
ALLERGIC = ("allergy", "against")
STOPPED = ("cancelled", "against")
