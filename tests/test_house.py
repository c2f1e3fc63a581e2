"""The house stays as it was laid out: sizes, purity, words that stay in their rooms, docstrings, and the wheel."""

import ast
import json
import os
import re
import site
import subprocess
import sys
import sysconfig
import tomllib
import venv
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any, get_args

import pytest

from benchapp.core.protocol import PlaceKind

ROOT = Path(__file__).resolve().parent.parent
SHIPPED = ("benchapp", "static", "templates", "demo_cases")
MOST_LINES, MOST_LINES_OF_A_FUNCTION = 300, 60
# What the core must not ask the machine for: time, chance, files, network, and what draws them in.
IMPURE = {"time", "random", "secrets", "uuid", "os", "io", "pathlib", "socket", "subprocess", "threading", "asyncio",
          "sqlite3", "pysqlite3", "sqlite_utils", "flask", "jinja2", "shutil", "tempfile", "urllib", "http"}
CLOCKS = {"now", "today", "utcnow", "time_ns", "monotonic", "fromtimestamp"}

# An option of the default protocol is the identification mark; the fold's own word for what was out of the
# ordinary is a mark too, so the name of a variable may be `mark` (a quoted "mark" may not stand).
WORDS_OF_THE_FOLD = {"mark"}

JS_TOKEN = re.compile(
    r"//[^\n]*|/\*.*?\*/|(?P<string>\"(?:\\.|[^\"\\\n])*\"|'(?:\\.|[^'\\\n])*'|`(?:\\.|[^`\\])*`)"
    r"|(?P<name>[A-Za-z_$][\w$]*)",
    re.DOTALL,
)


def files(folder: str, *endings: str) -> list[Path]:
    """Return the files of a folder of the house with these endings, without what others wrote; there must be some."""
    found = [
        path for path in sorted((ROOT / folder).rglob("*"))
        if path.is_file() and path.suffix in endings and not {"vendor", "__pycache__"} & set(path.parts)
    ]
    assert found, f"{folder} holds no {endings}"
    return found


def trees() -> Iterator[tuple[Path, ast.Module]]:
    """Yield each module of the package with its syntax tree."""
    for path in files("benchapp", ".py"):
        yield path, ast.parse(path.read_text("utf-8"))


def named(path: Path) -> str:
    """Return a path as it is written in the house."""
    return path.relative_to(ROOT).as_posix()


def test_no_file_is_long() -> None:
    """No module, script, style sheet or template is longer than 300 lines."""
    every = [*files("benchapp", ".py"), *files("static/js", ".js"), *files("static/css", ".css"),
             *files("templates", ".html", ".js", ".css")]
    long = {named(path): lines for path in every if (lines := len(path.read_text("utf-8").splitlines())) > MOST_LINES}
    assert long == {}


def test_no_function_is_long() -> None:
    """No function is longer than 60 lines."""
    long = [
        f"{named(path)}: {node.name}, {(node.end_lineno or 0) - node.lineno + 1} lines"
        for path, tree in trees() for node in ast.walk(tree)
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
        and (node.end_lineno or 0) - node.lineno + 1 > MOST_LINES_OF_A_FUNCTION
    ]
    assert long == []


def test_the_core_asks_the_machine_for_nothing() -> None:
    """No module of the core imports a clock, chance, files or the web, opens a file or asks a class what time it is."""
    found = [
        f"{named(path)}: {name}" for path in files("benchapp/core", ".py")
        for node in ast.walk(ast.parse(path.read_text("utf-8"))) for name in _asked(node)
        if name.partition(".")[0] in IMPURE or name in ("open", "input", "print") or name[1:] in CLOCKS
    ]
    assert found == []


def _asked(node: ast.AST) -> list[str]:
    """Return the modules that a node imports, or the name that it calls (with a point before a method's)."""
    if isinstance(node, ast.Import):
        return [alias.name for alias in node.names]
    if isinstance(node, ast.ImportFrom):
        return [node.module or ""]
    if isinstance(node, ast.Call):
        return [getattr(node.func, "id", "") or f".{getattr(node.func, 'attr', '')}"]
    return []


def js_tokens(text: str) -> tuple[list[str], set[str]]:
    """Return the strings of a script, without their quotes, and its identifiers; comments are left out."""
    strings, names = [], set()
    for token in JS_TOKEN.finditer(text):
        if token["string"]:
            strings.append(token["string"][1:-1])
            for code in re.findall(r"\$\{([^}]*)\}", token["string"]):
                names |= js_tokens(code)[1]
        elif token["name"]:
            names.add(token["name"])
    return strings, names


