"""The day's list: what each jaw waits for, in words and on the wall clock, and what needs somebody now."""

import re
from datetime import UTC, datetime
from html import unescape
from pathlib import Path

import pytest

from benchapp.actions.overview import case_glances
from benchapp.actions.records import record_of
from benchapp.actions.today import day
from benchapp.core.walk import MINUTE
from tests.actions.whole import LAB3, let_go
from tests.actions.worked import CASE, TABLET
from tests.web.desks import SUPERVISOR, TECHNICIAN, Desk, desk

ASKED = CASE.replace('"none stated"', '"no"')
CARELESS = CASE.replace("Żuraw 17", "<script>alert(1)</script>").replace("T-2026-0017", "<img src=x onerror=y>")


def shown(page: str) -> str:
    """Return what a page says, without its tags."""
    plain = re.sub(r"</?(?:strong|span|a)\b[^>]*>", "", page)
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", plain)).split())


def group_of(page: str, code: str) -> str:
    """Return the group in which a jaw stands, "" where it is in none."""
    for name, section in re.findall(r'data-group="(\w+)">(.*?)</section>', page, re.S):
        if f'data-jaw="{code}"' in section:
            return str(name)
    return ""


def looked(at: Desk) -> str:
    """Return the day's list as whoever signs in afresh sees it, since half an hour without a request ends a sitting."""
    return at.sit(*SUPERVISOR).get("/desk/today")


def test_a_jaw_nobody_began(tmp_path: Path) -> None:
    """A new jaw stands on the bench with nobody in charge, no clock, and its due day."""
    with desk(tmp_path / "data") as at:
        page = at.get("/desk/today")
        assert group_of(page, at.jaw.code) == "bench"
        words = shown(page)
        for said in ("Żuraw 17", "T-2026-0017, upper", "Read the order", "nobody yet", "2026-12-01 due in 7 days",
                     "no clock runs", "As of 09:00 (Europe/Warsaw, UTC+01:00)"):
            assert said in words, said


def test_it_runs_by_itself_until_the_time_is_up(tmp_path: Path) -> None:
    """In the chamber the jaw runs by itself with the minutes left; when they are over it needs somebody."""
    with desk(tmp_path / "data") as at:
        at.jaw.run_to("cure-second-side")
        at.jaw.now[0] += 10 * MINUTE
        page = looked(at)
        assert group_of(page, at.jaw.code) == "alone"
        assert "20 min left" in shown(page) and "Łukasz Wiśniewski" in shown(page)
        at.jaw.now[0] += 23 * MINUTE
        page = looked(at)
        assert group_of(page, at.jaw.code) == "now"
        assert "over since 3 min “Turn over, second side” may be done now" in shown(page)
        assert "12 min left" in shown(page)  # of the 45 min at the most


def test_a_ceiling_that_ran_out_is_late(tmp_path: Path) -> None:
    """Wet longer than 20 min: late by the difference, in words, and needs somebody."""
    with desk(tmp_path / "data") as at:
        at.jaw.run_to("fill-gaps")
        wet = next(e["t"] for e in at.jaw.line.events if e["step"] == "wet-sockets")
        at.jaw.now[0] = wet + 21 * MINUTE
        page = looked(at)
        assert group_of(page, at.jaw.code) == "now"
        assert "late by 1 min “Tack with the hand lamp” is late" in shown(page)


def test_held_says_why(tmp_path: Path) -> None:
    """A held jaw needs somebody and names the reason tile; the count on top says so."""
    with desk(tmp_path / "data") as at:
        at.jaw.fact("hold", picks={"reason": "ask-the-clinic"})
        page = at.get("/desk/today")
        assert group_of(page, at.jaw.code) == "now"
        assert "on hold: The clinic must answer" in shown(page) and "on hold: 1" in shown(page)


def test_a_refused_entry_and_a_missing_reason_need_somebody(tmp_path: Path) -> None:
    """An entry that was not taken, and a breach without a reason, are said in the list."""
    with desk(tmp_path / "data") as at:
        at.jaw.fact("confirm", step="pack-up", outcome="packed-up", places=["-"])
        page = at.get("/desk/today")
        assert group_of(page, at.jaw.code) == "now" and "1 entry was not taken" in shown(page)
        at.jaw.run_to("tack-light")
        at.jaw.say("tacked", ["-"], 30, **at.jaw.extra("tack-light"))
        assert "a reason is missing" in shown(looked(at))


