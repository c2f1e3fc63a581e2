"""Every jaw at a glance: where it stands."""

from dataclasses import dataclass

from benchapp.actions.bench import Bench
from benchapp.actions.cases import all_cases
from benchapp.actions.jaws import line, protocol_of, texts_of


@dataclass(frozen=True)
class JawGlance:
    """One jaw in a list: code, jaw, the patient's code, due date, step title or how it ended, training or not."""

    code: str
    jaw: str
    patient: str
    due: str
    stands: str
    held: bool
    training: bool
    speed: int


MOST = 40
LOOKED_AT = 120  # cases; more than a lab has in hand, and still read within a blink
ENDED = {"through": "packed", "scrap": "scrapped"}


def jaws_in_work(bench: Bench, most: int = MOST) -> list[JawGlance]:
    """Return at most `most` jaws of the newest LOOKED_AT cases: those in work first, then the packed ones.

    Scrapped jaws are left out.
    """
    found: list[JawGlance] = []
    for case in all_cases(bench)[: -LOOKED_AT - 1 : -1]:
        found += [glance_at(bench, jaw["code"]) for jaw in case["jaws"]]
    at_work = [glance for glance in found if glance.stands not in ENDED.values()]
    packed = [glance for glance in found if glance.stands == ENDED["through"]]
    return [*at_work, *packed][:most]


def glance_at(bench: Bench, code: str) -> JawGlance:
    """Return where one jaw stands."""
    known = line(bench, code)
    state = known.state
    patient = texts_of(bench, [known.case["texts"]["patient"]])
    titles = {step.id: step.title for step in protocol_of(bench, known).steps}
    stands = ENDED.get(state["ended"]) or titles[state["now"]]
    return JawGlance(
        code, known.jaw["jaw"], next(iter(patient.values())), known.case["due"], stands, bool(state["held"]),
        bool(known.case["training"]), known.case["speed"],
    )
