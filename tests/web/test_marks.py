"""Entries that were not taken and facts nobody could read, deviations to close: who may, once, and in words."""

import re
from pathlib import Path

import pytest

from benchapp.actions.marks import Watch, matters_of
from benchapp.core.walk import MINUTE
from tests.actions.worked import TABLET
from tests.web.clients import deliver, fact
from tests.web.desks import SUPERVISOR, TECHNICIAN, Desk, desk
from tests.web.test_today import CARELESS, shown


def refused(at: Desk, step: str = "part-check", outcome: str = "parts-right") -> str:
    """Send an entry about a step that is not on; return its id."""
    return str(at.jaw.fact("confirm", step=step, outcome=outcome, places=["-"])["id"])


def late(at: Desk, minutes: float = 25) -> str:
    """Work the jaw to a tack that comes too late; return the id of its entry, the supervisor at the desk."""
    at.jaw.run_to("tack-light")
    wet = next(e["t"] for e in at.jaw.line.events if e["step"] == "wet-sockets")
    at.jaw.now[0] = round(wet + minutes * MINUTE)
    ack = at.jaw.say("tacked", ["-"], 0, **at.jaw.extra("tack-light"))
    at.sit(*SUPERVISOR)
    return str(ack["id"])


def test_a_refused_entry_in_words(tmp_path: Path) -> None:
    """The entry says step, outcome, place, person, tablet, time, why, where the jaw stands and where it would."""
    with desk(tmp_path / "data") as at:
        refused(at)
        words = shown(at.get("/desk/marks"))
        for said in ("“Check both parts”, both parts right", "whole jaw", "is about a step that was not on",
                     "Łukasz Wiśniewski, tablet tablet-1", "2026-11-24 09:01:12", "stands at “Read the order”",
                     "it counts as said, and the jaw stands at “Read the order”", "to decide: 1"):
            assert said in words, said


def test_taking_in_moves_the_jaw(tmp_path: Path) -> None:
    """With the PIN an entry is taken in: the jaw moves by it, the page says where it stands, and the mark is gone."""
    with desk(tmp_path / "data") as at:
        event = refused(at)
        at.post(f"/desk/marks/{at.jaw.code}", event=event, outcome="in", pin=SUPERVISOR[1])
        assert at.jaw.line.state["cells"]["part-check"]["-"] == "done"
        words = shown(at.get("/desk/marks"))
        assert f"Taken in. Jaw {at.jaw.code} now stands at “Read the order”." in words
        assert "Nothing to decide" in words and "taken in by Зоя Ким" in words


def test_setting_aside_moves_nothing(tmp_path: Path) -> None:
    """Set aside, the jaw stays as it was and the entry stays told below."""
    with desk(tmp_path / "data") as at:
        event = refused(at)
        before = at.jaw.line.state["cells"]
        at.post(f"/desk/marks/{at.jaw.code}", event=event, outcome="aside", pin=SUPERVISOR[1])
        assert at.jaw.line.state["cells"] == before
        words = shown(at.get("/desk/marks"))
        assert "Set aside. Jaw" in words and "set aside by Зоя Ким" in words


@pytest.mark.parametrize(("outcome", "pin", "status", "said"), [
    ("in", "0000", 403, "That is not Зоя Ким's PIN"), ("aside", "", 403, "That is not Зоя Ким's PIN"),
    ("twist", "1357", 409, "taken in or set aside"),
])
def test_what_cannot_be_decided_changes_nothing(
    outcome: str, pin: str, status: int, said: str, tmp_path: Path
) -> None:
    """A wrong PIN or a decision that is none leaves the mark open, and the page says so with the entry still there."""
    with desk(tmp_path / "data") as at:
        event = refused(at)
        page = at.post(f"/desk/marks/{at.jaw.code}", status, event=event, outcome=outcome, pin=pin)
        assert said in shown(page) and "Nothing was changed yet" in shown(page) and 'aria-invalid="true"' in page
        assert not [m for m in at.jaw.line.state["marks"] if m["resolved"]]


def test_an_entry_is_decided_once(tmp_path: Path) -> None:
    """The second decision about the same entry is refused, and so is one about an entry that never was."""
    with desk(tmp_path / "data") as at:
        event = refused(at)
        at.post(f"/desk/marks/{at.jaw.code}", event=event, outcome="aside", pin=SUPERVISOR[1])
        for named in (event, "nobody"):
            page = at.post(f"/desk/marks/{at.jaw.code}", 409, event=named, outcome="in", pin=SUPERVISOR[1])
            assert "no open mark of that entry" in shown(page)


def test_what_would_change_nothing_can_only_be_set_aside(tmp_path: Path) -> None:
    """An entry after the jaw's end offers no way in, and says that it would change nothing."""
    with desk(tmp_path / "data") as at:
        at.jaw.run_to()
        refused(at)
        page = at.sit(*SUPERVISOR).get("/desk/marks")
        assert "nothing would change: this entry can only be set aside" in shown(page)
        assert 'value="aside"' in page and 'value="in"' not in page


