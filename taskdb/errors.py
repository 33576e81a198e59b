"""The few ways in which something cannot be done, and the exit codes that tell them apart.

Problems *in data* (a bad row, a finding, a conflict) are values and are never raised; a `TaskdbError` says that
what was asked cannot be done, names the thing, and ends with the way out. Anything else that is raised is a bug.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import IntEnum
from typing import Any


class ExitCode(IntEnum):
    """What a command's exit status means; scripts rely on it."""

    DONE = 0
    ACT = 1
    USAGE = 2
    NOT_FOUND = 3
    INPUT_UNUSABLE = 4
    REFUSED = 5
    STORE_BUSY = 6
    STORE_UNUSABLE = 7
    BUG = 70
    INTERRUPTED = 130


class TaskdbError(Exception):
    """Something that was asked cannot be done.

    `code` is stable and for programs, `message` one sentence that names the thing, `hint` the next thing to type,
    `details` plain values (JSON-able) for programs.
    """

    exit_code = ExitCode.BUG

    def __init__(
        self, code: str, message: str, *, hint: str | None = None, details: Mapping[str, Any] | None = None
    ) -> None:
        super().__init__(message)
        self.code = code
        self.message = message
        self.hint = hint
        self.details: dict[str, Any] = dict(details or {})


class UsageError(TaskdbError):
    """A value that was typed cannot be read, or words that do not go together (exit 2)."""

    exit_code = ExitCode.USAGE


class NotFoundError(TaskdbError):
    """A named thing is not there (exit 3)."""

    exit_code = ExitCode.NOT_FOUND


class InputError(TaskdbError):
    """A file's content cannot be used; nothing of it was kept (exit 4)."""

    exit_code = ExitCode.INPUT_UNUSABLE


class RefusedError(TaskdbError):
    """It would be ambiguous, lose something or clash; nothing was done (exit 5)."""

    exit_code = ExitCode.REFUSED


class StoreBusyError(TaskdbError):
    """Another writer holds the store; the same command can be tried again (exit 6)."""

    exit_code = ExitCode.STORE_BUSY


class StoreUnusableError(TaskdbError):
    """The store is damaged, of another schema, or not ours (exit 7)."""

    exit_code = ExitCode.STORE_UNUSABLE
