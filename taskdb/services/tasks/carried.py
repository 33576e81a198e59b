"""What becomes of one task that is carried over: its points found in the target, or told; decided, not written."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from taskdb.core.course import assembly
from taskdb.core.course.assembly import Chosen
from taskdb.core.course.measure import KnownExtremes, measure_course
from taskdb.core.history.carried_tasks import carried_places, is_same_course, new_findings
from taskdb.core.history.carry import Carried, CarryOver, Doubtful
from taskdb.core.model import Finding, Status, Task, ZoneFrom
from taskdb.core.names import require_name
from taskdb.core.pasted import command_line
from taskdb.errors import TaskdbError, UsageError
from taskdb.services.references import SetAt, TaskAt, resolve_contest, set_under
from taskdb.services.tasks.basis import Basis, basis_for
from taskdb.services.tasks.free_points import carried_free
from taskdb.services.tasks.review import Together, review_task
from taskdb.store import sets as set_rows, tasks as task_rows

if TYPE_CHECKING:
    from taskdb.core.course.measure import Course
    from taskdb.core.model import Waypoint
    from taskdb.store.engine import Connection, Writing


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


class Grounds:
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


@dataclass(frozen=True)
class Decided:
    """What becomes of a task: its outcome as far as it is known unwritten, and what is to be written, if anything."""

    at: TaskAt
    basis: Basis
    outcome: CarriedTask
    after: Task | None = None
    course: Course | None = None


def decide(
    writing: Writing,
    at: TaskAt,
    basis: Basis,
    grounds: Grounds,
    request: CarryRequest,
    stale: tuple[str, ...] = (),
    new_from: Hashable = None,
) -> Decided:
    # A revision never changes; what a review is told besides is as it was when it was looked at.
    c, name = writing.connection, at.head.contest_name
    key = ("carried", at, name and resolve_contest(c, name), basis.at, basis.contest_head, new_from, stale)
    return writing.once(key, lambda: _decided(c, at, basis, grounds, request, stale))


def _decided(
    c: Connection,
    at: TaskAt,
    basis: Basis,
    grounds: Grounds,
    request: CarryRequest,
    stale: tuple[str, ...],
) -> Decided:
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
        return Decided(at, basis, outcome)
    carried = [r for _, _, _, r in results if isinstance(r, Carried)]
    try:
        after = _carried_task(c, at, before, carried, basis, outcome.name_after, request)
    except TaskdbError as error:
        return Decided(at, basis, replace(outcome, refused=error.message))
    course = measured if is_same_course(before, after) else measure_course(after, touching=False)
    outcome = replace(
        outcome,
        distance_after_m=course.distances.task_m,
        shape_after=course.shape.kind.value,
        findings_after=review_task(after, course, grounds.together, but=(at.head,), with_others=False).open,
    )
    return Decided(at, basis, outcome, after, course)


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


def _require_targets(new: Sequence[Waypoint], mapping: Mapping[str, str], to: SetAt) -> None:
    codes = {waypoint.code for waypoint in new}
    missing = sorted({target for target in mapping.values() if target not in codes})
    if missing:
        raise UsageError(
            "map-target-missing",
            f"--map: {', '.join(missing)} {'is' if len(missing) == 1 else 'are'} not in {to}.",
            hint=f"`{command_line('set show', str(to))}` lists its codes.",
        )
