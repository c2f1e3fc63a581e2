"""The ten characters on every label: made from handed-in randomness, read from what was typed or scanned."""

from collections.abc import Callable
from dataclasses import dataclass

from benchapp.core.words import N_, _

KINDS: dict[str, str] = {
    "0": N_("case"),
    "1": N_("upper jaw"),
    "2": N_("lower jaw"),
    "B": N_("base"),
    "A": N_("arch"),
    "P": N_("badge"),
    "T": N_("tablet"),
    "D": N_("device"),
    "S": N_("stock"),
    "E": N_("enrolment"),
}

LENGTH = 10
# Crockford's base32: no I, L, O (they look like 1 and 0) and no U.
ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"

# Values of characters in ISO/IEC 7064 MOD 37-2; its check character may also be one that we do not print.
_ISO_7064 = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ*"
_LOOK_ALIKE = str.maketrans("OIL", "011")
_SWAPPED = str.maketrans("YZ", "ZY")
# Hyphen, the hyphens and dashes that word processors make of it, and the minus sign.
_HYPHENS = "-\u00ad\u2010\u2011\u2012\u2013\u2014\u2212"
# About one draw in seven is drawn again: a hundred in a row means that `choose` does not choose.
_DRAWS = 100


class CodeError(ValueError):
    """A text is not a code; the message says what is wrong and how to mend it."""


@dataclass(frozen=True)
class Code:
    """A code that was read: its ten characters as printed, and the name of its kind (a value of `KINDS`)."""

    code: str
    kind: str


def check_character(first_nine: str) -> str:
    """Return the check character of ISO/IEC 7064 MOD 37-2 for digits and capital letters; it may be `*`."""
    remainder = 0
    for character in first_nine:
        remainder = 2 * (remainder + _ISO_7064.index(character)) % 37
    return _ISO_7064[(1 - remainder) % 37]


def is_whole(code: str) -> bool:
    """Say whether ten characters of the code alphabet, as printed, agree with their check character."""
    return (
        len(code) == LENGTH
        and all(character in ALPHABET for character in code)
        and check_character(code[:-1]) == code[-1]
    )


def make_code(kind: str, choose: Callable[[str], str]) -> str:
    """Return a new code: kind is a key of `KINDS`, choose returns one of the letters that it is given.

    A code is drawn again when its check character is outside the alphabet, and when the code would still be
    whole with Y and Z swapped, so that a scanner on a German layout never turns one code into another.
    Raises CodeError for an unknown kind and for a `choose` that always draws what cannot be used.
    """
    if kind not in KINDS:
        raise CodeError(_("{kind} is no kind of code; known are {known}", kind=repr(kind), known=_known()))
    for _draw in range(_DRAWS):
        first_nine = kind + "".join(choose(ALPHABET) for _place in range(LENGTH - 2))
        code = first_nine + check_character(first_nine)
        swapped = swap_layout(code)
        if is_whole(code) and (swapped == code or not is_whole(swapped)):
            return code
    raise CodeError(_(
        "no code after {draws} draws: the source of randomness keeps giving the same characters", draws=_DRAWS
    ))


def swap_layout(text: str) -> str:
    """Return text with Y and Z exchanged, as a scanner set to the US layout types it on a German one."""
    return text.translate(_SWAPPED)


def spaced(code: str) -> str:
    """Return a code in groups of four, three and three characters, for people to read and say aloud."""
    return " ".join(group for group in (code[:4], code[4:7], code[7:]) if group)


def read_code(text: str, *, layouts: bool = True) -> Code:
    """Return the code in what was typed or scanned: small letters, blanks, hyphens, O, I and L are forgiven.

    With layouts, a text that is not whole is tried again with Y and Z exchanged, and the check character
    decides. That second try lets about one wrong text in 90 pass as some other code; with False, for text
    that a person typed, every single wrong character and every two neighbours exchanged are found.
    Raises CodeError.
    """
    typed = _plain(text)
    if not typed:
        raise CodeError(_("there is no code here; scan the label or type its {length} characters", length=LENGTH))
    for character in typed:
        if character not in ALPHABET:
            raise CodeError(_(
                "{character} never stands in a code; read that character on the label again"
                " (codes hold digits and the letters A to Z without I, L, O and U)", character=repr(character)
            ))
    if len(typed) < LENGTH:
        raise CodeError(_(
            "the code is too short: {found} characters, a code has {length}; add what is missing",
            found=len(typed), length=LENGTH,
        ))
    if len(typed) > LENGTH:
        raise CodeError(_(
            "the code is too long: {found} characters, a code has {length}; scan one label at a time",
            found=len(typed), length=LENGTH,
        ))
    if typed[0] not in KINDS:
        raise CodeError(_(
            "no code begins with {character}; the first character is one of {known}",
            character=repr(typed[0]), known=_known(),
        ))
    for candidate in (typed, swap_layout(typed)) if layouts else (typed,):
        if is_whole(candidate):
            return Code(candidate, KINDS[candidate[0]])
    raise CodeError(_("{code}: at least one character is wrong, read the label again", code=spaced(typed)))


def _plain(text: str) -> str:
    """Return text without blanks and hyphens, ASCII letters as capitals, look-alikes as the digits meant."""
    kept = (c for c in text if not c.isspace() and c not in _HYPHENS)
    return "".join(c.upper() if c.isascii() else c for c in kept).translate(_LOOK_ALIKE)


def _known() -> str:
    return ", ".join(f"{letter} ({_(name)})" for letter, name in KINDS.items())
