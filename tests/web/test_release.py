"""Release and what comes after, by form: what is shown, what is asked, what is turned away."""

import re
from pathlib import Path

from benchapp.actions.records import record_of
from tests.actions.whole import ALLERGIC, LAB3, THIRD, let_go, seat, settle
from tests.actions.worked import CASE, Worked, eventful
from tests.web.desks import SUPERVISOR, TECHNICIAN, Desk, desk
from tests.web.test_case import second

ASKED = CASE.replace('allergy = "none stated"', 'allergy = "no"')


def ticked(text: str, reason: str = "lies in the drawer", leave: str = "") -> dict[str, str]:
    """The form of a release page as somebody fills it who ticks everything but `leave`."""
    form = dict(re.findall(r'type="hidden" name="([^"]+)" value="([^"]*)"', text))
    boxes = re.findall(r'type="checkbox" name="([^"]+)"', text)
    form |= {name: "1" for name in boxes if not name.endswith(leave or "?")}
    return form | dict.fromkeys(re.findall(r'<textarea id="[^"]+" name="([^"]+)"', text), reason)


def address(jaw: Worked) -> str:
    """Address of the jaw's release."""
    return f"/desk/jaw/{jaw.code}/release"


def eventful_to_release(at: Desk) -> None:
    """Everything happens to the jaw, and a supervisor settles it; a tablet looked last and was not heard since."""
    eventful(at.jaw)
    settle(at.jaw, seat(at.jaw))
    at.jaw.fact("opened")
    at.sit(*THIRD)


def test_a_release_by_form(tmp_path: Path) -> None:
    """Ticks first, a reason, the meaning in words, the PIN; then the jaw is released and the page says so."""
    with desk(tmp_path / "data", lab=LAB3) as at:
        eventful_to_release(at)
        text = at.get(address(at.jaw))
        assert text.index("Not ordinary: read and tick each") < text.index("What your PIN means here")
        assert "This is no medical release" in text and "nor a statement of conformity" in text
        boxes = re.findall(r"<input type=\"checkbox\"[^>]*>", text)
        assert len(boxes) >= 8 and all(" required" in box for box in boxes)
        at.post(address(at.jaw), **ticked(text), pin=THIRD[1])
        assert "Released: " in at.get(f"/desk/case/{at.jaw.opened.code}")
        found = record_of(at.jaw.bench, at.jaw.code).after.release
        assert found is not None and found.passed[-1].reason == "lies in the drawer"
        again = at.get(address(at.jaw))
    assert "released already" in again and 'name="pin"' not in again


def test_a_refused_release_keeps_what_was_typed(tmp_path: Path) -> None:
    """An unread tick or a wrong PIN shows the page again with ticks and reasons, never the PIN, and stores nothing."""
    with desk(tmp_path / "data", lab=LAB3) as at:
        eventful_to_release(at)
        shown = at.get(address(at.jaw))
        before = at.jaw.bench.store.tip()
        text = at.post(address(at.jaw), 422, **ticked(shown, leave="-hold"), pin=THIRD[1])
        assert "Tick that you have read this: Put on hold" in text
        assert text.count(" checked>") == len(re.findall('type="checkbox"', text)) - 1
        assert "lies in the drawer" in text and THIRD[1] not in text
        assert at.jaw.bench.store.tip() == before
        text = at.post(address(at.jaw), 403, **ticked(shown), pin="0000")
        assert "is not Ines Prüfer&#39;s PIN" in text and "lies in the drawer" in text and "0000" not in text
        assert record_of(at.jaw.bench, at.jaw.code).after.release is None


def test_what_is_in_the_way_says_where_to_mend_it(tmp_path: Path) -> None:
    """Each refusing gap stands with its link, and there is no button while one is there."""
    with desk(tmp_path / "data", lab=LAB3, case=ALLERGIC) as at:
        text = at.get(address(at.jaw))
        assert set(re.findall(r'data-gap="([^"]+)"', text)) >= {"not-through", "held", "allergy"}
        assert f'href="/bench/{at.jaw.code}"' in text and f'href="/desk/cases/{at.jaw.opened.code}/order"' in text
        assert 'name="pin"' not in text
        assert "No" in at.post(address(at.jaw), 422, **ticked(text), pin=SUPERVISOR[1])
        assert record_of(at.jaw.bench, at.jaw.code).after.release is None


