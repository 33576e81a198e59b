"""The declaration that a flight recorder's file holds: C records, read as the specification and its example write them.

IGC Technical Specification for GNSS Flight Recorders, Appendix A (text of 2008): 2.3, 3.6 and 3.6.5. The last
declaration before take-off counts (3.6, table); a file without fixes has no take-off, and its last one counts.
"""

from __future__ import annotations

import datetime
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import BinaryIO

from taskdb.core.geodesy import distance_m
from taskdb.core.model import E7, Position, Role, Zone
from taskdb.core.names import clean_text
from taskdb.errors import InputError
from taskdb.formats.tasks.reading import Problems, ReadPoint, TaskReading
from taskdb.formats.text.decode import decide_encoding, seekable

_HEADER = re.compile(r"C(\d{6})(\d{6})(\d{6})([0-9A-Z]{4})(\d\d)(.*)", re.IGNORECASE)
_POINT = re.compile(r"C(\d\d)(\d{5})([NS])(\d{3})(\d{5})([EW])(.*)", re.IGNORECASE)
# The prose of 3.6.3 prints an unknown position two digits longer than the table of fields.
_NOWHERE = re.compile(r"C0{7,8}[NS]0{8,9}[EW](.*)", re.IGNORECASE)
_AREA = re.compile(r"(\d{7})(\d{7})(\d{6})(\d{6})(.*)")
_KIND_FIRST = re.compile(
    r"(TAKE-?OFF|START|TURN|FINISH|LANDING|AREA)(?: +POINT)?(?: +AREA)?(?: +|$)(.*)", re.IGNORECASE
)
_KIND_LAST = re.compile(r"(.*?) *, *(TAKE-?OFF|START|TURN|FINISH|LANDING|TP *\d{0,2})(?: +AREA)?", re.IGNORECASE)
_DATE = re.compile(r"HF?DTE(?:DATE)?:? *(\d{6})")
_FIX = re.compile(r"B(\d\d)(\d\d)(\d\d)(\d\d)(\d{5})([NS])(\d{3})(\d{5})([EW])([AV])")

FLYING_M_S, FLYING_FOR_S = 15.0, 20.0
"""It flies once it moved on average this fast for this long (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class _Declaration:
    """The lines of one declaration, with their numbers in the file; the first is its header."""

    lines: tuple[tuple[int, str], ...]

    @property
    def declared_at(self) -> datetime.datetime | None:
        match = _HEADER.fullmatch(self.lines[0][1])
        return None if match is None else _moment(match[1], match[2])


def read_igc_tasks(stream: BinaryIO) -> tuple[TaskReading, ...]:
    """Return the declaration that counts in a recorder's file. InputError where there is none."""
    stream = seekable(stream)
    codec, _ = decide_encoding(stream, None)
    lines = [(n, line.rstrip()) for n, line in enumerate(stream.read().decode(codec).splitlines(), start=1)]
    found = list(_declarations(lines))
    if not found:
        raise InputError(
            "no-tasks", "The file declares no task: it has no C records.", hint="Give the file of a declared flight."
        )
    counting, notes = _that_counts(found, lines)
    return (_read(counting, notes),)


def _declarations(lines: Sequence[tuple[int, str]]) -> Iterator[_Declaration]:
    gathered: list[tuple[int, str]] = []
    for number, line in lines:
        if line[:1].upper() != "C":
            continue
        if _HEADER.fullmatch(line) and gathered:
            yield _Declaration(tuple(gathered))
            gathered = []
        gathered.append((number, line))
    if gathered:
        yield _Declaration(tuple(gathered))


def _that_counts(found: Sequence[_Declaration], lines: Sequence[tuple[int, str]]) -> tuple[_Declaration, list[str]]:
    """Return the last declaration before take-off, by the time that it bears, else by its place in the file."""
    if len(found) == 1:
        return found[0], []
    take_off = _take_off(lines)
    before = [d for d in found if take_off is None or d.declared_at is None or d.declared_at <= take_off]
    if not before:
        raise InputError(
            "declared-too-late",
            f"The file's {len(found)} declarations are all later than its take-off.",
            hint="None of them counts; make the task by hand.",
        )
    numbered = list(enumerate(before))
    early = datetime.datetime.min.replace(tzinfo=datetime.UTC)
    _, counting = max(numbered, key=lambda item: (item[1].declared_at or early, item[0]))
    when = "" if counting.declared_at is None else f", of {counting.declared_at:%Y-%m-%d %H:%M:%S} UTC"
    said = f"of {len(found)} declarations the last before take-off{when}"
    return counting, [said if take_off is not None else f"{said}; the file has no fixes that tell the take-off"]


def _moment(day: str, clock: str) -> datetime.datetime | None:
    """Return the UTC moment of DDMMYY and HHMMSS; None for what is no moment, such as zeros."""
    try:
        parsed = datetime.datetime.strptime(day + clock, "%d%m%y%H%M%S")
    except ValueError:
        return None
    return parsed.replace(tzinfo=datetime.UTC)


def _take_off(lines: Sequence[tuple[int, str]]) -> datetime.datetime | None:
    """Return when the file's flight began to move like one; None without a date or such fixes."""
    date = next((match[1] for _, line in lines if (match := _DATE.match(line))), None)
    midnight = None if date is None else _moment(date, "000000")
    if midnight is None:
        return None
    fixes = list(_fixes(lines))
    behind = 0
    for i, (second, position) in enumerate(fixes):
        while behind < len(fixes) and fixes[behind][0] < second + FLYING_FOR_S:
            behind += 1
        if behind == len(fixes):
            return None
        later, there = fixes[behind]
        if distance_m(position, there) >= FLYING_M_S * (later - second) and behind > i:
            return midnight + datetime.timedelta(seconds=second)
    return None


