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


def jaws_in_work(bench: Bench, most: int = MOST) -> list[JawGlance]:
    """Return the jaws that are not through, the newest cases first; at most `most`."""
    found: list[JawGlance] = []
    for case in reversed(all_cases(bench)):
        for jaw in case["jaws"]:
            glance = glance_at(bench, jaw["code"])
            if glance.stands != "scrapped" and len(found) < most:
                found.append(glance)
        if len(found) >= most:
            break
    return found


def glance_at(bench: Bench, code: str) -> JawGlance:
    """Return where one jaw stands."""
    known = line(bench, code)
    state = known.state
    patient = texts_of(bench, [known.case["texts"]["patient"]])
    titles = {step.id: step.title for step in protocol_of(bench, known).steps}
    ended = {"through": "packed", "scrap": "scrapped"}
    stands = ended.get(state["ended"]) or titles[state["now"]]
    return JawGlance(
        code, known.jaw["jaw"], next(iter(patient.values())), known.case["due"], stands, bool(state["held"]),
        bool(known.case["training"]), known.case["speed"],
    )
