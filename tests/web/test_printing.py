"""Printing: a program that works, fails or hangs, a folder that takes no more, the browser; and a faulty file."""

import io
import json
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from errno import EACCES, ENOSPC
from pathlib import Path
from typing import IO, Any

import pytest
import zxingcpp
from PIL import Image
from pypdf import PdfReader

from benchapp.actions.printing import EXAMPLE, NotPrinted, printing_of, read_printing, way_of, ways_of
from benchapp.actions.printing_out import Made, print_out, put, run
from benchapp.core.faults import FileFaults
from tests.web.desks import SUPERVISOR, TECHNICIAN, Desk, desk

WORKS = "import shutil, sys; shutil.copy(sys.argv[1], sys.argv[2]); print('took it')"
FAILS = "import sys; print('out of\\nlabels', file=sys.stderr); sys.exit(3)"
# Waits for what never comes, and so does what it started; both hold what they write to.
HANGS = (
    "import subprocess, sys, threading; "
    "child = subprocess.Popen([sys.executable, '-c', 'import threading; threading.Event().wait()']); "
    "open(sys.argv[1], 'w').write(str(child.pid)); print('warming up', flush=True); threading.Event().wait()"
)


def printer(script: str, *more: str, name: str = "Bench", file: str = "labels") -> str:
    """A printer of printing.toml whose program is a script in Python."""
    command = json.dumps([sys.executable, "-c", script, *more])
    return f'[[printers]]\nname = "{name}"\ncommand = {command}\nfile = "{file}"\n'


@contextmanager
def printing(place: Path, text: str, **how: Any) -> Iterator[Desk]:
    """A desk whose data folder holds this printing.toml."""
    with desk(place / "data", **how) as at:
        (place / "data" / "printing.toml").write_text("format = 1\n" + text, encoding="utf-8")
        yield at


def page_of(at: Desk) -> str:
    """Address of the page that prints the case's labels."""
    return f"/desk/print/{at.jaw.opened.code}"


def keys(at: Desk) -> list[str]:
    """Keys of all labels of the case, as its page offers them."""
    return [part.split('"')[0] for part in at.get(page_of(at)).split('name="label" value="')[1:]]


def test_a_program_gets_the_file(tmp_path: Path) -> None:
    """The program is given a PDF with a page for each label that was chosen, and the page says so."""
    took = tmp_path / "took.pdf"
    with printing(tmp_path, printer(WORKS, "{file}", str(took))) as at:
        chosen = keys(at)[1:4]
        at.post(page_of(at), label=chosen, way="printer-1")
        assert "Printed: 1 file handed to “Bench”. 3 labels." in at.get(page_of(at))
    assert len(PdfReader(io.BytesIO(took.read_bytes())).pages) == 3


def test_a_program_gets_a_picture_for_each_label(tmp_path: Path) -> None:
    """A printer of 203 dpi is called once for each label; a decoder that did not write it reads what it got."""
    keep = "import shutil, sys; shutil.copy(sys.argv[1], sys.argv[2])"
    (tmp_path / "took").mkdir()
    with printing(tmp_path, printer(keep, "{file}", str(tmp_path / "took"), file="png-203")) as at:
        at.post(page_of(at), label=keys(at), way="printer-1")
        part = at.jaw.opened.jaws[0]["parts"]
        codes = [at.jaw.opened.code, at.jaw.code, part[0]["code"], part[1]["code"], at.jaw.code]
    seen = []
    for file in sorted((tmp_path / "took").iterdir()):
        with Image.open(file) as picture:
            seen += [found.text for found in zxingcpp.read_barcodes(picture.convert("L"))]
    assert seen == codes


def test_a_program_that_fails_is_told_with_what_it_wrote(tmp_path: Path) -> None:
    """The page comes back with the ticks that were set, how far it came, and what the program wrote, in one line."""
    with printing(tmp_path, printer(FAILS, "{file}", file="png-300")) as at:
        chosen = keys(at)[2:4]
        text = at.post(page_of(at), 422, label=chosen, way="printer-1")
        assert "“Bench” printed 0 of 2 files: the program ended with 3 and wrote “out of labels”." in text
        assert "choose another way" in text and text.count(" checked>") == 2


def test_a_program_that_is_not_there(tmp_path: Path) -> None:
    """A program that this PC does not have is told when printing, and before on the page of the printers."""
    text = '[[printers]]\nname = "Bench"\ncommand = ["no-such-program-here", "{file}"]\n'
    with printing(tmp_path, text) as at:
        said = at.post(page_of(at), 422, label=keys(at), way="printer-1")
        assert "the program no-such-program-here cannot be started" in said
        assert "The program no-such-program-here is not found on this PC" in at.get("/desk/printing")


