"""A tablet whose token is gone (its browser was killed before it was kept): it asks for another, nothing is lost."""

from tests.live import LiveLab
from tests.web.conftest import NewJaw, Sit


def test_a_lost_token_is_asked_for_anew(sit: Sit, new_jaw: NewJaw, lab: LiveLab) -> None:
    """Without its cookie a page goes on: the tap is stored on the PC, and somebody can sign in."""
    code = new_jaw("dry-fit")
    hand = sit(code)
    before = {tablet["server"]["tablet"] for tablet in lab.journal() if tablet["event"]["jaw"] == code}
    hand.page.context.clear_cookies()
    hand.confirm()
    hand.stored()
    last = [body for body in lab.journal() if body["event"]["jaw"] == code][-1]
    assert last["event"]["step"] == "dry-fit" and last["server"]["tablet"] not in before


def test_a_pin_is_taken_without_the_token(sit: Sit, new_jaw: NewJaw) -> None:
    """Somebody who signs in on a tablet that lost its cookie is let in at the first try."""
    hand = sit(new_jaw("dry-fit"))
    hand.page.context.clear_cookies()
    hand.sign_in("Ewa Łukasik")
    assert hand.page.inner_text("#person") == "Ewa Łukasik"
