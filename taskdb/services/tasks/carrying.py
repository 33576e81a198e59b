"""Carrying saved tasks over to another set or revision, one or a whole season, and refreshing those that are stale.

Each task is written only where every point of it is decided; the rest are told with what is in doubt.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import field, replace
from typing import TYPE_CHECKING

from taskdb.core.course import assembly
from taskdb.core.course.assembly import Chosen
from taskdb.core.course.measure import KnownExtremes, measure_course
from taskdb.core.history.carried_tasks import carried_places, is_same_course, new_findings
from taskdb.core.history.carry import Carried, CarryOver, Doubtful
from taskdb.core.model import Finding, Status, Task, ZoneFrom
from taskdb.core.names import require_name
from taskdb.core.numbers import some_of
from taskdb.core.pasted import command_line
from taskdb.errors import RefusedError, TaskdbError, UsageError
from taskdb.services.desk import Desk, Progress, Write, require_confirmed
from taskdb.services.references import SetAt, TaskAt, resolve_contest, resolve_set, resolve_task, set_under, task_title
from taskdb.services.tasks.basis import Basis, basis_for, staleness
from taskdb.services.tasks.free_points import carried_free
from taskdb.services.tasks.review import Together, review_task
from taskdb.services.tasks.task import save_task
from taskdb.store import sets as set_rows, task_lines, tasks as task_rows
from taskdb.store.flown import flown_records
from taskdb.values import dataclass

if TYPE_CHECKING:
    from taskdb.core.kept import TaskHead
    from taskdb.core.model import Waypoint
    from taskdb.store.engine import Connection, Writing

MOST_NAMED = 6


@dataclass(frozen=True)
class CarryRequest:
    """Which tasks go where. `contest` None: a new revision of the same task; else a copy in that contest."""

    references: tuple[str, ...] = ()
    from_contest: str | None = None
    to: str | None = None
    contest: str | None = None
    name_pattern: str = "{name}"
    mapping: Mapping[str, str] = field(default_factory=dict)
    confirm_far: bool | None = None
    """Whether points may move over 1 km; None: where the write is confirmed."""


@dataclass(frozen=True)
class CarriedPoint:
    """What became of one point. `number` None: the declared take-off or landing or a free point, named by `label`."""

    number: int | None
    label: str
    code: str
    matched_by: str | None
    new_code: str | None
    moved_m: float | None
    name: str = ""
    new_name: str | None = None


@dataclass(frozen=True)
class Unresolved:
    number: int | None
    label: str
    code: str
    reason: str
    candidates: tuple[Waypoint, ...]


@dataclass(frozen=True)
class CarriedTask:
    """One task's outcome; `revision` None where nothing was written."""

    task: str
    contest: str | None
    name_after: str
    from_set: str
    to_set: str
    revision: int | None
    points: tuple[CarriedPoint, ...]
    unresolved: tuple[Unresolved, ...]
    distance_before_m: float
    distance_after_m: float | None
    shape_before: str
    shape_after: str | None
    refused: str | None = None
    into: str | None = None
    """The contest into which the task is copied; None: a new revision of the same task."""
    name_pattern: str = "{name}"
    findings_before: tuple[Finding, ...] = ()
    findings_after: tuple[Finding, ...] = ()
    """What a review says, leaving out what was accepted; after: empty where nothing was written."""

    @property
    def new_findings(self) -> tuple[Finding, ...]:
        """Return the findings that were not there before, whatever the points were called."""
        codes = {point.code: point.new_code for point in self.points if point.new_code is not None}
        return new_findings(self.findings_before, self.findings_after, codes)


class _Grounds:
    """The grounds and reviews of one command: tasks of the same set revision share one matching, and one check.

    Sun, wind and times of a contest's day are left out of the reviews before and after: what is compared are the points
    and the course.
    """

    def __init__(
        self, c: Connection, to: SetAt, mapping: Mapping[str, str], confirm_far: bool, together: Together | None = None
    ) -> None:
        self.c, self.to, self.mapping, self.confirm_far = c, to, mapping, confirm_far
        self.together = together or Together(c)
        self.new = set_rows.waypoints_at(c, to.head.id, to.revision)
        self._made: dict[str, CarryOver] = {}
        _require_targets(self.new, mapping, to)

    def old_codes(self) -> frozenset[str]:
        """Return the codes of all sets on which the tasks stood."""
        return frozenset(waypoint.code for ground in self._made.values() for waypoint in ground.old)

    def of(self, task: Task) -> CarryOver:
        key = f"{task.set_name}@{task.set_revision}"
        if key not in self._made:
            at = set_under(self.c, task)
            old = set_rows.waypoints_at(self.c, at.head.id, at.revision)
            kept = set_rows.successors(self.c, self.to.head.id, self.to.revision)
            self._made[key] = CarryOver(old, self.new, kept, self.mapping, self.confirm_far)
        return self._made[key]


