"""Reading flight logs against the saved tasks: which task each flight flew, and what the days add up to. No scoring.

One log is in memory at a time; nothing is kept of it but what it tells of the flight.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from taskdb.core.flights.day import DaySums, by_logs, has_finished, has_started, is_same_flight, sums_of
from taskdb.core.flights.flight import Flight
from taskdb.core.flights.thinned import DrawnFlight, drawn_flight
from taskdb.core.flights.which_task import read_flown
from taskdb.core.matching.nearness import Nearby
from taskdb.core.model import FlownByLogs, FlownRecord, Position, Task
from taskdb.core.numbers import counted
from taskdb.services.desk import Desk, Write, require_confirmed
from taskdb.services.flights.candidates import Candidate, candidates_of, of_the_date
from taskdb.services.logs import LogFile, read_logs
from taskdb.services.references import set_under
from taskdb.services.tasks.flown import keep_record, standing_record
from taskdb.store import sets as set_rows, tasks as task_rows

if TYPE_CHECKING:
    from taskdb.store.engine import Connection, Writing

ENDED_WITHIN_M = 20_000.0
"""Further away no waypoint says where a flight ended (common practice, no source)."""


@dataclass(frozen=True)
class FlightsRequest:
    """Which logs are held against which tasks: those named, else those of a contest, or of one day of it."""

    paths: tuple[str, ...]
    contest: str | None = None
    day: int | None = None
    tasks: tuple[str, ...] = ()
    with_tracks: bool = False


@dataclass(frozen=True)
class FlightShown:
    """A log and what it tells. `candidate` is the task that was flown; `counts` is False for one that tells a flight
    again that another log has told, and for what cannot be read."""

    log: LogFile
    flight: Flight
    candidate: Candidate | None = None
    flown_on: str | None = None
    ended_near: str | None = None
    counts: bool = True
    track: DrawnFlight | None = None

    @property
    def task(self) -> str | None:
        return None if self.candidate is None else self.candidate.task.name


@dataclass(frozen=True)
class TaskDay:
    """A task on a day (ISO, local): what the logs tell of it."""

    candidate: Candidate
    flown_on: str
    told: FlownByLogs


@dataclass(frozen=True)
class FlightsRead:
    """All logs in their order, what they tell of each task on each day, and the sums of them all."""

    flights: tuple[FlightShown, ...]
    days: tuple[TaskDay, ...]
    sums: DaySums


def read_flights(desk: Desk, request: FlightsRequest, progress: Callable[[str], None] | None = None) -> FlightsRead:
    """Return which saved task each flight flew, and what the days add up to; `progress` is told which log is read.

    Raises UsageError where neither contest nor task is named, NotFoundError for what is not there, InputError where no
    log can be read.
    """
    with desk.store.reading() as c:
        candidates = candidates_of(c, request.contest, request.day, request.tasks)
        places = _Places(c, candidates)
    # Read while nothing of the store is held: a hundred logs take seconds.
    before: dict[tuple[int | None, str | None], list[FlightShown]] = {}
    flights: list[FlightShown] = []
    for file in read_logs(request.paths, progress):
        shown = _shown(file, candidates, places, with_track=request.with_tracks)
        alike = before.setdefault((shown.flight.task, shown.flight.date), [])
        flights.append(_once(shown, alike))
        alike.append(flights[-1])
    return FlightsRead(
        tuple(flights), tuple(_days(flights)), sums_of([shown.flight for shown in flights if shown.counts])
    )


class _Places:
    """The waypoints of the sets that tasks stand on, by nearness."""

    def __init__(self, c: Connection, candidates: Sequence[Candidate]) -> None:
        self._known: dict[tuple[str, int], tuple[Nearby, list[str]]] = {}
        for task in (candidate.task for candidate in candidates):
            if (task.set_name, task.set_revision) not in self._known:
                at = set_under(c, task)
                waypoints = set_rows.waypoints_at(c, at.head.id, at.revision)
                nearby = Nearby.of([waypoint.position for waypoint in waypoints], ENDED_WITHIN_M)
                self._known[task.set_name, task.set_revision] = (nearby, [waypoint.code for waypoint in waypoints])

    def near(self, task: Task, position: Position) -> str | None:
        """Return the code of the waypoint of a task's set that is nearest to a position, None where none is near."""
        nearby, codes = self._known[task.set_name, task.set_revision]
        found = [(distance, codes[item]) for item, distance in nearby.within(position)]
        return min(found)[1] if found else None