def test_a_day_that_has_passed_is_late(tmp_path: Path) -> None:
    """After the due day a jaw in work is late; the midnight that counts is the lab's, not the PC's in UTC."""
    with desk(tmp_path / "data", start=datetime(2026, 12, 1, 22, 30, tzinfo=UTC)) as at:  # 23:30 in Warsaw
        assert "due today" in shown(at.get("/desk/today"))
        at.jaw.now[0] += 45 * MINUTE
        page = looked(at)
        assert group_of(page, at.jaw.code) == "now"
        assert "late, was due yesterday" in shown(page) and "the due day has passed" in shown(page)


def test_packed_released_sent(tmp_path: Path) -> None:
    """A packed jaw waits for release, a released one for the road, and a sent one is off the list."""
    with desk(tmp_path / "data") as at:
        jaw = at.jaw
        jaw.run_to()
        page = looked(at)
        assert group_of(page, jaw.code) == "packed" and f"/desk/jaw/{jaw.code}/release" in page
        for kind, group in (("release", "released"), ("sent", "")):
            with jaw.bench.store.writing() as writer:
                jaw.bench.request(writer, kind, jaw.person, jaw=jaw.code, case=jaw.opened.code)
            assert group_of(at.get("/desk/today"), jaw.code) == group


@pytest.mark.parametrize("end", ["settled", "sent"])
def test_what_came_back_waits_in_a_group_of_its_own(tmp_path: Path, end: str) -> None:
    """It stands there with day and reason, late or not, until a supervisor settles it by one button or it is sent."""
    with desk(tmp_path / "data", lab=LAB3, case=ASKED) as at:
        at.jaw.run_to()
        let_go(at.jaw)
        at.sit(*SUPERVISOR)
        code, after = at.jaw.code, f"/desk/jaw/{at.jaw.code}/after"
        at.post(f"{after}/sent", on="2026-11-24", means="courier")
        assert group_of(at.get("/desk/today"), code) == ""
        at.jaw.now[0] += 9 * 24 * 60 * MINUTE  # the due day has passed by then
        at.sit(*SUPERVISOR).post(f"{after}/back", on="2026-12-03", place="", reason="bite", words="")
        page = at.get("/desk/today")
        assert group_of(page, code) == "back" and f'action="{after}/settled"' in page
        assert "came back on 2026-12-03: bite not right" in shown(page) and "late: 0" in shown(page)
        assert f'action="{after}/settled"' not in at.sit(*TECHNICIAN).get("/desk/today")
        assert "supervisor" in at.post(f"{after}/settled", 403)
        at.sit(*SUPERVISOR)
        if end == "sent":
            at.post(f"{after}/sent", on="2026-12-03", means="courier")
        else:
            answer = at.client.post(f"{after}/settled", data={"today": "1"})
            assert answer.status_code == 303 and answer.headers["Location"] == "/desk/today"
        page = at.get("/desk/today")
        assert group_of(page, code) == "" and (end == "sent" or "settled" in page)
        assert "somebody settled it already" in at.post(f"{after}/settled", 422)
        (back,) = record_of(at.jaw.bench, code).after.back
        assert (back.settled_by, bool(back.settled_at)) == ((SUPERVISOR[0], True) if end == "settled" else ("", False))
        assert (f"settled by {SUPERVISOR[0]}, 2026-12-03" in at.get(after)) == (end == "settled")
        assert (f"settled by {SUPERVISOR[0]}, 2026-12-03" in at.get(f"/record/{code}")) == (end == "settled")


def test_a_release_that_a_tap_ended_is_not_in_the_list(tmp_path: Path) -> None:
    """A jaw whose last tap was taken back after its release is on the bench, then packed; only a new one is sent."""
    with desk(tmp_path / "data", lab=LAB3, case=ASKED) as at:
        at.jaw.run_to()
        let_go(at.jaw)
        at.jaw.fact("undo", undo=at.jaw.line.state["log"][-1]["id"])
        page = looked(at)
        assert group_of(page, at.jaw.code) in ("bench", "now") and "<strong>released</strong>" not in page
        at.jaw.run_to()
        assert group_of(looked(at), at.jaw.code) == "packed"
        text = at.post(f"/desk/jaw/{at.jaw.code}/after/sent", 422, on="2026-11-24", means="courier")
        assert "stands no longer" in text


def test_scrapped_and_cancelled_jaws_are_not_listed(tmp_path: Path) -> None:
    """A cancelled case is off the list and comes back with it."""
    with desk(tmp_path / "data") as at:
        jaw = at.jaw
        for kind, group in (("cancel", ""), ("reopen", "bench"), ("scrap", "")):
            with jaw.bench.store.writing() as writer:
                what = {"jaw": jaw.code} if kind == "scrap" else {}
                jaw.bench.request(writer, kind, at.seat().person.id, ["supervisor"], case=jaw.opened.code, **what)
            assert group_of(at.get("/desk/today"), jaw.code) == group, kind


