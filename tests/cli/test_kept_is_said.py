"""What a command has kept is said although its answer cannot be written: every command that writes, by the table."""

from __future__ import annotations

import errno
import io
import os
import re
import shutil
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest

from taskdb.cli.commands_table import COMMANDS
from taskdb.cli.main import main
from taskdb.errors import ExitCode
from tests.cli.test_read_only_account import DEMO, NOT_PREVIEWED, PREVIEWED

KEEPS_NO_OPERATION = {"store dump", "store load", "store upgrade", "store backup"}
WRITING = {
    **PREVIEWED,
    "store backup": ["OUT/backup.db"],
    "store load": ["OUT/whole.dump", "--store", "OUT/loaded.db"],
}


class Failing(io.StringIO):
    """A standard output on which nothing can be written."""

    def __init__(self, number: int) -> None:
        super().__init__()
        self.error = OSError(number, os.strerror(number))

    def write(self, text: str) -> int:
        if text:
            raise self.error
        return 0


def run(monkeypatch: pytest.MonkeyPatch, words: list[str], number: int) -> tuple[ExitCode, str]:
    """Run a command whose standard output fails; return its exit code and what it says on standard error."""
    said = io.StringIO()
    with monkeypatch.context() as patch:
        patch.setattr(sys, "stdout", Failing(number))
        patch.setattr(sys, "stderr", said)
        return main(words), said.getvalue()


@pytest.fixture
def ready(built, taskdb, store_path, tmp_path) -> dict[str, str]:
    """A store on which every line works, and what stands for FINDING and MEND in them."""
    out = tmp_path / "out"
    out.mkdir()
    built(
        ("set", "import", DEMO / "region.csv", "--into", "region"),
        ("set", "import", DEMO / "region.csv", "--into", "old"),
        ("task", "new", "B", "001", "003", "area 20km", "004", "area 20km", "001", "--set", "region"),
        ("set", "import", DEMO / "mends.csv", "--into", "region"),
        ("airspace", "import", DEMO / "airspace.geojson", "--into", "varn"),
        ("airspace", "add", "varn", "North", "--through", "001", "003", "004"),
        ("waypoint", "retire", "region:005", "--yes"),
        ("contest", "new", "Cup", "--set", "region"),
        ("task", "new", "A", "001", "003", "004", "001", "--contest", "Cup"),
        ("task", "new", "D", "001", "003", "004", "001", "--contest", "Cup", "--day", "1"),
        ("contest", "day", "Cup", "1", "--date", "2027-05-14"),
        ("contest", "zones", "Cup", "--turn", "cylinder 1km"),
        ("task", "flown", "A", "--on", "2027-05-14", "--best", "101km/h"),
    )
    for words in (
        ("export", "task", "A", "--format", "geojson", "--to", tmp_path / "before"),
        ("set", "patch", "region@1", "region", "--to", out / "region.patch.json"),
        ("store", "dump", out / "whole.dump"),
    ):
        assert taskdb(*words).exit_code is ExitCode.DONE
    (exported,) = (tmp_path / "before").glob("*.geojson")
    exported.rename(out / "a.geojson")
    found = {name: taskdb("check", "run", name, "--json").result()["findings"] for name in ("region", "old")}
    return {
        "OUT": str(out),
        "DEMO": str(DEMO),
        "FINDING": found["region"][0]["id"],
        "MEND": next(f["id"] for f in found["old"] if f["suggestion"] is not None),
    }


def newest(path: Path) -> int:
    with closing(sqlite3.connect(path)) as raw:
        return int(raw.execute("SELECT coalesce(max(id), 0) FROM operation").fetchone()[0])


def test_every_writing_command_is_tried() -> None:
    assert set(WRITING) | {"store upgrade"} == {entry.name for entry in COMMANDS if entry.writes}
    assert set(WRITING) | {"store upgrade"} >= NOT_PREVIEWED


