"""The two vendored faces: their files, their sizes for pictures, and which characters they can draw."""

import unicodedata
from functools import lru_cache
from pathlib import Path

from fontTools.ttLib import TTFont
from PIL import ImageFont

from benchapp.paths import FONTS

REGULAR = FONTS / "DejaVuSans.ttf"
BOLD = FONTS / "DejaVuSans-Bold.ttf"
# What stands for a character that the faces lack: a mark made for this, not a silent empty box.
NO_GLYPH = "\N{REPLACEMENT CHARACTER}"


@lru_cache(maxsize=64)
def face(bold: bool, pixels: int) -> ImageFont.FreeTypeFont:
    """Return a face for pictures; pixels is the em in picture dots."""
    # The basic engine is in every wheel of Pillow, so a label looks the same on every PC.
    return ImageFont.truetype(BOLD if bold else REGULAR, pixels, layout_engine=ImageFont.Layout.BASIC)


@lru_cache(maxsize=2)
def _drawable(path: Path) -> frozenset[int]:
    with TTFont(path, lazy=True) as font:
        return frozenset(font.getBestCmap())


def printable(text: str) -> str:
    """Return text on one composed (NFC) line; `NO_GLYPH` stands for what the faces cannot draw."""
    line = " ".join(unicodedata.normalize("NFC", text).split())
    shown = _drawable(REGULAR) & _drawable(BOLD)
    return "".join(
        character if ord(character) in shown else NO_GLYPH
        for character in line
        if unicodedata.category(character) not in ("Cc", "Cf", "Cs")
    )
