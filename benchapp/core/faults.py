"""Faults of a file that a person wrote: where, what, and how to mend it; all of them at once."""

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Annotated, Any, Never, TypeVar

from pydantic import AfterValidator, BaseModel, ConfigDict, ValidationError

from benchapp.core.words import N_, _


@dataclass(frozen=True)
class Fault:
    """One fault: `where` in the file, `what` is wrong there, and the `mend` that would make it right."""

    where: str
    what: str
    mend: str

    def __str__(self) -> str:
        return f"{self.where}: {self.what}. {self.mend}"


class FileFaults(Exception):
    """A file cannot be used as it is; `faults` lists everything that was found."""

    def __init__(self, name: str, faults: Iterable[Fault]) -> None:
        self.name = name
        self.faults = list(faults)
        super().__init__("\n".join(f"{name}: {fault}" for fault in self.faults))


class Written(BaseModel):
    """Base of everything that is read from a file of ours: frozen, strict, unknown keys refused."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True, populate_by_name=True)


# Where pydantic's own words say too little to a person who writes a protocol.
_WHATS = {
    "missing": N_("this key is missing"),
    "extra_forbidden": N_("this key is not known here"),
    "int_type": N_("this is no whole number"),
    "string_type": N_("this is no text"),
    "bool_type": N_("this is neither true nor false"),
}

# What pydantic calls a fault, and what a person who never heard of it should do.
_MENDS = {
    "extra_forbidden": N_("Remove this key, or look for a slip in its spelling"),
    "missing": N_("Add this key"),
    "literal_error": N_("Use one of the words listed"),
    "string_pattern_mismatch": N_("Write it as described for this key in DEVELOPERS.md"),
    "string_too_short": N_("Write something here"),
    "too_short": N_("List at least one"),
    "greater_than_equal": N_("Use a larger number"),
    "less_than_equal": N_("Use a smaller number"),
    "string_type": N_("Write it in quotation marks"),
    "int_type": N_("Write a whole number without quotation marks"),
    "bool_type": N_("Write true or false"),
    "list_type": N_("Write a list: [ … ]"),
    "model_type": N_("Write a table: { … }"),
    "date_type": N_("Write a date as YYYY-MM-DD without quotation marks"),
}


def _format(written: int) -> int:
    if written != 1:
        raise ValueError(_(
            "written in format {format}; this version reads format 1. Use the version that wrote it", format=written
        ))
    return written


Format = Annotated[int, AfterValidator(_format)]  # not Literal[1], which would take `true` for 1

ModelT = TypeVar("ModelT", bound=Written)


def read_toml(name: str, text: str, model: type[ModelT]) -> ModelT:
    """Read TOML text into `model`; raise FileFaults with every fault of syntax or shape."""
    tree = parse_toml(name, text)
    try:
        return model.model_validate(tree)
    except ValidationError as error:
        raise FileFaults(name, shape_faults(tree, error)) from None


def shape_faults(tree: Any, error: ValidationError) -> list[Fault]:
    """Return pydantic's findings about a tree as faults."""
    return [_fault(tree, e) for e in error.errors()]


def sound_rest(
    tree: Mapping[str, Any], error: ValidationError, model: type[ModelT], stand_in: Mapping[str, Any]
) -> tuple[ModelT | None, set[str], set[str]]:
    """Return what is left of a tree without its faulty entries, their ids, and the keys that were stood in for.

    So that rules of sense can be asked of the rest in the same go. `stand_in` holds top-level values to use
    where the file's own are faulty; None when nothing sound is left.
    """
    paths = [e["loc"] for e in error.errors()]
    entries = {path[:2] for path in paths if len(path) > 1 and isinstance(path[1], int)}
    whole = {path[0] for path in paths if path and path[:2] not in entries}
    rest = {key: value for key, value in tree.items() if key not in whole}
    stood = set(stand_in) - set(rest)
    rest |= {key: stand_in[key] for key in stood}
    gone: set[str] = set()
    for key in {str(path[0]) for path in entries} - {str(k) for k in whole}:
        items = list(enumerate(rest[key]))
        gone |= {str(item.get("id")) for at, item in items if (key, at) in entries and isinstance(item, Mapping)}
        rest[key] = [item for at, item in items if (key, at) not in entries]
    try:
        return model.model_validate(rest), gone, stood
    except ValidationError:
        return None, gone, stood


def parse_toml(name: str, text: str) -> dict[str, Any]:
    """Parse TOML text to plain data with exact decimals; raise FileFaults where it is not TOML."""
    try:
        return tomllib.loads(text, parse_float=Decimal)
    except tomllib.TOMLDecodeError as error:
        _not_toml(name, str(error))
    except (RecursionError, ValueError, OverflowError, ArithmeticError) as error:
        _not_toml(name, str(error) or type(error).__name__)


def _not_toml(name: str, why: str) -> Never:
    what = _("not readable as TOML: {why}", why=why)
    raise FileFaults(name, [Fault("file", what, _("Mend the line named; tables are [a], lists [[a]]"))]) from None


def where(tree: Any, path: Iterable[str | int]) -> str:
    """Return a path in words: list items are named by their id where they have one (`steps[fill].minutes`)."""
    words = ""
    for key in path:
        tree = _below(tree, key)
        if isinstance(key, int):
            known = tree.get("id") or tree.get("name") if isinstance(tree, Mapping) else None
            words += f"[{known if isinstance(known, str) and known else key + 1}]"
        else:
            words += f".{key}" if words else str(key)
    return words or "file"


def _below(tree: Any, key: str | int) -> Any:
    try:
        return tree[key]
    except (KeyError, IndexError, TypeError):
        return None


def _fault(tree: Any, error: Any) -> Fault:
    message = str(error["msg"]).removeprefix("Value error, ").rstrip(".")
    what, _dot, mend = message.partition(". ")
    if error["type"] in _WHATS:
        what, mend = _(_WHATS[error["type"]]), ""
    return Fault(where(tree, error["loc"]), what, mend or _(_MENDS.get(error["type"], N_("Mend this entry"))))
