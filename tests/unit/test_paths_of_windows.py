"""What Windows takes for something else than POSIX does: paths of manifests, of stores, and closed pipes."""

from __future__ import annotations

import errno
from pathlib import PureWindowsPath

import pytest

from taskdb.disk.paths import stays_inside
from taskdb.errors import UsageError
from taskdb.files import standing
from taskdb.store.address import parse_address


@pytest.mark.parametrize("path", ["a.gpx", "tasks/Day 1/A.gpx", ".hidden", "a..b", "ü/…/x"])
def test_a_path_below_its_folder_stays_inside(path: str) -> None:
    assert stays_inside(path)
    assert PureWindowsPath("C:/out", path).is_relative_to("C:/out")


@pytest.mark.parametrize(
    "path",
    ["", "/a", "a//b", "..", "../a", "a/../b", ".. /a", "...", "a./b", "a ", "C:/x", "C:x", "..\\a", "\\\\h\\s", "a\0"],
)  # fmt: skip
def test_what_any_system_takes_out_of_the_folder_does_not(path: str) -> None:
    assert not stays_inside(path)


@pytest.mark.parametrize(
    "text",
    [r"C:\clubs\wolds.db", "C:/clubs/wolds.db", r"\\server\share\wolds.db", r"D:wolds.db", "sqlite:///C:/clubs/wolds.db"],
)  # fmt: skip
def test_a_drive_is_no_kind_of_store(text: str) -> None:
    address = parse_address(text)
    assert str(address.path) == text.removeprefix("sqlite:///")


def test_a_kind_of_store_that_is_not_known_is_refused_and_makes_no_file() -> None:
    for text in ("mysql://x", r"postgres:C:\x", "jdbc:postgresql:x"):
        with pytest.raises(UsageError):
            parse_address(text)


def test_a_closed_pipe_is_known_under_both_its_names(monkeypatch: pytest.MonkeyPatch) -> None:
    invalid = OSError(errno.EINVAL, "Invalid argument")
    assert standing.is_reader_gone(BrokenPipeError())
    assert not standing.is_reader_gone(invalid) and not standing.is_reader_gone(OSError(errno.ENOSPC, "full"))
    monkeypatch.setattr(standing, "_IS_WINDOWS", True)
    assert standing.is_reader_gone(invalid) and not standing.is_reader_gone(OSError(errno.ENOSPC, "full"))
