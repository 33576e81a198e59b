"""Answers that can be had again at a price, kept in the user's cache folder. Nothing depends on their being there.

`TASKDB_CACHE` names another folder, or `off` for none. What cannot be read or written is passed over in silence.
"""

from __future__ import annotations

import os
from contextlib import suppress
from pathlib import Path

from taskdb.files.writing import write_file

VARIABLE, NONE = "TASKDB_CACHE", "off"
MOST_KEPT = 200
"""Beyond so many answers the oldest go."""


def cached(key: str) -> bytes | None:
    """Return what was kept under a key (letters, digits and `-`), or None."""
    folder = _folder()
    if folder is None:
        return None
    with suppress(OSError):
        content = (folder / key).read_bytes()
        with suppress(OSError):
            os.utime(folder / key)  # the oldest are those that nobody asked for
        return content
    return None


def cache(key: str, content: bytes) -> None:
    """Keep an answer under a key; never fails."""
    folder = _folder()
    if folder is None:
        return
    with suppress(Exception):
        folder.mkdir(parents=True, exist_ok=True)
        write_file(folder / key, content)
        others = [path for path in folder.iterdir() if not path.name.startswith(".") and path.name != key]
        for path in sorted(others, key=lambda path: path.stat().st_mtime)[: 1 - MOST_KEPT]:
            path.unlink()  # never the new one, which looks old where the clock was set back


def _folder() -> Path | None:
    named = os.environ.get(VARIABLE, "").strip()
    if named == NONE:
        return None
    if named:
        return Path(named)
    import platformdirs

    return Path(platformdirs.user_cache_dir("taskdb", appauthor=False))
