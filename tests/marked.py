"""Reads from the sources what is shown to people without being looked up in the catalogue."""

import ast
import re
from collections.abc import Iterator
from html.parser import HTMLParser

from jinja2 import Environment, nodes

from tests.speech import SILENT, SPOKEN_ATTRIBUTES, unspoken_text
from tests.test_house import trees

ROOTS = {"Refused", "CodeError"}  # with every class made of them: their words are shown to people
LOOK_UPS = {"_", "n_"}
ATTRIBUTE = re.compile(r'[\w-]+="[^"]*"')  # a block may fill the inside of a tag that stands in another template
NO_WORDS = (nodes.Include, nodes.Extends, nodes.Import, nodes.FromImport, nodes.Compare, nodes.Getitem)


def shown_classes() -> set[str]:
    """Return the names of the exceptions whose words are shown to people."""
    bases = {
        node.name: {getattr(base, "id", getattr(base, "attr", "")) for base in node.bases}
        for _path, tree in trees() for node in ast.walk(tree) if isinstance(node, ast.ClassDef)
    }
    found, before = set(ROOTS), 0
    while len(found) > before:
        before = len(found)
        found |= {name for name, made_of in bases.items() if made_of & found}
    return found


def bare(node: ast.AST) -> bool:
    """Tell whether an expression is words that nobody looks up: a text, an f-string with letters, or made of such."""
    if isinstance(node, ast.Constant):
        return isinstance(node.value, str) and any(letter.isalpha() for letter in node.value)
    if isinstance(node, ast.JoinedStr):
        return any(bare(part) for part in node.values)
    if isinstance(node, ast.FormattedValue):
        return isinstance(node.value, ast.IfExp | ast.JoinedStr) and bare(node.value)
    if isinstance(node, ast.BinOp):
        return bare(node.left) or bare(node.right)
    if isinstance(node, ast.IfExp):
        return bare(node.body) or bare(node.orelse)
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
        return bare(node.func.value)  # "…".format(…)
    return False


def amiss(tree: ast.Module, shown: set[str]) -> Iterator[str]:
    """Yield what is not marked, or looked up wrongly, in a module: line and what."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Call):
            name = getattr(node.func, "id", getattr(node.func, "attr", ""))
            words = [*node.args, *(keyword.value for keyword in node.keywords)]
            if name == "Fault":
                words = [*node.args[1:], *(k.value for k in node.keywords if k.arg != "where")]
            if (name in shown or name == "Fault") and any(bare(one) for one in words):
                yield f"{node.lineno}: words of {name}(…) are not looked up"
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda):
            yield from _of_function(node)
    yield from (f"{line}: looked up at import, before the language is known" for line in _at_import(tree))


def _calls(node: ast.AST) -> list[int]:
    return [
        one.lineno for one in ast.walk(node)
        if isinstance(one, ast.Call) and isinstance(one.func, ast.Name) and one.func.id in LOOK_UPS
    ]


def _of_function(node: ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda) -> Iterator[str]:
    thrown = [
        one.lineno for one in ast.walk(node)
        if (isinstance(one, ast.Name) and one.id == "_" and isinstance(one.ctx, ast.Store))
        or (isinstance(one, ast.arg) and one.arg == "_")
    ]
    if thrown and _calls(node):
        yield f"{thrown[0]}: `_` is a throwaway name in a function that looks words up"
    decorators = [ast.unparse(one) for one in getattr(node, "decorator_list", [])]
    kept = [one for one in decorators if re.search(r"\bcache\b|lru_cache", one)]
    if kept and _calls(node):
        yield f"{node.lineno}: {kept[0]} would keep words of the language that was in use first"


def _at_import(node: ast.AST) -> Iterator[int]:
    for below in ast.iter_child_nodes(node):
        if isinstance(below, ast.FunctionDef | ast.AsyncFunctionDef):
            for early in (*below.args.defaults, *below.args.kw_defaults, *below.decorator_list):
                yield from _calls(early) if early else []
        elif not isinstance(below, ast.Lambda):
            if isinstance(below, ast.Call) and isinstance(below.func, ast.Name) and below.func.id in LOOK_UPS:
                yield below.lineno
            yield from _at_import(below)


class _Bare(HTMLParser):
    """Collects what a template shows by itself."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []
        self.silent = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Look at the attributes that are read out or shown."""
        self.silent = tag if tag in SILENT else self.silent
        given = dict(attrs)
        spoken = [*SPOKEN_ATTRIBUTES, *(["value"] if given.get("type") in ("submit", "button", "reset") else [])]
        self.found += [text for name in spoken for text in unspoken_text(given.get(name) or "")]

    def handle_endtag(self, tag: str) -> None:
        """Leave what is not shown."""
        self.silent = "" if tag == self.silent else self.silent

    def handle_data(self, data: str) -> None:
        """Look at a text."""
        if not self.silent:
            self.found += unspoken_text(ATTRIBUTE.sub("", data))


def bare_in_template(text: str) -> list[str]:
    """Return the words that stand in a template, or in a text within its expressions, without being looked up."""
    environment = Environment()
    reader = _Bare()
    reader.feed("".join(value for _line, kind, value in environment.lex(text) if kind == "data"))
    reader.close()
    return reader.found + list(_constants(environment.parse(text)))


def _constants(node: nodes.Node) -> Iterator[str]:
    if isinstance(node, nodes.Call) and getattr(node.node, "name", "") in (*LOOK_UPS, "static", "jaw_words"):
        for keyword in node.kwargs:
            yield from _constants(keyword)
        return
    if isinstance(node, NO_WORDS):
        return
    if isinstance(node, nodes.Const) and isinstance(node.value, str):
        words = node.value
        if any(letter.isalpha() for letter in words) and (words[:1].isupper() or " " in words.strip()):
            yield words
    if isinstance(node, nodes.Pair):
        yield from _constants(node.value)
        return
    for below in node.iter_child_nodes():
        yield from _constants(below)
