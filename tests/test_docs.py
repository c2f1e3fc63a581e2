"""The guide says what the code has: a command, route, event, field or hook without words fails here."""

import re
from collections.abc import Iterator

import click
import pytest
from pydantic import BaseModel

from benchapp import devdocs, paths
from benchapp.cli import cli
from benchapp.core import events, protocol, record_models, sheet

GUIDE = devdocs.FILE.read_text("utf-8")


def models() -> Iterator[type[BaseModel]]:
    """Yield every model of the formats that people read or write."""
    for room in (protocol, sheet, record_models):
        for thing in vars(room).values():
            if isinstance(thing, type) and issubclass(thing, BaseModel) and thing.__module__ == room.__name__:
                yield thing


def test_every_field_of_the_formats_has_a_description() -> None:
    """Protocol, sheets and record explain each of their keys."""
    bare = [f"{m.__name__}.{key}" for m in models() for key, field in m.model_fields.items() if not field.description]
    assert bare == []


def test_every_command_is_explained() -> None:
    """Each command and each of its options has help."""
    def walk(command: click.Command, name: str) -> Iterator[str]:
        if not command.help:
            yield name
        for parameter in command.params:
            if isinstance(parameter, click.Option) and not parameter.help:
                yield f"{name} {parameter.name}"
        for below in getattr(command, "commands", {}).values():
            yield from walk(below, f"{name} {below.name}")
    assert list(walk(cli, "benchapp")) == []


def test_the_guide_is_fresh() -> None:
    """The printed blocks are what the code prints now."""
    assert devdocs.filled(GUIDE) == GUIDE, "run python -m benchapp.devdocs"


@pytest.mark.parametrize("kind", [*events.FACTS, *events.REQUESTS])
def test_every_event_is_listed(kind: str) -> None:
    """Each kind of event stands in the guide."""
    assert f"| `{kind}` |" in GUIDE


def test_every_hook_is_listed() -> None:
    """Each data-act of the templates, and each data- attribute of body and map, stands in the guide."""
    html = "".join(file.read_text("utf-8") for file in paths.TEMPLATES.rglob("*.html"))
    acts = set(re.findall(r'data-act="([a-z-]+)"', html))
    assert acts and [act for act in sorted(acts) if f"`{act}`" not in GUIDE] == []
    for hook in ("data-step", "data-place", "data-state", "data-sextant", "data-act", "data-clock"):
        assert hook in html and hook in GUIDE


def test_the_commands_of_the_readme_are_the_ones_of_ci() -> None:
    """`.ci/run` calls the README's test command, letter by letter."""
    root = devdocs.FILE.parent
    command = re.search(r"```sh\n(python3 -m venv .*-m tests)\n```", (root / "README.md").read_text("utf-8"))
    assert command and command[1] in (root / ".ci" / "run").read_text("utf-8")
