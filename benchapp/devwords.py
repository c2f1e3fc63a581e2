"""Prints the messages of this version to `words/seat-and-cure.pot`: `python -m benchapp.devwords`, `--check` compares.

Messages are what `_`, `n_`, `N_` and `NN_` hold in modules and templates, and the words of the protocols that ship.
"""

import ast
import sys
import tomllib
from collections.abc import Iterator, Sequence
from io import BytesIO
from pathlib import Path

from babel.messages.catalog import Catalog
from jinja2.ext import babel_extract

from benchapp import paths
from benchapp.core import protocol_words
from benchapp.core.words import fields
from benchapp.store.catalogue import POT, text_of

ONE, TWO = ("_", "N_"), ("n_", "NN_")
Found = tuple[int, str | tuple[str, str], bool]  # line, text or both forms, whether values are filled in


class Unmarked(Exception):
    """A call for the catalogue that the catalogue cannot have; the message says where and how to mend it."""


def in_module(text: str) -> Iterator[Found]:
    """Yield what a Python module gives to the catalogue; `_` of a name looks up a constant that is marked elsewhere."""
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in (*ONE, *TWO):
            size = 1 if node.func.id in ONE else 2
            if any(isinstance(arg, ast.JoinedStr | ast.BinOp) for arg in node.args[:size]):
                raise Unmarked(f"line {node.lineno}: {node.func.id} takes a plain text. Hand values in by name")
            texts = [arg.value for arg in node.args[:size] if isinstance(arg, ast.Constant)]
            yield from _found(node.lineno, texts, size, bool(node.keywords))


def _found(line: int, texts: Sequence[object], size: int, filled: bool) -> Iterator[Found]:
    chosen = [one for one in texts[:size] if isinstance(one, str) and one]
    if len(chosen) == size:
        yield line, chosen[0] if size == 1 else (chosen[0], chosen[1]), filled or size == 2


def in_template(text: str) -> Iterator[Found]:
    """Yield what a template gives to the catalogue."""
    options = {"trim_blocks": "true", "lstrip_blocks": "true", "silent": "false"}
    for line, name, found, _comments in babel_extract(BytesIO(text.encode()), (*ONE, *TWO), (), options):
        texts, size = found if isinstance(found, tuple) else (found,), 1 if name in ONE else 2
        yield from _found(line, texts, size, len(texts) > size)


def in_protocol(text: str) -> Iterator[Found]:
    """Yield the words of a protocol file."""
    for one in protocol_words.texts(tomllib.loads(text)):
        yield 0, one, False


def sources() -> Iterator[tuple[str, Iterator[Found]]]:
    """Yield each file that has messages, by its name in the house."""
    for path in sorted(paths.HERE.rglob("*.py")):
        yield f"benchapp/{path.relative_to(paths.HERE).as_posix()}", in_module(path.read_text("utf-8"))
    for path in sorted(paths.TEMPLATES.rglob("*.html")):
        yield f"templates/{path.relative_to(paths.TEMPLATES).as_posix()}", in_template(path.read_text("utf-8"))
    for path in sorted(paths.PROTOCOLS.glob("*.toml")):
        yield f"benchapp/protocols/{path.name}", in_protocol(path.read_text("utf-8"))


def messages() -> Catalog:
    """Return every message with the files it stands in; Unmarked says which one the catalogue cannot have."""
    catalog = Catalog(header_comment="# Seat & Cure: messages of this version.", project="Seat & Cure",
                      version="words", charset="utf-8", fuzzy=False)
    forms: dict[str, bool] = {}
    for name, found in sources():
        try:
            for line, text, filled in found:
                first = text if isinstance(text, str) else text[0]
                if forms.setdefault(first, isinstance(text, tuple)) is not isinstance(text, tuple):
                    raise Unmarked(f"line {line}: {first!r} stands elsewhere with other forms. Word one differently")
                if filled and fields(first) is None:
                    raise Unmarked(f"line {line}: fields of {first!r} are not plain names. Hand them in formatted")
                catalog.add(text, locations=[(name, 0)])
        except Unmarked as error:
            raise Unmarked(f"{name}, {error}.") from None
    return catalog


def main(arguments: list[str]) -> int:
    """Write the messages, or with --check compare them; exit code 1 when they are stale or cannot be made."""
    try:
        fresh = text_of(messages())
    except Unmarked as error:
        print(error)
        return 1
    if arguments == ["--check"]:
        stale = not POT.exists() or POT.read_bytes() != fresh
        if stale:
            print(f"{POT.name} is stale: run python -m benchapp.devwords")
        return int(stale)
    unfinished = POT.with_suffix(".new")
    unfinished.write_bytes(fresh)
    Path(unfinished).replace(POT)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