@pytest.mark.parametrize("address", ["/desk/marks", "/desk/deviations"])
def test_a_technician_neither_reads_nor_decides(address: str, tmp_path: Path) -> None:
    """Both pages and their forms are closed to a technician."""
    with desk(tmp_path / "data", TECHNICIAN) as at:
        event = refused(at)
        at.get(address, 403)
        at.post(f"{address}/{at.jaw.code}", 403, event=event, outcome="in", pin="2468")
        at.post("/desk/marks/seen", 403, key="parked-1")


def test_a_technique_lead_reads_only(tmp_path: Path) -> None:
    """A technique lead sees marks and deviations, without a form, and a form sent all the same is refused."""
    lab = (
        'format = 1\nname = "L"\naddress = "A"\nzone = "UTC"\npeople = [\n'
        '  { name = "Łukasz Wiśniewski", roles = ["technician"], pin = "2468" },\n'
        '  { name = "Ada Lead", roles = ["technique-lead"], pin = "9753" },\n]\n'
        'devices = [{ name = "Lamp", kind = "lamp" }, { name = "Chamber", kind = "chamber" }]\n'
        'materials = [{ name = "Bond", kind = "bonding-resin", lot = "L-1", expiry = 2031-06-30 }]\n'
    )
    lead = ("Ada Lead", "9753")
    with desk(tmp_path / "data", lead, lab=lab) as at:
        event = refused(at)
        page = at.get("/desk/marks")
        assert "Only a supervisor decides" in page and f'action="/desk/marks/{at.jaw.code}"' not in page
        at.post(f"/desk/marks/{at.jaw.code}", 403, event=event, outcome="aside", pin=lead[1])
        assert "Only a supervisor closes" in at.get("/desk/deviations")


def test_parked_bytes_are_readable_and_seen_once(tmp_path: Path) -> None:
    """Bytes that nobody could read are shown, escaped, cut at 2,000 characters; seen once, they stay below."""
    with desk(tmp_path / "data") as at:
        raw = '[{"x": "<script>alert(1)</script>' + "\u202e\x07" + "ä" * 3000
        at.client.post("/outbox/1", data=raw.encode())
        page = at.get("/desk/marks")
        assert "<script>alert" not in page and "&lt;script&gt;alert(1)" in page
        assert "not a list of facts in JSON" in page and f"{len(raw.encode())} bytes, the first of them" in page
        assert "\u202e" not in page and page.count("ä") < 2000
        at.post("/desk/marks/seen", key="parked-1")
        words = shown(at.get("/desk/marks"))
        assert "Noted that you have seen it" in words and "seen by Зоя Ким" in words
        assert "Everything that the tablets sent could be read" in words
        assert "seen this one already" in shown(at.post("/desk/marks/seen", 409, key="parked-1"))
        at.post("/desk/marks/seen", 404, key="parked-99")
        at.post("/desk/marks/seen", 404, key="ü")
        assert at.jaw.bench.store.parked()[0].body == raw.encode()


def test_seen_is_stored_with_its_number(tmp_path: Path) -> None:
    """What is stored is a close about parked-N with the number in its data, in the name of who sat there."""
    with desk(tmp_path / "data") as at:
        at.client.post("/outbox/1", data=b"not json")
        at.post("/desk/marks/seen", key="parked-1")
        entry = at.jaw.bench.store.last_tagged("kind", "close")
        assert entry is not None
        assert b'"allow":"parked-1"' in entry.body and b'"data":{"parked":1}' in entry.body
        assert at.seat().person.id.encode() in entry.body


def test_an_entry_of_an_unknown_jaw_is_not_lost(tmp_path: Path) -> None:
    """A fact about a jaw that is not known here is shown among what nobody could put to a jaw, and can be seen."""
    with desk(tmp_path / "data") as at:
        stray = fact(at.jaw, jaw="1AAAA", case="")
        assert deliver(at.client, [stray])["acks"][0]["marks"] == [["jaw", "refused"]]
        words = shown(at.get("/desk/marks"))
        assert "names a jaw that is not known here" in words and "nobody could read: 1" in words
        at.post("/desk/marks/seen", key=stray["id"])
        assert "nobody could read: 0" in shown(at.get("/desk/marks"))


def test_an_open_deviation_in_words(tmp_path: Path) -> None:
    """A late tack says jaw, step, limit asked and time taken, that no reason was given, who and when."""
    with desk(tmp_path / "data") as at:
        event = late(at)
        words = shown(at.get("/desk/deviations"))
        for said in ("“Tack with the hand lamp”, tacked", "25 min after “Wet every socket”, asked at most 20 min",
                     "none was given", "Łukasz Wiśniewski", "open: 1", "without a reason: 1", "closed: 0"):
            assert said in words, said
        at.jaw.fact("reason", allow=event, outcome="more-to-fill")
        assert "More to fill than usual" in shown(at.get("/desk/deviations"))


