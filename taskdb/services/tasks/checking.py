"""Holding what somebody has against the official task: a fingerprint said over the radio, or a file. Reads only."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import TYPE_CHECKING

from taskdb.core.course.agreement import (
    DECLARATION,
    TASK_FILE,
    HeldDifference,
    HeldPoint,
    HeldTask,
    Rounding,
    differences,
    not_known,
)
from taskdb.core.course.fingerprint import ALPHABET, fingerprint
from taskdb.core.model import Status, Task
from taskdb.errors import UsageError
from taskdb.files.standing import is_file
from taskdb.services.desk import Desk
from taskdb.services.references import resolve_task
from taskdb.services.tasks.files import read_file, rejected
from taskdb.store import task_search, tasks as task_rows

if TYPE_CHECKING:
    from taskdb.formats.registry import ReadPoint, TaskReading
    from taskdb.services.references import TaskAt
    from taskdb.store.engine import Connection
    from taskdb.store.task_search import PrintOf

SIGNS = 8


class Verdict(StrEnum):
    """What was given is: the task, an earlier revision of it, another task, something else, or it differs."""

    SAME = "same"
    REPLACED = "replaced"
    OTHER_TASK = "other-task"
    UNKNOWN = "unknown"
    DIFFERS = "differs"


@dataclass(frozen=True)
class TaskChecked:
    """The official task and what was given, with the verdict in a sentence.

    `matches` are the revisions in the store that were given; `not_held` is what a file does not say.
    """

    task: str
    contest: str | None
    revision: int
    fingerprint: str
    given: str
    verdict: Verdict
    message: str
    matches: tuple[PrintOf, ...] = ()
    differences: tuple[HeldDifference, ...] = ()
    not_held: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


def check_task(desk: Desk, reference: str, given: str, contest: str | None = None) -> TaskChecked:
    """Return whether a fingerprint or a file is the task, at its newest revision unless another is named.

    UsageError for what cannot be a fingerprint, NotFoundError for a task or file that is not there, InputError for a
    file that cannot be read as a task.
    """
    spoken = read_fingerprint(given)
    readings = () if spoken is not None else read_file(given)
    with desk.store.reading() as c:
        at = resolve_task(c, reference, contest)
        official = task_rows.task_at(c, at.head.id, at.revision)
        if spoken is not None:
            return _check_fingerprint(c, at, official, spoken)
        return _check_file(c, at, official, given, readings)


def read_fingerprint(text: str) -> str | None:
    """Return a fingerprint as it is printed, however it was typed; None for the path of a file.

    UsageError for eight letters and digits of which some are no signs of fingerprints.
    """
    plain = re.sub(r"[\s-]", "", text).upper()
    if len(plain) != SIGNS or not plain.isascii() or not plain.isalnum() or is_file(text):
        return None
    strange = sorted({sign for sign in plain if sign not in ALPHABET})
    if strange:
        raise UsageError(
            "bad-fingerprint",
            f"{text!r} is no fingerprint: {', '.join(strange)} {'is' if len(strange) == 1 else 'are'} never in one.",
            hint=f"Ask for it again. Its signs are {' '.join(ALPHABET)}.",
        )
    return f"{plain[:4]}-{plain[4:]}"


def _checked(at: TaskAt, official: Task, given: str, verdict: Verdict, message: str) -> TaskChecked:
    notes = []
    if official.status in (Status.REPLACED, Status.CANCELLED):
        notes.append(f"{official.name} is {official.status.value}: it is not flown.")
    if at.head.retired:
        notes.append(f"{official.name} is retired.")
    if at.revision != at.head.newest:
        notes.append(f"{official.name} has moved on to revision {at.head.newest}.")
    return TaskChecked(
        task=at.head.name,
        contest=at.head.contest_name,
        revision=at.revision,
        fingerprint=fingerprint(official),
        given=given,
        verdict=verdict,
        message=message,
        notes=tuple(notes),
    )


def _replaced(name: str, given: str, revision: int, by: int, code: str) -> str:
    if revision > by:
        return f"{given} is {name} at revision {revision}, later than revision {by}."
    return f"{given} is {name} at revision {revision}, replaced by revision {by}: {code}."


def _titled(found: PrintOf) -> str:
    name = f"{found.contest}:{found.task}" if found.contest is not None else found.task
    return name if found.revision == found.newest else f"{name}@{found.revision}, itself replaced"


def _check_fingerprint(c: Connection, at: TaskAt, official: Task, spoken: str) -> TaskChecked:
    found = task_search.revisions_with(c, spoken)
    code = fingerprint(official)
    if spoken == code:
        verdict, message = Verdict.SAME, f"{spoken} is {official.name}, revision {at.revision}."
    else:
        verdict, message = _elsewhere(at, official, spoken, found, code)
    return replace(_checked(at, official, spoken, verdict, message), matches=found)


def _elsewhere(at: TaskAt, official: Task, given: str, found: Sequence[PrintOf], code: str) -> tuple[Verdict, str]:
    """Return the verdict on a fingerprint that is not the official one."""
    own = [one for one in found if one.task_id == at.head.id]
    if own:
        return Verdict.REPLACED, _replaced(official.name, given, own[0].revision, at.revision, code)
    if found:
        return Verdict.OTHER_TASK, f"{given} is {_titled(found[0])}, not {official.name}, which is {code}."
    return Verdict.UNKNOWN, f"{given} is no task of this store; {official.name} is {code}."


# -- files -------------------------------------------------------------------------------------------------------


def _check_file(c: Connection, at: TaskAt, official: Task, path: str, readings: Sequence[TaskReading]) -> TaskChecked:
    problems = [problem for reading in readings for problem in reading.problems]
    if problems:
        raise rejected(path, problems)
    ranked = [(_differences(official, reading), reading) for reading in readings]
    found, reading = min(ranked, key=lambda item: _unlikeness(official, *item))
    held = _held(reading)
    code = fingerprint(official)
    if not found:
        message = f"{path} is {official.name}, revision {at.revision}, as far as it says."
        checked = _checked(at, official, path, Verdict.SAME, message)
    else:
        message = f"{path} is not {official.name}: {found[0].message}."
        checked = _checked(at, official, path, Verdict.DIFFERS, message)
        earlier = _equal_revision(c, at, reading)
        said = task_search.revisions_with(c, reading.said.get("fingerprint", ""))
        others = [one for one in said if one.task_id != at.head.id and _is(c, one, reading)]
        if earlier is not None:
            message = (
                f"{_replaced(official.name, path, earlier, at.revision, code)} What differs first: {found[0].message}."
            )
            checked = replace(checked, verdict=Verdict.REPLACED, message=message)
        elif others:
            message = f"{path} is {_titled(others[0])}, not {official.name}: {found[0].message}."
            checked = replace(checked, verdict=Verdict.OTHER_TASK, message=message, matches=tuple(others))
    notes = checked.notes
    if len(readings) > 1:
        notes = (f"{path} holds {len(readings)} tasks; {reading.name!r} was compared.", *notes)
    return replace(checked, differences=found, not_held=not_known(official, held), notes=(*reading.notes, *notes))


def _unlikeness(task: Task, found: Sequence[HeldDifference], reading: TaskReading) -> tuple[int, ...]:
    """Return what the reading is chosen by that is held against the task: an equal one, then the one of its name."""
    lacking = abs(len(reading.points) - len(task.points))
    return (bool(found), reading.name != task.name, lacking, len(found))


def _rounding(reading: TaskReading) -> Rounding:
    return DECLARATION if reading.format == "igc" else TASK_FILE


def _differences(task: Task, reading: TaskReading) -> tuple[HeldDifference, ...]:
    return differences(task, _held(reading), _rounding(reading))


def _is(c: Connection, found: PrintOf, reading: TaskReading) -> bool:
    return not _differences(task_rows.task_at(c, found.task_id, found.revision), reading)


def _equal_revision(c: Connection, at: TaskAt, reading: TaskReading) -> int | None:
    """Return the latest other revision of the task that a file is."""
    for number in range(at.head.newest, 0, -1):
        if number != at.revision and not _differences(task_rows.task_at(c, at.head.id, number), reading):
            return number
    return None


def _held_point(point: ReadPoint) -> HeldPoint:
    return HeldPoint(f"{point.code} {point.name}".strip() if point.code else point.name, point.position, point.zone)


def _held(reading: TaskReading) -> HeldTask:
    return HeldTask(
        points=tuple(_held_point(point) for point in reading.points),
        type=reading.type,
        time_s=reading.time_s,
        free=reading.free,
        take_off=None if reading.take_off is None else _held_point(reading.take_off),
        landing=None if reading.landing is None else _held_point(reading.landing),
    )
