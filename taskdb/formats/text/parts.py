"""Which columns together are a coordinate: degrees, minutes, seconds and hemisphere in columns of their own.

What headers and cells both say is joined and told. What may be a part and is not joined is refused, with the line that
joins it: a point on its whole degree is up to a hundred kilometres off, and nobody sees it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import cycle

from taskdb.core.model import E7
from taskdb.core.notation import Axis, Trouble, read_angle
from taskdb.core.notation.joined import NUMBERS, Join, Part, join_cells
from taskdb.core.numbers import power_of_ten
from taskdb.core.pasted import quoted_words
from taskdb.errors import InputError, UsageError
from taskdb.formats.text.coordinate_columns import Cells, CoordinateHeader, coordinate_header, look_at

FIELDS = {Axis.LATITUDE: "latitude_deg", Axis.LONGITUDE: "longitude_deg"}
_REPEATED = re.compile(r".*\.\d")
"""`Lat.1` is how programs call a second column `Lat`."""
_MOST_WAYS = 3
_WIDEST_GUESS, _MOST_GUESSES = 8, 2
ASIDE = "aside"
"""What `--column aside=HEADER` says: this column is to be left aside, though it looks like a part of a coordinate."""
_NOTHING = CoordinateHeader(None, None)


@dataclass(frozen=True, slots=True)
class Candidate:
    """A column that may hold a coordinate or a part of one; `part` is None for a number of which that is open."""

    at: int
    axis: Axis | None
    part: Part | None
    said: CoordinateHeader
    seen: Cells

    @property
    def is_main(self) -> bool:
        return self.part in (Part.WHOLE, Part.DEGREES)

    @property
    def is_complete(self) -> bool:
        """Whether it is a coordinate by itself: decimals, or several numbers in a cell."""
        return self.is_main and (self.seen.has_text or (self.seen.is_number and not self.seen.is_whole))


@dataclass(slots=True)
class CoordinateColumns:
    """What was found: the columns of each field (one alone, or a join), and what an O means by the headers."""

    joins: dict[str, Join] = field(default_factory=dict)
    letter_o: str | None = None


Groups = Mapping[Axis, Join]


def candidate(at: int, header: str, seen: Cells, *, is_odd: bool = False) -> Candidate | None:
    """Return a column as a candidate, None where neither header nor cells make it one.

    `is_odd`: what the cells alone make likely is taken too.
    """
    said = coordinate_header(header)
    if not seen.filled or (said is None and not is_odd and header.strip()):
        return None
    said = said or _NOTHING
    if said.is_odd and seen.is_number and not is_odd and not _REPEATED.fullmatch(header):
        return None  # `Lat rad`, `Lat error`: what it is, nobody here knows
    if seen.letters:
        axis = _axis_of(seen.letters)
        if axis is None or said.axis not in (None, axis):
            return None
        return Candidate(at, axis, Part.HEMISPHERE, replace(said, side=None), seen)
    part = said.part
    if part is Part.HEMISPHERE:
        if said.axis is None or (seen.is_number and seen.is_whole):
            return None
        part = Part.WHOLE
    if seen.is_number:
        if part is None and not seen.below_181:
            return None
        if said.side is not None and not seen.below_181:
            return None  # N and E may be metres of a grid
        return Candidate(at, said.axis, part, said, seen)
    return Candidate(at, said.axis, part, said, seen) if said.axis is not None and part is Part.WHOLE else None


def _axis_of(letters: frozenset[str]) -> Axis | None:
    if letters <= {"N", "S"}:
        return Axis.LATITUDE
    return Axis.LONGITUDE if letters <= {"E", "W", "O"} else None


def candidates(
    headers: Sequence[str], seen: Sequence[Cells], free: Sequence[int], odd: Sequence[int] = ()
) -> list[Candidate]:
    """Return the columns that may belong to a coordinate; one without a header only behind or before another."""
    found: dict[int, Candidate] = {}
    for at in free:
        one = candidate(at, headers[at], seen[at], is_odd=at in odd)
        if one is not None and (headers[at].strip() or at in odd):
            found[at] = one
    for at in free:
        if not headers[at].strip() and at - 1 in found:
            one = candidate(at, "", seen[at])
            if one is not None:
                found[at] = one
    for at in reversed(free):
        if not headers[at].strip() and at + 1 in found and seen[at].letters:
            one = candidate(at, "", seen[at])
            if one is not None:
                found[at] = one
    has_minutes = any(c.said.side == "N" and c.part is Part.MINUTES for c in found.values())
    return [found[at] for at in sorted(found) if has_minutes or not found[at].said.is_doubtful]


def find_parts(
    headers: Sequence[str],
    seen: Sequence[Cells],
    free: Sequence[int],
    axes: Sequence[Axis],
    rows: Sequence[Sequence[str]],
) -> CoordinateColumns:
    """Return which of the free columns are the coordinates of these axes, where headers and cells leave one way only.

    A field whose column is open is left out: the headers are asked again, and what looks like a part is refused.
    Raises InputError where two columns that are a coordinate each say different places.
    """
    known = candidates(headers, seen, free)
    found = CoordinateColumns(letter_o=_letter_o(known))
    whole = [c for c in known if c.is_complete]
    if {c.axis for c in whole} == set(Axis) and len(whole) == 2:
        # A coordinate by itself: its hemisphere may stand apart, the rest is another form of the same, or should be.
        rest = [c for c in known if c not in whole]
        known = [c for c in known if c in whole or c.part is Part.HEMISPHERE]
        others = list(groupings([c for c in rest if not c.seen.letters or c.said.axis is not None]))
        if len(others) == 1 and set(others[0]) == set(Axis):
            # Two columns called Lat: 47 and 15.6 are no two latitudes.
            odd = [replace(c, part=None) if c in whole else c for c in candidates(headers, seen, free)]
            joined = [] if any(len(join.columns) > 1 for join in others[0].values()) else ways_to_join(headers, odd)
            _require_same(headers, rows, list(groupings(known)), others[0], joined)
    ways = list(groupings(known)) or list(groupings(_named(known)))
    if len(ways) == 1 and _are_alike(ways[0], axes) and _are_told(ways[0], known):
        found.joins = {FIELDS[axis]: ways[0][axis] for axis in axes}
    return found


def _require_same(
    headers: Sequence[str],
    rows: Sequence[Sequence[str]],
    ways: Sequence[Groups],
    other: Groups,
    joined: Sequence[list[str]],
) -> None:
    """Raise InputError where a coordinate and another form of it differ; `joined`: the options if both are one."""
    for own in ways[:1]:
        for axis in Axis:
            far = next((row for row in rows if _differ(row, own[axis], other[axis], axis)), None)
            if far is not None:
                shown = [" ".join(far[at].strip() for at in join.columns) for join in (own[axis], other[axis])]
                told = list(joined) or [options(headers, way) for way in (own, other)]
                raise InputError(
                    "ambiguous-column",
                    f"The file has each {axis.value} twice, and they differ: {shown[0]} and {shown[1]}.",
                    hint=f"Say which: {' or '.join(map(quoted_words, told))}.",
                    details={"field": FIELDS[axis], "ways": told},
                )


def _differ(row: Sequence[str], first: Join, second: Join, axis: Axis) -> bool:
    """Say whether two forms of a coordinate are further apart than the coarser was rounded; by size, without a sign."""
    values = []
    for join in (first, second):
        (text,), troubles = join_cells(join, [[row[at]] for at in join.columns], axis)
        angles = read_angle(text, axis, letter_o="E", bare_packed=True)
        if troubles or not text or isinstance(angles, Trouble):
            return False  # its own row tells that
        step = E7 / 60 ** (angles[0].parts - 1) / power_of_ten(angles[0].decimals)
        values.append((abs(angles[0].e7), step))
    (a, step_a), (b, step_b) = values[0], values[1]
    return bool(abs(a - b) > max(step_a, step_b) + 100)


def options(headers: Sequence[str], groups: Groups) -> list[str]:
    """Return the words of a command line that name the columns of both axes."""
    return [word for axis in Axis for word in ("--column", f"{FIELDS[axis]}={labels(headers, groups[axis])}")]


def _named(known: Sequence[Candidate]) -> list[Candidate]:
    """Return the candidates without numbers of which no header says anything: they may be anything."""
    return [c for c in known if c.said is not _NOTHING or c.part is Part.HEMISPHERE]


def _alternating(known: Sequence[Candidate]) -> list[Candidate]:
    """Return the candidates with the axes that nothing names in the order of those that are: lat, lon, min, min."""
    order = list(dict.fromkeys(c.axis for c in known if c.axis is not None and c.is_main)) or list(Axis)
    turn = cycle(order)
    return [c if c.axis is not None else replace(c, axis=next(turn)) for c in known]


def ways_to_join(headers: Sequence[str], known: list[Candidate], needed: Sequence[int] = ()) -> list[list[str]]:
    """Return the options of each way to make two coordinates of the candidates; what is left of the needed is aside."""
    for some in (known, _alternating(known), _named(known)):
        ways = []
        for groups in groupings(some):
            rest = set(needed) - {at for join in groups.values() for at in join.columns}
            if _are_alike(groups, tuple(Axis)) and (some == _named(known) or not rest):
                aside = ["--column", f"{ASIDE}={'+'.join(label(headers, at) for at in sorted(rest))}"] if rest else []
                ways.append([*options(headers, groups), *aside])
        if ways:
            return ways[:_MOST_WAYS]
    return []


def _are_told(groups: Groups, known: Sequence[Candidate]) -> bool:
    """Say whether hemispheres are told as such: a column `direction` of letters is one only beside its counterpart."""
    told = {c.at for c in known if c.said.axis is not None or c.said.letters is not None}
    letters = [join.columns[-1] for join in groups.values() if Part.HEMISPHERE in join.parts]
    return len(letters) == len(groups) or all(at in told for at in letters)


def _letter_o(known: Sequence[Candidate]) -> str | None:
    """Return what O means where a header names both sides: O/W is Ost, E/O is ouest."""
    letters = {frozenset(c.said.letters) for c in known if c.said.letters and c.axis is Axis.LONGITUDE}
    if letters == {frozenset("OW")}:
        return "E"
    return "W" if letters == {frozenset("EO")} else None


def _are_alike(groups: Groups, axes: Sequence[Axis]) -> bool:
    """Say whether every axis is there and both have the same parts; a hemisphere that one lacks may be its sign."""
    if not all(axis in groups for axis in axes):
        return False
    shapes = {tuple(part for part in join.parts if part in (Part.MINUTES, Part.SECONDS)) for join in groups.values()}
    return len(shapes) == 1


def groupings(known: list[Candidate]) -> Iterator[Groups]:
    """Yield each way in which the candidates make up a latitude and a longitude."""
    told: set[tuple[tuple[Axis, Join], ...]] = set()
    for cut in _cuts(known):
        groups: dict[Axis, Join] = {}
        for axis, members in cut.items():
            join = _join(members)
            if join is None:
                break
            groups[axis] = join
        else:
            key = tuple(sorted(groups.items()))
            if groups and key not in told:
                told.add(key)
                yield groups


def _cuts(known: list[Candidate]) -> Iterator[dict[Axis, list[Candidate]]]:
    """Yield the ways to give each candidate its axis: as named, else by where it stands among its neighbours."""
    if all(c.axis is not None for c in known):
        yield {axis: members for axis in Axis if (members := [c for c in known if c.axis is axis])}
        return
    for cut in range(len(known) + 1):
        for first, second in (tuple(Axis), tuple(reversed(Axis))):
            left, right = known[:cut], known[cut:]
            if all(c.axis in (None, first) for c in left) and all(c.axis in (None, second) for c in right):
                yield {axis: members for axis, members in ((first, left), (second, right)) if members}


def _join(members: Sequence[Candidate]) -> Join | None:
    """Return the candidates of one axis as a join, None where they make no coordinate."""
    taken: dict[Part, Candidate] = {}
    for c in members:
        part = c.part
        if part is None:
            has_degrees = Part.WHOLE in taken or c.said.is_odd
            part = next((p for p in NUMBERS if p not in taken and not (p is Part.DEGREES and has_degrees)), None)
        if part is None or part in taken:
            return None
        taken[part] = c
    mains = [c for part, c in taken.items() if part in (Part.WHOLE, Part.DEGREES)]
    if len(mains) != 1 or (Part.SECONDS in taken and Part.MINUTES not in taken):
        return None
    main = mains[0]
    numbers = [part for part in (Part.MINUTES, Part.SECONDS) if part in taken]
    if numbers and not (main.seen.is_number and main.seen.is_whole and main.seen.below_181):
        return None
    if not all(taken[part].seen.is_number and (taken[part].part or taken[part].seen.below_60) for part in numbers):
        return None
    if len(numbers) == 2 and not taken[Part.MINUTES].seen.is_whole:
        return None
    kinds = [
        Part.DEGREES if numbers else Part.WHOLE,
        *numbers,
        *([Part.HEMISPHERE] if Part.HEMISPHERE in taken else []),
    ]
    columns = [main.at, *(taken[part].at for part in kinds[1:])]
    sides = {c.said.side for c in taken.values() if c.said.side is not None}
    return Join(tuple(columns), tuple(kinds), None if Part.HEMISPHERE in taken else _side(sides, main.seen))


def _side(sides: set[str], seen: Cells) -> str | None:
    """Return the hemisphere that headers give to numbers without a sign, where it changes them: `Lon W`."""
    side = next(iter(sides)) if len(sides) == 1 else None
    return side if side is not None and side in "SWO" and not seen.has_minus and not seen.has_text else None


def ways_of_repeated(headers: Sequence[str], seen: Sequence[Cells], free: Sequence[int]) -> list[list[str]]:
    """Return the options that join columns of which several are called alike: `Lat`, `Lat`."""
    known, axes = [], set()
    for c in candidates(headers, seen, free):
        known.append(replace(c, part=None) if c.is_main and c.axis in axes else c)
        axes |= {c.axis} if c.is_main else set()
    return ways_to_join(headers, known)


def told_join(columns: Sequence[int], headers: Sequence[str], seen: Sequence[Cells], axis: Axis) -> Join:
    """Return the join of columns that a person named for one coordinate: letters by their cells, numbers in order."""
    said = [coordinate_header(headers[at]) or _NOTHING for at in columns]
    letters = [seen[at].letters or one.part is Part.HEMISPHERE for at, one in zip(columns, said, strict=True)]
    numbers = [at for at, is_letter in zip(columns, letters, strict=True) if not is_letter]
    hemispheres = [at for at, is_letter in zip(columns, letters, strict=True) if is_letter and len(columns) > 1]
    if len(columns) == 1:
        numbers = list(columns)
    if not 1 <= len(numbers) <= len(NUMBERS) or len(hemispheres) > 1:
        raise UsageError(
            "bad-join",
            f"{' + '.join(headers[at] for at in columns)} are not degrees, minutes, seconds and a hemisphere.",
            hint=f"Name up to three columns of numbers and one of letters: --column {FIELDS[axis]}='DEG+MIN+N/S'.",
        )
    if len(numbers) == 1:
        kinds: list[Part] = [Part.WHOLE]
    else:
        named = {coordinate_header(headers[at]): at for at in numbers}
        parts = [one.part for one in named if one is not None and one.part in NUMBERS]
        kinds = list(NUMBERS[: len(numbers)])
        if len(parts) == len(numbers) == len(set(parts)) and set(parts) == set(kinds):
            numbers = [next(at for one, at in named.items() if one is not None and one.part is part) for part in kinds]
    sides = {one.side for one in said if one.side is not None}
    side = None if hemispheres else _side(sides, seen[numbers[0]])
    return Join((*numbers, *hemispheres), (*kinds, *([Part.HEMISPHERE] * len(hemispheres))), side)


def label(headers: Sequence[str], at: int) -> str:
    """Return how a column is named in `--column`: its header, or its number where that is not its alone."""
    header = headers[at]
    is_own = (
        header.strip() == header != "" and headers.count(header) == 1 and "+" not in header and header.isprintable()
    )
    return header if is_own and not header.startswith("#") else f"#{at + 1}"


def labels(headers: Sequence[str], join: Join) -> str:
    """Return how the columns of a join are named in `--column`."""
    return "+".join(label(headers, at) for at in join.columns)


# Guesses from cells alone, for the line that a refusal offers. Nothing is read by a guess: a person sees the line, and
# pastes it where it is right.


def guess_ways(headers: Sequence[str], rows: Sequence[Sequence[str]], *, with_code: bool) -> list[list[str]]:
    """Return options that name neighbouring columns as the parts of a latitude and a longitude, the likeliest first.

    Only what tells itself: hemisphere letters, or minutes behind whole degrees. `with_code`: name the codes' too.
    """
    columns = [[row[at] for row in rows if at < len(row)] for at in range(len(headers))]
    seen = [look_at(cells) for cells in columns]
    code = next((at for at, cells in enumerate(columns) if _is_code(cells, seen[at])), None) if with_code else None
    for size in range(min(_WIDEST_GUESS, len(headers)), 1, -1):
        for start in range(len(headers) - size + 1):
            window = range(start, start + size)
            known = [one for at in window if (one := candidate(at, "", seen[at], is_odd=True)) is not None]
            if len(known) < size or code in window:
                continue
            found = [groups for groups in groupings(known) if _tells_itself(groups)]
            if found:
                own = [] if code is None else ["--column", f"code={label(headers, code)}"]
                return [[*own, *options(headers, groups)] for groups in found[:_MOST_GUESSES]]
    return []


def _is_code(cells: Sequence[str], seen: Cells) -> bool:
    texts = [cell.strip() for cell in cells]
    return seen.has_text and len(set(texts)) == len(texts) and not any(" " in text for text in texts)


def _tells_itself(groups: Groups) -> bool:
    parts = {axis: join.parts for axis, join in groups.items()}
    return len(parts) == 2 and len(set(parts.values())) == 1 and parts[Axis.LATITUDE] != (Part.WHOLE,)
