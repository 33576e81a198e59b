"""The JSON form of what the services of tasks answer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from taskdb.core.course.plain import day_sheet_plain, declared_plain, task_plain
from taskdb.core.flown import contradictions
from taskdb.core.judgement.glide import SAID
from taskdb.core.plain import (
    course_degrees,
    fields_plain,
    finding_plain,
    metres,
    or_none,
    plain,
    problem_plain,
    speed_kmh,
    waypoint_plain,
)

if TYPE_CHECKING:
    from taskdb.core.course.compare import PointDifference
    from taskdb.core.judgement.fit import Flown
    from taskdb.core.kept import TaskSummaryRow
    from taskdb.core.model import FlownByLogs, FlownRecord
    from taskdb.services.tasks.carrying import CarriedTask
    from taskdb.services.tasks.checking import TaskChecked
    from taskdb.services.tasks.cover import CoverShown
    from taskdb.services.tasks.files import Skipped
    from taskdb.services.tasks.finding import FoundTask, FoundTasks
    from taskdb.services.tasks.fitting import Fitted
    from taskdb.services.tasks.flown import FlownShown
    from taskdb.services.tasks.importing import ImportedTask, PlacedPoint, TaskImported
    from taskdb.services.tasks.keeping import TaskShown
    from taskdb.services.tasks.review import Review
    from taskdb.services.tasks.task import Compared


def shown_plain(shown: TaskShown) -> dict[str, Any]:
    """Return a task as `task show` answers it."""
    result = task_plain(
        shown.task, shown.course, revision=shown.revision, fingerprint=shown.fingerprint, stale=shown.stale
    )
    if shown.day is not None:
        for leg, magnetic in zip(result["legs"], shown.day.magnetic_deg, strict=False):
            leg["course_magnetic_deg"] = or_none(course_degrees, magnetic)
    return {
        **result,
        "declared": declared_plain(shown.course.declared),
        "beside": list(shown.beside),
        "retired": shown.info.retired,
        "day_sheet": day_sheet_plain(shown.day),
        "findings": [] if shown.review is None else [finding_plain(finding) for finding in shown.review.open],
        "flown": None if shown.flown is None else fields_plain(shown.flown),
    }


def task_row_plain(row: TaskSummaryRow) -> dict[str, Any]:
    """Return a row of a list of tasks."""
    return {
        "task": row.task,
        "revision": row.revision,
        "contest": row.contest,
        "day": row.day,
        "class": row.class_name,
        "variant": row.variant,
        "status": row.status,
        "type": row.type,
        "task_m": metres(row.task_m),
        "minimum_m": or_none(metres, row.minimum_m),
        "maximum_m": or_none(metres, row.maximum_m),
        "shape": row.shape,
        "codes": list(row.codes),
        "flown": row.flown,
    }


def found_plain(found: FoundTasks) -> dict[str, Any]:
    """Return found tasks."""
    return {
        "tasks": [_found_task_plain(task) for task in found.tasks],
        "total": found.total,
        "truncated": len(found.tasks) < found.total,
    }


def _found_task_plain(task: FoundTask) -> dict[str, Any]:
    rate = task.finish_rate_percent
    result = {
        **task_row_plain(task.row),
        "last_flown": task.last_flown,
        "finish_rate_percent": None if rate is None else round(rate, 2),
    }
    if task.like is not None:
        result["like"] = {
            "score": round(task.like.score, 4),
            "points_percent": round(task.like.points * 100, 2),
            "legs_percent": round(task.like.legs * 100, 2),
            "apart_m": metres(task.like.apart_m),
        }
    return result


def flown_plain(shown: FlownShown) -> dict[str, Any]:
    """Return a task's flown days."""
    return {"task": shown.task, "contest": shown.contest, "records": [record_plain(one) for one in shown.records]}


def record_plain(record: FlownRecord) -> dict[str, Any]:
    """Return a flown day: as a person wrote it, what flight logs told, and where the two differ."""
    by_logs = None if record.by_logs is None else by_logs_plain(record.by_logs)
    return {**asdict(record), "by_logs": by_logs, "contradictions": [asdict(one) for one in contradictions(record)]}


def by_logs_plain(told: FlownByLogs) -> dict[str, Any]:
    """Return what flight logs told of a day."""
    ended = [{"code": code, "flights": count} for code, count in told.ended_near]
    return {**asdict(told), "ended_near": ended, "logs": list(told.logs)}


