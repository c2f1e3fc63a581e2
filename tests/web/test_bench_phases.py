"""Dry, wet, after first light: what is refused, what is taken and marked, what can be taken back."""

from benchapp.core.walk import MINUTE
from tests.live import Hand, LiveLab
from tests.web.conftest import NewJaw, Sit
from tests.web.hands import entries, go_on, page_state, stored, tap_main

TOO_OLD = 11 * MINUTE  # the protocol's undo lasts 10 minutes


def said(hand: Hand, words: str) -> str:
    """Wait until the line above the main action holds these words; return all of it."""
    hand.page.wait_for_function("(words) => document.getElementById('said').textContent.includes(words)", arg=words)
    return hand.page.inner_text("#said")


def press(hand: Hand, act: str) -> None:
    """Tap another action of the rail."""
    hand.page.click(f".rail [data-act={act}]")


def reason(hand: Hand, asked: str, which: str) -> None:
    """Answer with a reason tile."""
    hand.page.click(f"#reason-{asked} [data-value={which}]")
    hand.page.wait_for_selector(f"#reason-{asked}", state="hidden")


def pin(hand: Hand, name: str, digits: str) -> None:
    """Pick somebody in the dialog that asks for the person, and enter a PIN."""
    if hand.page.is_hidden("#signin [data-part=tiles]"):
        hand.page.click("#signin [data-act=back]")
    hand.page.click(f"#signin [data-act=person]:has-text('{name}')")
    for digit in digits:
        hand.page.click(f"#signin [data-act=digit][data-value='{digit}']")
    hand.page.click("#signin [data-act=enter]")


def answered(hand: Hand, words: str) -> None:
    """Wait until the dialog that asks for the person says something."""
    hand.page.wait_for_function(
        "(words) => document.querySelector('#signin [data-part=said]').textContent.includes(words)", arg=words)


def test_dry_a_tap_too_early_is_refused_and_not_stored(sit: Sit, lab: LiveLab, new_jaw: NewJaw) -> None:
    """While the solvent's clock runs, the tap is refused in words, the step stays, and nothing reaches the journal."""
    code = new_jaw("second-fit", ago=20_000)
    hand = sit(code)
    before = len(entries(lab, code, "confirm"))
    hand.page.wait_for_selector("body[data-ready=yes]")
    tap_main(hand.page)
    assert said(hand, "Too early") == "Not taken. Too early: a clock was still running."
    stored(hand)
    assert hand.at == "second-fit"
    assert len(entries(lab, code, "confirm")) == before


def test_wet_a_tack_too_late_is_stored_marked_and_explained_when_dry(sit: Sit, lab: LiveLab, new_jaw: NewJaw) -> None:
    """22 minutes after the first wet socket the tack is taken and marked; a reason tile asks only after the light."""
    code = new_jaw("tack-light", ago=15 * MINUTE)
    hand = sit(code)
    assert hand.page.get_attribute("body", "data-phase") == "wet"
    assert hand.page.is_hidden("#reason-breach") and hand.page.is_hidden("#alarm")
    assert hand.page.get_attribute(".clock:not([hidden])", "data-over") == "yes"
    hand.page.wait_for_selector("body[data-ready=yes]")
    tap_main(hand.page)
    assert said(hand, "marked") == "Taken, and marked: Later than allowed."
    hand.page.wait_for_selector("#reason-breach[open]")
    assert "Later than allowed." in hand.page.inner_text("#reason-breach")
    assert hand.page.locator("#reason-breach [data-act=close]").count() == 0
    reason(hand, "breach", "more-to-fill")
    stored(hand)
    tack = entries(lab, code, "confirm")[-1]
    assert (tack["event"]["step"], tack["server"]["marks"]) == ("tack-light", [["late", "deviation"]])
    why = entries(lab, code, "reason")[-1]["event"]
    assert (why["allow"], why["outcome"]) == (tack["event"]["id"], "more-to-fill")
    marks = page_state(hand.page)["marks"]
    assert [(m["why"], m["reason"]) for m in marks] == [("late", "more-to-fill")]
    assert hand.at == "cure-first-side"


