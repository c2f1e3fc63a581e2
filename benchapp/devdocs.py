"""Prints the parts of DEVELOPERS.md that come from code: `python -m benchapp.devdocs` writes, `--check` compares."""

import json
import re
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import click
from pydantic import BaseModel

from benchapp import paths
from benchapp.actions.bench import Bench, Chance
from benchapp.cli import cli
from benchapp.core import events, protocol, sheet
from benchapp.core.protocol_seating import Bounds, Cut
from benchapp.core.record import Record
from benchapp.store.schema import SCHEMA

FILE = paths.HERE.parent / "DEVELOPERS.md"
BLOCK = re.compile(r"(<!-- from code: (\w+) -->\n)(.*?)(<!-- end -->)", re.DOTALL)


def commands() -> str:
    """Return every command with its help."""
    return "```text\n" + "\n\n".join(_helps(cli, "benchapp")) + "\n```\n"


def _helps(command: click.Command, name: str) -> Iterator[str]:
    with click.Context(command, info_name=name, terminal_width=100) as context:
        yield command.get_help(context)
    for below in getattr(command, "commands", {}).values():
        yield from _helps(below, f"{name} {below.name}")


def routes() -> str:
    """Return every route with the first line of its view."""
    from benchapp.web.app import create_app

    nobody: Any = None
    app = create_app(Bench(nobody, lambda: 0, Chance(lambda: "", bytes, str), ""))
    lines = ["| address | method | what |", "|---|---|---|"]
    for rule in sorted(app.url_map.iter_rules(), key=lambda r: (r.rule, sorted(r.methods or ()))):
        view = app.view_functions[rule.endpoint]
        what = (view.__doc__ or "").strip().splitlines()[0] if rule.endpoint != "static" else "A static file."
        methods = ", ".join(sorted((rule.methods or set()) - {"HEAD", "OPTIONS"}))
        lines.append(f"| `{rule.rule}` | {methods} | {what} |")
    return "\n".join(lines) + "\n"


def event_kinds() -> str:
    """Return every kind of event, and the envelope's keys."""
    lines = ["| kind | of | what happened |", "|---|---|---|"]
    lines += [f"| `{kind}` | fact | {what} |" for kind, what in events.FACTS.items()]
    lines += [f"| `{kind}` | request | {what} |" for kind, what in events.REQUESTS.items()]
    parts: list[type[BaseModel]] = [events.By, events.Origin, events.At, events.Saw, events.Value]
    lines += ["", "| key of the envelope | meaning |", "|---|---|"]
    names = dict(zip(("by", "from", "at", "saw", "values[]"), parts, strict=True))
    for name, model in names.items():
        keys = ", ".join(f"`{field.alias or key}`" for key, field in model.model_fields.items())
        lines.append(f"| `{name}`: {keys} | {(model.__doc__ or '').strip()} |")
    return "\n".join(lines) + "\n"


def _fields(model: type[BaseModel], name: str) -> Iterator[str]:
    doc = (model.__doc__ or "").strip().splitlines()[0]
    yield f"**{name}** {doc}\n"
    yield "| key | must it stand there | meaning |"
    yield "|---|---|---|"
    for key, field in model.model_fields.items():
        needed = "yes" if field.is_required() else f"no ({_default(field.default)})"
        yield f"| `{field.alias or key}` | {needed} | {field.description} |"
    yield ""


def _default(value: Any) -> str:
    return {False: "false", True: "true", None: "left out"}.get(value, str(value)) if _plain(value) else "empty"


def _plain(value: Any) -> bool:
    return isinstance(value, bool | str | int | type(None)) or not hasattr(value, "__len__")


def protocol_fields() -> str:
    """Return every key of the protocol format."""
    models: dict[str, type[BaseModel]] = {
        "The file.": protocol.Protocol, "`undo`.": protocol.UndoTimes, "`[[sources]]`.": protocol.Source,
        "`[[cautions]]`.": protocol.Caution, "`[[stages]]`.": protocol.Stage, "`[[reasons]]`.": protocol.Reason,
        "`[[steps]]`.": protocol.Step, "`minutes` of a step.": protocol.Minutes,
        "`outcomes` of a step.": protocol.Outcome, "`floors` and `ceilings` of a step.": protocol.Limit,
        "`values` of a step.": protocol.Value, "`picks` of a step.": protocol.Pick,
        "`seating`.": protocol.SeatingLimits, "`depth`, `connector`, `gap`, `clearance` of `seating`.": Bounds,
        "`cut` of `seating`.": Cut,
    }
    return "\n".join(line for name, model in models.items() for line in _fields(model, name)) + "\n"


def sheet_fields() -> str:
    """Return every key of the case sheet and of the lab sheet."""
    models: dict[str, type[BaseModel]] = {
        "Case sheet.": sheet.Sheet, "`[case]`.": sheet.CaseSheet, "`[[jaws]]`.": sheet.JawSheet,
        "`parts` of a jaw.": sheet.PartSheet, "Lab sheet.": sheet.LabSheet, "`[[people]]`.": sheet.PersonSheet,
        "`[[devices]]`.": sheet.DeviceSheet, "`[[materials]]`.": sheet.MaterialSheet,
    }
    return "\n".join(line for name, model in models.items() for line in _fields(model, name)) + "\n"


def schema() -> str:
    """Return the database's schema as it is created."""
    statements = SCHEMA if isinstance(SCHEMA, str) else ";\n\n".join(str(s).strip() for s in SCHEMA)
    return f"```sql\n{statements.strip()}\n```\n"


def record_schema() -> str:
    """Return the JSON Schema of a record."""
    return f"```json\n{json.dumps(Record.model_json_schema(), indent=1, ensure_ascii=False)}\n```\n"


PARTS: dict[str, Callable[[], str]] = {
    "commands": commands, "routes": routes, "events": event_kinds, "protocol": protocol_fields,
    "sheets": sheet_fields, "schema": schema, "record": record_schema,
}


def filled(text: str) -> str:
    """Return the guide's text with every block printed anew."""
    return BLOCK.sub(lambda m: m[1] + PARTS[m[2]]() + m[4], text)


def main(arguments: list[str]) -> int:
    """Write the guide's blocks, or with --check compare them; exit code 1 when they are stale."""
    text = FILE.read_text("utf-8")
    missing = set(PARTS) - {m[2] for m in BLOCK.finditer(text)}
    if missing:
        print(f"DEVELOPERS.md has no block for {', '.join(sorted(missing))}")
        return 1
    fresh = filled(text)
    if arguments == ["--check"]:
        if fresh != text:
            print("DEVELOPERS.md is stale: run python -m benchapp.devdocs")
        return int(fresh != text)
    Path(FILE).write_text(fresh, "utf-8", newline="\n")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
