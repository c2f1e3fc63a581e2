"""Labels as the files that a printer, a folder or the browser is given."""

from collections.abc import Sequence
from datetime import datetime

from benchapp.actions.printing import Kind, Paper
from benchapp.actions.printing_out import Made
from benchapp.core.codes import spaced
from benchapp.core.words import _
from benchapp.paper.label import Label, pdf, png
from benchapp.paper.label_sheet import sheet_pdf

# No code of ours: it begins like that of a case, and whoever scans it is told that it is no label of the lab.
TEST_CODE = "0000000001"


def files_of(labels: Sequence[Label], kind: Kind, paper: Paper, title: str, of: str, made: datetime) -> list[Made]:
    """Return the files of a pile of labels: one PDF, or a picture each; `of` goes into their names.

    `title` stands on sheets of `paper`; `made` dates the documents.
    """
    if kind == "sheet":
        return [Made(of, "pdf", sheet_pdf(labels, paper, title, made))]
    if kind == "labels":
        return [Made(of, "pdf", pdf(labels, made=made))]
    return [Made(label.code, "png", png(label, int(kind.removeprefix("png-")))) for label in labels]


def trial_label(printer: str, day: str) -> Label:
    """Return a label to try a printer with; its words say what to look at."""
    return Label(TEST_CODE, _("test label"), (printer, day, _("symbol 21 mm wide,"), _("no edge cut off")))


def title_of(code: str, order: str, patient: str) -> str:
    """Return what stands at the top of a sheet of a case's labels."""
    return " · ".join([
        _("Labels of case {code}", code=spaced(code)), _("order {number}", number=order),
        _("patient {patient}", patient=patient),
    ])
