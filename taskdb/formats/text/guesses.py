"""What the columns of a table without known headers may be, by their cells: for the line that a refusal offers.

Nothing is read by a guess. A person sees the line, and pastes it where it is right.
"""

from __future__ import annotations

from collections.abc import Sequence

from taskdb.core.notation import Axis
from taskdb.core.notation.joined import Part
from taskdb.formats.text.parts import Groups, candidate, groupings, label, options
from taskdb.formats.text.profile_of_cells import Cells, look_at

_WIDEST, _MOST_WAYS = 8, 2


def guess_ways(headers: Sequence[str], rows: Sequence[Sequence[str]], *, with_code: bool) -> list[list[str]]:
    """Return options that name neighbouring columns as the parts of a latitude and a longitude, the likeliest first.

    Only what tells itself: hemisphere letters, or minutes behind whole degrees. `with_code`: name the codes' too.
    """
    columns = [[row[at] for row in rows if at < len(row)] for at in range(len(headers))]
    seen = [look_at(cells) for cells in columns]
    code = next((at for at, cells in enumerate(columns) if _is_code(cells, seen[at])), None) if with_code else None
    for size in range(min(_WIDEST, len(headers)), 1, -1):
        for start in range(len(headers) - size + 1):
            window = range(start, start + size)
            known = [one for at in window if (one := candidate(at, "", seen[at], is_odd=True)) is not None]
            if len(known) < size or code in window:
                continue
            found = [groups for groups in groupings(known) if _tells_itself(groups)]
            if found:
                own = [] if code is None else ["--column", f"code={label(headers, code)}"]
                return [[*own, *options(headers, groups)] for groups in found[:_MOST_WAYS]]
    return []


def _is_code(cells: Sequence[str], seen: Cells) -> bool:
    texts = [cell.strip() for cell in cells]
    return seen.has_text and len(set(texts)) == len(texts) and not any(" " in text for text in texts)


def _tells_itself(groups: Groups) -> bool:
    parts = {axis: join.parts for axis, join in groups.items()}
    return len(parts) == 2 and len(set(parts.values())) == 1 and parts[Axis.LATITUDE] != (Part.WHOLE,)
