"""Where tablets deliver their facts; the address takes every older envelope for ever."""

from typing import Any

from flask import Blueprint, request

from benchapp.actions.facts import take_facts
from benchapp.web.app import the_bench
from benchapp.web.tablets import known_tablet

views = Blueprint("outbox", __name__)


@views.post("/outbox/1")
def deliver() -> dict[str, Any]:
    """Take a list of facts (JSON); answer each by its id, and tell whether the caller's tip is in this chain.

    A tablet that knows another chain (this journal was restored) keeps its list for one more request: it then
    comes after everything that the tablet sent before, in the order in which it was done.
    """
    bench, tablet = the_bench(), known_tablet()
    if not same_chain(request.args.get("tip", "")):
        tip = bench.store.tip()
        return {"acks": [], "tip": {"seq": tip.seq, "hash": tip.hash}, "now": bench.clock(), "chain": False}
    answer = take_facts(bench, tablet, request.get_data())
    return {
        "acks": answer.acks, "tip": {"seq": answer.seq, "hash": answer.hash}, "now": answer.now, "chain": True,
    }


def same_chain(tip: str) -> bool:
    """Tell whether `seq:hash`, the newest entry that a tablet knows, stands in this journal."""
    seq, _, digest = tip.partition(":")
    if not (seq.isascii() and seq.isdigit() and len(seq) < 16) or int(seq) == 0:
        return True
    entry = the_bench().store.entry(int(seq))
    return entry is not None and entry.hash == digest