def test_a_deviation_is_closed_once_with_words(tmp_path: Path) -> None:
    """Closed, it stands below with outcome, name and words; a second closing is refused; the words lie in texts."""
    with desk(tmp_path / "data") as at:
        event = late(at)
        form = {"event": event, "outcome": "followed-up", "words": "<b>Asked</b>  the  bench"}
        at.post(f"/desk/deviations/{at.jaw.code}", **form)
        page = at.get("/desk/deviations")
        words = shown(page)
        assert "Closed: followed up." in words and "followed up by Зоя Ким" in words and "closed: 1" in words
        assert "<b>Asked</b> the bench" in words and "<b>Asked" not in page
        again = at.post(f"/desk/deviations/{at.jaw.code}", 422, **form)
        assert "closed this deviation already" in shown(again)
        entry = at.jaw.bench.store.last_tagged("kind", "close")
        assert entry is not None and b"Asked" not in entry.body and b'"outcome":"followed-up"' in entry.body
        assert [m.open for m in matters_of(at.jaw.bench, at.jaw.code)] == [False]


@pytest.mark.parametrize(("form", "said"), [
    ({"outcome": ""}, "Say what came of it"), ({"outcome": "in"}, "Say what came of it"),
    ({"outcome": "accepted", "words": "x" * 601}, "601 characters"),
    ({"outcome": "accepted", "event": "nobody"}, "no such deviation"),
])
def test_what_cannot_be_closed_keeps_what_was_typed(form: dict[str, str], said: str, tmp_path: Path) -> None:
    """A form without an outcome, with too many words or about nothing is shown again with its words, and stays open."""
    with desk(tmp_path / "data") as at:
        sent = {"event": late(at), "words": "kept words"} | form
        page = at.post(f"/desk/deviations/{at.jaw.code}", 422, **sent)
        assert said in shown(page) and "open: 1" in shown(page)
        if "event" not in form:
            assert f">{sent['words']}</textarea>" in page
        assert at.jaw.bench.store.last_tagged("kind", "close") is None


def test_a_deviation_that_was_taken_back_cannot_be_closed(tmp_path: Path) -> None:
    """Undo of the late tack: nothing is open, and a form of the page from before is refused."""
    with desk(tmp_path / "data") as at:
        event = late(at)
        at.jaw.fact("undo", 0.1, undo=event)
        assert "No deviation is open" in shown(at.get("/desk/deviations"))
        page = at.post(f"/desk/deviations/{at.jaw.code}", 422, event=event, outcome="accepted")
        assert "the entry was taken back" in shown(page)


def test_a_jaw_that_does_not_exist_is_said(tmp_path: Path) -> None:
    """A closing or decision about an unknown jaw is not found, in words."""
    with desk(tmp_path / "data") as at:
        page = at.post("/desk/deviations/1AAAA", 404, event="e", outcome="accepted")
        assert "No jaw has the code" in shown(page)
        at.post("/desk/marks/1AAAA", 404, event="e", outcome="in", pin=SUPERVISOR[1])


def test_names_are_escaped_everywhere(tmp_path: Path) -> None:
    """A patient's name that is a script is shown and never run, on both pages."""
    with desk(tmp_path / "data", case=CARELESS) as at:
        refused(at)
        late(at)
        for address in ("/desk/marks", "/desk/deviations"):
            page = at.get(address)
            assert "<script>alert" not in page and "&lt;script&gt;alert(1)" in page


def test_the_watch_reads_each_entry_once_and_misses_none(tmp_path: Path) -> None:
    """A watch that looked before sees new marks, reasons and closings, exactly as a fresh one does."""
    with desk(tmp_path / "data") as at:
        watch, bench = Watch(), at.jaw.bench
        assert watch.matters(bench) == {}
        refused(at)
        assert watch.matters(bench) == Watch().matters(bench) != {}
        event = late(at)
        assert watch.matters(bench) == Watch().matters(bench)
        at.jaw.fact("reason", allow=event, outcome="more-to-fill")
        at.post(f"/desk/deviations/{at.jaw.code}", event=event, outcome="accepted")
        assert watch.matters(bench) == Watch().matters(bench)
        assert watch.seq == bench.store.tip().seq
        assert [m.open for m in watch.matters(bench)[at.jaw.code]] == [True, False]


def test_what_the_server_marks_is_a_deviation(tmp_path: Path) -> None:
    """A mark that only the server set, such as a lot not fit for use, is listed like those of the fold."""
    with desk(tmp_path / "data") as at:
        at.jaw.run_to("lay-out")
        jaw, bench = at.jaw, at.jaw.bench
        with bench.store.writing() as writer:
            event = bench.envelope("confirm", jaw.person, jaw.now[0]) | {
                "jaw": jaw.code, "case": jaw.opened.code, "step": "lay-out", "outcome": "all-at-hand", "places": ["-"]}
            now = bench.received(writer)
            bench.write(writer, event, now, now, [["unfit", "deviation"]], [], TABLET)
        words = shown(at.sit(*SUPERVISOR).get("/desk/deviations"))
        assert "“Lay everything out”, all at hand" in words and "open: 1" in words
        assert re.search("not fit|may no longer|unfit", words)
