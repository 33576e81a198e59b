"""What belongs to a task as a whole, by name: written into every format that has a place for it, and read back.

The names are those of the task's JSON. Single values are texts; take-off, landing, free choice and tags are not.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from taskdb.core.course.free import free_words
from taskdb.core.model import FreeChoice, Rules, TaskType, ZoneFrom
from taskdb.core.quantities import format_distance, format_duration
from taskdb.formats.exported import ExportedTask
from taskdb.formats.tasks.reading import Problems

LOST_FREE = "where the points lie that are left to the pilot: hand out the points too"
"""A task's own files bring its assigned points; of the free ones they say codes or set, how many, and the zone."""
LOST_CHOICE = "what is left to the pilot: how many points from where, and their zone"
"""Of a format that has nothing of a free choice."""
LOST_LIMITS = "the contest's limits of triangles and closed courses"


def describe(exported: ExportedTask) -> str:
    """Return a task in one line: mark, type, distance, time, set, revision, fingerprint, what is left to the pilot."""
    task, distances = exported.task, exported.course.distances
    words = [*([exported.mark.upper()] if exported.mark else []), task.type.value.replace("-", " ")]
    if distances.minimum_m is not None and distances.maximum_m is not None and distances.minimum_m != distances.task_m:
        words.append(f"{format_distance(distances.minimum_m)} to {format_distance(distances.maximum_m)}")
    else:
        words.append(format_distance(distances.task_m))
    if task.time_s is not None:
        words.append(format_duration(task.time_s))
    words.append(f"revision {exported.revision} on {task.set_name}@{task.set_revision}")
    words.append(f"fingerprint {exported.fingerprint}")
    line = ", ".join(words)
    return line if task.free is None else f"{line}. {free_words(task.free)}"


def whole_values(exported: ExportedTask) -> dict[str, str | int | float | None]:
    """Return the single values of a task, in a fixed order; None where there is none."""
    task = exported.task
    return {
        "revision": exported.revision,
        "type": task.type.value,
        "set": f"{task.set_name}@{task.set_revision}",
        "fingerprint": exported.fingerprint,
        "contest": task.contest,
        "day": task.day,
        "class": task.class_name,
        "variant": task.variant,
        "status": task.status.value,
        "time_s": task.time_s,
        "speed_kmh": task.speed_kmh,
        "earth": task.rules.earth.value,
        "start_deduction": task.rules.start_deduction.value,
        "finish_deduction": task.rules.finish_deduction.value,
    }


def whole_texts(exported: ExportedTask) -> dict[str, str | None]:
    """Return the single values of a task as texts that read back; None where there is none."""
    return {name: None if value is None else str(value) for name, value in whole_values(exported).items()}


def limits_lost(exported: ExportedTask) -> tuple[str, ...]:
    """Return what no format holds of a task: limits that are not the usual ones."""
    rules, usual = exported.task.rules, Rules()
    same = rules.triangle == usual.triangle and rules.closed_within_m == usual.closed_within_m
    return () if same else (LOST_LIMITS,)


def free_lost(exported: ExportedTask) -> tuple[str, ...]:
    """Return what no file of a single task holds of a modified one."""
    return () if exported.task.free is None else (LOST_FREE,)


def read_whole(problems: Problems, line: int, texts: Mapping[str, str]) -> dict[str, Any]:
    """Return the fields of a `TaskReading` that texts by name say; what is not there stays None."""
    said = {name: text for name, text in texts.items() if name in _NAMES and text}
    return {
        "type": problems.choice(line, "type", said.pop("type", ""), TaskType),
        "time_s": problems.whole(line, "time_s", said.pop("time_s", "")),
        "speed_kmh": problems.decimal(line, "speed_kmh", said.pop("speed_kmh", "")),
        "said": said,
    }


_NAMES = (
    "revision", "type", "set", "fingerprint", "contest", "day", "class", "variant", "status", "time_s", "speed_kmh",
    "earth", "start_deduction", "finish_deduction",
)  # fmt: skip


def free_choice(problems: Problems, line: int, values: Mapping[str, Any]) -> FreeChoice:
    """Return the pilot's own choice from its JSON form."""
    most, codes = values.get("most_points"), values.get("from_codes") or []
    if most is not None and not (isinstance(most, int) and not isinstance(most, bool) and most >= 0):
        problems.tell(line, "free", str(most), "bad-number", "the most points of a free choice are a whole number")
        most = None
    from_set, zone = values.get("from_set"), values.get("zone")
    text = zone.get("text") if isinstance(zone, dict) else zone
    origin = values.get("zone_from")
    is_listed = isinstance(codes, list) and all(isinstance(code, str) for code in codes)
    return FreeChoice(
        most_points=most,
        from_set=from_set if isinstance(from_set, str) else None,
        from_codes=tuple(codes) if is_listed else (),
        no_repeat=values.get("no_repeat") is True,
        zone=problems.zone(line, text) if isinstance(text, str) else None,
        zone_from=problems.choice(line, "zone_from", origin, ZoneFrom) if isinstance(origin, str) else None,
    )
