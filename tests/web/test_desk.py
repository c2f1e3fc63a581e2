"""The desk's door: who gets in, who is turned away, and what a sign-in is worth."""

from pathlib import Path

from benchapp.web.desk import COOKIE, IDLE_MS
from tests.web.desks import SUPERVISOR, desk


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