def carry_tasks(
    desk: Desk, request: CarryRequest, write: Write, progress: Progress | None = None
) -> tuple[CarriedTask, ...]:
    """Carry tasks over; those fully decided are written, the rest told. `write.confirmed` lets points move over 1 km.

    Asks before a task that was flown gets a new revision. Raises UsageError where no task is named or no target,
    NotFoundError for a name that is not there.
    """
    confirm_far = write.confirmed if request.confirm_far is None else request.confirm_far
    with desk.writing(write) as writing:
        if request.contest is None:
            _require_not_flown(writing.connection, _chosen(writing.connection, request), write)
        outcomes = carry_into(writing, request, confirm_far=confirm_far, progress=progress)
        if not any(outcome.revision is not None for outcome in outcomes):
            writing.abandon()
    return outcomes


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


def carry_into(
    writing: Writing, request: CarryRequest, *, confirm_far: bool, progress: Progress | None = None
) -> tuple[CarriedTask, ...]:
    """Carry tasks over within a write that is under way."""
    c = writing.connection
    chosen = _chosen(c, request)
    basis = _target(c, request)
    grounds = _Grounds(c, basis.at, request.mapping, confirm_far)
    outcomes = []
    for number, at in enumerate(chosen):
        if progress is not None:
            progress(f"{number} of {len(chosen)} tasks")
        outcomes.append(_carry(writing, at, basis, grounds, request))
    _require_known(request.mapping, outcomes, grounds)
    return tuple(outcomes)


def refresh_tasks(desk: Desk, references: Sequence[str], contest: str | None, write: Write) -> tuple[CarriedTask, ...]:
    """Bring stale tasks up to the set revision and zone defaults that count for them now; zones set by hand stay.

    With no reference every task of the contest. A task that is not stale is passed over.
    """
    if not references and contest is None:
        raise UsageError(
            "nothing-named", "No task is named.", hint="Name tasks, or give --contest NAME for all of its."
        )
    with desk.writing(write) as writing:
        c = writing.connection
        if references:
            chosen = [resolve_task(c, reference, contest) for reference in references]
        else:
            chosen = _tasks_of_contest(c, str(contest))
        outcomes = refresh_into(writing, chosen, confirm_far=write.confirmed)
        if not any(outcome.revision is not None for outcome in outcomes):
            writing.abandon()
    return outcomes


def refresh_into(writing: Writing, chosen: Sequence[TaskAt], *, confirm_far: bool) -> tuple[CarriedTask, ...]:
    """Refresh those of the tasks that are stale, within a write that is under way."""
    c = writing.connection
    outcomes = []
    together, shared = Together(c), {}
    for at in chosen:
        task = task_rows.task_at(c, at.head.id, at.head.newest)
        stale = staleness(c, at.head, task)[0]
        if not stale:
            continue
        basis = basis_for(c, at.head.contest_name, None if at.head.contest_name else task.set_name)
        key = str(basis.at)
        if key not in shared:
            shared[key] = _Grounds(c, basis.at, {}, confirm_far, together)
        outcomes.append(_carry(writing, at, basis, shared[key], CarryRequest(), stale))
    return tuple(outcomes)


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


