"""What a review rule is, what it is given, and the finding that it drafts; nothing is computed here.

A rule sees one task as a `Reviewed` and yields drafts; the engine orders them and gives them their ids.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any

from taskdb.core.airspace.heights import FlownHeights
from taskdb.core.airspace.volume import Volume
from taskdb.core.course.day import DaySheet
from taskdb.core.course.measure import Course
from taskdb.core.course.wind import SpeedRange as SpeedRange
from taskdb.core.ground import GroundHeights
from taskdb.core.judgement.cover import Cover
from taskdb.core.judgement.glare import SunAt
from taskdb.core.judgement.meeting import Meeting
from taskdb.core.model import Finding, Severity, Task, TaskPoint
from taskdb.core.quantities import format_duration
from taskdb.core.review.limits import Limits


@dataclass(frozen=True, slots=True)
class SavedTask:
    """Another task of the store: how it is called, and what it is."""

    label: str
    task: Task
    fingerprint: str


@dataclass(frozen=True, slots=True)
class Reviewed:
    """One task with all that the rules may know. What is None or empty is not known, and rules do without it.

    `stale` are the sentences of `course.staleness`; `set_findings` the open findings of the task's set that concern
    its points; `others` saved tasks that may be the same. `airspace` are the volumes that the task is held against,
    `flown` up to which height it is flown and what of the day is known, `ground` the user's terrain. `sun_at` says
    where the sun stands at the finish on the day. `cover` is the landable cover of the course, `meetings` are those
    with the tasks of other classes on the day.
    """

    task: Task
    course: Course
    fingerprint: str
    limits: Limits = field(default_factory=Limits)
    speeds: SpeedRange | None = None
    day: DaySheet | None = None
    stale: tuple[str, ...] = ()
    set_findings: tuple[Finding, ...] = ()
    others: tuple[SavedTask, ...] = ()
    airspace: tuple[Volume, ...] = ()
    flown: FlownHeights = field(default_factory=FlownHeights)
    ground: GroundHeights | None = None
    sun_at: SunAt | None = None
    cover: Cover | None = None
    meetings: tuple[Meeting, ...] = ()

    def point_label(self, number: int) -> str:
        """Return a point for people: `point 2 (QRY Old quarry)`."""
        place = self.task.points[number].place
        return (
            f"point {number} ({place.code} {place.name})"
            if place.name != place.code
            else f"point {number} ({place.code})"
        )


@dataclass(frozen=True, slots=True)
class Draft:
    """A finding before it has its id. `read` are the values that the rule read: another value makes another finding."""

    severity: Severity
    codes: tuple[str, ...]
    message: str
    evidence: Mapping[str, Any] = field(default_factory=lambda: MappingProxyType({}))
    read: tuple[Any, ...] = ()


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule: `name` is stable; the function's docstring is the page that a user reads."""

    name: str
    summary: str
    function: Callable[[Reviewed], Iterable[Draft]]


def place_and_zone(point: TaskPoint) -> tuple[Any, ...]:
    """Return what a rule reads of a point where its place and its zone matter."""
    return (point.place.position, point.zone)


def to_the_minute(seconds: float) -> str:
    """Return a duration as `H:MM`, rounded to whole minutes."""
    return format_duration(round(seconds / 60) * 60)
