"""What is published of a contest: its days, the tasks that were issued, and what no longer holds, as plain values."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from taskdb.core.model import Status, Waypoint
from taskdb.core.shown import Withdrawn
from taskdb.report.pages.edition import Download, Line
from taskdb.report.sheet_page import SheetPage


@dataclass(frozen=True, slots=True)
class HandedEdition:
    """An edition of a task that was handed out: when, in the contest's time, and whether it is the one that holds."""

    revision: int
    fingerprint: str
    at: str
    is_valid: bool


@dataclass(frozen=True, slots=True)
class PublishedTask:
    """A task that was issued: its page, the name its files bear, the files to take, its editions, newest first."""

    page: SheetPage
    file_name: str
    downloads: Sequence[Download]
    editions: Sequence[HandedEdition] = ()


@dataclass(frozen=True, slots=True)
class GoneTask:
    """A task that was issued and is replaced or cancelled, whether or not it was ever handed out."""

    name: str
    class_name: str | None
    status: Status
    fingerprint: str


@dataclass(frozen=True, slots=True)
class PublishedDay:
    """A day of the contest: number (None: tasks without one), date, its tasks, and those that hold no more."""

    number: int | None
    date: str | None
    tasks: Sequence[PublishedTask]
    gone: Sequence[GoneTask] = ()


@dataclass(frozen=True, slots=True)
class ContestEdition:
    """A contest as it is published. `date` is the day (ISO) of the last decision about it or one of its tasks.

    `waypoints` lie on the maps, under the courses; `withdrawn` was handed out and holds no more.
    """

    name: str
    revision: int
    date: str
    days: Sequence[PublishedDay]
    classes: Sequence[str] = ()
    site: str | None = None
    from_date: str | None = None
    to_date: str | None = None
    withdrawn: Sequence[Withdrawn] = ()
    waypoints: Sequence[Waypoint] = ()
    borders: Sequence[Line] = ()

    @property
    def tasks(self) -> tuple[PublishedTask, ...]:
        """Return every task of every day, in their order."""
        return tuple(task for day in self.days for task in day.tasks)
