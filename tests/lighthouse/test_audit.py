"""What is read out of a report of Lighthouse: scores, and each audit that cost some of them."""

from typing import Any

import pytest

from tests.lighthouse.audit import NoLighthouse, program, read


def made(**changed: Any) -> dict[str, Any]:
    """A report as the program writes it, with one audit not passed, one without weight and one that did not apply."""
    refs = [{"id": "named", "weight": 7}, {"id": "hint", "weight": 0}, {"id": "none", "weight": 3}]
    found = {"details": {"items": [{"node": {"snippet": "<button>\n </button>"}}, {"url": "/x"}]}}
    return {
        "lighthouseVersion": "12.0.0", "environment": {"hostUserAgent": "Chrome/1"},
        "categories": {"accessibility": {"score": 0.996, "auditRefs": refs},
                       "best-practices": {"score": 1, "auditRefs": []}},
        "audits": {"named": {"title": "Buttons have a name", "score": 0, **found},
                   "hint": {"title": "Hint", "score": 0}, "none": {"title": "None", "score": None}},
    } | changed


def test_almost_all_is_not_all() -> None:
    """A score is rounded down; what cost it is named with its elements; what has no weight or did not apply is not."""
    found = read("page", made())
    assert found.scores == {"accessibility": 99, "best-practices": 100}
    assert found.lost == ["Buttons have a name: <button> </button>; /x"]


def test_a_page_that_was_not_judged_is_no_success() -> None:
    """An error of the run, or a category without a score, ends the run."""
    with pytest.raises(AssertionError):
        read("page", made(runtimeError={"code": "NO_FCP"}))
    with pytest.raises(AssertionError):
        read("page", made(categories=made()["categories"] | {"best-practices": {"score": None, "auditRefs": []}}))


def test_where_the_program_is_absent_it_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without it the command says what to install."""
    monkeypatch.setenv("PATH", "")
    with pytest.raises(NoLighthouse, match="npm install"):
        program()