def test_wet_nothing_is_refused_what_dry_is_not_taken(sit: Sit, lab: LiveLab, new_jaw: NewJaw) -> None:
    """An undo after its time is stored and marked while resin is wet; dry, it is refused and nothing is stored."""
    wet, dry = new_jaw("last-look", ago=TOO_OLD), new_jaw("dry-fit", ago=TOO_OLD)
    hand = sit(wet)
    press(hand, "undo")
    assert said(hand, "Only the last entry").startswith("Taken, and marked:")
    stored(hand)
    assert [b["server"]["marks"] for b in entries(lab, wet, "undo")] == [[["undo", "refused"]]]
    assert hand.at == "last-look"
    hand = sit(dry)
    press(hand, "undo")
    assert said(hand, "Only the last entry").startswith("Not taken.")
    stored(hand)
    assert entries(lab, dry, "undo") == []


def test_wet_there_is_no_hold(sit: Sit, new_jaw: NewJaw) -> None:
    """Wet resin cannot wait: the wet sign is shown and no hold is offered."""
    page = sit(new_jaw("seat-arch")).page
    assert page.is_visible(".wet-sign")
    assert page.is_hidden(".rail [data-act=hold]")
    assert page.is_visible(".rail [data-act=sendback]")


def test_hold_with_a_reason_and_resume(sit: Sit, lab: LiveLab, new_jaw: NewJaw) -> None:
    """A held jaw says so and offers only to go on; hold, its reason and resume are stored."""
    code = new_jaw("dry-fit")
    hand = sit(code)
    press(hand, "hold")
    reason(hand, "hold", "ask-the-clinic")
    hand.page.wait_for_selector("body[data-held=yes]")
    assert hand.page.inner_text("#held") == "On hold"
    assert hand.page.inner_text("#main [data-part=title]") == "Go on with this jaw"
    assert hand.page.is_hidden(".rail [data-act=hold]")
    hand.page.wait_for_selector("body[data-ready=yes]")
    tap_main(hand.page)
    hand.page.wait_for_selector("body[data-held=no]")
    assert hand.at == "dry-fit"
    stored(hand)
    assert [(b["event"]["kind"], b["event"]["picks"]) for b in entries(lab, code, "hold", "resume")] == [
        ("hold", {"reason": "ask-the-clinic"}), ("resume", {})
    ]


def test_an_outcome_that_holds(sit: Sit, lab: LiveLab, new_jaw: NewJaw) -> None:
    """Another outcome of a step is one tap: the jaw is held, and the step is asked again after resume."""
    code = new_jaw("dry-fit")
    hand = sit(code)
    hand.page.click("[data-act=say][data-outcome=rocks]")
    hand.page.wait_for_selector("body[data-held=yes]")
    stored(hand)
    assert entries(lab, code, "confirm")[-1]["event"]["outcome"] == "rocks"
    hand.page.wait_for_selector("body[data-ready=yes]")
    tap_main(hand.page)
    hand.page.wait_for_selector("body[data-held=no]")
    assert hand.at == "dry-fit"


def test_undo_goes_one_step_back_and_is_stored(sit: Sit, lab: LiveLab, new_jaw: NewJaw) -> None:
    """A confirmation taken back stands in the journal with what took it back."""
    code = new_jaw("part-check")
    hand = sit(code)
    go_on(hand)
    assert hand.at == "dry-fit"
    press(hand, "undo")
    hand.page.wait_for_selector("body[data-at=part-check]")
    stored(hand)
    confirm, undo = entries(lab, code, "confirm", "undo")[-2:]
    assert (undo["event"]["kind"], undo["event"]["undo"]) == ("undo", confirm["event"]["id"])
    assert confirm["event"]["step"] == "part-check"


def test_send_back_starts_a_new_round(sit: Sit, lab: LiveLab, new_jaw: NewJaw) -> None:
    """Before light a jaw can go back to any earlier step; what comes afterwards belongs to the next round."""
    code = new_jaw("last-look")
    hand = sit(code)
    press(hand, "sendback")
    tiles = hand.page.locator("#back [data-act=back-to]:visible")
    assert tiles.first.get_attribute("data-value") == "intake"
    assert tiles.last.get_attribute("data-value") == "last-look"
    hand.page.click("#back [data-value=seat-arch]")
    reason(hand, "send-back", "does-not-seat")
    hand.page.wait_for_selector("body[data-at=seat-arch]")
    go_on(hand)
    stored(hand)
    back, later = entries(lab, code, "sendback", "confirm")[-2:]
    assert (back["event"]["step"], back["event"]["round"]) == ("seat-arch", 0)
    assert back["event"]["picks"] == {"reason": "does-not-seat"}
    assert (later["event"]["step"], later["event"]["round"], later["server"]["marks"]) == ("seat-arch", 1, [])
    assert page_state(hand.page)["round"] == 1


