"""What is said of a failure that nobody foresaw: one line, and a private file with the details for a report."""

from __future__ import annotations

import os
import platform
import sys
import tempfile
import traceback

from taskdb import __version__
from taskdb.cli.frame.passwords import without_store_passwords
from taskdb.cli.frame.settings import Settings
from taskdb.cli.frame.usage import Problem


def bug_problem(error: Exception, settings: Settings, *, is_kept: bool) -> Problem:
    """Write the traceback into a private file and return code, message, hint and details that name it.

    `is_kept` says that the command had done its work and only its answer could not be drawn.
    """
    summary = " ".join(without_store_passwords(f"{type(error).__name__}: {error}", settings).split())[:300]
    text = without_store_passwords("".join(traceback.format_exception(error)), settings)
    head = f"taskdb {__version__}, Python {platform.python_version()}, {sys.platform}\n\n"
    path = _keep(head + text)
    hint = f"The details are in {path}; please report them." if path else "The details could not be kept."
    if is_kept:
        hint = f"What the command did is kept; only its answer could not be shown. {hint}"
    return "bug", f"This is a bug in taskdb: {summary}", hint, {"traceback_file": path}


def _keep(text: str) -> str | None:
    try:
        handle, path = tempfile.mkstemp(prefix="taskdb-bug-", suffix=".txt")
        with os.fdopen(handle, "w", encoding="utf-8", errors="backslashreplace") as file:
            file.write(text)
    except OSError:
        return None
    return path
