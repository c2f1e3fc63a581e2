"""The week: who works which case, the desk's own mistakes, and all of it at the same time."""

import csv
import io
import json
import re
import time
import traceback
from collections import Counter
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor, as_completed
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from typing import Any

from tests.week.closing import release, settle
from tests.week.lab import WeekLab, Worker, make_lab
from tests.week.pages import work_pages
from tests.week.people import HOUR, BenchTablet, DeskSeat, JawInHand
from tests.week.proof import Proof, measure, prove
from tests.week.slips import spread
from tests.week.stories import ALLERGIC, BOTH, STOPPED, STORIES, CaseWork, Plan

DAY = 24 * HOUR
AT_ONCE = 3  # tablets that deliver at the same time, beside the pages
OF_A_PAGE = 2  # cases for each page of the whole week
SIGNED_WRONG = 5


@dataclass
class Size:
    """How large a week is."""

    people: int = 12
    cases: int = 60
    browsers: int = 4
    of_a_page: int = OF_A_PAGE
    asked: int = 12  # how often each list of the desk is asked for its time


@dataclass
class Ran:
    """What a week did and what was found at its end."""

    seed: int
    size: Size
    seconds: float
    kinds: Counter[str]
    proof: Proof
    times: dict[str, list[float]]
    taps: int
    wrong: list[str] = field(default_factory=list)


def plans_of(size: Size) -> list[Plan]:
    """Return the cases that are worked without a browser, each with its story and its slips."""
    stories = list(STORIES)
    count = max(1, size.cases - size.browsers * size.of_a_page)
    chosen = [stories[at % len(stories)] for at in range(count)]
    one: list[tuple[str, ...]] = [("upper",), ("lower",)]
    jaws = [("upper", "lower") if story in BOTH else one[at % 2] for at, story in enumerate(chosen)]
    # A case that stops leaves no time for more mistakes.
    worked = [which for which, story in zip(jaws, chosen, strict=True) if story not in STOPPED]
    slips = iter(spread(sum(map(len, worked)), 3))
    return [
        Plan(f"WEEK-{at}", which, story, [[] if story in STOPPED else next(slips) for _ in which],
             "yes" if story in ALLERGIC else "no")
        for at, (which, story) in enumerate(zip(jaws, chosen, strict=True))
    ]


def run_week(folder: Path, seed: int, size: Size, tell: Callable[[str], None] = lambda _: None) -> Ran:
    """Run a week in `folder` and compare everything at its end."""
    began = time.monotonic()
    lab = make_lab(folder, size.people, size.browsers * size.of_a_page, seed)
    try:
        plans = plans_of(size)
        Random(f"plan {seed}").shuffle(plans)
        desk = DeskSeat(lab, lab.bosses[0])
        take_in(desk, plans)
        taps = _work(lab, plans, seed, size, tell)
        page_jaws_released(lab, desk, seed)
        last_day(lab, desk, seed)
        tell("comparing")
        times = measure(desk, size.asked)
        proof = prove(lab)
    finally:
        lab.live.kill()
    verified = lab.live.run("verify", "--data", str(lab.live.data)).stdout
    proof.verified = verified.strip().splitlines()[0]
    return Ran(seed, size, time.monotonic() - began, lab.ledger.kinds, proof, times, taps, lab.ledger.wrong)


def _work(lab: WeekLab, plans: list[Plan], seed: int, size: Size, tell: Callable[[str], None]) -> int:
    """Let all hands work at once; return the taps at the pages."""
    hands = lab.hands
    each = {who: plans[at :: len(hands)] for at, who in enumerate(hands)}
    with ThreadPoolExecutor(AT_ONCE) as benches, ThreadPoolExecutor(max(1, size.browsers)) as pages:
        jobs = [benches.submit(_days_of, lab, who, own, seed) for who, own in each.items()]
        at_pages = [
            pages.submit(work_pages, lab, lab.page_jaws[number :: size.browsers], number, seed)
            for number in range(size.browsers)
        ]
        every: list[Future[Any]] = [*jobs, *at_pages]
        for done, job in enumerate(as_completed(every), 1):
            if error := job.exception():
                lab.ledger.fault(f"{type(error).__name__}: {error} ({traceback.format_tb(error.__traceback__)[-1]})")
            tell(f"{done} of {len(every)} people and pages are done")
    return sum(job.result() for job in at_pages if not job.exception())


