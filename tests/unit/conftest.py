"""The tier without disk: a test here that writes a file, makes a folder or removes something fails at once."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator

import pytest

WRITING = os.O_WRONLY | os.O_RDWR | os.O_CREAT
CHANGING = {"os.mkdir", "os.remove", "os.rename", "os.rmdir", "os.truncate", "shutil.copyfile", "sqlite3.connect"}
_watched: list[str] = []


def _look(event: str, values: tuple[object, ...]) -> None:
    if not _watched or (values and isinstance(values[0], int)):  # what a number stands for was opened by its name
        return
    path = os.fsdecode(values[0]) if values and isinstance(values[0], str | bytes | os.PathLike) else ""
    # An interpreter that keeps what it compiled writes that at the first import.
    if event == "open" and isinstance(values[2], int) and values[2] & WRITING and "__pycache__" not in path:
        raise AssertionError(f"{_watched[0]} writes {path or values[0]}")
    if event in CHANGING and "__pycache__" not in path and path != ":memory:":
        raise AssertionError(f"{_watched[0]}: {event} {path}")


sys.addaudithook(_look)


@pytest.fixture(autouse=True)
def no_disk(request: pytest.FixtureRequest) -> Iterator[None]:
    """Watch the test, but not the fixtures that pytest itself sets up before."""
    _watched.append(request.node.nodeid)
    yield
    _watched.clear()