def quoted(strings: list[str]) -> set[str]:
    """Return each string as a whole, and what is quoted within it, as in a selector."""
    within = [inner for text in strings for inner in re.findall(r"=\s*\\?[\"']?([\w-]+)\\?[\"']?\s*\]", text)]
    return {*strings, *within}


def camel(name: str) -> str:
    """Return a name of the files as an identifier would write it."""
    first, *rest = name.split("-")
    return first + "".join(word.capitalize() for word in rest)


def protocol_ids() -> dict[str, str]:
    """Return the ids of steps, outcomes, stages, reasons and options of every protocol file, each with what it is."""
    ids: dict[str, str] = {}
    for path in [*files("benchapp/protocols", ".toml"), *files("demo_cases", ".toml")]:
        tree: dict[str, Any] = tomllib.loads(path.read_text("utf-8"))
        for step in tree.get("steps", []):
            ids |= {step["id"]: "step"} | {outcome["id"]: "outcome" for outcome in step["outcomes"]}
            ids |= {value["name"]: "value" for value in step.get("values", [])}
        for kind in ("stages", "reasons"):
            ids |= {entry["id"]: kind for entry in tree.get(kind, [])}
        ids |= dict.fromkeys(tree.get("options", []), "option")
    assert len(ids) > 100
    return ids


def trade_words(text: str, ids: dict[str, str]) -> list[str]:
    """Return what a script knows of the trade: ids of a protocol and place kinds, in its strings or names."""
    strings, names = js_tokens(text)
    whole = quoted(strings)
    words = {word for string in strings for word in re.split(r"[^\w-]+", string)}
    known = [f"{what} {name}" for name, what in ids.items() if name in whole or ("-" in name and name in words)]
    known += [
        f"{what} {name} as a name" for name, what in ids.items()
        if what != "value" and name not in WORDS_OF_THE_FOLD and {camel(name), name.replace("-", "_")} & names
    ]
    return known + [f"place kind {kind}" for kind in (*get_args(PlaceKind), "sextant") if kind in whole]


@pytest.mark.parametrize("path", files("static/js", ".js"), ids=lambda path: path.name)
def test_no_script_knows_the_trade(path: Path) -> None:
    """No script holds an id of a step, outcome, stage, reason, option or value of any protocol, or a place kind."""
    assert trade_words(path.read_text("utf-8"), protocol_ids()) == []


def test_words_of_the_trade_would_be_found() -> None:
    """The search sees ids in strings, selectors, templates, names and keys, and leaves comments alone."""
    ids = protocol_ids()
    for script in (
        'go("wet-sockets")', "go('clean')", 'find("[data-step=\\"clean\\"]")', "find(`[data-step='tacked']`)",
        "find(`[data-step=tacked] .a`)", "const wetSockets = 1", "state.cells.clean", "`${cells.clean}`",
        'if (kind === "margin") x();',
        'x = { "called-away": 1 }', "x = { characterise: 1 }", 'o["mark"]',
    ):
        assert trade_words(script, ids), script
    assert trade_words('// wet-sockets, "clean"\n/* clean */ for (const mark of marks) go("cleaner");', ids) == []


def demo_names() -> set[str]:
    """Return the names of people, devices, materials, lots, patients and orders of the demo."""
    names: set[str] = set()
    for path in files("demo_cases", ".toml"):
        tree = tomllib.loads(path.read_text("utf-8"))
        case = tree.get("case", {})
        names |= {case[key] for key in ("patient", "prescriber", "order") if key in case}
        names |= {tree[key] for key in ("name", "address") if key in tree and "steps" not in tree}
        for kind in ("people", "devices", "materials"):
            names |= {entry[key] for entry in tree.get(kind, []) for key in ("name", "lot") if key in entry}
    assert len(names) > 5
    return names


def test_names_of_the_demo_stay_in_the_demo() -> None:
    """No person, device, material, lot or patient of the demo stands in code, pages or guides; tests drive the demo."""
    guides = [path for path in ROOT.iterdir() if path.suffix in (".md", ".toml")]
    texts = [*guides, *files("benchapp", ".py", ".toml"), *files("templates", ".html"),
             *files("static", ".js", ".css", ".svg")]
    found = [
        f"{named(path)}: {name}" for path in texts for name in demo_names() if name in path.read_text("utf-8")
    ]
    assert found == []