def _shown(file: LogFile, candidates: Sequence[Candidate], places: _Places, *, with_track: bool) -> FlightShown:
    if file.log is None:
        return FlightShown(file, _unread(file.problem or ""), counts=False)
    offered = of_the_date(candidates, file.log)
    flight = read_flown(file.log, [candidate.task for candidate in offered])
    if not offered:
        flight = _with_problem(flight, f"No task that it was held against is of its date, {flight.date}.")
    kept = replace(file, log=None)  # its fixes are not held any longer
    if flight.task is None or not has_started(flight):
        return FlightShown(kept, flight)
    candidate = offered[flight.task]
    return FlightShown(
        kept,
        replace(flight, task=candidates.index(candidate)),
        candidate,
        _flown_on(flight, candidate),
        None if has_finished(flight) or flight.ended_at is None else places.near(candidate.task, flight.ended_at),
        track=drawn_flight(file.log.track, flight) if with_track else None,
    )


def _once(shown: FlightShown, alike: Sequence[FlightShown]) -> FlightShown:
    """Return a flight as it counts: not where one of those of its task and date, read before it, is the same one."""
    told = next((one for one in alike if one.counts and is_same_flight(one.flight, shown.flight)), None)
    if told is None:
        return shown
    again = _with_problem(shown.flight, f"It is the flight that {told.log.name} tells too, and counts once.")
    return replace(shown, flight=again, counts=False)


def _unread(problem: str) -> Flight:
    return Flight(
        date=None, task=None, flown=None, stood_before=None, stood_after=None, ended_at=None, problems=(problem,)
    )


def _with_problem(flight: Flight, problem: str) -> Flight:
    return replace(flight, problems=(*flight.problems, problem))


def _flown_on(flight: Flight, candidate: Candidate) -> str | None:
    """Return the local day on which a flight started; None for a log without a date."""
    if flight.date is None or flight.flown is None or flight.flown.start_s is None:
        return None
    return candidate.local_date(flight.date, flight.flown.start_s)


def _days(flights: Sequence[FlightShown]) -> Iterator[TaskDay]:
    """Yield what the logs tell of each task on each day, in order of day and task."""
    groups: dict[tuple[str, str], list[FlightShown]] = {}
    for shown in flights:
        if shown.candidate is not None and shown.flown_on is not None:
            groups.setdefault((shown.flown_on, shown.candidate.title), []).append(shown)
    for (day, _), group in sorted(groups.items()):
        counting = [(shown.flight, shown.ended_near) for shown in group if shown.counts]
        logs = [shown.log.checksum for shown in group if shown.log.checksum is not None]
        assert group[0].candidate is not None  # it is what they are grouped by
        yield TaskDay(group[0].candidate, day, by_logs(counting, logs))


# -- keeping -----------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class SavedDay:
    """A day's record as it stands now. `changed` is False where the same logs had told the same before."""

    task: str
    contest: str | None
    flown_on: str
    changed: bool
    record: FlownRecord


def save_days(desk: Desk, read: FlightsRead, write: Write) -> tuple[SavedDay, ...]:
    """Keep what logs tell of each task's day beside what a person wrote; the same logs again change nothing.

    Asks before a day is told by fewer logs than it was: their sums cannot be taken together.
    """

    def work(writing: Writing) -> tuple[SavedDay, ...]:
        saved = []
        for day in read.days:
            head = task_rows.task_head(writing.connection, day.candidate.head.id)
            standing = standing_record(writing.connection, head.id, day.flown_on)
            is_known = standing is not None and standing.by_logs == day.told
            if not is_known:
                _require_no_log_lost(day, standing, write)
                keep_record(writing, head, FlownRecord(day.flown_on, by_logs=day.told))
            record = standing_record(writing.connection, head.id, day.flown_on)
            assert record is not None  # it stood, or was written just now
            saved.append(SavedDay(head.name, head.contest_name, day.flown_on, not is_known, record))
        if not any(one.changed for one in saved):
            writing.abandon()
        return tuple(saved)

    return desk.write(write, work)


def _require_no_log_lost(day: TaskDay, standing: FlownRecord | None, write: Write) -> None:
    before = standing.by_logs if standing is not None else None
    lost = len(set(before.logs) - set(day.told.logs)) if before is not None else 0
    if before is not None and lost:
        require_confirmed(
            write,
            f"{day.candidate.title} on {day.flown_on} was told by {counted(len(before.logs), 'log')}, of which "
            f"{counted(lost, 'log')} {'is' if lost == 1 else 'are'} not among these {len(day.told.logs)}: read all "
            "logs of the day together. Let these alone tell it?",
            task=day.candidate.task.name,
            flown_on=day.flown_on,
            missing=lost,
        )
