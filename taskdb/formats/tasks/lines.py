"""Lines of points as tasks, whatever the format: which lines are tasks, and what their points are called.

A line of few points was set; one of many was flown. A line has no names: where each of its points is one of the
file's, it says the order and they say what they are.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

from taskdb.core.model import Position, RowProblem
from taskdb.core.numbers import counted
from taskdb.formats.tasks.reading import MOST_POINTS, Problems, ReadPoint, TaskReading

_SAME_E7 = 100
"""One metre: programs round what they draw."""


@dataclass(frozen=True, slots=True)
class Line:
    """A line as a file has it: where it begins, its name, its points, how many they were, what is wrong with them.

    `flown`: that its points have times.
    """

    line: int
    name: str
    points: tuple[ReadPoint, ...]
    count: int
    problems: tuple[RowProblem, ...] = ()
    flown: bool = False

    @property
    def is_set(self) -> bool:
        return self.count <= MOST_POINTS and not self.flown


def read_line(line: int, name: str, vertices: Sequence[tuple[str, str]], *, count: int, flown: bool = False) -> Line:
    """Return a line of latitudes and longitudes as texts. Of one with too many of them `count` is what matters."""
    problems = Problems()
    if count > MOST_POINTS or flown:
        return Line(line, name, (), count, flown=flown)
    found = [problems.position(line, latitude, longitude) for latitude, longitude in vertices]
    points = tuple(ReadPoint(line, "", "", position) for position in found if position is not None)
    return Line(line, name, points, count, problems.sorted())


def lines_of(format: str, lines: Sequence[Line], named: Sequence[ReadPoint]) -> tuple[TaskReading, ...]:
    """Return the lines as tasks; one that is a track holds that as its problem.

    Where a file has points with names (`named`), only lines that lead through them are tasks: none may be left.
    """
    if named:
        through = [(line, _through(line, named)) for line in lines if line.is_set]
        tasks = [_task(format, replace(line, points=points)) for line, points in through if points is not None]
        aside = len(lines) - len(tasks)
        note = (f"{counted(aside, 'line')} past the file's points left aside",) if aside else ()
        return tuple(replace(task, notes=note) for task in tasks)
    return tuple(_task(format, line) for line in lines)


def lines_or_points(
    reading: TaskReading, lines: Sequence[Line], *, is_own: bool, placeless: Counter[str]
) -> tuple[TaskReading, ...]:
    """Return the lines of a file as tasks, else its points as the one of `reading`, with what was left aside.

    In a file of ours (`is_own`) the lines only draw the task. `placeless` counts what has no place, by what it is.
    """
    if not is_own and (drawn := lines_of(reading.format, lines, reading.points)):
        return drawn
    notes = [f"{counted(count, what)} without a place left aside" for what, count in placeless.items() if count]
    if lines and not is_own:
        notes.append(f"{counted(len(lines), 'line')} left aside: the file has points")
    return (replace(reading, notes=tuple(notes)),)


def _task(format: str, line: Line) -> TaskReading:
    problems = list(line.problems)
    if not line.is_set:
        problems.append(a_track(line.line, line.count, flown=line.flown))
    return TaskReading(format, line.name, line.points, problems=tuple(problems), is_line=True)


def a_track(line: int, count: int, *, flown: bool = False) -> RowProblem:
    """Return what is wrong with a line or route of so many points that was not set."""
    points = f"{count:,} points"
    told = (
        f"a track of {points} that was flown, and no task"
        if flown
        else f"a track or a street: {points}, a task has up to {MOST_POINTS}"
    )
    return RowProblem(line, None, None, "a-track", f"it is {told}")


def _through(line: Line, named: Sequence[ReadPoint]) -> tuple[ReadPoint, ...] | None:
    """Return the named points through which a line leads, None where one of its points is none of them."""
    found = []
    for vertex in line.points:
        same = next((point for point in named if _is_same(point.position, vertex.position)), None)
        if same is None:
            return None
        found.append(same)
    return tuple(found) if len(found) > 1 and not line.problems else None


def _is_same(one: Position, other: Position) -> bool:
    return (
        abs(one.latitude_e7 - other.latitude_e7) <= _SAME_E7 and abs(one.longitude_e7 - other.longitude_e7) <= _SAME_E7
    )
