"""Columns left aside that look like a part of a coordinate: refused, with the line that joins them.

Numbers from 0 to 60 beside whole degrees, letters N, S, E, W beside a coordinate without any: read without them, every
point would stand on its whole degree or on the wrong side, and nobody would be told.
"""

from __future__ import annotations

from collections.abc import Sequence

from taskdb.core.notation import Axis, Trouble, read_angle
from taskdb.core.notation.joined import Part
from taskdb.core.pasted import quoted_words
from taskdb.errors import InputError
from taskdb.formats.text.coordinate_columns import MOST, Cells, CoordinateHeader, coordinate_header, look_at
from taskdb.formats.text.headers import Assignment
from taskdb.formats.text.parts import ASIDE, FIELDS, candidates, label, ways_to_join

_SAMPLE = 200


def require_nothing_left(headers: Sequence[str], assignment: Assignment, rows: Sequence[Sequence[str]]) -> None:
    """Raise InputError `split-coordinates` where a column that is left aside looks like a part of a coordinate."""
    found = sorted(_suspects(headers, assignment, rows))
    if not found:
        return
    names = [repr(headers[at]) if headers[at].strip() else f"#{at + 1}" for at in found]
    shown = ", ".join(names)
    example = next((row[found[0]].strip() for row in rows if row[found[0]].strip()), "")
    columns = {at for axis in Axis for at in _columns_of(assignment, axis)}
    known = candidates(headers, assignment.seen, sorted({*columns, *found}), odd=found)
    ways = ways_to_join(headers, known, found)
    told = sorted({*assignment.aside, *found})
    aside = ["--column", f"{ASIDE}={'+'.join(label(headers, at) for at in told)}"]
    raise InputError(
        "split-coordinates",
        f"Left aside would be {shown} ({example!r} …), and it looks like minutes, seconds or a hemisphere.",
        hint=f"Join: {' or '.join(map(quoted_words, ways)) or _FORM}. Leave aside: {quoted_words(aside)}.",
        details={"columns": [headers[at] for at in found], "ways": ways, "aside": [aside]},
    )


def empty_parts(headers: Sequence[str], assignment: Assignment) -> tuple[int, ...]:
    """Return the columns that should be parts of a coordinate and are empty in the sample: what fills later is told."""
    used = assignment.used() | assignment.aside
    said = [coordinate_header(header) for header in headers]
    parts = (Part.MINUTES, Part.SECONDS, Part.HEMISPHERE)
    return tuple(
        at
        for at, one in enumerate(said)
        if one is not None and one.part in parts and at not in used and not assignment.seen[at].filled
    )


_FORM = "--column latitude_deg=DEG+MIN+N/S --column longitude_deg=DEG+MIN+E/W"


def _suspects(headers: Sequence[str], assignment: Assignment, rows: Sequence[Sequence[str]]) -> set[int]:
    """Return the columns that hold no field and look like parts, from the coordinates' columns outwards."""
    used, seen = assignment.used(), assignment.seen
    columns = {axis: _columns_of(assignment, axis) for axis in Axis}
    is_open = {axis: _is_open(assignment, axis, rows) for axis in Axis}
    lettered = {axis: _has_letters(assignment, axis, rows) for axis in Axis}
    near = {at for own in columns.values() for at in own}
    numbers_near = {at for axis, own in columns.items() if is_open[axis] for at in own}
    found: set[int] = set()
    is_degrees = all(is_open[axis] and FIELDS[axis] not in assignment.joins for axis in Axis)
    free = [at for at in range(len(headers)) if at not in used and at not in assignment.aside]
    for _ in headers:
        for at in free:
            said = coordinate_header(headers[at])
            if seen[at].letters:
                axis = _axis_of_letters(seen[at].letters)
                is_told = said is not None and said.part is Part.HEMISPHERE
                is_near = len(seen[at].letters) > 1 or _beside(at, near | found)
                is_part = is_told or (axis is not None and is_near)
                is_part = is_part and not (axis is not None and lettered[axis])
            elif said is not None and said.part is Part.HEMISPHERE and said.axis is not None:
                is_part = seen[at].filled > 0 and not lettered[said.axis]  # 1 and -1, or letters of another language
            elif seen[at].is_sign:
                is_part = _beside(at, near | found)
            else:
                is_odd = said is not None and said.is_odd and said.axis is not None and is_open[said.axis]
                is_told = _says_part(said, seen[at]) and any(is_open.values())
                # Where every point stands on whole degrees, minutes may stand anywhere.
                is_near = seen[at].below_60 and (is_degrees or _beside(at, numbers_near | found))
                is_part = is_told or (seen[at].is_number and (is_near or is_odd))
            if is_part:
                found.add(at)
        free = [at for at in free if at not in found]
    return found


def _says_part(said: CoordinateHeader | None, seen: Cells) -> bool:
    """Say whether a header names minutes or seconds of a coordinate; a bare M over words does not."""
    named = said is not None and said.part in (Part.MINUTES, Part.SECONDS)
    return named and (seen.is_number or (seen.has_text and said is not None and said.axis is not None))


def _beside(at: int, columns: set[int]) -> bool:
    return at - 1 in columns or at + 1 in columns


def _axis_of_letters(letters: frozenset[str]) -> Axis | None:
    return Axis.LATITUDE if letters <= {"N", "S"} else Axis.LONGITUDE if letters <= {"E", "W", "O"} else None


def _columns_of(assignment: Assignment, axis: Axis) -> tuple[int, ...]:
    name = FIELDS[axis]
    if name in assignment.joins:
        return assignment.joins[name].columns
    return (assignment.columns[name],) if name in assignment.columns else ()


def _cells(assignment: Assignment, axis: Axis, rows: Sequence[Sequence[str]], *, last: bool) -> list[str]:
    """Return a sample of the cells of an axis: its first column, or the last that holds numbers."""
    columns = _columns_of(assignment, axis)
    if not columns:
        return []
    join = assignment.joins.get(FIELDS[axis])
    numbers = (
        [at for at, part in zip(columns, join.parts, strict=True) if part is not Part.HEMISPHERE] if join else columns
    )
    at = numbers[-1 if last else 0]
    return [cell for row in rows[:_SAMPLE] if (cell := row[at].strip())]


def _is_open(assignment: Assignment, axis: Axis, rows: Sequence[Sequence[str]]) -> bool:
    """Say whether a coordinate may go on in another column: its last part is whole, and it is not seconds."""
    join = assignment.joins.get(FIELDS[axis])
    parts = 1 if join is None else sum(part is not Part.HEMISPHERE for part in join.parts)
    cells = _cells(assignment, axis, rows, last=True)
    if parts > 1:
        return parts == 2 and look_at(cells).is_whole
    readings = [read_angle(cell, axis, letter_o="E", bare_packed=True) for cell in cells]
    known = [reading[0] for reading in readings if not isinstance(reading, Trouble)]
    whole = sum(angle.decimals == 0 and angle.parts < 3 for angle in known)
    return bool(known) and whole >= MOST * len(known)


def _has_letters(assignment: Assignment, axis: Axis, rows: Sequence[Sequence[str]]) -> bool:
    """Say whether the coordinates of an axis tell their hemisphere themselves."""
    join = assignment.joins.get(FIELDS[axis])
    if join is not None and (Part.HEMISPHERE in join.parts or join.side is not None):
        return True
    cells = _cells(assignment, axis, rows, last=False)
    told = sum(any(letter in cell.upper() for letter in "NSEWO") for cell in cells)
    return bool(cells) and told >= MOST * len(cells)
