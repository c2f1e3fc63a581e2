"""A file that was chosen in a form: its name and its bytes, or what is wrong with it."""

from contextlib import closing

from flask import request
from werkzeug.exceptions import RequestEntityTooLarge

from benchapp.core.faults import Fault, FileFaults
from benchapp.core.words import _

LONGEST_NAME = 80


def chosen(most: int) -> tuple[str, bytes]:
    """Return the name and at most `most` + 1 bytes of the file that was chosen; one byte more says: too large."""
    try:
        file = request.files.get("file")
    except RequestEntityTooLarge:
        return "file", b"x" * (most + 1)
    if file is None:
        return "file", b""
    with closing(file):
        return (file.filename or "file")[:LONGEST_NAME], file.read(most + 1)


def chosen_text(most: int, what: str) -> tuple[str, str]:
    """Return the name and the words of a text file of at most `most` bytes.

    `what` it should be, as in "a case sheet", is in the language in use.

    Raises FileFaults where nothing was chosen, it is too large, or it is not UTF-8.
    """
    name, data = chosen(most)
    if len(data) > most:
        raise FileFaults(name, [
            Fault("file", _("larger than {size} kB", size=most // 1000), _("Choose {what}: it is smaller", what=what))
        ])
    if not data:
        raise FileFaults(name, [Fault("file", _("nothing was chosen, or it is empty"), _("Choose {what}", what=what))])
    try:
        return name, data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise FileFaults(name, [
            Fault("file", _("byte {at} is not UTF-8 text", at=error.start + 1), _("Save the file as UTF-8 text"))
        ]) from None
