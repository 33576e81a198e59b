"""What one page of a sheet is made of: a task with all that is known of it, its course and its day."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType

from taskdb.core.airspace.volume import Volume
from taskdb.core.course.day import DaySheet
from taskdb.core.course.measure import Course
from taskdb.core.flown import FlownSummary
from taskdb.core.ground import GroundHeights
from taskdb.core.judgement.cover import Cover
from taskdb.core.model import Contest, Finding, Task, Waypoint
from taskdb.core.quantities import Units
from taskdb.core.shown import SheetChange


@dataclass(frozen=True, slots=True)
class SheetPage:
    """Everything that one task's page shows.

    `waypoints` are those of the task's points (and take-off and landing) by code, for runways and channels;
    `catalogue` is drawn lightly on the map; `stale` are sentences; `date` is ISO text or None.
    """

    task: Task
    revision: int
    course: Course
    fingerprint: str
    catalogue: Sequence[Waypoint] = ()
    waypoints: Mapping[str, Waypoint] = field(default_factory=lambda: MappingProxyType({}))
    contest: Contest | None = None
    date: str | None = None
    stale: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()
    other_classes: tuple[str, ...] = ()
    """Where other classes come against this task or through it: what its pilots have to know, in sentences."""
    day: DaySheet | None = None
    units: Units | None = None
    """Units of this page's distances where they differ from those of the others."""
    mark: str | None = None
    """What is to be said of the task in place of its status: that it is proposed and was not issued."""
    ground: GroundHeights | None = None
    """The user's terrain, for the relief under the map and the profile; None where none was named."""
    cover: Cover | None = None
    """The landable cover that the user's terrain was asked for, drawn into the profile."""
    changes: tuple[SheetChange, ...] = ()
    """How this page differs from earlier ones that were handed out, the newest of them first."""
    airspace: Sequence[Volume] = ()
    airspace_from: str | None = None
    """Where the airspace is from (`NAME@R` and its date), None where the task is held against none."""
    flown: FlownSummary | None = None
    """What the days add up to on which the task was flown before; None where it never was."""
    airspace_at: tuple[str, ...] = ()
    """The revisions of airspace that it is held against, each as `NAME@R`."""