@pytest.mark.slow
def test_every_command_that_keeps_something_says_so_where_its_answer_cannot_be_written(
    ready, monkeypatch, store_path, tmp_path
):
    shutil.copy(store_path, tmp_path / "before.db")
    for name, words in WRITING.items():
        for end in ("", "-wal", "-shm"):
            store_path.with_name(store_path.name + end).unlink(missing_ok=True)
        shutil.copy(tmp_path / "before.db", store_path)
        typed = [str(word) for word in words]
        for holder, value in ready.items():
            typed = [word.replace(holder, value) for word in typed]
        before = newest(store_path)
        ended, said = run(monkeypatch, [*name.split(), *typed, "--yes"], errno.ENOSPC)
        assert ended is ExitCode.REFUSED, f"{name}: {ended!r} {said}"
        assert "kept" in said or "is there, whole" in said, f"{name}: {said}"
        if name in KEEPS_NO_OPERATION:
            assert newest(store_path) == before
        else:
            assert newest(store_path) == before + 1, name
            assert re.search(rf"as operation {before + 1}\b", said), f"{name}: {said}"


def test_a_reader_that_goes_away_is_no_failure_and_what_is_kept_is_said(built, monkeypatch):
    built(("set", "import", DEMO / "region.csv", "--into", "region"))
    code, said = run(monkeypatch, ["waypoint", "edit", "region:001", "--name", "x", "--json"], errno.EPIPE)
    assert code is ExitCode.DONE
    assert said.endswith(
        "Nobody reads the answer. What the command did is kept, as operation 2; `taskdb log` shows it.\n"
    )


def test_what_changes_nothing_or_keeps_nothing_says_nothing_of_it(built, monkeypatch):
    built(("set", "import", DEMO / "region.csv", "--into", "region"))
    for words in (
        ["set", "list"],
        ["set", "import", str(DEMO / "region.csv"), "--into", "region"],
        ["waypoint", "edit", "region:001", "--name", "x", "--preview"],
        ["waypoint", "edit", "region:001", "--name", "x", "--code", "002", "--json"],
    ):
        _, said = run(monkeypatch, words, errno.ENOSPC)
        assert "The answer could not be written" in said
        assert "kept" not in said and "whole" not in said


def test_an_export_whose_answer_cannot_be_written_says_that_its_file_is_there(built, monkeypatch, tmp_path):
    built(("set", "import", DEMO / "region.csv", "--into", "region"))
    words = ["set", "export", "region", "--format", "csv", "--to", str(tmp_path / "x.csv")]
    code, said = run(monkeypatch, words, errno.ENOSPC)
    assert code is ExitCode.REFUSED
    assert "The file that was asked for is there, whole." in said
    assert (tmp_path / "x.csv").exists()
    code, said = run(monkeypatch, words, errno.ENOSPC)  # refused, since the file is there
    assert code is ExitCode.REFUSED
    assert "whole" not in said


@pytest.mark.slow
@pytest.mark.skipif(os.name != "posix", reason="closes standard output by a shell")
def test_a_closed_standard_output_is_no_failure_and_what_is_kept_is_said(store_path):
    line = [sys.executable, "-m", "taskdb", "set", "import", str(DEMO / "region.csv"), "--into", "region"]
    done = subprocess.run(
        ["sh", "-c", 'exec "$@" >&-', "sh", *line], capture_output=True, text=True, timeout=60, check=False
    )
    assert done.returncode == ExitCode.DONE
    assert "Standard output is closed. What the command did is kept, as operation 1" in done.stderr
    assert newest(store_path) == 1


def test_an_answer_that_cannot_be_drawn_says_what_is_kept(built, taskdb, monkeypatch):
    built(("set", "import", DEMO / "region.csv", "--into", "region"))

    def broken(*_: object) -> None:
        raise ValueError("cannot be drawn")

    monkeypatch.setattr("taskdb.cli.main._reply_to", broken)
    done = taskdb("waypoint", "edit", "region:001", "--name", "Drawn never", "--json")
    assert done.exit_code is ExitCode.BUG
    assert done.error()["hint"].startswith("What the command did is kept, as operation 2;")
    assert done.error()["details"]["kept"] == [2]
    done = taskdb("set", "list", "--json")
    assert "kept" not in done.error()["details"] and "is kept" not in done.error()["hint"]