def test_what_a_program_writes_is_only_words(tmp_path: Path) -> None:
    """A program that writes HTML, control characters and bytes that are no text is quoted, cut and escaped."""
    evil = "import sys; sys.stdout.buffer.write(b'<script>x</script>\\x1b[31m\\xff' + b'y' * 5000); sys.exit(1)"
    with printing(tmp_path, printer(evil, "{file}")) as at:
        text = at.post(page_of(at), 422, label=keys(at), way="printer-1")
        assert "&lt;script&gt;x&lt;/script&gt;[31m\N{REPLACEMENT CHARACTER}yyy" in text and "<script>x" not in text
        assert "\x1b" not in text and "y" * 201 not in text


def gone(process: int) -> bool:
    """Whether a process has ended, swept up or not."""
    try:
        return Path(f"/proc/{process}/stat").read_text().rpartition(") ")[2][0] in "ZX"
    except (FileNotFoundError, ProcessLookupError):
        return True


@pytest.mark.skipif(not Path("/proc/self").exists(), reason="looks for the child in /proc")
def test_a_program_that_hangs_is_stopped_with_all_that_it_started(tmp_path: Path) -> None:
    """After the limit it is killed, and its child too; what it wrote until then is told."""
    noted = tmp_path / "child"
    limit = 0.2
    why = ""
    while not (noted.exists() and noted.read_text()):  # on a busy machine Python may not have begun by then
        limit *= 2
        why = run([sys.executable, "-c", HANGS, str(noted)], limit)
        assert why.startswith(f"the program did not end within {limit:g} s and was stopped")
    assert "warming up" in why or "wrote nothing" in why
    child = int(noted.read_text())
    assert any(gone(child) for _ in range(100_000))  # a moment may pass until a killed process is swept up


def test_the_limit_of_a_hanging_printer_is_told_on_the_page(tmp_path: Path) -> None:
    """The sentence names printer and limit; the printer can be used again at once."""
    with printing(tmp_path, printer(HANGS, str(tmp_path / "child"), "{file}")) as at:
        way = ways_of(printing_of(at.jaw.bench))[0]
        for _ in range(2):
            with pytest.raises(NotPrinted, match=r"“Bench” printed 0 of 1 file: the program did not end within 0\.1 s"):
                print_out(at.jaw.bench, way, [Made("x", "pdf", b"%PDF")], 0.1)


def test_the_words_of_a_command_reach_the_program_as_they_are(tmp_path: Path) -> None:
    """There is no shell: blanks, quotes and dollars arrive unchanged; {file} is replaced within a word too."""
    told = tmp_path / "told.json"
    script = "import json, sys; json.dump(sys.argv[1:], open(sys.argv[1], 'w'))"
    words = [str(told), "a b; exit 3", "$(date) `date`", 'say "x"', "-i={file}"]
    with printing(tmp_path, printer(script, *words)) as at:
        at.post(page_of(at), label=keys(at), way="printer-1")
    got = json.loads(told.read_text())
    assert got[:4] == words[:4] and got[4].startswith("-i=") and got[4].endswith(f"-{at.jaw.opened.code}.pdf")


def folder_of(place: Path, file: str = "labels") -> str:
    """The folder of printing.toml."""
    return f"[folder]\npath = {json.dumps(str(place))}\nfile = \"{file}\"\n"


def test_files_in_the_folder_sort_by_time(tmp_path: Path) -> None:
    """Printed one after the other, names sort in the order of printing, each names its case, and no half file stays."""
    (tmp_path / "out").mkdir()
    with printing(tmp_path, folder_of(tmp_path / "out", "png-300")) as at:
        chosen, piles = keys(at), []
        for minutes in (0, 0, 1, 60 * 24 * 40):
            at.jaw.now[0] += minutes * 60_000
            at.sit(*SUPERVISOR)
            before = set((tmp_path / "out").iterdir())
            at.post(page_of(at), label=chosen, way="folder")
            piles.append(sorted(set((tmp_path / "out").iterdir()) - before))
        assert [len(pile) for pile in piles] == [len(chosen)] * 4
    every = sorted((tmp_path / "out").iterdir())
    assert not [file for file in every if file.suffix != ".png"]
    assert sorted(piles[0] + piles[1]) + piles[2] + piles[3] == every


def test_a_folder_that_is_missing_or_a_file(tmp_path: Path) -> None:
    """A folder that is not there, and one that is a file, are told with the place and the remedy."""
    (tmp_path / "file").write_text("")
    with printing(tmp_path, folder_of(tmp_path / "gone")) as at:
        said = at.post(page_of(at), 422, label=keys(at), way="folder")
        assert f"{tmp_path / 'gone'} took 0 of 1 file and then no more" in said and "Make that folder" in said
        assert f"There is no folder {tmp_path / 'gone'}" in at.get("/desk/printing")
    named = [("a.pdf", b"x")]
    with pytest.raises(NotPrinted, match=r"Name a folder in printing\.toml, not a file"):
        put(tmp_path / "file", named)


