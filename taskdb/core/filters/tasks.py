"""Which saved tasks a search wants: every filter a value that decides on a task's facts, all of them together.

The facts are those of a task's newest revision and its flown records. Held against the SQL by a property test.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from taskdb.core.flown import finish_rate_percent
from taskdb.core.geodesy import distance_m
from taskdb.core.model import FlownRecord, Position, ShapeKind, Status, TaskType
from taskdb.core.names import fold, fold_german


@dataclass(frozen=True, slots=True)
class Range:
    """From `low` to `high`, both included; None is open on that side."""

    low: float | None = None
    high: float | None = None

    def holds(self, value: float | None) -> bool:
        """Say whether a value lies in the range; what is not known does not."""
        if value is None:
            return False
        return (self.low is None or value >= self.low) and (self.high is None or value <= self.high)


@dataclass(frozen=True, slots=True)
class Sector:
    """Directions from one bearing clockwise to another, both included, degrees; `300..030` goes through north."""

    from_deg: float
    to_deg: float

    def holds(self, value_deg: float | None) -> bool:
        """Say whether a direction lies in the sector; what is not known does not."""
        if value_deg is None:
            return False
        if self.from_deg <= self.to_deg:
            return self.from_deg <= value_deg <= self.to_deg
        return value_deg >= self.from_deg or value_deg <= self.to_deg


@dataclass(frozen=True, slots=True)
class TaskFacts:
    """What a search may ask of a task. `codes`, `names` and `positions` are its points'; distances in metres."""

    name: str
    contest: str | None
    day: int | None
    class_name: str | None
    status: Status
    type: TaskType
    task_m: float
    time_s: float | None
    speed_kmh: float | None
    shape: ShapeKind
    is_fai_triangle: bool
    first_course_deg: float | None
    tags: tuple[str, ...]
    codes: tuple[str, ...]
    names: tuple[str, ...]
    positions: tuple[Position, ...]
    flown: tuple[FlownRecord, ...] = ()

    @property
    def duration_s(self) -> float | None:
        """The time set for the task, else the one in which its speed covers the task distance."""
        if self.time_s is not None:
            return self.time_s
        return self.task_m * 3.6 / self.speed_kmh if self.speed_kmh else None


class Order(StrEnum):
    """By what found tasks are sorted; those alike by contest and name, and last what is not known."""

    NAME = "name"
    DISTANCE = "distance"
    TIMES_FLOWN = "times-flown"
    LAST_FLOWN = "last-flown"
    FINISH_RATE = "finish-rate"
    LIKENESS = "likeness"


@dataclass(frozen=True, slots=True)
class TaskFilter:
    """Which tasks a search wants; None asks nothing. `near` goes with `within_m` and asks for any point within it.

    `flown_after` (ISO date, excluded), `wind_from` and `finish_rate_percent` ask for one flown day that fits all three.
    """

    contest: str | None = None
    day: int | None = None
    class_name: str | None = None
    status: Status | None = None
    type: TaskType | None = None
    distance_m: Range | None = None
    duration_s: Range | None = None
    through: tuple[str, ...] = ()
    near: Position | None = None
    within_m: float | None = None
    heading: Sector | None = None
    shape: ShapeKind | None = None
    is_fai_triangle: bool | None = None
    tags: tuple[str, ...] = ()
    text: str | None = None
    flown_after: str | None = None
    wind_from: Sector | None = None
    finish_rate_percent: Range | None = None

    @property
    def words(self) -> tuple[str, ...]:
        """The folded words asked for, without repetitions."""
        return tuple(dict.fromkeys(fold(self.text).split())) if self.text else ()

    @property
    def signs(self) -> str:
        """What is asked of a task's name as it stands, since it has no word; empty where there are words."""
        return "" if self.words or self.text is None else self.text.strip()

    @property
    def asks_for_flown(self) -> bool:
        return any(asked is not None for asked in (self.flown_after, self.wind_from, self.finish_rate_percent))

    def accepts(self, task: TaskFacts) -> bool:
        """Say whether the search wants this task."""
        plain = (
            (self.contest, task.contest),
            (self.day, task.day),
            (self.class_name, task.class_name),
            (self.status, task.status),
            (self.type, task.type),
            (self.shape, task.shape),
            (self.is_fai_triangle, task.is_fai_triangle),
        )
        if any(asked is not None and asked != value for asked, value in plain):
            return False
        ranges = ((self.distance_m, task.task_m), (self.duration_s, task.duration_s))
        if any(asked is not None and not asked.holds(value) for asked, value in ranges):
            return False
        if self.heading is not None and not self.heading.holds(task.first_course_deg):
            return False
        return self._has_points(task) and self._has_words(task) and self._was_flown(task)

    def _has_points(self, task: TaskFacts) -> bool:
        if not set(self.through) <= set(task.codes) or not set(self.tags) <= set(task.tags):
            return False
        if self.near is None or self.within_m is None:
            return True
        return any(distance_m(self.near, position) <= self.within_m for position in task.positions)

    def _has_words(self, task: TaskFacts) -> bool:
        if self.signs not in task.name:
            return False
        have = task_words(task.name, task.tags, task.codes, task.names).split()
        return all(any(word.startswith(wanted) for word in have) for wanted in self.words)

    def _was_flown(self, task: TaskFacts) -> bool:
        return not self.asks_for_flown or any(self.accepts_flown(record) for record in task.flown)

    def accepts_flown(self, record: FlownRecord) -> bool:
        """Say whether one flown day fits what is asked of flown days."""
        if self.flown_after is not None and record.flown_on <= self.flown_after:
            return False
        if self.wind_from is not None and not self.wind_from.holds(record.wind_from_deg):
            return False
        return self.finish_rate_percent is None or self.finish_rate_percent.holds(finish_rate_percent(record))


def task_words(name: str, tags: tuple[str, ...], codes: tuple[str, ...], names: tuple[str, ...]) -> str:
    """Return the folded words under which a task is found, in both foldings of umlauts, each once, sorted."""
    words: set[str] = set()
    for text in (name, *tags, *codes, *names):
        words.update(fold(text).split())
        words.update(fold_german(text).split())
    return " ".join(sorted(words))
