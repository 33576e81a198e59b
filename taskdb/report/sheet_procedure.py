"""What the sheet says of start and finish procedure, limits of the day and the contest's channels.

Sentences for people from the contest's settings; what is not set is not said, since the published rules hold.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from taskdb.core.contest_settings import BY_KEY, FREQUENCIES, value_of
from taskdb.core.model import Contest, ContestDay, Role, Task
from taskdb.core.quantities import FOOT_M, format_duration
from taskdb.report.lettering import shown

_HEIGHT_REFERENCES = {"MSL": "above mean sea level", "AGL": "above the site", "FL": "above standard pressure"}
_KNOT_KMH = 1.852
_MILE_KMH = 1.609344


def procedure_sentences(task: Task, contest: Contest | None, day: ContestDay | None) -> tuple[tuple[str, str], ...]:
    """Return (`Start`, sentence) and (`Finish`, sentence), and what else is by hand; only what is set."""
    if contest is None:
        return ()
    said = [("Start", _start(contest, day)), ("Finish", _finish(contest)), ("Areas", _areas(task, contest))]
    return tuple((what, sentence) for what, sentence in said if sentence)


def _start(contest: Contest, day: ContestDay | None) -> str:
    zone = f" ({shown(contest.timezone, 40)})" if contest.timezone else ""
    parts = []
    opens = day.start_opens if day is not None else None
    closes = contest.settings.get("start_closes")
    if opens and closes:
        parts.append(f"from {shown(opens, 8)} to {shown(str(closes), 10)}{zone}")
    elif opens or closes:
        parts.append(f"opens {shown(opens, 8)}{zone}" if opens else f"closes {shown(str(closes), 10)}{zone}")
    height, speed = contest.settings.get("start_height"), contest.settings.get("start_speed_kmh")
    if isinstance(height, Mapping):
        parts.append(f"below {height_words(height)}")
    if isinstance(speed, int | float):
        parts.append(f"not faster than {_speed(speed, contest)}")
    if contest.settings.get("event_start"):
        wait, window, most = (value_of(contest, BY_KEY[key])[0] for key in _EVENT)
        parts.append(
            f"by pilot event: {_minutes(wait)} after it the start is open for {_minutes(window)}, at most {most} events"
        )
    return f"{'; '.join(parts)}." if parts else ""


def _minutes(seconds: float) -> str:
    return f"{seconds / 60:g} min" if seconds < 3600 else format_duration(seconds)


_EVENT = ("event_wait_s", "event_window_s", "event_most")


def _finish(contest: Contest) -> str:
    height = contest.settings.get("finish_height")
    return f"above {height_words(height)}." if isinstance(height, Mapping) else ""


def _areas(task: Task, contest: Contest) -> str:
    if not contest.settings.get("areas_by_hand") or all(point.role is not Role.AREA for point in task.points):
        return ""
    return "passed on by hand: the instrument must not go on to the next by itself."


def height_words(height: Mapping[str, Any]) -> str:
    """Return a height as it was typed with what it is above, and in the other unit: `1500 m MSL (4921 ft)`."""
    metres = float(height.get("m") or 0.0)
    text, reference = shown(str(height.get("text") or f"{metres:.0f} m"), 20), str(height.get("reference") or "")
    words = text if reference and reference in text.upper() else f"{text} {_HEIGHT_REFERENCES.get(reference, '')}"
    other = f"{metres:.0f} m" if "ft" in text.lower() or reference == "FL" else f"{metres / FOOT_M:.0f} ft"
    return f"{words.strip()} ({other})"


def _speed(kmh: float, contest: Contest) -> str:
    unit = contest.settings.get("units_speed")
    if unit == "kt":
        return f"{kmh / _KNOT_KMH:.0f} kt ({kmh:.0f} km/h)"
    if unit == "mph":
        return f"{kmh / _MILE_KMH:.0f} mph ({kmh:.0f} km/h)"
    return f"{kmh:.0f} km/h"


def channels(contest: Contest | None) -> tuple[tuple[str, str], ...]:
    """Return the contest's channels by what they are for, in the order in which they were given."""
    found = contest.settings.get(FREQUENCIES) if contest is not None else None
    if not isinstance(found, Mapping):
        return ()
    return tuple((shown(str(purpose), 30), shown(str(channel), 14)) for purpose, channel in found.items())
