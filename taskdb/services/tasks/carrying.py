"""Carrying saved tasks over to another set or revision, one or a whole season, and refreshing those that are stale.

Each task is written only where every point of it is decided; the rest are told with what is in doubt.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from taskdb.core.model import Status
from taskdb.core.numbers import some_of
from taskdb.errors import UsageError
from taskdb.services.desk import Desk, Progress, Write, require_confirmed
from taskdb.services.references import TaskAt, resolve_contest, resolve_set, resolve_task, task_title
from taskdb.services.tasks.basis import Basis, basis_for, staleness
from taskdb.services.tasks.carried import (
    CarriedPoint as CarriedPoint,
    CarriedTask as CarriedTask,
    CarryRequest as CarryRequest,
    Decided as Decided,
    Grounds,
    Unresolved as Unresolved,
    decide,
)
from taskdb.services.tasks.keeping import save_task
from taskdb.services.tasks.review import Together
from taskdb.store import task_lines, tasks as task_rows
from taskdb.store.flown import flown_records

if TYPE_CHECKING:
    from taskdb.store.engine import Connection, Writing

MOST_NAMED = 6


def carry_tasks(
    desk: Desk, request: CarryRequest, write: Write, progress: Progress | None = None
) -> tuple[CarriedTask, ...]:
    """Carry tasks over; those fully decided are written, the rest told. `write.confirmed` lets points move over 1 km.

    Asks before a task that was flown gets a new revision. Raises UsageError where no task is named or no target,
    NotFoundError for a name that is not there.
    """
    confirm_far = write.confirmed if request.confirm_far is None else request.confirm_far

    def work(writing: Writing) -> tuple[CarriedTask, ...]:
        if request.contest is None:
            _require_not_flown(writing.connection, _chosen(writing.connection, request), write)
        basis = _target(writing.connection, request)
        grounds = Grounds(writing.connection, basis.at, request.mapping, confirm_far)
        outcomes = write_carried(writing, _decide_all(writing, request, basis, grounds, progress=progress))
        if not any(outcome.revision is not None for outcome in outcomes):
            writing.abandon()
        return outcomes

    return desk.write(write, work)


def _require_not_flown(c: Connection, chosen: Sequence[TaskAt], write: Write) -> None:
    """Ask before tasks that were flown are revised: what was flown is not what would then be the newest."""
    flown = []
    for at in chosen:
        task = task_rows.task_at(c, at.head.id, at.revision)
        if task.status is Status.FLOWN or flown_records(c, at.head.id):
            flown.append(task_title(at.head))
    if flown:
        require_confirmed(
            write,
            f"{some_of(flown, MOST_NAMED)}: flown already. --contest NEW copies into the next contest; without it what "
            "was flown is revised. Revise all the same?",
            flown=flown,
        )


def decide_season(
    writing: Writing,
    request: CarryRequest,
    basis: Basis,
    *,
    new_from: Hashable,
    confirm_far: bool,
    progress: Progress | None = None,
) -> tuple[Decided, ...]:
    """Decide what becomes of a contest's tasks in one that is about to be made; `new_from` is what it is made from."""
    grounds = Grounds(writing.connection, basis.at, request.mapping, confirm_far)
    if basis.contest is not None:
        grounds.together.take_as_kept(basis.contest)
    return _decide_all(writing, request, basis, grounds, new_from, progress)


def _decide_all(
    writing: Writing,
    request: CarryRequest,
    basis: Basis,
    grounds: Grounds,
    new_from: Hashable = None,
    progress: Progress | None = None,
) -> tuple[Decided, ...]:
    chosen = _chosen(writing.connection, request)
    decided = []
    for number, at in enumerate(chosen):
        if progress is not None:
            progress(f"{number} of {len(chosen)} tasks")
        decided.append(decide(writing, at, basis, grounds, request, new_from=new_from))
    _require_known(request.mapping, [one.outcome for one in decided], grounds)
    return tuple(decided)


def write_carried(
    writing: Writing, decided: Sequence[Decided], contest_id: int | None = None
) -> tuple[CarriedTask, ...]:
    """Write the tasks that are fully decided and whose names are free; `contest_id` is that of a new contest."""
    return tuple(_write(writing, one, contest_id) for one in decided)


