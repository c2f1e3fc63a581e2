"""Cases found again by what people have at hand: a patient, an order, a pan, a prescriber, a code or part of one."""

import unicodedata

from benchapp.actions.bench import Bench
from benchapp.actions.cases import texts_of_cases
from benchapp.actions.overview import CaseGlance, case_glances
from benchapp.core import events
from benchapp.core.codes import CodeError, read_code

_LOOK_ALIKE = str.maketrans("OIL", "011")
SEARCHED = ("patient", "order", "prescriber", "pan")
SHORTEST = 3  # signs of a code that may be searched for; two stand in nearly every code


def search(bench: Bench, words: str) -> list[str]:
    """Return the codes of the cases in which every word is found, oldest first; a whole code finds its own case."""
    codes = _codes(bench)
    try:
        whole = read_code(words).code
    except CodeError:
        whole = ""
    if any(whole in known for known in codes.values()):
        return [case for case, known in codes.items() if whole in known]
    texts = texts_of_cases(bench.store)
    return [case for case, known in codes.items() if all(_in(word, known, texts[case]) for word in words.split())]


def _in(word: str, codes: list[str], texts: dict[str, str]) -> bool:
    plain = _plain(word)
    code = word.replace("-", "").upper().translate(_LOOK_ALIKE)
    return any(plain in _plain(texts.get(name, "")) for name in SEARCHED) or (
        len(code) >= SHORTEST and any(code in known for known in codes)
    )


def _plain(text: str) -> str:
    """Return text as it is searched for: small letters without accents."""
    apart = unicodedata.normalize("NFKD", text.casefold())
    return "".join(sign for sign in apart if not unicodedata.combining(sign))


def _codes(bench: Bench) -> dict[str, list[str]]:
    """Return all codes of each case by its own: case, jaws, parts, also of what was made again."""
    found: dict[str, list[str]] = {}
    for kind in ("case", "successor", "remake"):
        for entry in bench.store.tagged("kind", kind):
            event = events.read_body(entry.body)["event"]
            data = event["data"]
            known = found.setdefault(event["case"], [event["case"]])
            known += [data["made"]["code"]] if "made" in data else []
            for jaw in data.get("jaws", []):
                known += [jaw["code"], *(part["code"] for part in jaw["parts"])]
    return found


def by_number(bench: Bench, number: str) -> list[CaseGlance]:
    """Return the cases with this pan or order number: those in work, or where none is, the others."""
    wanted = " ".join(number.split()).casefold()
    named = [
        case for case, texts in texts_of_cases(bench.store).items()
        if wanted and wanted in (texts.get("pan", "").casefold(), texts.get("order", "").casefold())
    ]
    found = case_glances(bench, named) if named else []
    return [case for case in found if case.open] or found
