"""Lines of the log: what they may hold, and what of them may leave the lab."""

from hypothesis import given
from hypothesis import strategies as st

from benchapp.core import logline

NOW = 1_800_000_000_123
HEAD = "2027-01-15T08:00:00.123Z"  # of NOW, by `date -u -d @1800000000`


def test_a_line_is_time_level_event_and_fields() -> None:
    """A line begins with its time in UTC, and each field stands as name and value."""
    fields = {"id": "4F7K2M", "kind": "KeyError", "at": "benchapp/web/app.py:120:view"}
    written = logline.line(NOW, "ERROR", "error", fields)
    assert written == f"{HEAD} ERROR error id=4F7K2M kind=KeyError at=benchapp/web/app.py:120:view"
    assert logline.outside(written) == ([written], 0)


def test_a_value_that_does_not_fit_is_not_written() -> None:
    """A name in the place of a version becomes a question mark, and the line can still be read."""
    written = logline.line(NOW, "INFO", "server-start", {"version": "Ida Planted", "port": "8321"})
    assert written == f"{HEAD} INFO server-start version=? port=8321"
    assert logline.outside(written) == ([written], 0)


def test_what_is_said_in_words_stays_in_the_lab() -> None:
    """The message of a script's error stands in the log, and not in what leaves the lab."""
    fields = {"file": "/static/js/jaw.js", "line": "12", "says": "TypeError: x is not a function"}
    written = logline.line(NOW, "ERROR", "script-error", fields)
    assert written.endswith(' says="TypeError: x is not a function"')
    assert logline.outside(written) == ([f"{HEAD} ERROR script-error file=/static/js/jaw.js line=12"], 0)


def test_quoted_data_is_taken_out_of_a_message() -> None:
    """What an error quotes is data; names of properties stay, since they are the script's own."""
    assert logline.plain("Unexpected token 'I', \"Ida Planted\"... is not valid JSON") == (
        "Unexpected token …, …... is not valid JSON")
    assert logline.plain("cannot find “Ida Planted”") == "cannot find …"
    kept = "TypeError: Cannot read properties of undefined (reading 'cells')"
    assert logline.plain(kept) == kept
    assert logline.plain("Cannot read properties of null (reading 'Ida Planted')") == (
        "Cannot read properties of null (reading …)")
    assert logline.plain("open 'Ida Planted") == "open …"
    assert logline.plain("a\nb\x00c " + "x" * 500) == ("a b c " + "x" * 500)[:200]


def test_no_folder_of_the_pc_is_in_a_place() -> None:
    """A place of an error is told from the package or the library on, elsewhere by the file's name alone."""
    stack = [
        ("/home/ida/lab/benchapp/web/app.py", 3, "view"), ("C:\\Users\\ida\\benchapp\\core\\fold.py", 4, "take"),
        ("/home/ida/venv/lib/python3.11/site-packages/flask/app.py", 5, "<lambda>"), ("/home/ida/x.py", 6, "f"),
    ]
    at = logline.frames(stack)
    assert at == "benchapp/web/app.py:3:view,benchapp/core/fold.py:4:take,flask/app.py:5:<lambda>,x.py:6:f"
    assert "at=?" not in logline.line(NOW, "ERROR", "error", {"at": at})
    assert len(logline.frames(stack * 10).split(",")) == logline.MOST_FRAMES


def test_lines_of_another_form_stay_in_the_lab() -> None:
    """A stranger's line, an unknown event, an unknown field and a value that does not fit are counted, not kept."""
    strange = [
        "Ida Planted was here", f"{HEAD} INFO Ida", f"{HEAD} INFO ida-planted port=1", f"{HEAD} INFO backup who=Ida",
        f"{HEAD} INFO server-start version=Ida", f"{HEAD} INFO server-start Ida", f"{HEAD} INFO backupIda",
    ]
    assert logline.outside("\n".join([*strange, f"{HEAD} INFO backup"])) == ([f"{HEAD} INFO backup"], len(strange))


@given(st.text(), st.sampled_from(sorted(logline.FIELDS)))
def test_any_value_gives_one_line_that_is_read_again(value: str, name: str) -> None:
    """Whatever is handed in as a value, the line is one line and reads back with nothing left out."""
    written = logline.line(NOW, "INFO", "error", {name: value, "says": value})
    assert len(written.splitlines()) == 1
    kept, left = logline.outside(written)
    assert (len(kept), left) == (1, 0)


@given(st.text())
def test_any_text_can_be_read_as_a_log(text: str) -> None:
    """Reading never fails, and every line is kept or counted."""
    kept, left = logline.outside(text)
    assert len(kept) + left == len(text.splitlines())
