"""Points that a format gave one by one, each with its own fields, as the table that `interpret` reads."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from taskdb.core.model import RowProblem
from taskdb.core.notation import Notation
from taskdb.formats.cells import neutralise
from taskdb.formats.headers import recognise
from taskdb.formats.table import BATCH, Batch, RawTable

EXTRAS = "extras"
_FIXED = {"latitude_deg", "longitude_deg", "elevation_m", "identity"}


@dataclass(frozen=True, slots=True)
class Gathered:
    """A point: the line on which it begins, its cells by header, and what is kept of the rest.

    The headers `latitude_deg`, `longitude_deg`, `elevation_m` are ours and mean decimal degrees and metres.
    """

    line: int
    cells: dict[str, str]
    extras: str = ""
    problem: RowProblem | None = None


def gathered_table(
    points: Sequence[Gathered],
    *,
    format: str,
    encoding: str | None,
    notes: tuple[str, ...] = (),
    notation: Notation | None = None,
) -> RawTable:
    """Return points as a table: a column for every header that any of them has a value under, ours always."""
    headers = ["latitude_deg", "longitude_deg"]
    filled = {name for point in points for name, cell in point.cells.items() if cell}
    own = {name for point in points for name in point.cells} if any("code" in p.cells for p in points) else filled
    for point in points:
        for name in point.cells:
            if name not in headers and (name in filled or (name in own and recognise(name) is not None)):
                headers.append(name)
    fixed = {
        name.removesuffix("_m") if name == "elevation_m" else name: headers.index(name)
        for name in _FIXED & set(headers)
    }
    if any(point.extras for point in points):
        fixed[EXTRAS] = len(headers)
        headers.append(EXTRAS)
    return RawTable(
        format=format,
        encoding=encoding,
        delimiter=None,
        headers=tuple(headers),
        batches=_batches(points, headers, EXTRAS in fixed),
        notes=notes,
        fixed=fixed,
        notation=notation,
        decimal=".",
        names_may_be_codes=True,
    )


def _batches(points: Sequence[Gathered], headers: list[str], has_extras: bool) -> Iterator[Batch]:
    names = headers[:-1] if has_extras else headers
    for start in range(0, len(points), BATCH):
        batch = Batch()
        for point in points[start : start + BATCH]:
            # Only a table's cells carry the apostrophe against formulas: what looks so here is the text itself.
            cells = [(name, point.cells.get(name, "")) for name in names]
            row = [cell if name in _FIXED else neutralise(cell) for name, cell in cells]
            if has_extras:
                row.append(point.extras)
            if point.problem is not None:
                batch.broken.append((point.problem, tuple(row)))
            else:
                batch.lines.append(point.line)
                batch.rows.append(row)
        yield batch