def test_a_silent_tablet_is_named_so(tmp_path: Path) -> None:
    """A tablet is heard while it sends, silent after a quarter of an hour, and heard again through another jaw."""
    with desk(tmp_path / "data") as at:
        at.jaw.main()
        assert "tablet heard" in shown(at.get("/desk/today"))
        at.jaw.now[0] += 16 * MINUTE
        assert "tablet silent for 16 min" in shown(at.get("/desk/today"))
        at.jaw.fact("opened", 0, jaw="", case="")
        assert "tablet heard" in shown(at.get("/desk/today"))
        assert at.jaw.bench.store.last_tagged("tablet", TABLET) is not None


# Directive 2000/84/EC: summer time ends on the last Sunday of October and begins on that of March, at 01:00 UTC.
# Warsaw is UTC+02:00 before the one and UTC+01:00 after it, and the other way round in March.
NIGHTS = [
    (datetime(2026, 10, 25, 0, 40, tzinfo=UTC), "02:40", "ends 02:10 (UTC+01:00)"),
    (datetime(2027, 3, 28, 0, 45, tzinfo=UTC), "01:45", "ends 03:15 (UTC+02:00)"),
    (datetime(2026, 11, 24, 22, 50, tzinfo=UTC), "23:50", "ends 2026-11-25 00:20"),
]


@pytest.mark.parametrize(("light_on", "now", "ends"), NIGHTS, ids=["october", "march", "midnight"])
def test_a_cure_over_the_night_ends_on_the_wall_clock(
    light_on: datetime, now: str, ends: str, tmp_path: Path
) -> None:
    """Half an hour is half an hour also while clocks are changed; its end says the wall clock of that moment."""
    case = CASE.replace("2026-12-01", "2027-12-01")
    with desk(tmp_path / "data", case=case, start=datetime(2026, 10, 1, tzinfo=UTC)) as at:
        at.jaw.run_to("cure-first-side")
        at.jaw.now[0] = round(light_on.timestamp() * 1000)
        at.jaw.main(0)
        words = shown(looked(at))
        assert f"As of {now}" in words
        assert f"30 min left, {ends}: waits for 30 min since “Into the chamber, first side”" in words


def test_the_list_alone_is_the_lists_part_of_the_page(tmp_path: Path) -> None:
    """What htmx asks for is the same list without a frame, and each link in it has an id that keeps the focus."""
    with desk(tmp_path / "data") as at:
        whole, part = at.get("/desk/today"), at.get("/desk/today/list")
        assert part.strip() in whole and "<html" not in part
        assert 'hx-get="/desk/today/list" hx-trigger="every 15s"' in whole
        for link in re.findall(r"<a [^>]*>", part):
            assert " id=" in link, link
        ids = re.findall(r' id="([^"]+)"', whole)
        assert len(ids) == len(set(ids))


def test_training_is_marked_and_names_are_escaped(tmp_path: Path) -> None:
    """A training jaw says so; a patient's name that is a script is shown and never run."""
    with desk(tmp_path / "data", training=True, case=CARELESS) as at:
        page = at.get("/desk/today")
        assert ">training</span>" in page
        assert "<script>alert" not in page and "<img src=x" not in page
        assert "<script>alert(1)</script>" in shown(page)


def test_everybody_may_look_and_nobody_without_a_name(tmp_path: Path) -> None:
    """A technician sees the list; without a sign-in the door is shown, and the part sends the browser there."""
    with desk(tmp_path / "data", TECHNICIAN) as at:
        assert "Today" in at.get("/desk/today")
        at.post("/desk/signout")
        assert "/desk/signin" in at.client.get("/desk/today").headers["Location"]
        answer = at.client.get("/desk/today/list", headers={"HX-Request": "true"})
        assert answer.headers["HX-Redirect"] == "/desk/signin"


def test_both_jaws_of_a_case_stand_by_urgency(tmp_path: Path) -> None:
    """Two jaws of one case are two rows, in the order in which their clocks end."""
    lower = '\n[[jaws]]\njaw = "lower"\nteeth = [41, 31]\nparts = [{{ part = "base", revision = "B", print_job = "P" }}, {{ part = "arch", revision = "B", print_job = "Q" }}]\n'  # noqa: E501
    with desk(tmp_path / "data", case=CASE + lower) as at:
        at.jaw.run_to("fill-gaps")
        rows = day(at.jaw.bench).groups["bench"]
        assert [row.jaw.jaw for row in rows] == ["upper", "lower"]
        assert [len(row.clocks) for row in rows] == [1, 0]
        assert len(case_glances(at.jaw.bench)) == 1
