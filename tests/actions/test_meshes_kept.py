"""Design files beside the journal: in backups, brought back, and missed where one is gone or changed."""

from pathlib import Path

from click.testing import CliRunner

from benchapp.actions.jaws import line
from benchapp.actions.seating import meshes_of, seating_of
from benchapp.cli import cli
from benchapp.serve import read_bench
from tests.actions.checked import checked, put, stl
from tests.actions.worked import worked


def run(*arguments: str | Path, code: int = 0) -> str:
    """Run a command; return what it prints."""
    result = CliRunner().invoke(cli, [str(one) for one in arguments])
    assert result.exit_code == code, result.output
    return result.output


def test_design_files_go_with_the_backup_and_come_back(tmp_path: Path) -> None:
    """Copied once, kept by every later backup, verified by hash; restored, the check stands with all its numbers."""
    data, to = tmp_path / "lab", tmp_path / "copies"
    with worked(data) as jaw:
        checked(jaw)
        code, files = jaw.code, sorted(meshes_of(jaw.bench).names())
    run("backup", "--data", data, "--to", to)
    kept = {file.stem: file.stat().st_mtime_ns for file in (to / "meshes").iterdir()}
    assert sorted(kept) == files and len(files) == 2
    run("backup", "--data", data, "--to", to, "--keep", "1")
    assert {file.stem: file.stat().st_mtime_ns for file in (to / "meshes").iterdir()} == kept
    (backup,) = to.glob("*.sqlite3")
    assert "did not come" not in run("restore", backup, "--data", tmp_path / "new")
    with (bench := read_bench(tmp_path / "new")).store:
        found = seating_of(bench, line(bench, code))
    assert (found.state, found.resin_ml) == ("done", 0.42)
    assert "Holds." in run("verify", "--data", tmp_path / "new")


def test_a_file_that_is_gone_or_changed_is_named(tmp_path: Path) -> None:
    """`verify` names it with exit 1, `backup` copies none that is wrong and says so; a restore without files too."""
    data, to = tmp_path / "lab", tmp_path / "copies"
    with worked(data) as jaw:
        gone, changed = put(jaw, "base", stl("base")), put(jaw, "arch", stl("arch"))
        meshes_of(jaw.bench).path(gone).unlink()
        meshes_of(jaw.bench).path(changed).write_bytes(stl("another"))
    said = run("verify", "--data", data, code=1)
    assert "Holds." in said and f"{gone} is missing" in said and f"{changed} is not the one" in said
    said = run("backup", "--data", data, "--to", to)
    assert said.count("Not copied") == 2 and list((to / "meshes").iterdir()) == []
    (backup,) = to.glob("*.sqlite3")
    assert "did not come with it: 2" in run("restore", backup, "--data", tmp_path / "new")
