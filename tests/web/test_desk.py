"""The desk's door: who gets in, who is turned away, and what a sign-in is worth."""

import json
from pathlib import Path
from typing import Any

from benchapp.actions import badges, staff
from benchapp.actions.lab import people
from benchapp.core.codes import spaced
from benchapp.web.desk import COOKIE, IDLE_MS
from tests.web.desks import SUPERVISOR, TECHNICIAN, Desk, desk


def badge_of(at: Desk, name: str) -> str:
    """Give somebody a new badge; return its code."""
    person = next(p.id for p in people(at.jaw.bench) if p.name == name)
    return badges.give_badge(at.jaw.bench, at.seat(), person)


def scanned(at: Desk, badge: str, **form: Any) -> tuple[int, str]:
    """Scan a badge at the door; return the status, and the words or the address that follows."""
    answer = at.client.post("/desk/signin", data={"badge": badge, **form})
    return answer.status_code, answer.headers.get("Location", answer.text)


def test_an_idle_desk_asks_again(tmp_path: Path) -> None:
    """Half an hour without a request ends the sitting."""
    with desk(tmp_path / "data") as at:
        assert at.client.get("/desk/").status_code == 302
        at.jaw.now[0] += IDLE_MS - 1
        at.get("/desk/today/list")  # asked by the page itself: nobody need be there
        at.jaw.now[0] += 1
        answer = at.client.get("/desk/people")
        assert answer.status_code == 302 and answer.headers["Location"].startswith("/desk/signin")


def test_work_prolongs_a_sitting(tmp_path: Path) -> None:
    """Who opens a page within half an hour stays signed in."""
    with desk(tmp_path / "data") as at:
        for _ in range(3):
            at.jaw.now[0] += IDLE_MS - 1
            at.get("/desk/people")


def test_a_token_from_outside_is_never_taken_over(tmp_path: Path) -> None:
    """Session fixation: a token that lay in the browser before the sign-in opens nothing afterwards."""
    with desk(tmp_path / "data") as at:
        at.client.set_cookie(COOKIE, "planted")
        at.sit(*SUPERVISOR)
        given = at.client.get_cookie(COOKIE)
        assert given is not None and given.value != "planted"


def test_the_door_leads_only_to_our_own_pages(tmp_path: Path) -> None:
    """An address of another site in `next` is not followed."""
    with desk(tmp_path / "data") as at:
        for strange in ("https://elsewhere.example/", "//elsewhere.example", "/\\elsewhere.example", "javascript:x"):
            person = at.seat().person.id
            answer = at.client.post("/desk/signin", data={"person": person, "pin": SUPERVISOR[1], "next": strange})
            assert answer.headers["Location"] == "/desk/today"


def test_another_sites_form_is_turned_away(tmp_path: Path) -> None:
    """A form sent from a page of another origin changes nothing."""
    with desk(tmp_path / "data") as at:
        answer = at.client.post("/desk/signout", headers={"Origin": "https://elsewhere.example"})
        assert answer.status_code == 401


def test_a_badge_opens_the_desk(tmp_path: Path) -> None:
    """Printed, in small letters or with Y and Z exchanged it gives the same seat, recorded as by badge."""
    with desk(tmp_path / "data") as at:
        code = badge_of(at, SUPERVISOR[0])
        for typed in (code, spaced(code).lower(), code.translate(str.maketrans("YZ", "ZY"))):
            at.post("/desk/signout")
            assert at.client.get("/desk/people").status_code == 302
            assert scanned(at, typed, next="/desk/people") == (303, "/desk/people")
            assert SUPERVISOR[0] in at.get("/desk/people")
        at.post("/desk/settings", name="idle_lock", value="3")
        boss = at.seat().person.id
        bodies = {b["event"]["id"]: b["event"] for b in (json.loads(e.body) for e in at.jaw.bench.store.entries())}
        by = next(event["by"] for event in reversed(bodies.values()) if event["kind"] == "setting")
        assert (by["person"], by["how"]) == (boss, "badge")
        signin = bodies[by["signin"]]
        assert (signin["kind"], signin["by"]["how"], signin["from"]["tablet"][0]) == ("signin", "badge", "T")