def test_everything_public_says_what_it_is() -> None:
    """Every module, public class, function and method has a docstring, and its first line is a sentence."""
    silent = []
    for path, tree in trees():
        if not tree.body:
            continue  # an empty __init__.py
        public = [tree, *(node for node in _defined(tree.body) if not node.name.startswith("_"))]
        for node in public:
            words = ast.get_docstring(node) or ""
            if len(words.split()) < 2:
                silent.append(f"{named(path)}: {getattr(node, 'name', 'module')}")
    assert silent == []


def _defined(body: list[ast.stmt]) -> Iterator[ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef]:
    for node in body:
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
            yield node
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                yield from _defined(node.body)


def test_each_test_states_its_fact() -> None:
    """Every test has a docstring, and no two tests of one file have the same."""
    for path in files("tests", ".py"):
        tests = [
            node for node in ast.walk(ast.parse(path.read_text("utf-8")))
            if isinstance(node, ast.FunctionDef) and node.name.startswith("test_")
        ]
        facts = [ast.get_docstring(node) for node in tests]
        silent = [node.name for node, fact in zip(tests, facts, strict=True) if not fact]
        assert silent == [], named(path)
        assert len(set(facts)) == len(facts), named(path)


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel of this checkout, built without the network."""
    folder = tmp_path_factory.mktemp("wheel")
    run(sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", str(folder), str(ROOT))
    (built,) = folder.glob("*.whl")
    return built


def run(*command: str, cwd: Path = ROOT, **env: str) -> str:
    """Run a command to its good end and return what it said."""
    done = subprocess.run(
        command, cwd=cwd, env=os.environ | env, capture_output=True, text=True, encoding="utf-8", check=False
    )
    assert done.returncode == 0, f"{command}\n{done.stdout}\n{done.stderr}"
    return done.stdout


def test_the_wheel_holds_the_house(wheel: Path) -> None:
    """Every file of the package, of its pages and of its demo is in the wheel, and no test."""
    inside = set(zipfile.ZipFile(wheel).namelist())
    for folder in SHIPPED:
        for path in (ROOT / folder).rglob("*"):
            if path.is_file() and "__pycache__" not in path.parts:
                there = named(path) if folder == "benchapp" else f"benchapp/{named(path)}"
                assert there in inside
    assert not [name for name in inside if name.startswith("tests/")]


ASK_PATHS = """
import json
from benchapp import paths
from benchapp.core.protocol_rules import read_protocol
found = sorted(paths.PROTOCOLS.glob("*.toml"))
print(json.dumps({
    "ids": [read_protocol(path.name, path.read_text("utf-8")).id for path in found],
    "places": [str(p) for p in (paths.HERE, paths.PROTOCOLS, paths.STATIC, paths.TEMPLATES, paths.DEMO_CASES)],
    "here": [any(p.iterdir()) for p in (paths.STATIC, paths.TEMPLATES, paths.DEMO_CASES, paths.FONTS)],
}))
"""


@pytest.mark.long
def test_the_installed_wheel_finds_what_it_needs(wheel: Path, tmp_path: Path) -> None:
    """Installed in a fresh place, the package finds templates, static files, demo and protocols there, and starts."""
    place = tmp_path / "fresh"
    venv.create(place, with_pip=False)
    python = place / ("Scripts/python.exe" if sys.platform == "win32" else "bin/python")
    run(sys.executable, "-m", "pip", "--python", str(python), "install", "-q", "--no-deps", "--no-index",
        "--disable-pip-version-check", str(wheel))
    # The libraries are lent from where the tests run; its link to this checkout is not followed from there.
    lent = os.pathsep.join({sysconfig.get_path("purelib"), sysconfig.get_path("platlib"), *site.getsitepackages()})
    found = json.loads(run(str(python), "-c", ASK_PATHS, cwd=tmp_path, PYTHONPATH=lent))
    assert found["ids"] and all(found["here"])
    assert all(Path(path).is_relative_to(place.resolve()) for path in found["places"])
    assert "Usage" in run(str(python), "-m", "benchapp", "--help", cwd=tmp_path, PYTHONPATH=lent)
    script = python.parent / ("benchapp.exe" if sys.platform == "win32" else "benchapp")
    assert "Usage" in run(str(script), "--help", cwd=tmp_path, PYTHONPATH=lent)
