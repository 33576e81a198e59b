"""The JSON form of what the services of contests answer."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from taskdb.core.contests.plain import contest_day_plain, holding_plain, scopes_plain
from taskdb.core.contests.scopes import flying_day, zone_defaults
from taskdb.core.contests.settings import FREQUENCIES, SETTINGS, source_of, value_of
from taskdb.core.plain import metres, or_none, plain, zone_plain

if TYPE_CHECKING:
    from taskdb.services.contests.contest import ContestShown
    from taskdb.services.contests.day import DayShown
    from taskdb.services.contests.update import Updated, UpdatedTask


def contest_plain(shown: ContestShown) -> dict[str, Any]:
    """Return a contest with what it is set to, defaults included."""
    contest = shown.contest
    rules = contest.rules
    return {
        "contest": contest.name,
        "revision": shown.revision,
        "set": f"{contest.set_name}@{contest.set_revision}",
        "newest_set_revision": shown.newest_set_revision,
        "airspace": [str(pin) for pin in contest.airspace],
        "site": contest.site,
        "from_date": contest.from_date,
        "to_date": contest.to_date,
        "timezone": contest.timezone,
        "earth": rules.earth.value,
        "start_deduction": rules.start_deduction.value,
        "finish_deduction": rules.finish_deduction.value,
        "triangle": asdict(rules.triangle),
        "zones": {
            role.value: {"zone": zone_plain(zone), "zone_from": origin.value}
            for role, (zone, origin) in zone_defaults(contest, None, None).items()
        },
        "classes": [
            {"class": item.name, "slowest_kmh": item.slowest_kmh, "fastest_kmh": item.fastest_kmh}
            for item in contest.classes
        ],
        "settings": {setting.key: value_of(contest, setting)[0] for setting in SETTINGS},
        "sources": {setting.key: source_of(contest, setting.key) for setting in SETTINGS},
        "frequencies": dict(contest.settings.get(FREQUENCIES, {})),
        "days": [contest_day_plain(day) for day in contest.days],
        "scopes": scopes_plain(contest),
        "author": shown.author,
        "created_at": shown.at,
        "note": shown.note,
        "tasks": shown.tasks,
        "stale_tasks": list(shown.stale_tasks),
    }


def contest_day_shown_plain(shown: DayShown) -> dict[str, Any]:
    """Return a contest's day: as it holds for all, or for the class that was named."""
    from taskdb.core.course.plain import legal_end_plain  # what shows a contest does without tasks and courses

    holding = shown.holding
    return {
        "contest": shown.contest.name,
        "revision": shown.revision,
        "class": holding.class_name,
        **contest_day_plain(flying_day(holding, shown.day.date, shown.day.number)),
        "timezone": shown.timezone,
        "sun": plain(shown.sun),
        "legal_end": legal_end_plain(shown.legal_end, shown.legal_end_is_set, shown.legal_end_at),
        "holds": holding_plain(holding),
        "notes": list(shown.notes),
    }


def updated_plain(found: Updated) -> dict[str, Any]:
    """Return what became of a day after a mended coordinate."""
    return {
        "contest": found.contest,
        "day": found.day,
        "set_before": found.set_before,
        "set_after": found.set_after,
        "tasks": [_updated_task_plain(task) for task in found.tasks],
        "unchanged": list(found.unchanged),
        "stale_elsewhere": list(found.stale_elsewhere),
    }


def _updated_task_plain(task: UpdatedTask) -> dict[str, Any]:
    from taskdb.services.tasks.plain import carried_plain

    before_m, after_m = task.task_m
    return {
        **carried_plain(task.carried),
        "revision_before": task.before_revision,
        "fingerprint_before": task.fingerprints[0],
        "fingerprint_after": task.fingerprints[1],
        "task_before_m": metres(before_m),
        "task_after_m": or_none(metres, after_m),
        "changes": [
            {
                "number": point.number,
                "code": point.code,
                "change": point.change.value,
                "distance_m": or_none(metres, point.distance_m),
            }
            for point in task.points
        ],
    }