def review_plain(shown: TaskShown, review: Review, *, show_accepted: bool) -> dict[str, Any]:
    """Return a task's review."""
    listed = review.findings if show_accepted else review.open
    return {
        "task": shown.task.name,
        "revision": shown.revision,
        "contest": shown.task.contest,
        "findings": [finding_plain(finding) for finding in listed],
        "accepted": len(review.findings) - len(review.open),
        "limits": asdict(review.limits),
        "airspace": [str(pin) for pin in review.held.pins],
        "notes": list(review.notes),
    }


def fitted_plain(found: Fitted) -> dict[str, Any]:
    """Return the radii found for a task's areas, or why none suits."""
    fit, figures = found.fit, found.fit.figures
    radii = figures.radii if fit.steps is not None else {}
    out = [("slowest", figures.slowest), ("fastest", figures.fastest)]
    return {
        "task": found.task.name,
        "revision": found.revision,
        "contest": found.task.contest,
        "time_s": fit.asked.time_s,
        "wind": plain(found.wind),
        "wind_from": found.wind_from.value,
        "how": found.how.value,
        "step_m": metres(found.sizes.step.metres()),
        "radius_m": metres(next(iter(radii.values()))) if len(set(radii.values())) == 1 else None,
        "radii_m": [
            {
                "number": number,
                "code": found.point(number).place.code,
                "radius_m": metres(radius),
                "before_m": metres(found.point(number).zone.radius_m or 0.0),
            }
            for number, radius in figures.radii.items()
        ],
        "cap_m": metres(fit.cap.metres),
        "cap": {"numbers": list(fit.cap.numbers), "reason": "overlap" if fit.cap.is_overlap else "holds-end"},
        **{who: _flown_out_plain(flown) for who, flown in out},
        "time_window_s": [or_none(_seconds, end) for end in figures.window_s],
        "out_of_reach": [who for who, flown in out if fit.steps is None and not flown.fits],
        "time_that_fits_s": fit.time_that_fits_s,
        "speeds_suited_kmh": None
        if fit.suited.from_kmh is None
        else [or_none(speed_kmh, end) for end in (fit.suited.from_kmh, fit.suited.to_kmh)],
        "saved": None if found.saved is None else found.saved.task.name,
    }


def _flown_out_plain(flown: Flown) -> dict[str, Any]:
    return {
        "speed_kmh": speed_kmh(flown.speed_kmh),
        "distance_m": metres(flown.distance_m),
        "time_s": or_none(_seconds, flown.time_s),
        "fits": flown.fits,
    }


def _seconds(value: float) -> float:
    return round(value, 3)


def compared_plain(compared: Compared) -> dict[str, Any]:
    """Return compared tasks: each as shown, and what differs from the first."""
    first = compared.tasks[0]
    return {
        "tasks": [shown_plain(shown) for shown in compared.tasks],
        "baseline": first.task.name,
        "baseline_revision": first.revision,
        "differences": [
            _difference_plain(first, other, points)
            for other, points in zip(compared.tasks[1:], compared.differences, strict=True)
        ],
    }


def _difference_plain(first: TaskShown, other: TaskShown, points: Sequence[PointDifference]) -> dict[str, Any]:
    before, after = first.course, other.course

    def change(old: float | None, new: float | None) -> float | None:
        return None if old is None or new is None else metres(new - old)

    old_time, new_time = before.time.time_s, after.time.time_s
    return {
        "task": other.task.name,
        "revision": other.revision,
        "centres_m": change(before.distances.centres_m, after.distances.centres_m),
        "task_m": change(before.distances.task_m, after.distances.task_m),
        "minimum_m": change(before.distances.minimum_m, after.distances.minimum_m),
        "maximum_m": change(before.distances.maximum_m, after.distances.maximum_m),
        "time_s": None if old_time is None or new_time is None else new_time - old_time,
        "points": plain(points),
    }


def checked_plain(checked: TaskChecked) -> dict[str, Any]:
    """Return how what a pilot has stands to the task that is flown."""
    return {
        "task": checked.task,
        "contest": checked.contest,
        "revision": checked.revision,
        "fingerprint": checked.fingerprint,
        "given": checked.given,
        "same": checked.verdict.value == "same",
        "verdict": checked.verdict.value,
        "message": checked.message,
        "matches": [fields_plain(match, but=["task_id", "newest"]) for match in checked.matches],
        "differences": plain(checked.differences),
        "not_held": list(checked.not_held),
    }


