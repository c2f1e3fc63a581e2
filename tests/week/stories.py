"""What becomes of a case as a whole: at the bench, and at the desk; one story for each case."""

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from random import Random

from benchapp.core.walk import main_act, next_places
from tests.week.people import HOUR, BenchTablet, DeskSeat, JawInHand
from tests.week.replay import Jaw
from tests.week.slips import Slip

Hook = Callable[["CaseWork", JawInHand], None]
SERVER_DEVIATIONS = (["unfit", "deviation"], ["waits", "deviation"])


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
        for at, code in enumerate(self.jaws):
            if not self.stopped:
                hand = JawInHand(self.tablet, code)
                hooks = dict(story.get(self.plan.jaws[at], story.get("any", {})))
                if at == 0 and len(self.jaws) > 1 and not self.plan.allergy == "yes":
                    hooks.setdefault("check-tacky", wrong_jaw)
                self.work(hand, list(self.plan.slips[at]), hooks)
            self.tablet.t += HOUR // 4
        while self.again and not self.stopped:
            self.work(JawInHand(self.tablet, self.again.pop()), [], {})
        if not self.stopped:
            self.finish()

    def work(self, hand: JawInHand, slips: list[tuple[str, Slip]], hooks: dict[str, Hook]) -> None:
        """Work a jaw to its end, with the slips and the hooks of its steps, each once."""
        for _ in range(400):
            if hand.state["ended"] or self.stopped:
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
            for outcome in ("not-right", "right") if self.plan.story == "pair" else (self.draw.choice(("right", "not-mounted")),):
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


def settle(desk: DeskSeat, code: str, draw: Random) -> None:
    """Decide on every entry that was not taken, and close every deviation of a jaw."""
    jaw = Jaw(desk.lab.journal(), code)
    closed = {b["event"].get("allow") for b in jaw.own if b["event"]["kind"] == "close"}
    for deed in jaw.deeds:
        if any(grade == "refused" for _, grade in deed.marks) and not deed.decided:
            outcome = draw.choice(("aside", "aside", "in"))
            if draw.random() < 0.05:
                desk.lab.ledger.note("wrong PIN")
                desk.do(f"/desk/marks/{code}", 403, event=deed.event["id"], outcome=outcome, pin="0000")
            desk.do(f"/desk/marks/{code}", event=deed.event["id"], outcome=outcome, pin=desk.who.pin)
    for deed in jaw.counting:
        breached = any(grade in ("deviation", "stop") for _, grade in deed.marks)
        found = breached or any(mark in SERVER_DEVIATIONS for mark in deed.body["server"]["marks"])
        if found and deed.event["id"] not in closed:
            desk.do(f"/desk/deviations/{code}", event=deed.event["id"], outcome=draw.choice(("accepted", "followed-up")),
                    words="Looked at in the week")


def release(desk: DeskSeat, path: str, draw: Random) -> None:
    """Read a release page: tick what is asked, say why where a reason is asked, and sign."""
    shown = desk.see(path).text
    fields = dict(re.findall(r'name="(\w+-seen)" value="(\d+)"', shown))
    fields |= dict.fromkeys(re.findall(r'name="([\w-]+-read-[^"]+)"', shown), "1")
    fields |= dict.fromkeys(re.findall(r'<textarea[^>]*name="([\w-]+-reason-[^"]+)"', shown), "Asked; it was so.")
    if draw.random() < 0.1:
        desk.lab.ledger.note("wrong PIN")
        desk.do(path, 403, **fields, pin="0000")
    desk.do(path, **fields, pin=desk.who.pin)


def after(desk: DeskSeat, code: str, draw: Random) -> None:
    """Send a released jaw out; some come back, and something is added to their record."""
    path = f"/desk/jaw/{code}/after"
    if "means" not in desk.see(path).text:
        desk.lab.ledger.fault(f"jaw {code} is not released")
        return
    desk.do(f"{path}/sent", on=desk_day(desk, path), means="By the lab's own driver")
    if draw.random() < 0.4:
        desk.do(f"{path}/back", on=desk_day(desk, path), place="", reason="bite", words="The bite is high on one side")
        desk.do(f"{path}/amend", words="The clinic's note lies in the file.")


def desk_day(desk: DeskSeat, path: str) -> str:
    """Return today as a page of the desk has it."""
    found = re.search(r'max="(\d{4}-\d\d-\d\d)"', desk.see(path).text)
    assert found
    return found[1]


def wrong_jaw(work: CaseWork, hand: JawInHand) -> None:
    """Tap on the other jaw of the case, which lies beside this one."""
    other = JawInHand(hand.tablet, work.jaws[1])
    why = "held" if other.state["held"] else "step"  # it may lie there on hold
    other.fact("confirm", (why, "refused"), slip="the wrong jaw of the case", step=hand.at,
               outcome=main_act(hand.table, hand.at)["outcome"], places=["-"])
    other.flush()


def tap_held(hand: JawInHand, slip: str) -> None:
    """Tap on a jaw that the desk put on hold."""
    hand.say(main_act(hand.table, hand.at)["outcome"], next_places(hand.table, hand.state), ("held", "refused"), slip=slip)


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
    work.desk.do(f"/desk/cases/{work.code}/order/correct", shade="light 3", due="2099-12-24", prescriber="Practice at the weir")
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
    early = hand.say(main_act(hand.table, hand.at)["outcome"], ["-"], ("early", "refused"), slip="too early, but taken in")
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