def test_a_badge_is_worth_the_roles_of_its_holder(tmp_path: Path) -> None:
    """A technician's badge opens what a technician's PIN opens, and no more."""
    with desk(tmp_path / "data") as at:
        assert scanned(at, badge_of(at, TECHNICIAN[0]))[0] == 303
        at.get("/desk/cases")
        assert "takes a supervisor" in at.get("/desk/people", 403)


def test_wrong_badges_at_the_door_are_slowed(tmp_path: Path) -> None:
    """Five wrong ones pause this PC's badges for the bench too; its PINs open, and after five minutes badges do."""
    with desk(tmp_path / "data") as at:
        right, wrong = badge_of(at, SUPERVISOR[0]), at.jaw.bench.code("P")
        at.post("/desk/signout")
        said = [scanned(at, wrong, next="/desk/cases") for _ in range(5)]
        assert [status for status, _ in said] == [403] * 5
        assert "4 more tries" in said[0][1] and "pause of 5 minutes" in said[4][1]
        assert all('role="alert"' in words and 'value="/desk/cases"' in words for _, words in said)
        status, words = scanned(at, right)
        assert status == 429 and "takes no badge" in words
        assert at.client.post("/badge", json={"badge": right}).status_code == 429
        assert all(secret not in words for secret in (wrong, right) for _, words in said)
        at.sit(*SUPERVISOR).post("/desk/signout")
        at.jaw.now[0] += 5 * 60_000
        assert scanned(at, right)[0] == 303


def test_what_is_no_badge_is_said_at_the_door(tmp_path: Path) -> None:
    """A jaw's label, a slip and nothing get a sentence that repeats nothing; they are no tries and open nothing."""
    with desk(tmp_path / "data") as at:
        at.post("/desk/signout")
        before = at.jaw.bench.store.tip()
        for text in (at.jaw.code, "P12", "", "?" * 10, "P" + "0" * 9, "P" * 5000, "\x00"):
            status, words = scanned(at, text)
            assert status == 422 and "not the code of a badge: ten characters, the first one P" in words, text
            assert not text or text not in words
        assert at.jaw.bench.store.tip() == before and at.client.get("/desk/people").status_code == 302


def test_the_door_takes_no_badge_from_elsewhere(tmp_path: Path) -> None:
    """A browser that has no token of ours could not be counted: it is sent to the first page; so are other sites."""
    with desk(tmp_path / "data") as at:
        code = badge_of(at, SUPERVISOR[0])
        stranger = at.client.application.test_client()
        answer = stranger.post("/desk/signin", data={"badge": code})
        assert answer.status_code == 401 and "Open the first page" in answer.text
        answer = at.client.post("/desk/signin", data={"badge": code}, headers={"Origin": "https://elsewhere.example"})
        assert answer.status_code == 401 and COOKIE not in answer.headers.get("Set-Cookie", "")


def test_a_leavers_badge_says_so_at_the_door(tmp_path: Path) -> None:
    """The badge of somebody who left, or whose last day is over, is answered with the reason."""
    with desk(tmp_path / "data") as at:
        code = badge_of(at, TECHNICIAN[0])
        person = next(p.id for p in people(at.jaw.bench) if p.name == TECHNICIAN[0])
        staff.let_go(at.jaw.bench, at.seat(), person)
        status, words = scanned(at, code)
        assert status == 403 and f"{TECHNICIAN[0]} has left the lab" in words


def test_a_badge_that_was_struck_off_ends_what_it_opened(tmp_path: Path) -> None:
    """Struck off or replaced, it ends sittings that it began, and none that a PIN began."""
    with desk(tmp_path / "data") as at:
        for verb in ("badge/off", "badge"):
            code = badge_of(at, TECHNICIAN[0])
            by_badge, by_pin = (Desk(at.client.application.test_client(), at.jaw) for _ in range(2))
            by_badge.get("/")
            assert scanned(by_badge, code)[0] == 303
            by_pin.sit(*TECHNICIAN)
            person = next(p.id for p in people(at.jaw.bench) if p.name == TECHNICIAN[0])
            assert by_badge.client.get("/desk/cases").status_code == 200
            at.post(f"/desk/people/{person}/{verb}")
            assert by_badge.client.get("/desk/cases").status_code == 302, verb
            assert by_pin.client.get("/desk/cases").status_code == 200, verb
