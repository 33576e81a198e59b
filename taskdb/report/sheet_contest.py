"""What the sheet says of what the contest has set for the task: procedure, limits, channels, programme, remarks.

Sentences for people from what holds for the task's class on its day, texts as they were typed and cleaned for display;
what is not set is not said, since the published rules hold.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from taskdb.core.contests.scopes import Holding
from taskdb.core.contests.setting_kinds import LONGEST_PHONE, LONGEST_ROW
from taskdb.core.contests.settings import BY_KEY
from taskdb.core.model import Role, Task
from taskdb.core.quantities import (
    FOOT_M,
    NAUTICAL_MILE_M,
    STATUTE_MILE_M,
    Units,
    format_distance,
    format_duration,
)
from taskdb.report.lettering import shown

_HEIGHT_REFERENCES = {"MSL": "above mean sea level", "AGL": "above the site", "FL": "above standard pressure"}
_TIMED = re.compile(r"(\d{2}:\d{2})(?:\s+(.*))?", re.ASCII | re.DOTALL)


def procedure_sentences(
    task: Task, holding: Holding, timezone: str | None = None, opens: str | None = None
) -> tuple[tuple[str, str], ...]:
    """Return (`Start`, sentence), (`Finish`, …), (`Landing`, …) and what else holds for the task; only what is set.

    `opens` is when the start opens where that is given for this once.
    """
    zone = f" ({shown(timezone, 40)})" if timezone else ""
    said = [
        ("Start", _start(holding, zone, opens or holding.get("start_opens"))),
        ("Finish", _finish(holding, zone)),
        ("Landing", _text(holding, "landing_procedure")),
        ("Areas", _areas(task, holding)),
        ("Limits", _limits(holding)),
    ]
    return tuple((what, sentence) for what, sentence in said if sentence)


def _text(holding: Holding, key: str) -> str:
    """Return what somebody typed, with a full stop at its end."""
    text = holding.get(key)
    words = shown(str(text), BY_KEY[key].most) if text else ""
    return words if not words or words[-1] in ".!?…" else f"{words}."


def _start(holding: Holding, zone: str, opens: str | None) -> str:
    parts = []
    closes = holding.get("start_closes")
    if opens and closes:
        parts.append(f"from {shown(opens, 8)} to {shown(str(closes), 10)}{zone}")
    elif opens or closes:
        parts.append(f"opens {shown(opens, 8)}{zone}" if opens else f"closes {shown(str(closes), 10)}{zone}")
    height, speed = holding.get("start_height"), holding.get("start_speed_kmh")
    if isinstance(height, Mapping):
        parts.append(f"below {height_words(height)}")
    if isinstance(speed, int | float):
        parts.append(f"not faster than {_speed(speed, holding)}")
    if holding.get("event_start"):
        wait, window, most = (holding.get(key) for key in _EVENT)
        parts.append(
            f"by pilot event: {_minutes(wait)} after it the start is open for {_minutes(window)}, at most {most} events"
        )
    return f"{'; '.join(parts)}." if parts else ""


def _minutes(seconds: float) -> str:
    return f"{seconds / 60:g} min" if seconds < 3600 else format_duration(seconds)


_EVENT = ("event_wait_s", "event_window_s", "event_most")


def _finish(holding: Holding, zone: str) -> str:
    parts = []
    closes, height = holding.get("finish_closes"), holding.get("finish_height")
    if closes:
        parts.append(f"closes {shown(str(closes), 10)}{zone}")
    if isinstance(height, Mapping):
        parts.append(f"above {height_words(height)}")
    figures = f"{'; '.join(parts)}." if parts else ""
    return " ".join(part for part in (figures, _text(holding, "finish_procedure")) if part)


def _areas(task: Task, holding: Holding) -> str:
    if not holding.get("areas_by_hand") or all(point.role is not Role.AREA for point in task.points):
        return ""
    return "passed on by hand: the instrument must not go on to the next by itself."


def _limits(holding: Holding) -> str:
    """Return the minimum distance and how long a task may last."""
    parts = []
    least = holding.get("minimum_distance_m")
    if isinstance(least, int | float):
        unit = holding.get("units_distance")
        parts.append(f"minimum distance {format_distance(least, Units(unit) if unit in set(Units) else Units.KM)}")
    shortest, longest = holding.get("shortest_task_s"), holding.get("longest_task_s")
    if shortest and longest:
        parts.append(f"a task lasts {format_duration(shortest)} to {format_duration(longest)}")
    elif shortest or longest:
        parts.append(f"a task lasts at {'least' if shortest else 'most'} {format_duration(shortest or longest)}")
    return f"{'; '.join(parts)}." if parts else ""


def height_words(height: Mapping[str, Any]) -> str:
    """Return a height as it was typed with what it is above, and in the other unit: `1500 m MSL (4921 ft)`."""
    metres = float(height.get("m") or 0.0)
    text, reference = shown(str(height.get("text") or f"{metres:.0f} m"), 20), str(height.get("reference") or "")
    words = text if reference and reference in text.upper() else f"{text} {_HEIGHT_REFERENCES.get(reference, '')}"
    other = f"{metres:.0f} m" if "ft" in text.lower() or reference == "FL" else f"{metres / FOOT_M:.0f} ft"
    return f"{words.strip()} ({other})"


def _speed(kmh: float, holding: Holding) -> str:
    unit = holding.get("units_speed")
    other_m = {"kt": NAUTICAL_MILE_M, "mph": STATUTE_MILE_M}.get(str(unit))
    return f"{kmh:.0f} km/h" if other_m is None else f"{kmh / (other_m / 1000):.0f} {unit} ({kmh:.0f} km/h)"


def channels(holding: Holding) -> tuple[tuple[str, str], ...]:
    """Return the channels by what they are for, in the order in which they were given."""
    return tuple((shown(str(purpose), 30), shown(str(channel), 14)) for purpose, channel in holding.channels.items())


def programme_rows(holding: Holding) -> tuple[tuple[str, str], ...]:
    """Return (time, what) in order of time: briefing, grid and the rows of the programme; the time may be empty.

    A row without a time stays behind the row that it was given after.
    """
    rows = [(str(holding.get(key)), what) for key, what in _TIMES if holding.get(key)]
    for row in holding.get("programme") or ():
        timed = _TIMED.fullmatch(str(row))
        rows.append(("", str(row)) if timed is None else (timed[1], timed[2] or ""))
    ordered, last = [], ""
    for time, what in rows:
        last = time or last
        ordered.append((last, (time, shown(what, LONGEST_ROW) if what else "")))
    return tuple(row for _, row in sorted(ordered, key=lambda entry: entry[0]))


_TIMES = (("briefing_at", "briefing"), ("grid_at", "grid"))


def outlanding_phone(holding: Holding) -> str | None:
    """Return the telephone of the outlanding desk as it was typed, or None."""
    phone = holding.get("outlanding_phone")
    return shown(str(phone), LONGEST_PHONE) if phone else None


def remarks(holding: Holding) -> str | None:
    """Return what else pilots are to know, or None."""
    said = holding.get("remarks")
    return shown(str(said), BY_KEY["remarks"].most) if said else None


def programme_letters(rows: tuple[tuple[str, str], ...]) -> int:
    """Return how many letters the programme takes in one line."""
    return sum(len(time) + len(what) + 5 for time, what in rows)
