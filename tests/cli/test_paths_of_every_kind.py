"""Every option that names a file, with what people and others put there: a pipe, a device, a folder, no path at all.

Each is refused in words, at once, with the exit code that says what to do about it; nothing hangs, nothing is written.
"""

from __future__ import annotations

import os
import signal
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from taskdb.errors import ExitCode

ROWS = (
    "code,name,latitude_deg,longitude_deg,elevation_m\n001,Ormsau,48.872,11.8105,389\n002,Kelmried,48.561,11.522,467\n"
)
LONGEST_S = 2.0

READING: dict[str, tuple[str, ...]] = {
    "set import": ("set", "import", "FILE", "--into", "x"),
    "profile": ("set", "import", "ROWS", "--into", "x", "--profile", "FILE"),
    "set export by profile": ("set", "export", "region", "--to", "out.csv", "--profile", "FILE"),
    "set apply": ("set", "apply", "FILE", "--into", "region"),
    "decisions": ("set", "apply", "PATCH", "--into", "region", "--take", "FILE"),
    "check against": ("check", "run", "region", "--against", "FILE"),
    "check fix": ("check", "fix", "region", "--apply", "FILE"),
    "preset": ("contest", "new", "Cup2", "--set", "region", "--preset", "FILE.toml"),
    "task import": ("task", "import", "FILE", "--set", "region"),
    "task check": ("task", "check", "A", "FILE"),
    "flown": ("task", "flown", "--from-file", "FILE"),
    "load": ("store", "load", "FILE", "--store", "new.db"),
    "verify": ("export", "verify", "FILE.zip"),
}
FOLDERS_READ = {"task import", "verify", "task check"}
"""A folder may stand there: what is wrong is what is in it."""

WRITING: dict[str, tuple[str, ...]] = {
    "set export": ("set", "export", "region", "--to", "FILE", "--format", "csv"),
    "patch": ("set", "patch", "region@1", "region@2", "--to", "FILE"),
    "plan": ("check", "fix", "region", "--plan", "FILE"),
    "flown": ("task", "flown", "--to-file", "FILE"),
    "sheet": ("sheet", "A", "--to", "FILE.html"),
    "map": ("sheet", "A", "--to", "FILE.svg"),
    "backup": ("store", "backup", "FILE"),
    "dump": ("store", "dump", "FILE"),
    "pack": ("export", "task", "A", "--format", "gpx", "--to", "FILE.zip"),
    "rejects": ("set", "import", "BAD", "--into", "x", "--on-error", "skip", "--rejects", "FILE"),
}


@pytest.fixture(autouse=True)
def not_waited_for() -> Iterator[None]:
    def stop(*_: object) -> None:
        raise AssertionError("hangs")

    before = signal.signal(signal.SIGALRM, stop)
    signal.setitimer(signal.ITIMER_REAL, 60)
    yield
    signal.setitimer(signal.ITIMER_REAL, 0)
    signal.signal(signal.SIGALRM, before)


@pytest.fixture
def region(taskdb, tmp_path, monkeypatch):
    """A store with a set of two revisions and a task, and its files, in a folder that is the working one."""
    monkeypatch.chdir(tmp_path)
    Path("ROWS").write_text(ROWS)
    Path("BAD").write_text(ROWS + "003,x,99,200,\n")
    for words in (
        ("set", "import", "ROWS", "--into", "region"),
        ("waypoint", "edit", "001", "--name", "Ormsau West"),
        ("set", "patch", "region@1", "region@2", "--to", "PATCH"),
        ("task", "new", "A", "001", "002", "001", "--set", "region"),
    ):
        done = taskdb(*words, "--yes")
        assert done.exit_code is ExitCode.DONE, done.stderr
    return taskdb


def put(kind: str, name: str) -> str:
    """Put something of a kind under a name, and return what is typed to name it."""
    path = Path(name)
    if kind == "pipe":
        os.mkfifo(path)
    elif kind == "device":
        path.symlink_to("/dev/zero")
    elif kind == "folder":
        path.mkdir()
    elif kind == "too long":
        return "x" * 300 + path.suffix
    elif kind == "too deep":
        return "x/" * 3000 + name
    elif kind == "in no folder":
        return f"missing/{name}"
    elif kind == "below a file":
        return f"ROWS/{name}"
    elif kind == "a link in a ring":
        path.symlink_to(name)
    return name


def clear() -> None:
    for path in Path().glob("FILE*"):
        if path.is_dir() and not path.is_symlink():
            path.rmdir()
        else:
            path.unlink()


def listed() -> list[str]:
    """What stands in the working folder besides the store."""
    return sorted(path.name for path in Path().iterdir() if "store" not in path.name)


def with_file(words: tuple[str, ...], kind: str) -> list[str]:
    return [put(kind, word) if word.startswith("FILE") else word for word in words]


@pytest.mark.parametrize(
    "kind", ["pipe", "device", "folder", "too long", "too deep", "below a file", "a link in a ring"]
)
def test_what_is_no_file_is_not_read(region, kind):
    for name, words in READING.items():
        clear()
        given = with_file(words, kind)
        began = time.process_time()
        done = region(*given, "--json")
        assert time.process_time() - began < LONGEST_S, name
        if name == "check against" and kind in ("too long", "too deep", "below a file"):
            assert done.exit_code in (ExitCode.NOT_FOUND, ExitCode.INPUT_UNUSABLE, ExitCode.USAGE), name
            continue
        allowed = {ExitCode.INPUT_UNUSABLE, ExitCode.NOT_FOUND}
        assert done.exit_code in allowed, (name, done.stdout, done.stderr)
        assert done.error()["hint"], name
        assert not Path("new.db").exists() and not Path("out.csv").exists()


@pytest.mark.parametrize("kind", ["pipe", "device", "folder", "too long", "too deep", "in no folder", "below a file"])
def test_what_is_no_file_is_not_written_over(region, kind):
    for name, words in WRITING.items():
        clear()
        if kind == "in no folder" and name in ("sheet", "map", "pack"):
            continue  # they make it
        before = listed()
        given = with_file(words, kind)
        done = region(*given, "--yes", "--json")
        assert done.exit_code in (ExitCode.REFUSED, ExitCode.USAGE), (name, done.stdout, done.stderr)
        assert len(listed()) == len(before) + (kind in ("pipe", "device", "folder")), name
