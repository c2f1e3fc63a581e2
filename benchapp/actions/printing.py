"""Ways to print labels, as `printing.toml` in the data folder says: a command, a folder, or the browser alone."""

from dataclasses import dataclass
from pathlib import Path
from shutil import which
from typing import Any, Literal

from pydantic import Field, ValidationError, field_validator

from benchapp.actions.bench import Bench, Refused
from benchapp.core.faults import Fault, FileFaults, Format, Written, parse_toml, shape_faults
from benchapp.core.lines import alike
from benchapp.core.sheet import Line
from benchapp.core.words import N_, _

FILE = "printing.toml"
MARK = "{file}"
EXAMPLE = N_("""\
format = 1
paper = "A4"                      # or "Letter": paper of the sheets for an office printer

[[printers]]                      # as many as there are; leave all out to print in the browser
name = "Label printer at the bench"
command = ["lp", "-d", "labels", "{file}"]   # the program and its arguments, each in quotation marks
file = "labels"                   # labels: PDF, a page of 50 x 25 mm each; sheet: PDF on paper as above;
                                  # png-203 or png-300: a picture for each label, one call after the other
seconds = 20                      # the program is stopped after so long

[folder]                          # a folder that another program watches
path = '/srv/labels'              # on Windows in single quotation marks: 'C:\\Labels'
file = "labels"
""")

Kind = Literal["labels", "sheet", "png-203", "png-300"]
Paper = Literal["A4", "Letter"]


class Printer(Written):
    """A printer that a program of this PC prints on."""

    name: Line = Field(description="as shown on the button")
    command: list[str] = Field(min_length=1, description="program and arguments; `{file}` stands for the file")
    file: Kind = Field(default="labels", description="what the program is given: labels, sheet, png-203, png-300")
    seconds: int = Field(default=20, ge=1, le=300, description="the program is stopped after so many seconds")

    @field_validator("command")
    @classmethod
    def _takes_a_file(cls, command: list[str]) -> list[str]:
        if command and (not command[0].strip() or MARK in command[0]):
            raise ValueError(_("the first word is no program. Begin with the program that prints, then its arguments"))
        if not any(MARK in word for word in command):
            raise ValueError(_("no argument holds {file}. Put \"{file}\" where the program expects the file"))
        if any("\0" in word for word in command):
            raise ValueError(_("an argument holds the character U+0000. Take it out"))
        return command


class OutFolder(Written):
    """A folder into which files are put for another program to print."""

    path: Line = Field(description="the folder, written whole from the root on; it must be there")
    file: Kind = Field(default="labels", description="what is put there: labels, sheet, png-203, png-300")

    @field_validator("path")
    @classmethod
    def _whole(cls, path: str) -> str:
        if not Path(path).is_absolute():
            raise ValueError(_("the path is not whole. Write it from the root or the drive on"))
        return path


class Printing(Written):
    """All of printing.toml."""

    format: Format = Field(description="which format this file is written in: 1")
    paper: Paper = Field(default="A4", description="paper of sheets: A4 or Letter")
    printers: list[Printer] = Field(default=[], description="printers with a program")
    folder: OutFolder | None = Field(default=None, description="the folder for another program")


NO_FILE = Printing(format=1)


class NotPrinted(Refused):
    """Labels were not printed, or not all of them; the message says what happened and what can be done."""

    status = 422


@dataclass(frozen=True)
class Way:
    """One way to print: its id in forms, its name, what it takes, and what it does with it (None: the browser)."""

    id: str
    name: str
    file: Kind
    does: Printer | OutFolder | None

    @property
    def about(self) -> str:
        """Return what happens, for the page of the printers."""
        if isinstance(self.does, Printer):
            return _("runs {command}, stopped after {seconds} s",
                     command=" ".join(self.does.command), seconds=self.does.seconds)
        if isinstance(self.does, OutFolder):
            return _("puts a file into {folder}", folder=self.does.path)
        return _("opens a PDF with a bar of 100 mm to measure")

    def trouble(self) -> str:
        """Return why this way would fail now, as far as can be seen without printing; "" when nothing is seen."""
        if isinstance(self.does, Printer) and which(self.does.command[0]) is None:
            return _("The program {program} is not found on this PC. Install it, or write its whole path.",
                     program=self.does.command[0])
        if isinstance(self.does, OutFolder) and not Path(self.does.path).is_dir():
            return _("There is no folder {folder} on this PC. Make it, or name another one.", folder=self.does.path)
        return ""


def config_file(bench: Bench) -> Path:
    """Return where printing.toml lies, or would lie."""
    return bench.store.path.parent / FILE


def printing_of(bench: Bench) -> Printing:
    """Return what printing.toml says now, NO_FILE where there is none; FileFaults with every fault at once."""
    try:
        text = config_file(bench).read_text("utf-8")
    except FileNotFoundError:
        return NO_FILE
    except UnicodeDecodeError:
        raise FileFaults(FILE, [Fault("file", _("this is no text in UTF-8"), _("Save it as UTF-8"))]) from None
    except OSError as error:
        why = error.strerror or type(error).__name__
        raise FileFaults(FILE, [
            Fault("file", _("cannot be read ({why})", why=why), _("Let this user read it"))
        ]) from None
    return read_printing(FILE, text)


def read_printing(name: str, text: str) -> Printing:
    """Read the text of a printing.toml; raise FileFaults with every fault at once."""
    tree = parse_toml(name, text.removeprefix("\N{ZERO WIDTH NO-BREAK SPACE}"))
    faults = []
    found = None
    try:
        found = Printing.model_validate(tree)
    except ValidationError as error:
        faults = shape_faults(tree, error)
    faults += _twice(tree)
    if found is None or faults:
        raise FileFaults(name, faults)
    return found


def _twice(tree: dict[str, Any]) -> list[Fault]:
    printers = tree.get("printers")
    listed = [one for one in printers if isinstance(one, dict)] if isinstance(printers, list) else []
    names = [one["name"] for one in listed if isinstance(one.get("name"), str)]
    slips = [name for at, name in enumerate(names) if any(alike(name, other) for other in names[:at])]
    what, mend = _("two printers have this name"), _("Name each differently")
    return [Fault(f"printers[{name}]", what, mend) for name in slips]


def ways_of(config: Printing) -> list[Way]:
    """Return the ways to print, the first one being usual: printers, the folder, and always the browser."""
    found = [Way(f"printer-{at}", one.name, one.file, one) for at, one in enumerate(config.printers, 1)]
    if config.folder is not None:
        found.append(Way("folder", _("Folder"), config.folder.file, config.folder))
    return [*found, Way("browser", _("Browser"), "sheet", None)]


def way_of(config: Printing, id: str) -> Way:
    """Return a way by its id; NotPrinted where there is none any more."""
    found = next((way for way in ways_of(config) if way.id == id), None)
    if found is None:
        raise NotPrinted(
            _("That printer is not in printing.toml any more. Load the page again and choose another one.")
        )
    return found
