"""Faults at the boundary to the system, in this process: the k-th call that changes a disk fails, or ends the process.

Counts what Python code does to files (`os` and what stands on it). SQLite's own calls are counted in `sqlite_calls`.
"""

from __future__ import annotations

import io
import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any
from unittest import mock

CALLS = ("open", "fsync", "replace", "rename", "link", "unlink", "rmdir", "mkdir", "chmod", "utime")
FREEING = frozenset(["unlink", "rmdir", "replace", "rename", "sqlite unlink"])
"""What a full disk allows."""
_WRITES = os.O_WRONLY | os.O_RDWR


class Boundary:
    """Counts the calls, and does something at the one whose turn it is."""

    def __init__(self, at: int, then: Callable[[str], None], *, and_after: bool = False) -> None:
        """Do something at the call number `at`, and where `and_after` at all that follow."""
        self.at, self.then, self.count, self.and_after = at, then, 0, and_after
        self.fell = ""
        """The call at which it happened first."""

    def passes(self, name: str) -> None:
        self.count += 1
        if self.count == self.at or (self.and_after and self.fell):
            self.fell = self.fell or name
            if name not in FREEING or not self.and_after:
                self.then(name)


class _Stream(io.BufferedWriter):
    """A file whose writing counts."""

    def __init__(self, descriptor: int, boundary: Boundary) -> None:
        super().__init__(io.FileIO(descriptor, "wb"))
        self._boundary = boundary

    def writelines(self, lines: Any) -> None:
        for line in lines:
            self.write(line)

    def write(self, content: Any) -> int:
        self._boundary.passes("write")
        return super().write(content)


@contextmanager
def counted(boundary: Boundary) -> Iterator[Boundary]:
    """Let every call of `os` that changes a disk, and every write to a file of `os.fdopen`, pass the boundary."""
    real = {name: getattr(os, name) for name in (*CALLS, "fdopen")}

    def passing(name: str) -> Callable[..., Any]:
        def call(*args: Any, **named: Any) -> Any:
            if name != "open" or (len(args) > 1 and args[1] & _WRITES):
                boundary.passes(name)
            return real[name](*args, **named)

        return call

    def fdopen(descriptor: int, mode: str = "r", *args: Any, **named: Any) -> Any:
        return _Stream(descriptor, boundary) if mode == "wb" else real["fdopen"](descriptor, mode, *args, **named)

    with mock.patch.multiple(os, fdopen=fdopen, **{name: passing(name) for name in CALLS}):
        yield boundary


def failing(number: int) -> Callable[[str], None]:
    """Return what raises an error of the system."""

    def fail(_: str) -> None:
        raise OSError(number, os.strerror(number))

    return fail
