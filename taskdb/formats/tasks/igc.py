"""A task as the declaration in a flight recorder's file: C records, as the specification and its example have them.

IGC Technical Specification for GNSS Flight Recorders, Appendix A (text of 2008): 2.1 lines and letters, 2.3 order of
records, 3.6 the C record, 3.6.5 areas. Of several declarations the last before take-off counts (3.6, table); a file
without fixes has no take-off, and its last one counts. Written are C records with the lines before them that make them
readable, and no fixes: the file declares a task and proves no flight.
"""

from __future__ import annotations

import datetime
import io
import re
import unicodedata
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import BinaryIO

from taskdb.core.model import Place, Position, Role, Shape, Task, TaskPoint, Zone
from taskdb.core.names import clean_text, fold
from taskdb.core.notation import Axis, Notation, format_angle
from taskdb.errors import InputError, RefusedError
from taskdb.formats.exported import ExportedTask, place_label
from taskdb.formats.limits import MOST_TASK_POINTS, too_large
from taskdb.formats.recorder.records import moment, moment_at, position_of
from taskdb.formats.tasks.reading import Problems, ReadPoint, TaskReading
from taskdb.formats.tasks.values import LOST_CHOICE
from taskdb.formats.text.decode import decide_encoding

_HEADER = re.compile(r"C(\d{6})(\d{6})(\d{6})([0-9A-Z]{4})(\d\d)(.*)", re.IGNORECASE)
_POINT = re.compile(r"C(\d\d)(\d{5})([NS])(\d{3})(\d{5})([EW])(.*)", re.IGNORECASE)
# The prose of 3.6.3 prints an unknown position two digits longer than the table of fields.
_NOWHERE = re.compile(r"C0{7,8}[NS]0{8,9}[EW](.*)", re.IGNORECASE)
_AREA = re.compile(r"(\d{7})(\d{7})(\d{6})(\d{6})(.*)")
_KIND_FIRST = re.compile(
    r"(TAKE-?OFF|START|TURN|FINISH|LANDING|AREA)(?: +POINT)?(?: +AREA)?(?: +|$)(.*)", re.IGNORECASE
)
_KIND_LAST = re.compile(r"(.*?) *, *(TAKE-?OFF|START|TURN|FINISH|LANDING|TP *\d{0,2})(?: +AREA)?", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class _Declaration:
    """The lines of one declaration, with their numbers in the file; the first is its header."""

    lines: tuple[tuple[int, str], ...]

    @property
    def declared_at(self) -> datetime.datetime | None:
        match = _HEADER.fullmatch(self.lines[0][1])
        return None if match is None else moment(match[1], match[2])


def read_igc_tasks(stream: BinaryIO) -> tuple[TaskReading, ...]:
    """Return the declaration that counts in a recorder's file. InputError where there is none."""
    codec, _ = decide_encoding(stream, None)
    found = list(_declarations(_declaring_lines(stream, codec)))
    if not found:
        raise InputError(
            "no-tasks", "The file declares no task: it has no C records.", hint="Give the file of a declared flight."
        )
    counting, notes = _that_counts(found, lambda: _take_off(stream))
    return (_read(counting, notes),)


def _declaring_lines(stream: BinaryIO, codec: str) -> list[tuple[int, str]]:
    """Return the C records of a file with their line numbers; the rest of it, mostly fixes, is not held."""
    text = io.TextIOWrapper(stream, codec)
    found = []
    try:
        for number, line in enumerate(text, start=1):
            if line[0] in "Cc":
                found.append((number, line.rstrip()))
                if len(found) > MOST_TASK_POINTS:
                    told = f"has more than {MOST_TASK_POINTS:,} lines of declarations"
                    raise too_large(told, "Give the file of a declared flight.", "too-many-points")
    finally:
        text.detach()
    return found


def declared_positions(lines: Sequence[tuple[int, str]], take_off: datetime.datetime | None) -> tuple[Position, ...]:
    """Return where start, turns and finish of the declaration that counts are, from the numbered lines of a file.

    Empty where none counts or can be read: whoever asks takes it as a hint.
    """
    found = list(_declarations(lines))
    if not found:
        return ()
    try:
        reading = _read(_that_counts(found, lambda: take_off)[0], ())
    except InputError:
        return ()
    return () if reading.problems else tuple(point.position for point in reading.points)


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


def _that_counts(
    found: Sequence[_Declaration], when: Callable[[], datetime.datetime | None]
) -> tuple[_Declaration, list[str]]:
    """Return the last declaration before take-off, by the time that it bears, else by its place in the file.

    `when` says when it took off, None where that is not known; of one declaration it is not asked.
    """
    if len(found) == 1:
        return found[0], []
    take_off = when()
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
    of = "" if counting.declared_at is None else f", of {counting.declared_at:%Y-%m-%d %H:%M:%S} UTC"
    said = f"of {len(found)} declarations the last before take-off{of}"
    return counting, [said if take_off is not None else f"{said}; the file has no fixes that tell the take-off"]


def _take_off(stream: BinaryIO) -> datetime.datetime | None:
    """Return when the file's flight began to move like one; None without a date or such fixes."""
    # Numpy comes with the fixes: a file with one declaration does without it.
    from taskdb.core.flights.airborne import Motion
    from taskdb.core.flights.fixes import counting
    from taskdb.formats.recorder.fixes import fixes_of
    from taskdb.formats.recorder.lines import Lines, date_of

    stream.seek(0)
    lines = Lines.of(stream.read())
    date = date_of(lines)
    track, _ = counting(fixes_of(lines)[0])
    span = Motion.of(track).flown
    return None if date is None or span is None else moment_at(date, float(track.time_s[span[0]]))


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
        flight = moment(header[3], "000000")
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
    position = position_of(match[1], match[2], match[3], match[4], match[5], match[6])
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


# Writing


LONGEST_LINE = 76
_RESERVED = re.compile(r"[^\x20-\x7e]|[$*!\\^~]")
# An unregistered maker bears the code XXX (from memory).
_MAKER = "AXXX001 taskdb, declaration only"
_UNKNOWN = "0000000N00000000E"
_MOST_TURNS = 99

LOST_WHOLE = "what belongs to the task as a whole but its name; elevations; where code and name part"
LOST_ZONES = "observation zones other than areas"
LOST_DECIMALS = "positions beyond 0.001 minute, about 1 m"
LOST_LETTERS = "letters other than plain ones, and what is behind the 76th of a line"


def write_igc_task(stream: BinaryIO, exported: ExportedTask) -> tuple[str, ...]:
    """Write a task as a declaration (CRLF, at most 76 letters a line) and return what the format could not hold.

    The time of declaration is that of the task's revision; the flight date is 000000 where it is not known. Raises
    RefusedError for a task without a start and a finish or of more than 99 turn points.
    """
    task = exported.task
    turns = len(task.points) - 2
    if not 0 <= turns <= _MOST_TURNS:
        raise RefusedError(
            "undeclarable",
            f"{task.name!r} has {len(task.points)} points; a declaration has 2 to {_MOST_TURNS + 2}.",
            hint="Hand this task out without igc.",
        )
    day, clock = _day_and_time(exported.created_at)
    flight = _day(exported.flight_date)
    # The specification's own example parts the text from the count by a blank.
    name = f"{task.name}, {exported.mark}" if exported.mark else task.name
    lines = [f"C{day}{clock}{flight}0001{turns:02d} {_text(name)}", _place_line("TAKEOFF", task.take_off)]
    for number, point in enumerate(task.points):
        kind = "START" if number == 0 else "FINISH" if number == turns + 1 else "TURN"
        lines.append(_point_line(kind, point))
    lines.append(_place_line("LANDING", task.landing))
    whole = [_MAKER, f"HFDTE{flight if flight != '000000' else day}", *lines]
    stream.write("".join(f"{line[:LONGEST_LINE].rstrip()}\r\n" for line in whole).encode("ascii"))
    return _lost(task, lines)


def _lost(task: Task, lines: list[str]) -> tuple[str, ...]:
    places = [place for place in (*(p.place for p in task.points), task.take_off, task.landing) if place is not None]
    texts = [task.name, *(place_label(place) for place in places)]
    is_plain = all(_text(text) == text for text in texts) and all(len(line) <= LONGEST_LINE for line in lines)
    is_whole = all(_is_whole(place.position) for place in places)
    found = (
        (LOST_WHOLE, True),
        (LOST_CHOICE, task.free is not None),
        (LOST_ZONES, True),
        (LOST_DECIMALS, not is_whole),
        (LOST_LETTERS, not is_plain),
    )
    return tuple(text for text, is_lost in found if is_lost)


def _is_whole(position: Position) -> bool:
    """Say whether a position is one of whole thousandths of a minute, as kept: rounded to 1e-7°."""
    e7s = (position.latitude_e7, position.longitude_e7)
    return all(e7 == round(round(e7 * 6 / 1000) * 1000 / 6) for e7 in e7s)


def _day(iso: str | None) -> str:
    """Return DDMMYY for an ISO date, 000000 where it is not known."""
    match = re.match(r"\d\d(\d\d)-(\d\d)-(\d\d)", iso or "")
    return f"{match[3]}{match[2]}{match[1]}" if match else "000000"


def _day_and_time(iso: str | None) -> tuple[str, str]:
    clock = re.search(r"T(\d\d):(\d\d):(\d\d)", iso or "")
    return _day(iso), f"{clock[1]}{clock[2]}{clock[3]}" if clock else "000000"


def _text(text: str) -> str:
    """Return text in the letters that the format has: accents are converted (2.1), reserved letters become blanks."""
    letters = []
    for letter in text:
        plain = letter if letter.isascii() else unicodedata.normalize("NFKD", letter).encode("ascii", "ignore").decode()
        letters.append(plain or fold(letter) or " ")
    return " ".join(_RESERVED.sub(" ", "".join(letters)).split())


def _digits(position: Position) -> str:
    """Return `DDMMmmmN DDDMMmmmE` without the blank: degrees, minutes and three decimals (2.4)."""
    halves = zip((position.latitude_e7, position.longitude_e7), Axis, strict=True)
    return "".join(format_angle(e7, axis, Notation.PACKED_MINUTES, 3).replace(".", "") for e7, axis in halves)


def _place_line(kind: str, place: Place | None) -> str:
    if place is None:
        return f"C{_UNKNOWN}{kind}"
    return f"C{_digits(place.position)}{kind} {_text(place_label(place))}"


def _point_line(kind: str, point: TaskPoint) -> str:
    area = _area_digits(point) if kind == "TURN" else ""
    word = f"{kind} AREA" if area else kind
    return f"C{_digits(point.place.position)}{area}{word} {_text(place_label(point.place))}"


def _area_digits(point: TaskPoint) -> str:
    """Return least and greatest distance (km) and two bearings, clockwise, each with three decimals (3.6.5).

    A cylinder in which the pilot may turn anywhere is such an area too; empty for every other zone.
    """
    zone = point.zone
    if zone.shape is not Shape.AREA and not (zone.shape is Shape.CYLINDER and point.role is Role.AREA):
        return ""
    first, second = zone.from_radial_deg, zone.to_radial_deg
    if first is None or second is None or first == second:
        first, second = 0.0, 360.0
    lengths = (zone.inner_radius_m or 0.0, zone.radius_m or 0.0)
    distances = "".join(f"{round(length):07d}" for length in lengths)
    return distances + "".join(f"{round(bearing * 1000):06d}" for bearing in (first, second))
