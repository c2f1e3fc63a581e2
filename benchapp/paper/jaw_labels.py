"""What stands on the labels of a jaw and of its parts."""

from pathlib import Path

from benchapp.actions.bench import Bench
from benchapp.actions.jaws import line, texts_of
from benchapp.core.orders_words import PART_WORDS
from benchapp.core.teeth import JAW_WORDS
from benchapp.core.words import _
from benchapp.paper.label import DPI, Label, png


def labels_of(bench: Bench, code: str) -> list[Label]:
    """Return the labels of a jaw: its own first, then one for each part."""
    found = line(bench, code)
    patient = texts_of(bench, [found.case["texts"]["patient"]])[found.case["texts"]["patient"]]
    shared = (patient, _("due {day}", day=found.case["due"])) + ((_("TRAINING"),) if found.case["training"] else ())
    jaw = _(JAW_WORDS[found.jaw["jaw"]])
    labels = [Label(code, jaw, shared)]
    for part in found.jaw["parts"]:
        title = _("{part} {make} rev {revision}", part=_(PART_WORDS[part["part"]]), make=part["make"],
                  revision=part["revision"])
        about = (jaw, part["print_job"], shared[0], *shared[2:])
        labels.append(Label(part["code"], title, about))
    return labels


def write_labels(labels: list[Label], folder: Path) -> list[Path]:
    """Write each label as a picture for 203 and for 300 dpi; return the files."""
    folder.mkdir(parents=True, exist_ok=True)
    files: list[Path] = []
    for one in labels:
        for dpi in DPI:
            file = folder / f"{one.code}-{dpi}dpi.png"
            file.write_bytes(png(one, dpi))
            files.append(file)
    return files