def test_a_technician_gets_no_release(tmp_path: Path) -> None:
    """Page and form are for supervisors; both are turned away with the role that it takes."""
    with desk(tmp_path / "data", lab=LAB3, case=ASKED) as at:
        at.jaw.run_to()
        at.sit(*TECHNICIAN)
        assert "supervisor" in at.get(address(at.jaw), 403)
        at.post(address(at.jaw), 403, pin=TECHNICIAN[1])
        at.post(f"/desk/case/{at.jaw.opened.code}/release", 403, pin=TECHNICIAN[1])
        assert record_of(at.jaw.bench, at.jaw.code).after.release is None


def test_who_checked_is_told_before_anything_is_ticked(tmp_path: Path) -> None:
    """The person of the last final check reads why they cannot release, and finds no button."""
    with desk(tmp_path / "data", lab=LAB3, case=ASKED) as at:
        at.jaw.sign_in(*SUPERVISOR)
        at.jaw.run_to()
        at.sit(*SUPERVISOR)
        text = at.get(address(at.jaw))
    assert "Зоя Ким did the last final check" in text and 'name="pin"' not in text


def test_both_jaws_by_one_form(tmp_path: Path) -> None:
    """Both are shown on one page and released by one PIN; a case of one jaw is told to release that one."""
    with desk(tmp_path / "data", lab=LAB3, case=ASKED) as at:
        upper, lower = second(at)
        upper.run_to()
        lower.run_to()
        at.sit(*SUPERVISOR)
        at.post(f"/desk/case/{upper.opened.code}/pair", outcome="not-mounted")
        at.sit(*THIRD)
        together = f"/desk/case/{upper.opened.code}/release"
        text = at.get(together)
        assert text.count('data-ready="yes"') == 2 and text.count('data-tick="pair"') == 2
        at.post(together, **ticked(text), pin=THIRD[1])
        assert all(record_of(at.jaw.bench, jaw.code).after.release for jaw in (upper, lower))
        assert "no two jaws" in at.get(f"/desk/case/{at.jaw.opened.code}/release", 409)


def test_after_by_form(tmp_path: Path) -> None:
    """Sent, back and amended by forms, each shown again with its faults; before the release there is no form."""
    with desk(tmp_path / "data", lab=LAB3, case=ASKED) as at:
        at.jaw.run_to()
        at.sit(*SUPERVISOR)
        after = f"/desk/jaw/{at.jaw.code}/after"
        assert "not released yet" in at.get(after) and "<form" not in at.get(after).split("<main")[1]
        assert "not released yet" in at.post(f"{after}/amend", 422, words="early")
        let_go(at.jaw)
        at.sit(*TECHNICIAN)
        text = at.post(f"{after}/sent", 422, on="2026-13-01", means="<b>courier</b>")
        assert "no day" in text and "&lt;b&gt;courier&lt;/b&gt;" in text and "2026-13-01" in text
        at.post(f"{after}/sent", on="2026-11-24", means="courier")
        text = at.post(f"{after}/back", 422, on="2026-11-24", place="m15b", reason="", words="<i>loose</i>")
        assert "Choose why it came back" in text and "&lt;i&gt;loose&lt;/i&gt;" in text
        assert re.search(r'<option value="m15b" selected>', text)
        at.post(f"{after}/back", on="2026-11-24", place="m15b", reason="came-off", words="loose")
        text = at.post(f"{after}/amend", 422, words="")
        assert "What is to be added is missing" in text
        at.post(f"{after}/amend", words="the clinic rang")
        text = at.get(after)
    assert re.findall(r'data-what="(\w+)"', text) == ["sent", "back", "amend"]
    assert "margin of 15, buccal side: loose" in text and "the clinic rang" in text