def carried_plain(outcome: CarriedTask) -> dict[str, Any]:
    """Return one task's outcome of carrying over."""
    name, _, revision = outcome.to_set.rpartition("@")
    return {
        "task": outcome.task,
        "contest": outcome.contest,
        "name": outcome.name_after,
        "from": outcome.from_set,
        "to": outcome.to_set,
        "revision": outcome.revision,
        "points": [
            {**fields_plain(point, but=["moved_m"]), "moved_m": or_none(metres, point.moved_m)}
            for point in outcome.points
        ],
        "unresolved": [
            {
                **fields_plain(doubt, but=["candidates"]),
                "candidates": [waypoint_plain(w, set_name=name, revision=int(revision)) for w in doubt.candidates],
            }
            for doubt in outcome.unresolved
        ],
        "distance_before_m": metres(outcome.distance_before_m),
        "distance_after_m": or_none(metres, outcome.distance_after_m),
        "shape_before": outcome.shape_before,
        "shape_after": outcome.shape_after,
        "refused": outcome.refused,
        "into": outcome.into,
        "findings_before": [finding_plain(finding) for finding in outcome.findings_before],
        "findings_after": [finding_plain(finding) for finding in outcome.findings_after],
        "new_findings": [finding.id for finding in outcome.new_findings],
    }


def imported_plain(result: TaskImported) -> dict[str, Any]:
    """Return what was taken in from files."""
    return {
        "set": result.set_at,
        "contest": result.contest,
        "tasks": [_imported_task_plain(task) for task in result.tasks],
        "skipped": [_skipped_plain(skipped) for skipped in result.skipped],
    }


def _imported_task_plain(task: ImportedTask) -> dict[str, Any]:
    return {
        "task": task.task,
        "contest": task.contest,
        "revision": task.revision,
        "fingerprint": task.fingerprint,
        "declared_by": len(task.files),
        "files": list(task.files),
        "equals": task.equals,
        "made": task.made,
        "points": [_placed_plain(point) for point in task.points if point.number is not None],
        "ends": [{"label": point.label, **_placed_plain(point)} for point in task.points if point.number is None],
        "unmatched": [fields_plain(point, but=["matched_by", "off_m"]) for point in task.unmatched],
    }


def _placed_plain(point: PlacedPoint) -> dict[str, Any]:
    return fields_plain(point, but=["label", "name", "reason"])


def _skipped_plain(skipped: Skipped) -> dict[str, Any]:
    return {
        "file": skipped.file,
        "task": skipped.name,
        "reason": skipped.reason,
        "problems": [problem_plain(problem) for problem in skipped.problems],
    }


def cover_plain(shown: CoverShown) -> dict[str, Any]:
    """Return a task's landable cover: what it reckons with, every sample, and the stretches out of reach."""
    found = shown.found
    cover, terms = found.cover, found.cover.terms
    return {
        "task": shown.task.name,
        "revision": shown.revision,
        "contest": shown.task.contest,
        "samples": [
            {
                "at_m": metres(sample.at_m),
                "leg": sample.leg,
                "code": sample.code,
                "arrival_m": or_none(metres, sample.arrival_m),
                "distance_m": or_none(metres, sample.distance_m),
                "reached": sample.is_reached,
                "withheld": sample.is_withheld,
            }
            for sample in cover.samples
        ],
        "stretches": [
            {
                "from_m": metres(stretch.from_m),
                "to_m": metres(stretch.to_m),
                "samples": stretch.samples,
                "nearest": [code for code, _ in stretch.nearest],
            }
            for stretch in cover.stretches
        ],
        "out_of_reach": cover.out_of_reach,
        "withheld": cover.withheld,
        "left_out": list(cover.left_out),
        "fields": cover.fields,
        "fields_of": str(found.fields_of),
        "ground": cover.ground.value,
        "ground_source": None if found.ground is None else found.ground.source,
        "terms": {
            "glide": terms.glide.ratio,
            "airspeed_kmh": speed_kmh(terms.glide.airspeed_kmh),
            "wind": {"from_deg": terms.glide.wind.from_deg, "speed_kmh": speed_kmh(terms.glide.wind.speed_kmh)},
            "working_altitude": terms.working_text,
            "working_altitude_m": metres(terms.working_m),
            "safety_m": metres(terms.safety_m),
            "clearance_m": metres(terms.clearance_m),
            "free_m": metres(terms.free_m),
            "landable": [kind.value for kind in found.landable],
            "from": dict(found.sources),
        },
        "caution": SAID,
        "written": shown.written,
    }
