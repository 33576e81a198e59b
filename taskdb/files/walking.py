"""Which files of a folder are looked at, in an order that is the same everywhere; opening them is `reading`."""

from __future__ import annotations

import os
from collections.abc import Collection
from pathlib import Path


def files_below(folder: str, suffixes: Collection[str]) -> tuple[Path, ...]:
    """Return the regular files in a folder and the folders in it with one of the suffixes (lower case, with dot).

    Sorted by path. Hidden files and folders are passed over, links to folders not followed; empty where there is
    none.
    """
    found = []
    for at, folders, names in os.walk(folder):
        folders[:] = sorted(name for name in folders if not name.startswith("."))
        for name in names:
            path = Path(at, name)
            if not name.startswith(".") and path.suffix.lower() in suffixes and path.is_file():
                found.append(path)
    return tuple(sorted(found, key=lambda path: path.parts))
