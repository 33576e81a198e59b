"""What stands at a path that a person or a file names, also where it is too long or otherwise no path.

`pathlib` raises there (Python 3.11: for all but four of the system answers); here nothing stands there.
"""

from __future__ import annotations

import errno
import os
from pathlib import Path

_IS_WINDOWS = os.name == "nt"

STREAM = "-"
"""In place of a path: standard input or output."""


def is_there(path: str | Path) -> bool:
    """Say whether anything stands at a path."""
    return os.path.exists(path)  # noqa: PTH110


def is_file(path: str | Path) -> bool:
    """Say whether a regular file, or a link to one, stands at a path."""
    return os.path.isfile(path)  # noqa: PTH113


def is_folder(path: str | Path) -> bool:
    """Say whether a folder, or a link to one, stands at a path."""
    return os.path.isdir(path)  # noqa: PTH112


def is_reader_gone(error: OSError) -> bool:
    """Say whether output could not be written since nobody reads it any longer.

    Windows calls the argument invalid where a pipe was closed (Python issue 35754).
    """
    return isinstance(error, BrokenPipeError) or (_IS_WINDOWS and error.errno == errno.EINVAL)