def test_a_stated_time_is_kept_beside_the_time_of_the_tap(sit: Sit, lab: LiveLab, new_jaw: NewJaw) -> None:
    """A step tapped late can be given the time it was done, with a reason; it is stored and marked as stated."""
    code = new_jaw("dry-fit", ago=5 * MINUTE)
    hand = sit(code)
    press(hand, "late")
    assert hand.page.inner_text("#late [data-part=when]").startswith("now, at ")
    hand.page.click("#late [data-act=earlier][data-value='1']")
    assert hand.page.inner_text("#late [data-part=when]").startswith("1 min ago, at ")
    hand.page.click("#late [data-act=state]")
    reason(hand, "stated", "forgot-to-tap")
    hand.page.wait_for_selector("body[data-ready=yes]")
    tap_main(hand.page)
    hand.page.wait_for_selector("body[data-at=cut-back]")
    stored(hand)
    entry = entries(lab, code, "confirm")[-1]
    at = entry["event"]["at"]
    assert 60_000 <= at["wall"] + at["offset"] - at["stated"] < 90_000
    assert entry["event"]["picks"]["reason"] == "forgot-to-tap"
    assert entry["server"]["marks"] == [["stated", "note"]]
    assert "stated" not in entries(lab, code, "confirm")[-2]["event"]["at"]


def test_a_stated_time_never_lies_before_the_entry_before_it(sit: Sit, new_jaw: NewJaw) -> None:
    """However often `earlier` is tapped, the stated time stops at the last entry."""
    hand = sit(new_jaw("dry-fit", ago=2 * MINUTE))
    press(hand, "late")
    hand.page.click("#late [data-act=earlier][data-value='10']")
    assert hand.page.inner_text("#late [data-part=when]").startswith("2 min ago, at ")


def test_first_light_can_be_taken_back_for_ten_seconds_only(sit: Sit, lab: LiveLab, new_jaw: NewJaw) -> None:
    """A slip at the tack is undone at once; 11 seconds later it stands, and the page says so."""
    hand = sit(new_jaw("tack-light"))
    go_on(hand)
    assert hand.page.get_attribute("body", "data-phase") == "lit"
    press(hand, "undo")
    hand.page.wait_for_selector("body[data-at=tack-light]")
    assert page_state(hand.page)["lit"] == 0
    code = new_jaw("cure-first-side", ago=11_000)
    late = sit(code)
    press(late, "undo")
    said(late, "Not taken. Only the last entry")
    stored(late)
    assert late.at == "cure-first-side"
    assert entries(lab, code, "undo") == []


def test_after_first_light_there_is_no_way_back_and_scrap_asks_for_the_person_again(
    sit: Sit, lab: LiveLab, new_jaw: NewJaw
) -> None:
    """Lit: no send back. Scrap takes a reason and a supervisor's PIN; a wrong PIN and a technician are told so."""
    code = new_jaw("cure-first-side")
    hand = sit(code)
    assert hand.page.is_hidden(".rail [data-act=sendback]")
    press(hand, "scrap")
    reason(hand, "scrap", "damaged")
    pin(hand, "Tomé Arbel", "9999")
    answered(hand, "4 more tries")
    assert hand.page.is_visible("#signin")
    pin(hand, "Ewa Łukasik", "2468")
    answered(hand, "that takes a supervisor")
    assert entries(lab, code, "scrap") == []
    assert hand.at == "cure-first-side"
    pin(hand, "Tomé Arbel", "1357")
    hand.page.wait_for_selector("body[data-at=scrap]")
    assert hand.page.is_hidden("#signin")
    assert hand.page.inner_text("#ended h1") == "This jaw is scrapped"
    assert hand.page.is_disabled("#main")
    assert hand.page.inner_text("#main [data-part=title]") == "Nothing more to do here"
    assert hand.page.locator("[data-step]:visible").count() == 0
    scrapped = entries(lab, code, "scrap")
    assert [b["event"]["picks"] for b in scrapped] == [{"reason": "damaged"}]
    assert entries(lab, code, "hold", "undo", "sendback") == []


def test_before_first_light_scrap_is_not_offered(sit: Sit, new_jaw: NewJaw) -> None:
    """Dry, the jaw can still be sent back, so only that is offered."""
    page = sit(new_jaw("dry-fit")).page
    assert page.is_hidden(".rail [data-act=scrap]")
    assert page.is_visible(".rail [data-act=sendback]")