def broken(number: int, words: str, after: int) -> Callable[[IO[bytes], bytes], Any]:
    """A write that fails with an error of the system at its file number `after`, having written half of it."""
    calls = []

    def write(stream: IO[bytes], data: bytes) -> None:
        calls.append(1)
        stream.write(data[: len(data) // 2])
        if len(calls) > after:
            raise OSError(number, words)
        stream.write(data[len(data) // 2 :])

    return write


@pytest.mark.parametrize(("number", "words", "mend"), [
    (ENOSPC, "No space left on device", "Free some space on that disk"),
    (EACCES, "Permission denied", "Give this user the right to write there"),
])
def test_a_folder_that_takes_no_more(number: int, words: str, mend: str, tmp_path: Path) -> None:
    """The sentence tells how many files went in, why no more did, and what to do; the half file is taken away."""
    named = [(f"{n}.pdf", b"12345678") for n in range(3)]
    with pytest.raises(NotPrinted) as error:
        put(tmp_path, named, broken(number, words, after=2))
    assert str(error.value) == f"{tmp_path} took 2 of 3 files and then no more ({words}). {mend}, then print again."
    assert sorted(file.name for file in tmp_path.iterdir()) == ["0.pdf", "1.pdf"]


def test_nothing_in_the_folder_is_overwritten(tmp_path: Path) -> None:
    """A name that is taken already gets a number of its own."""
    for data in (b"1", b"2", b"3"):
        put(tmp_path, [("a.pdf", data)])
    assert {file.name: file.read_bytes() for file in tmp_path.iterdir()} == {
        "a.pdf": b"1", "a-1.pdf": b"2", "a-2.pdf": b"3",
    }


def test_without_a_file_the_browser_prints(tmp_path: Path) -> None:
    """A lab without printing.toml gets a sheet as PDF: all labels or those that were chosen, on the paper named."""
    with desk(tmp_path / "data") as at:
        text = at.get(page_of(at))
        assert text.count('name="way"') == 1 and "Print in the browser" in text
        answer = at.client.post(page_of(at), data={"label": keys(at)[:2], "way": "browser"})
        assert answer.status_code == 303
        got = at.client.get(answer.location)
        words = PdfReader(io.BytesIO(got.data)).pages[0].extract_text()
        assert got.mimetype == "application/pdf" and "100 mm" in words and words.count("Żuraw 17") == 3
        assert len(PdfReader(io.BytesIO(at.client.get(f"{page_of(at)}/labels.pdf").data)).pages) == 5
        (tmp_path / "data" / "printing.toml").write_text('format = 1\npaper = "Letter"\n')
        box = PdfReader(io.BytesIO(at.client.get(f"{page_of(at)}/sheet.pdf").data)).pages[0].mediabox
        assert (round(box.width), round(box.height)) == (612, 792)  # ANSI/ASME Y14.1 size A


def test_who_may_print_and_what_must_be_chosen(tmp_path: Path) -> None:
    """A technician prints labels, only a supervisor sees the printers; nothing chosen and a printer gone are told."""
    with desk(tmp_path / "data", who=TECHNICIAN) as at:
        assert "Which labels" in at.get(page_of(at))
        at.get("/desk/printing", 403)
        at.post("/desk/printing/test", 403, way="browser")
        assert "No label is chosen" in at.post(page_of(at), 422, way="browser")
        assert "not in printing.toml any more" in at.post(page_of(at), 422, label=keys(at), way="printer-7")
        at.get(f"{page_of(at)}/labels.pdf?label=bag-0000000000", 404)
        at.get(f"{page_of(at)}/bag-x.png", 404)
        at.get(f"/desk/print/{at.jaw.opened.jaws[0]['parts'][0]['code']}", 404)
    with desk(tmp_path / "other") as at:
        at.client.post("/desk/signout")
        assert at.client.get(page_of(at)).status_code == 302
        assert at.client.post(page_of(at), data={"way": "browser"}).status_code == 401


def test_the_code_of_a_jaw_leads_to_its_case(tmp_path: Path) -> None:
    """Whoever has only a jaw's code sees the labels of its case, with pictures of them."""
    with desk(tmp_path / "data") as at:
        text = at.get(f"/desk/print/{at.jaw.code}")
        assert f'action="{page_of(at)}"' in text
        for key in keys(at):
            picture = at.client.get(f"{page_of(at)}/{key}.png")
            with Image.open(io.BytesIO(picture.data)) as drawn:
                (seen,) = zxingcpp.read_barcodes(drawn.convert("L"))
            assert key.endswith(seen.text)


WRONG = """
paper = "A5"
[[printers]]
name = "One"
command = ["print"]
seconds = 0
[[printers]]
name = "one"
command = "print {file}"
colour = true
[folder]
path = "labels"
file = "gif"
"""
FOUND = (
    "paper:", "printers[One].command: no argument holds {file}", "printers[One].seconds:", "printers[one].command:",
    "printers[one].colour:", "folder.path: the path is not whole", "folder.file:",
    "printers[one]: two printers have this name",
)


def test_every_fault_of_the_file_at_once(tmp_path: Path) -> None:
    """The page lists each fault with its place and a remedy, and prints in the browser meanwhile."""
    with printing(tmp_path, WRONG) as at:
        text = at.get("/desk/printing")
        for fault in FOUND:
            assert fault in text, fault
        assert f'data-wrong="{len(FOUND)}"' in text and text.count("data-way=") == 1
        assert 'data-wrong="' in at.get(page_of(at))
        at.sit(*TECHNICIAN)
        assert "A supervisor can see them" in at.get(page_of(at)) and 'data-wrong="' not in at.get(page_of(at))


@pytest.mark.parametrize("data", [
    b"format = 1\n[[printers", b"format = 2\n", b"\xff\xfe", b"", b"x" * 20_000, b"format = 1\npath = 'C:\\x'",
    b"format = 1\nprinters = 3\nfolder = []\n", b"format = 1\nprinters = [{name = 3}, {name = 'a'}, 4]\n",
])
def test_any_file_gives_a_page(data: bytes, tmp_path: Path) -> None:
    """Whatever lies there, no page breaks: faults are listed, labels can still be printed in the browser."""
    with desk(tmp_path / "data") as at:
        (tmp_path / "data" / "printing.toml").write_bytes(data)
        assert 'data-wrong="' in at.get("/desk/printing")
        assert "Print in the browser" in at.get(page_of(at))


@pytest.mark.parametrize("command", [
    '[]', '[""]', '["{file}"]', '["{file}", "x"]', '["a", "\\u0000{file}"]', '[1, "{file}"]',
])
def test_commands_that_cannot_be_run(command: str) -> None:
    """A command without a program or without {file}, or with what no program can take, is a fault of its printer."""
    with pytest.raises(FileFaults) as error:
        read_printing("printing.toml", f'format = 1\n[[printers]]\nname = "P"\ncommand = {command}\n')
    assert all(fault.where.startswith("printers[P].command") and fault.mend for fault in error.value.faults)


def test_the_example_on_the_page_is_sound(tmp_path: Path) -> None:
    """The example is a file that can be used as it stands; usual is its printer, and the browser is always there."""
    example = EXAMPLE if sys.platform != "win32" else EXAMPLE.replace("'/srv", "'C:/srv")
    found = read_printing("printing.toml", example)
    assert [way.id for way in ways_of(found)] == ["printer-1", "folder", "browser"]
    assert way_of(found, "folder").file == "labels"
    with desk(tmp_path / "data") as at:
        text = at.get("/desk/printing")
        assert "There is no such file yet" in text and "command = [&#34;lp&#34;" in text


def test_a_test_label_on_each_way(tmp_path: Path) -> None:
    """A supervisor tries a printer, the folder and the browser; each gets the test label, a failure is told."""
    (tmp_path / "out").mkdir()
    took = tmp_path / "took.pdf"
    text = printer(WORKS, "{file}", str(took)) + printer(FAILS, "{file}", name="Other") + folder_of(tmp_path / "out")
    with printing(tmp_path, text) as at:
        at.post("/desk/printing/test", way="printer-1")
        assert "Scan the symbol and measure it" in at.get("/desk/printing")
        assert "wrote “out of labels”" in at.post("/desk/printing/test", 422, way="printer-2")
        at.post("/desk/printing/test", way="folder")
        sheet = at.client.post("/desk/printing/test", data={"way": "browser"}, follow_redirects=True).data
        assert "any more" in at.post("/desk/printing/test", 422, way="printer-9")
    (out,) = (tmp_path / "out").iterdir()
    for data in (took.read_bytes(), out.read_bytes(), sheet):
        assert "test label" in PdfReader(io.BytesIO(data)).pages[0].extract_text()


def test_words_of_a_case_are_escaped(tmp_path: Path) -> None:
    """Words of an order that look like HTML stay words on the page, in its pictures' texts too."""
    from tests.actions.worked import CASE

    case = CASE.replace("T-2026-0017", "<script>1</script>").replace("Żuraw 17", '\\"><b>x</b>')
    with desk(tmp_path / "data", case=case.replace("[case]", '[case]\npan = "<i>7</i>"')) as at:
        text = at.get(page_of(at))
        assert "<script>1" not in text and "<b>x" not in text and "<i>7" not in text
        assert "&lt;script&gt;1&lt;/script&gt;" in text and "&lt;i&gt;7&lt;/i&gt;" in text