def _carry(
    writing: Writing,
    at: TaskAt,
    basis: Basis,
    grounds: _Grounds,
    request: CarryRequest,
    stale: tuple[str, ...] = (),
) -> CarriedTask:
    c = writing.connection
    before = task_rows.task_at(c, at.head.id, at.revision)
    # The extremes are kept with the task: they are not searched for anew.
    known = KnownExtremes(*task_rows.extremes_at(c, at.head.id, at.revision))
    measured = measure_course(before, touching=False, known=known)
    found = review_task(before, measured, grounds.together, but=(at.head,), stale=stale, with_others=False).open
    results = carried_places(before, grounds.of(before))
    outcome = CarriedTask(
        task=before.name,
        contest=at.head.contest_name,
        name_after=request.name_pattern.replace("{name}", before.name) if request.contest else before.name,
        from_set=f"{before.set_name}@{before.set_revision}",
        to_set=str(basis.at),
        revision=None,
        points=tuple(
            CarriedPoint(n, label, place.code, r.matched_by, r.place.code, r.moved_m, place.name, r.place.name)
            for n, label, place, r in results
            if isinstance(r, Carried)
        ),
        unresolved=tuple(
            Unresolved(n, label, r.place.code, r.reason, r.candidates)
            for n, label, _, r in results
            if isinstance(r, Doubtful)
        ),
        distance_before_m=measured.distances.task_m,
        distance_after_m=None,
        shape_before=measured.shape.kind.value,
        shape_after=None,
        into=request.contest,
        name_pattern=request.name_pattern,
        findings_before=found,
    )
    if outcome.unresolved:
        return outcome
    carried = [r for _, _, _, r in results if isinstance(r, Carried)]
    try:
        after = _carried_task(c, at, before, carried, basis, outcome.name_after, request)
        head, contest_id = _place_to_write(writing, at, basis, after, request)
    except TaskdbError as error:
        return replace(outcome, refused=error.message)
    course = measured if is_same_course(before, after) else measure_course(after, touching=False)
    saved = save_task(writing, head, contest_id, after, course=course)
    return replace(
        outcome,
        revision=saved.newest,
        distance_after_m=course.distances.task_m,
        shape_after=course.shape.kind.value,
        findings_after=review_task(after, course, grounds.together, but=(saved, at.head), with_others=False).open,
    )


def _carried_task(
    c: Connection,
    at: TaskAt,
    before: Task,
    carried: Sequence[Carried],
    basis: Basis,
    name: str,
    request: CarryRequest,
) -> Task:
    """Return the task on its new ground: places carried, zones set by hand kept, defaults taken anew."""
    own = [p.zone if p.zone_from is ZoneFrom.OWN else None for p in before.points]
    count = len(before.points)
    chosen = [
        Chosen(result.place, replace(zone, axis_deg=None) if zone is not None else None)
        for result, zone in zip(carried[:count], own, strict=True)
    ]
    keeps_contest = request.contest is None and at.head.contest_id is not None
    defaults_from = _own_basis(c, at) if keeps_contest and basis.contest is None else basis
    day = before.day if request.contest is None else None
    defaults = defaults_from.defaults_for(before.class_name, day)
    rest = iter(carried[count:])
    after = replace(
        before,
        name=require_name(name, what="task", colon=True),
        points=assembly.assemble(chosen, before.type, defaults),
        set_name=basis.at.head.name,
        set_revision=basis.at.revision,
        rules=defaults_from.rules if defaults_from.contest is not None else before.rules,
        contest_revision=defaults_from.contest_head.newest if defaults_from.contest_head else before.contest_revision,
        take_off=next(rest).place if before.take_off is not None else None,
        landing=next(rest).place if before.landing is not None else None,
        free=carried_free(before, tuple(rest), basis.at, defaults),
    )
    if request.contest is None:
        return after
    return replace(after, contest=request.contest, day=None, status=Status.PROPOSED, issued_at=None)


def _own_basis(c: Connection, at: TaskAt) -> Basis:
    return basis_for(c, at.head.contest_name, None)


def _place_to_write(
    writing: Writing, at: TaskAt, basis: Basis, after: Task, request: CarryRequest
) -> tuple[TaskHead | None, int | None]:
    if request.contest is None:
        return task_rows.lock_task(writing, at.head.id), at.head.contest_id
    assert basis.contest_head is not None
    if task_rows.find_task(writing.connection, after.name, basis.contest_head.id) is not None:
        raise RefusedError(
            "task-exists",
            f"There is a task {after.name!r} already in {request.contest!r}.",
            hint='Give another name pattern, e.g. --name "{name} 2026".',
        )
    return None, basis.contest_head.id


def _require_known(mapping: Mapping[str, str], outcomes: Sequence[CarriedTask], grounds: _Grounds) -> None:
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


def _require_targets(new: Sequence[Waypoint], mapping: Mapping[str, str], to: SetAt) -> None:
    codes = {waypoint.code for waypoint in new}
    missing = sorted({target for target in mapping.values() if target not in codes})
    if missing:
        raise UsageError(
            "map-target-missing",
            f"--map: {', '.join(missing)} {'is' if len(missing) == 1 else 'are'} not in {to}.",
            hint=f"`{command_line('set show', str(to))}` lists its codes.",
        )
