"""A task as the declaration of a flight recorder's file: C records, with the lines before them that make it readable.

IGC Technical Specification for GNSS Flight Recorders, Appendix A (text of 2008): 2.1 lines and letters, 2.3 order of
records, 3.6 the C record, 3.6.5 areas. No fixes: the file declares a task and proves no flight.
"""

from __future__ import annotations

import re
import unicodedata
from typing import BinaryIO

from taskdb.core.model import Place, Position, Role, Shape, Task, TaskPoint
from taskdb.core.names import fold
from taskdb.core.notation import Axis, Notation, format_angle
from taskdb.errors import RefusedError
from taskdb.formats.exported import ExportedTask, place_label

LONGEST_LINE = 76
_RESERVED = re.compile(r"[^\x20-\x7e]|[$*!\\^~]")
# An unregistered maker bears the code XXX (from memory).
_MAKER = "AXXX001 taskdb, declaration only"
_NOWHERE = "0000000N00000000E"
_MOST_TURNS = 99

LOST_WHOLE = "what belongs to the task as a whole but its name; elevations; where code and name part"
LOST_FREE = "what is left to the pilot: how many points from where, and their zone"
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
    day, clock = _moment(exported.created_at)
    flight = _day(exported.flight_date)
    # The specification's own example parts the text from the count by a blank.
    name = f"{task.name}, {exported.mark}" if exported.mark else task.name
    lines = [f"C{day}{clock}{flight}0001{turns:02d} {_text(name)}", _place("TAKEOFF", task.take_off)]
    for number, point in enumerate(task.points):
        kind = "START" if number == 0 else "FINISH" if number == turns + 1 else "TURN"
        lines.append(_point(kind, point))
    lines.append(_place("LANDING", task.landing))
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
        (LOST_FREE, task.free is not None),
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


def _moment(iso: str | None) -> tuple[str, str]:
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


def _place(kind: str, place: Place | None) -> str:
    if place is None:
        return f"C{_NOWHERE}{kind}"
    return f"C{_digits(place.position)}{kind} {_text(place_label(place))}"


def _point(kind: str, point: TaskPoint) -> str:
    area = _area(point) if kind == "TURN" else ""
    word = f"{kind} AREA" if area else kind
    return f"C{_digits(point.place.position)}{area}{word} {_text(place_label(point.place))}"


def _area(point: TaskPoint) -> str:
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
