"""How much of a file is taken in before it is refused: no file, however made, may fill the memory or the day.

The limits lie far above what a catalogue of waypoints needs, and each refusal names its own. How large a file may be
at all is decided where it is opened.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import BinaryIO

from taskdb.core.model import RowProblem
from taskdb.core.plain import problem_plain
from taskdb.errors import InputError
from taskdb.untrusted.zip_directory import TAIL_BYTES, directory_bytes

LONGEST_LINE_BYTES = 1 << 18
"""Of delimited text; a cell ends at half of this."""
MOST_COLUMNS = 1_000
MOST_ROWS = 5_000_000
"""Of delimited text, some 300 bytes of memory each."""
MOST_PROBLEMS = 100_000
"""Problems of a file that are told; where there are more it is no list of waypoints."""
MOST_POINTS = 1_000_000
"""Of GPX, KML and GeoJSON, where a point is an element of its own."""
LARGEST_WHOLE_BYTES = 100_000_000
"""Of JSON, which is held as a whole; lists of nothing take twenty-four times their text."""
LARGEST_TASK_BYTES = 16_000_000
"""Of a file of tasks, held as a whole; a recorder's day is a few million bytes."""
MOST_ASIDE = 250_000
"""Things of another kind that are read before the first of those that are looked for: a second or two."""
MOST_TASK_POINTS = 10_000
"""Of a file that holds one task: what has more is a list of places, or nothing that was meant."""
MOST_TASK_ROWS = 100_000
"""Of a file of many tasks in a layout of the user's own."""
MOST_TASK_ELEMENTS = 50_000
"""Of XML of tasks, kept until all of it is read."""
MOST_LISTS = 1_000_000
"""Lists and objects in JSON that is held as a whole; a waypoint has about five."""
MOST_KEPT_ELEMENTS = 200_000
LONGEST_TEXT = 1_000_000
"""Letters in one element."""
LONGEST_TOKEN_BYTES = 4_000_000
"""Of a tag with its attributes, or a comment."""
LARGEST_DIRECTORY_BYTES = 1 << 24
"""Of a zip's list of entries, some hundred thousand."""

_PIECE = 1 << 18


def too_large(what: str, hint: str, code: str = "file-too-large") -> InputError:
    """Return the refusal for a file of which something is too much: `what` says which and how much may be."""
    return InputError(code, f"The file {what}.", hint=hint)


def require_size(stream: BinaryIO, limit_bytes: int, hint: str) -> None:
    """Refuse a stream with more bytes, whose content will be held as a whole. Leaves it at its beginning."""
    size = stream.seek(0, 2)
    stream.seek(0)
    if size > limit_bytes:
        raise too_large(f"has {size:,} bytes; up to {limit_bytes:,} are read in this format", hint)


def require_lines(stream: BinaryIO) -> None:
    """Refuse text that goes on and on without a line end. Leaves the stream at its beginning."""
    stream.seek(0)
    while len(piece := stream.read(_PIECE)) == _PIECE:
        if b"\n" not in piece and b"\r" not in piece:
            raise too_large(
                f"has a line of more than {LONGEST_LINE_BYTES:,} bytes",
                "A table has a row a line: save it anew as CSV, or name its format with --format.",
                "line-too-long",
            )
    stream.seek(0)


def require_columns(count: int) -> None:
    """Refuse a table that is wider than any list of waypoints."""
    if count > MOST_COLUMNS:
        raise too_large(
            f"has {count:,} columns; up to {MOST_COLUMNS:,} are read",
            "Name what parts its columns with --delimiter, or save only those that are needed.",
            "too-many-columns",
        )


def require_rows(read: int, problems: Sequence[RowProblem]) -> None:
    """Refuse a file once too many of its rows cannot be read, or there are too many."""
    if read > MOST_ROWS:
        raise too_large(f"has more than {MOST_ROWS:,} rows", "Split it into several files.", "too-many-rows")
    if len(problems) > MOST_PROBLEMS:
        told = [problem_plain(problem) for problem in problems[:20]]
        raise InputError(
            "too-many-problems",
            f"More than {MOST_PROBLEMS:,} of the values up to line {problems[-1].line:,} cannot be read; "
            "the rest was not looked at, and nothing was taken.",
            hint="The first are listed. Is it a list of waypoints? Name its columns: --column code=HEADER …",
            details={"rejected": told, "total": len(problems), "truncated": True},
        )


def require_few_lists(content: bytes, most: int = MOST_LISTS) -> None:
    """Refuse JSON of so many lists and objects that they would take minutes and the memory, before it is parsed."""
    count = content.count(b"[") + content.count(b"{")
    if count > most:
        raise too_large(f"holds {count:,} lists and objects; up to {most:,} are read", "Split it into several files.")


def require_points(count: int) -> None:
    """Refuse a file with more points than are taken one by one."""
    if count > MOST_POINTS:
        raise too_large(
            f"has more than {MOST_POINTS:,} points", "Save it as CSV, or split it.", "too-many-rows"
        )  # fmt: skip


def require_found(found: int, aside: int, what: str, code: str) -> None:
    """Refuse a file once so much of it is left aside and nothing was found: it is of another kind."""
    if not found and aside > MOST_ASIDE:
        raise InputError(
            code,
            f"The file begins with {MOST_ASIDE:,} things that are no {what}; the rest was not looked at.",
            hint=f"Give a file of {what}, or save them alone.",
        )


def require_task_points(count: int, limit: int = MOST_TASK_POINTS) -> None:
    """Refuse a file of tasks once it has more points or lines than tasks have, before they are looked at."""
    if count > limit:
        raise too_large(
            f"has more than {limit:,} points or lines: a list of places or a map, and no task",
            "Take them in as waypoints: taskdb set import FILE --into SET",
            "too-many-points",
        )


def require_small_directory(stream: BinaryIO) -> None:
    """Refuse a zip whose list of entries alone would fill the memory. Leaves the stream at its beginning."""
    size = stream.seek(0, 2)
    stream.seek(max(0, size - TAIL_BYTES))
    tail = stream.read()
    stream.seek(0)
    if directory_bytes(tail) > LARGEST_DIRECTORY_BYTES:
        raise too_large("is a zip of too many entries", "Unpack it, and import the KML file in it.", "too-many-entries")