def _fixes(lines: Sequence[tuple[int, str]]) -> Iterator[tuple[float, Position]]:
    """Yield seconds since the file's midnight and positions, running on over the next midnight."""
    days, last = 0, 0
    for _, line in lines:
        match = _FIX.match(line)
        if match is None or int(match[5]) >= 60_000 or int(match[8]) >= 60_000:
            continue
        second = int(match[1]) * 3600 + int(match[2]) * 60 + int(match[3])
        days += second < last - 43_200
        last = second
        position = _position(match[4], match[5], match[6], match[7], match[8], match[9])
        if position is not None:
            yield days * 86_400.0 + second, position


def _position(lat_d: str, lat_m: str, north: str, lon_d: str, lon_m: str, east: str) -> Position | None:
    """Return the position of degrees and thousandths of minutes; None beyond what there is."""
    latitude = _e7(lat_d, lat_m, north in "Ss", 90)
    longitude = _e7(lon_d, lon_m, east in "Ww", 180)
    return None if latitude is None or longitude is None else Position.at(latitude / E7, longitude / E7)


def _e7(degrees: str, thousandths: str, is_negative: bool, limit: int) -> int | None:
    minutes = int(thousandths)
    e7 = int(degrees) * E7 + (minutes * 1000 + 3) // 6
    return None if minutes >= 60_000 or e7 > limit * E7 else -e7 if is_negative else e7


def _read(declaration: _Declaration, notes: Sequence[str]) -> TaskReading:
    problems = Problems()
    (first, text), *rest = declaration.lines
    header = _HEADER.fullmatch(text)
    turns, name, flight_date = None, "", None
    if header is None:
        problems.tell(first, None, text, "no-header", "a declaration begins with a line of dates, number and count")
        rest = list(declaration.lines)
    else:
        turns, name = int(header[5]), clean_text(header[6])
        flight = _moment(header[3], "000000")
        flight_date = None if flight is None else flight.date().isoformat()
    places = [_place(problems, number, line) for number, line in rest]
    if turns is not None and len(places) != turns + 4:
        message = f"{turns} turn points make {turns + 4} lines, take-off to landing; {len(places)} follow"
        problems.tell(first, "count", str(turns), "count-differs", message)
    for number, line in rest[1:-1]:
        if _NOWHERE.fullmatch(line):
            problems.tell(number, "position", line, "missing-value", "only take-off and landing may be unknown")
    declared = declaration.declared_at
    return TaskReading(
        format="igc",
        name=name,
        points=tuple(point for point in places[1:-1] if point is not None),
        take_off=places[0] if places else None,
        landing=places[-1] if len(places) > 1 else None,
        declared_at=None if declared is None else declared.strftime("%Y-%m-%dT%H:%M:%SZ"),
        flight_date=flight_date,
        problems=problems.sorted(),
        notes=tuple(notes),
    )


def _place(problems: Problems, number: int, line: str) -> ReadPoint | None:
    """Return the place of a line; None for one that is not known (all zeros) or cannot be read, which is told."""
    if _NOWHERE.fullmatch(line):
        return None
    match = _POINT.fullmatch(line)
    if match is None:
        problems.tell(number, None, line, "bad-point", "it is no point such as C5110179N00102644WSTART NAME")
        return None
    position = _position(match[1], match[2], match[3], match[4], match[5], match[6])
    if position is None:
        problems.tell(number, "position", line[1:18], "out-of-range", "minutes are below 60, degrees within 90 and 180")
        return None
    zone, rest = _area(problems, number, match[7])
    role, name = _named(rest)
    return ReadPoint(number, "", name, position, zone=zone, role=Role.AREA if zone is not None else role)


def _area(problems: Problems, number: int, text: str) -> tuple[Zone | None, str]:
    """Return the area that follows a position (3.6.5) and the text behind it; None where none does."""
    match = _AREA.fullmatch(text)
    if match is None:
        return None, text
    inner, outer = (_short(match[i], "km") for i in (1, 2))
    first, second = (_short(match[i], "") for i in (3, 4))
    size = f"area {outer}" if inner == "0km" else f"area {inner}..{outer}"
    is_full = (int(match[4]) - int(match[3])) % 360_000 == 0
    return problems.zone(number, size if is_full else f"area {inner}..{outer} {first}..{second}"), match[5]


def _short(digits: str, unit: str) -> str:
    """Return a number of three decimals without needless ones: `0012500` → `12.5km`."""
    value = Decimal(int(digits)) / 1000
    return f"{value.normalize():f}{unit}"


def _named(text: str) -> tuple[Role | None, str]:
    """Return the role and the name of a point from its text, whose kind stands before or behind the name."""
    text = text.strip()
    first = _KIND_FIRST.fullmatch(text)
    if first is not None:
        return _role(first[1]), clean_text(first[2])
    last = _KIND_LAST.fullmatch(text)
    if last is not None:
        return _role(last[2]), clean_text(last[1])
    return None, clean_text(text)


def _role(word: str) -> Role | None:
    return {"S": Role.START, "F": Role.FINISH}.get(word[0].upper(), Role.TURN if word[:1] in "Tt" else None)
