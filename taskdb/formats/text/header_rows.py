"""A header over two rows made one: a group above its parts (Latitude over deg, min, N/S), or a row of units below."""

from __future__ import annotations

from collections.abc import Sequence

from taskdb.formats.text.coordinate_headers import coordinate_header
from taskdb.formats.text.headers import recognise

Row = tuple[int, list[str]]
_UNITS = frozenset(
    [
        "m",
        "ft",
        "km",
        "mhz",
        "khz",
        "-",
        "–",
        "text",
        "%",
        "°",
        "'",
        '"',
        "[m]",
        "[ft]",
        "(m)",
        "(ft)",
        "dd.dddd",
        "decimal",
    ]
)


def merged_header(head: Sequence[Row], at: int) -> tuple[list[str], int, int]:
    """Return the header's cells, and which of the first rows it begins and ends with (`at` for both where it is one).

    `head` are the first rows of a table with their lines, `at` the row that was taken for the header.
    """
    if at + 1 < len(head) and _goes_on(head[at + 1][1]):
        return _merged(head[at][1], head[at + 1][1]), at, at + 1
    own = [said for cell in head[at][1] if (said := coordinate_header(cell)) is not None]
    if at and any(said.axis is None for said in own) and _is_group(head[at - 1][1]):
        return _merged(head[at - 1][1], head[at][1]), at - 1, at
    return head[at][1], at, at


def _is_part(cell: str) -> bool:
    said = coordinate_header(cell)
    return said is not None and (said.axis is None or said.letters is not None)


def _goes_on(row: Sequence[str]) -> bool:
    """Say whether a row below a header is more of it: units and headers, no digit, a coordinate's part among them."""
    cells = [cell.strip() for cell in row if cell.strip()]
    if any(c.isdigit() for cell in cells for c in cell):
        return False
    known = all(_is_part(c) or c.lower() in _UNITS or recognise(c) is not None for c in cells)
    return known and any(_is_part(cell) for cell in cells)


def _is_group(row: Sequence[str]) -> bool:
    """Say whether a row above a header names both axes."""
    said = [coordinate_header(cell) for cell in row if cell.strip()]
    return len({one.axis for one in said if one is not None and one.axis is not None}) == 2


def _merged(top: Sequence[str], bottom: Sequence[str]) -> list[str]:
    """Return two rows as one; a group's cell holds for the parts below the empty cells behind it."""
    merged, group = [], ""
    for i in range(max(len(top), len(bottom))):
        above, below = (row[i].strip() if i < len(row) else "" for row in (top, bottom))
        below = "" if below in ("-", "–") else below
        group = above or group
        said = coordinate_header(below)
        if said is not None and said.axis is None and not above:
            above = group
        merged.append(f"{above} {below}".strip())
    return merged
