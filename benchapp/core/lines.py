"""One line of words as people type it into a form: cleaned, or what is wrong with it."""

import unicodedata

from benchapp.core.words import _

LONGEST = 80  # as in the sheets (`core.sheet.Line`)
_JOINERS = "\u200c\u200d"  # written inside Persian, Hindi and other words


def tidy(text: str) -> str:
    """Return text in composed letters (Unicode NFC), without blanks around it and with single ones inside."""
    return " ".join(unicodedata.normalize("NFC", text).split())


def fault_of(what: str, text: str, longest: int = LONGEST) -> str:
    """Return the sentence that says what is wrong with a tidy line, "" when nothing is.

    `what` names it as the beginning of a sentence, in the language in use.
    """
    if not text:
        return _("{what} is missing. Write it.", what=what)
    if len(text) > longest:
        return _("{what} has {n} characters. Write it in {most} or fewer.", what=what, n=len(text), most=longest)
    strange = next((c for c in text if not c.isprintable() and c not in _JOINERS), "")
    if strange:
        return _("{what} holds a character that cannot be printed ({character}). Take it out.", what=what,
                 character=f"U+{ord(strange):04X}")
    return ""


def alike(one: str, other: str) -> bool:
    """Tell whether people would read two lines as the same: blanks and capitals aside."""
    return tidy(one).casefold() == tidy(other).casefold()