def refresh_tasks(desk: Desk, references: Sequence[str], contest: str | None, write: Write) -> tuple[CarriedTask, ...]:
    """Bring stale tasks up to the set revision and zone defaults that count for them now; zones set by hand stay.

    With no reference every task of the contest. A task that is not stale is passed over.
    """
    if not references and contest is None:
        raise UsageError(
            "nothing-named", "No task is named.", hint="Name tasks, or give --contest NAME for all of its."
        )

    def work(writing: Writing) -> tuple[CarriedTask, ...]:
        c = writing.connection
        if references:
            chosen = [resolve_task(c, reference, contest) for reference in references]
        else:
            chosen = _tasks_of_contest(c, str(contest))
        outcomes = refresh_into(writing, chosen, confirm_far=write.confirmed)
        if not any(outcome.revision is not None for outcome in outcomes):
            writing.abandon()
        return outcomes

    return desk.write(write, work)


def refresh_into(writing: Writing, chosen: Sequence[TaskAt], *, confirm_far: bool) -> tuple[CarriedTask, ...]:
    """Refresh those of the tasks that are stale, within a write that is under way."""
    c = writing.connection
    decided = []
    together, shared = Together(c), {}
    for at in chosen:
        task = task_rows.task_at(c, at.head.id, at.head.newest)
        stale = staleness(c, at.head, task)[0]
        if not stale:
            continue
        basis = basis_for(c, at.head.contest_name, None if at.head.contest_name else task.set_name)
        key = str(basis.at)
        if key not in shared:
            shared[key] = Grounds(c, basis.at, {}, confirm_far, together)
        decided.append(decide(writing, at, basis, shared[key], CarryRequest(), stale))
    return write_carried(writing, decided)


def _chosen(c: Connection, request: CarryRequest) -> list[TaskAt]:
    if request.from_contest is not None:
        if request.references:
            raise UsageError(
                "names-and-contest", "Tasks are named, and --from-contest names all of a contest.", hint="Give one."
            )
        return _tasks_of_contest(c, request.from_contest)
    if not request.references:
        raise UsageError(
            "nothing-named", "No task is named.", hint="Name tasks, or give --from-contest OLD for a whole season."
        )
    return [resolve_task(c, reference) for reference in request.references]


def _tasks_of_contest(c: Connection, name: str) -> list[TaskAt]:
    head = resolve_contest(c, name)
    return [TaskAt(row.head, row.revision) for row in task_lines.list_tasks(c, contest_id=head.id)]


def _target(c: Connection, request: CarryRequest) -> Basis:
    """Return what the carried tasks stand on: the new contest with its defaults on the set asked for."""
    if request.contest is None:
        if request.to is None:
            raise UsageError("no-target", "It is not said where to.", hint="Give --to SET[@R], or --contest NEW.")
        return basis_for(c, None, request.to)
    basis = basis_for(c, request.contest, None)
    if request.to is None:
        return basis
    return replace(basis, at=resolve_set(c, request.to))


def _write(writing: Writing, decided: Decided, contest_id: int | None) -> CarriedTask:
    at, basis, outcome, after = decided.at, decided.basis, decided.outcome, decided.after
    if after is None:
        return outcome
    if outcome.into is None:
        head = task_rows.task_head(writing.connection, at.head.id)
        saved = save_task(writing, head, head.contest_id, after, course=decided.course)
        return replace(outcome, revision=saved.newest)
    if contest_id is None and basis.contest_head is not None:
        contest_id = basis.contest_head.id
    if task_rows.find_task(writing.connection, after.name, contest_id) is not None:
        why = f"There is a task {after.name!r} already in {outcome.into!r}."
        unwritten = replace(outcome, distance_after_m=None, shape_after=None, findings_after=())
        return replace(unwritten, refused=why)
    return replace(outcome, revision=save_task(writing, None, contest_id, after, course=decided.course).newest)


def _require_known(mapping: Mapping[str, str], outcomes: Sequence[CarriedTask], grounds: Grounds) -> None:
    """Refuse a mapped code that no task and no old set has: typed wrongly, it would leave its point to the matching."""
    used = {point.code for outcome in outcomes for point in outcome.points}
    used |= {point.code for outcome in outcomes for point in outcome.unresolved}
    unknown = sorted(code for code in mapping if code not in used | grounds.old_codes())
    if unknown:
        raise UsageError(
            "map-source-missing",
            f"--map: no point of these tasks has the code {', '.join(unknown)}.",
            hint=f"Their points: {' '.join(sorted(used))}." if len(used) <= 40 else "`taskdb task show` lists points.",
        )