def _days_of(lab: WeekLab, who: Worker, plans: list[Plan], seed: int) -> None:
    """Work the cases of one person, one after the other over the past week."""
    draw = Random(f"{who.name} {seed}")
    begun = int(time.time() * 1000) - 8 * DAY
    desk = DeskSeat(lab, draw.choice(lab.bosses))
    tablet = BenchTablet(lab, who, begun, draw)
    for at, plan in enumerate(plans):
        tablet.t = max(tablet.t, begun + at * 7 * DAY // max(1, len(plans)))
        tablet.sign_in(who)
        case = lab.order(plan.order)
        jaws = {jaw["jaw"]: jaw["code"] for jaw in case["jaws"]}
        CaseWork(plan, tablet, desk, draw, case["code"], [jaws[which] for which in plan.jaws]).run()


def take_in(desk: DeskSeat, plans: list[Plan]) -> None:
    """Take the orders in: some typed in, the others by a list that somebody brings twice."""
    typed, listed = plans[::3], [plan for at, plan in enumerate(plans) if at % 3]
    for plan in typed:
        fields = {f"{jaw}_{key}_{part}": "B" for jaw in plan.jaws for key in ("revision", "print_job")
                  for part in ("base", "arch")}
        desk.do("/desk/cases/new", order=plan.order, patient=f"Patient of {plan.order}",
                prescriber="Practice at the ford", kind="new", due="2099-12-01", shade="light 2",
                tint="rose 2", allergy=plan.allergy,
                jaw=list(plan.jaws), upper_teeth=UPPER, lower_teeth=LOWER, **fields)
    if not listed:
        return
    text = io.StringIO(newline="")
    rows = csv.writer(text)
    rows.writerow(["Order", "Patient", "Prescriber", "Due", "Jaws", "Tooth shade", "Base tint", "Allergy", "Revision",
                   "Print job of the base", "Print job of the arch"])
    for plan in listed:
        jaws = "both" if len(plan.jaws) > 1 else plan.jaws[0]
        rows.writerow([plan.order, f"Patient of {plan.order}", "Practice at the ford", "2099-12-01", jaws, "light 2",
                       "rose 2", plan.allergy, "B", "W-3", "W-4"])
    before = len(desk.lab.journal().cases())
    for time_ in range(2):
        answer = desk.upload("/desk/cases/orders", "orders.csv", text.getvalue().encode())
        path = re.sub(r"^https?://[^/]+", "", answer.address)
        sound = re.findall(r'name="row" value="(\d+)"', answer.text)
        if time_ == 0:
            desk.do(f"{path}/import", row=sound)
        elif sound:
            desk.lab.ledger.fault(f"the same list a second time offers rows {sound}")
    desk.lab.ledger.note("the same list twice")
    came = len(desk.lab.journal().cases()) - before
    if came != len(listed):
        desk.lab.ledger.fault(f"a list of {len(listed)} orders, brought twice, made {came} cases")


UPPER = [17, 16, 15, 14, 13, 12, 11, 21, 22, 23, 24, 25, 26, 27]
LOWER = [46, 45, 44, 43, 42, 41, 31, 32, 33, 34, 35, 36]


def page_jaws_released(lab: WeekLab, desk: DeskSeat, seed: int) -> None:
    """Settle and release what was worked at the pages."""
    draw = Random(f"pages {seed}")
    for code in lab.page_jaws:
        settle(desk, code, draw)
        release(desk, f"/desk/jaw/{code}/release", draw)


def last_day(lab: WeekLab, desk: DeskSeat, seed: int) -> None:
    """What the desk has to do with people and with things that nobody can read."""
    draw = Random(f"last day {seed}")
    leaver(lab, desk, draw)
    locked(lab, desk)
    stray = BenchTablet(lab, lab.hands[0], int(time.time() * 1000), draw)
    stray.post("/outbox/1", [{"id": "week-garbage-1", "kind": 5}])
    lab.ledger.note("a fact that nobody can read")
    lot = lab.things["W-1"]
    desk.do(f"/desk/materials/{lot}/block", reason="Asked back by its maker")
    lab.ledger.note("a lot blocked after it was used")
    for key in re.findall(r'name="key" value="([\w-]+)"', desk.see("/desk/marks").text):
        desk.do("/desk/marks/seen", key=key)


def leaver(lab: WeekLab, desk: DeskSeat, draw: Random) -> None:
    """Somebody is taken on, given a badge, and leaves: the badge opens nothing, and what they still tap is marked."""
    desk.do("/desk/people/new", name="Rook Hale", roles="technician", pin="7391", until="")
    who = next(p["id"] for p in json.loads(desk.get("/people.json"))["people"] if p["name"] == "Rook Hale")
    shown = desk.do(f"/desk/people/{who}/badge").text
    found = re.search(r'data-once="badge">([^<]+)<', shown)
    badge = found[1] if found else ""
    if desk.say("/badge", {"badge": badge}).status != 200:
        lab.ledger.fault("a new badge signs nobody in")
    take_in(desk, [Plan("LEAVER-1", ("upper",), "", [[]], "no")])
    code = lab.order("LEAVER-1")["jaws"][0]["code"]
    hand = JawInHand(BenchTablet(lab, Worker(who, "Rook Hale", "7391", False), int(time.time() * 1000), draw), code)
    desk.do(f"/desk/people/{who}/left")
    hand.main(("gone", "deviation"), slip="a tap of somebody who had left")
    hand.flush()
    settle(desk, code, draw)
    if (status := desk.say("/badge", {"badge": badge}).status) != 403:
        lab.ledger.fault(f"a leaver's badge was answered {status}")
    lab.ledger.note("a leaver's badge")


def locked(lab: WeekLab, desk: DeskSeat) -> None:
    """Somebody types a wrong PIN until they are locked out, and the right one does not help then."""
    who = lab.hands[-1]
    for _ in range(SIGNED_WRONG):
        desk.say("/signin", {"person": who.id, "pin": "0000"})
    if (status := desk.say("/signin", {"person": who.id, "pin": who.pin}).status) != 429:
        lab.ledger.fault(f"after {SIGNED_WRONG} wrong PINs the right one was answered {status}")
    lab.ledger.note("locked after wrong PINs")
