"""The state a jaw is in when its record is made, in a word and in a sentence."""

from benchapp.core.record_after import After
from benchapp.core.record_models import Standing
from benchapp.core.record_trail import Deed, Trail
from benchapp.core.record_words import Names, plain, quoted
from benchapp.core.words import N_, _, n_

# Not known since when, since when, and why.
SCRAPPED = (
    N_("Scrapped as a whole. It is not to be used."),
    N_("Scrapped as a whole since {moment}. It is not to be used."),
    N_("Scrapped as a whole since {moment} ({why}). It is not to be used."),
)
HELD = (
    N_("Not finished: on hold at step {step}."),
    N_("Not finished: on hold at step {step} since {moment}."),
    N_("Not finished: on hold at step {step} since {moment} ({why})."),
)


def standing(names: Names, trail: Trail, open_matters: list[str], after: After) -> Standing:
    """Return the state of a jaw, in a word and in a sentence."""
    state = trail.state
    now = names.step(state["now"]) if state["now"] else ""
    left = [names.step(step) for step, cells in state["cells"].items() if {"open", "wait"} & set(cells.values())]
    word, words = _state_words(names, trail, now)
    if after.release:
        released = f"{after.release.text()}. {_('All steps of the protocol were confirmed.')}"
        word, words = (word, f"{words} {released}") if word == "scrapped" else ("released", released)
    elif after.earlier:
        words += " " + _("It was released before and has been changed since: that release covers it no longer.")
    waiting = len(open_matters)
    if waiting:
        words += " " + n_("{n} matter is still to be looked at.", "{n} matters are still to be looked at.", waiting)
    return Standing(
        state=word,  # type: ignore[arg-type]
        words=words,
        step=now,
        round=state["round"],
        lit=bool(state["lit"]),
        left=[] if state["ended"] else left,
        open_matters=open_matters,
    )


def _state_words(names: Names, trail: Trail, now: str) -> tuple[str, str]:
    state = trail.state
    if state["ended"] == "scrap":
        last = next((d for d in reversed(trail.deeds) if d.kind == "scrap" and d.effective), None)
        return "scrapped", _since(names, SCRAPPED, last)
    if state["ended"]:
        return "all steps confirmed", _("All steps of the protocol are confirmed.")
    if state["held"]:
        return "on hold", _since(names, HELD, trail.holds[-1].start if trail.holds else None, now)
    return "not finished", _("Not finished: stands at step {step}.", step=quoted(now))


def _since(names: Names, texts: tuple[str, str, str], deed: Deed | None, step: str = "") -> str:
    """Return the text that says since when and why, as far as a deed tells it."""
    if deed is None:
        return _(texts[0], step=quoted(step))
    why = names.why(deed.event)
    if not why and deed.kind == "confirm":
        why = names.said(deed.event["step"], deed.event["outcome"])
    return _(texts[2 if why else 1], step=quoted(step), moment=plain(names.at(deed.server["when"])), why=why)
