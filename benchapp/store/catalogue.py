"""The lab's catalogue: `words.po` in the data folder (gettext's portable object), read by Babel and checked whole.

The messages of this version lie beside the code in `words/seat-and-cure.pot`; `benchapp.devwords` prints them.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache, lru_cache
from gettext import GNUTranslations
from hashlib import sha256
from io import BytesIO
from pathlib import Path

from babel import Locale, UnknownLocaleError
from babel.messages.catalog import Catalog, Message
from babel.messages.mofile import write_mo
from babel.messages.pofile import PoFileError, read_po, write_po

from benchapp import paths
from benchapp.core.faults import Fault, FileFaults
from benchapp.core.words import COUNTED, Catalogue, fields

NAME = "words.po"
POT = paths.HERE / "words" / "seat-and-cure.pot"
TAG = re.compile(r"[A-Za-z]{2,3}(-[A-Za-z0-9]{2,8})*")
# Lines of the header that say who made a file when: they would make the same messages another file each time.
PASSING = re.compile(
    r'^"(POT-Creation-Date|PO-Revision-Date|Report-Msgid-Bugs-To|Last-Translator|Language-Team|Generated-By):.*\n',
    re.MULTILINE,
)
MEND_PLURAL = "Take the Plural-Forms that gettext lists for your language; `benchapp words --language` writes it"


@dataclass(frozen=True)
class Lexicon:
    """A catalogue as it was read: ready to be used, and how much of this version it has."""

    catalogue: Catalogue
    translated: int
    of: int

    def __str__(self) -> str:
        return f"language {self.catalogue.language}, {self.translated} of {self.of} texts translated"


def in_folder(data: Path) -> Lexicon | None:
    """Return the catalogue of a data folder, None where there is none; FileFaults where it cannot be used."""
    file = data / NAME
    return read(str(file), file.read_bytes()) if file.exists() else None


@lru_cache(maxsize=1)  # a server that starts asks twice: to open the folder, and to say which language it found
def read(name: str, raw: bytes) -> Lexicon:
    """Read a translated catalogue; raise FileFaults with everything that is wrong in it.

    Entries that gettext calls fuzzy (to be looked at again) are left out, and so is what is not translated yet.
    """
    catalog = parsed(name, raw)
    found = [*_header(catalog), *(fault for message in catalog for fault in _message(message))]
    if found:
        raise FileFaults(name, found)
    translations = _compiled(catalog)
    done = sum(_done(catalog.get(message.id)) for message in shipped() if message.id)
    language = _tag(catalog)
    return Lexicon(
        Catalogue(language, sha256(raw).hexdigest()[:12], translations.gettext, translations.ngettext),
        done, len(shipped()),
    )


def parsed(name: str, raw: bytes) -> Catalog:
    """Return a .po file as Babel has it; FileFaults where it is no such file."""
    try:
        return read_po(raw.decode("utf-8-sig").splitlines(), abort_invalid=True)
    except UnicodeDecodeError as error:
        fault = Fault("file", f"byte {error.start} is not UTF-8", "Save the file as UTF-8 text")
    except PoFileError as error:
        words = str(error).split(" on ")[0]
        fault = Fault(f"line {error.lineno + 1}", f"not readable: {words}", "Mend this line, or the entry before it")
    except (ValueError, LookupError, TypeError, AttributeError) as error:
        fault = Fault("file", f"not readable as a .po file: {error}", "Open it in an editor for .po files and save it")
    raise FileFaults(name, [fault])


@cache
def shipped() -> Catalog:
    """Return the messages of this version."""
    return parsed(POT.name, POT.read_bytes())


def text_of(catalog: Catalog) -> bytes:
    """Return a catalogue as a .po file: sorted, named by file without lines or dates, the same on every machine."""
    for message in (*catalog, *catalog.obsolete.values()):
        _flag(message)
    stream = BytesIO()
    write_po(stream, catalog, width=0, sort_output=True, include_lineno=False)
    return PASSING.sub("", stream.getvalue().decode("utf-8")).encode("utf-8")


def _flag(message: Message) -> None:
    """Tell the translator's editor which texts are filled; by itself it would take a "%" of the trade for a field."""
    message.flags -= {"python-format", "python-brace-format"}
    if message.id and any(fields(text) for text in _texts(message.id)):
        message.flags.add("python-brace-format")


def for_translators(language: str, old: Catalog | None) -> Catalog:
    """Return the messages of this version to be translated, with what `old` has of them already.

    What an older version had and this one has not stays at the end of the file. FileFaults where nobody knows the
    language.
    """
    found = old or Catalog()
    try:
        if language:
            found.locale = Locale.parse(language, sep="-" if "-" in language else "_")
    except (ValueError, UnknownLocaleError):
        mend = "Use a code of ISO 639 as in `pl` or `pt-BR`"
        raise FileFaults("--language", [Fault(language, "this language is not known", mend)]) from None
    found.update(parsed(POT.name, POT.read_bytes()), update_creation_date=False)  # takes the messages over
    found.header_comment, found.fuzzy = "# Seat & Cure", False
    return found


def _tag(catalog: Catalog) -> str:
    return (catalog.locale_identifier or "").replace("_", "-")


def _header(catalog: Catalog) -> Iterator[Fault]:
    if not TAG.fullmatch(_tag(catalog)):
        yield Fault("header", "no language is named", 'Add the line "Language: pl\\n" with the code of your language')
    try:
        plural = _compiled(catalog).plural  # type: ignore[attr-defined]
        most = max(plural(n) for n in range(COUNTED))
    except (ValueError, ArithmeticError, RecursionError) as error:
        yield Fault("header", f"Plural-Forms cannot be used: {error}", MEND_PLURAL)
    else:
        if most >= catalog.num_plurals:
            what = f"Plural-Forms has form {most}, but nplurals is {catalog.num_plurals}"
            yield Fault("header", what, MEND_PLURAL)


def _compiled(catalog: Catalog) -> GNUTranslations:
    catalog.charset = "utf-8"
    compiled = BytesIO()
    write_mo(compiled, catalog)
    return GNUTranslations(BytesIO(compiled.getvalue()))


def _texts(texts: object) -> tuple[str, ...]:
    """Return the one text, or all forms, of an id or a translation."""
    return tuple(str(one or "") for one in (texts if isinstance(texts, tuple | list) else (texts,)))


def _done(message: Message | None) -> bool:
    if message is None or message.fuzzy:
        return False
    return all(_texts(message.string))


def _message(message: Message) -> Iterator[Fault]:
    """Yield what is wrong with one translation: fields that are not those of the English text, a form left out."""
    english, forms = _texts(message.id), _texts(message.string)
    if not message.id or message.fuzzy or not any(forms):
        return
    where = f"line {message.lineno}, {english[0][:60]!r}"
    if not all(forms):
        yield Fault(where, "one of the plural forms is not translated", "Translate all of them, or none")
        return
    known = [fields(text) for text in english]
    if None in known:
        return  # a text that is never filled
    may = frozenset[str]().union(*(one or () for one in known))
    must = may - {"n"} if len(english) > 1 else may
    for form in forms:
        here = fields(form)
        if here is None:
            yield Fault(where, f"braces that name no field in {form[:60]!r}", "Use { and } for the fields only")
        elif not must <= here <= may:
            names = ", ".join(f"{{{name}}}" for name in sorted(may)) or "none"
            yield Fault(where, f"fields differ from the English text in {form[:60]!r}", f"Use exactly these: {names}")
