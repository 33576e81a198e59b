"""Files as the tests of reading give them: their text or bytes, and options by name."""

from __future__ import annotations

import io

from taskdb.formats.registry import ReadOptions, SetReading, TaskReading, read_set, read_tasks


def read(content: str | bytes, **options: object) -> SetReading:
    """Read a set, of whatever format it looks to be."""
    return read_set(_stream(content), options=ReadOptions(**options))  # type: ignore[arg-type]


def tasks_in(content: str | bytes) -> tuple[TaskReading, ...]:
    """Read tasks, of whatever format they look to be."""
    return read_tasks(_stream(content))


def _stream(content: str | bytes) -> io.BytesIO:
    return io.BytesIO(content if isinstance(content, bytes) else content.encode())
