"""A task put together from what was typed, on its basis: measured as it grows, or saved by `services.tasks.task`."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from taskdb.core.course import assembly
from taskdb.core.course.assembly import Chosen, ZoneChoice
from taskdb.core.course.day import DaySheet
from taskdb.core.course.measure import Course, Leg, legs_between, measure_course
from taskdb.core.model import Contest, Earth, Place, Position, Task, TaskType, Zone
from taskdb.core.names import require_name
from taskdb.core.pasted import command_line
from taskdb.errors import NotFoundError, RefusedError, TaskdbError, UsageError
from taskdb.services.desk import Desk
from taskdb.services.tasks.basis import Basis, basis_for, optional_place, resolve_place
from taskdb.services.tasks.day import on_its_day
from taskdb.services.tasks.free_points import FreeRequest, chosen_free
from taskdb.services.tasks.review import Review, Together, review_task
from taskdb.store import tasks as task_rows

if TYPE_CHECKING:
    from taskdb.store.engine import Connection


@dataclass(frozen=True)
class PointRequest:
    """A point as typed: a reference or a position, and the zone typed after it, if any."""

    reference: str
    zone: Zone | None = None


@dataclass(frozen=True)
class NewTask:
    name: str
    points: tuple[PointRequest, ...]
    contest: str | None = None
    set_reference: str | None = None
    type: TaskType | None = None
    day: int | None = None
    class_name: str | None = None
    variant: str | None = None
    time_s: int | None = None
    speed_kmh: float | None = None
    zones: tuple[ZoneChoice, ...] = ()
    take_off: str | None = None
    landing: str | None = None
    tags: tuple[str, ...] = ()
    free: FreeRequest | None = None


def built_task(c: Connection, request: NewTask, basis: Basis) -> Task:
    """Return the task that was asked for, its references looked up. Nothing is kept, and its name is not checked."""
    places = _places(c, request.points, basis)
    chosen = [Chosen(place, p.zone) for place, p in zip(places, request.points, strict=True)]
    task_type = request.type or assembly.default_type(
        [*(choice.own_zone for choice in chosen), *(choice.zone for choice in request.zones)]
    )
    chosen = assembly.with_zones(chosen, request.zones, task_type)
    class_name = class_of(basis.contest, request.class_name)
    defaults = basis.defaults_for(class_name, request.day)
    return basis.task(
        name=request.name,
        type=task_type,
        points=assembly.assemble(chosen, task_type, defaults),
        day=request.day,
        class_name=class_name,
        variant=request.variant,
        time_s=request.time_s,
        speed_kmh=request.speed_kmh,
        free=chosen_free(c, request.free, task_type, basis.at, defaults),
        take_off=optional_place(c, request.take_off, basis.at),
        landing=optional_place(c, request.landing, basis.at),
        tags=tuple(sorted(set(request.tags))),
    )


def _places(c: Connection, points: Sequence[PointRequest], basis: Basis) -> list[Place]:
    """Return the places of the points. Where several cannot be found all of them are told."""
    places: list[Place] = []
    missing: list[NotFoundError] = []
    for number, point in enumerate(points):
        try:
            places.append(resolve_place(c, point.reference, basis.at, number))
        except NotFoundError as error:
            missing.append(error)
    if len(missing) == 1:
        raise missing[0]
    if missing:
        lines = [f"{error.message} {error.hint or ''}".strip() for error in missing]
        raise NotFoundError(
            "waypoint-not-found",
            f"{len(missing)} points are not in {basis.at}.",
            hint="`taskdb waypoint find TEXT` searches all sets.",
            details={"lines": lines},
        )
    return places


@dataclass(frozen=True)
class DraftTask:
    """A task as far as it has grown: its places, and from two points on the task and its course, or why there is none.

    `set_at` is the set revision on which it stands, `site` the code of its contest's site there. With the task comes
    what `task show` has of it: its day, and what a review finds. `together` is what drafts of one task share.
    """

    set_at: str
    places: tuple[Place, ...]
    site: str | None = None
    task: Task | None = None
    course: Course | None = None
    problem: str | None = None
    day: DaySheet | None = None
    review: Review | None = None
    together: Together | None = field(default=None, compare=False, repr=False)

    @property
    def legs(self) -> tuple[Leg, ...]:
        """The legs from place to place; what is no task yet has no earth model and is measured on WGS84."""
        if self.course is not None:
            return self.course.between_points
        return legs_between([place.position for place in self.places], Earth.WGS84)

    def leg_to(self, position: Position) -> Leg | None:
        """Return the leg on WGS84 from the last place to a position, None where there is no place yet."""
        return legs_between([self.places[-1].position, position], Earth.WGS84)[0] if self.places else None


def draft_task(desk: Desk, request: NewTask, before: DraftTask | None = None) -> DraftTask:
    """Return what a task would be if it were made now; nothing is kept. `before` is an earlier draft of the same task.

    Raises what `new_task` raises for its name, its contest, its set and its references; what else stands between its
    points and a task is the draft's `problem`.
    """
    name = require_name(request.name, what="task", colon=True)
    with desk.store.reading() as c:
        basis = basis_for(c, request.contest, request.set_reference)
        require_free_name(c, name, basis.contest_id)
        places = tuple(resolve_place(c, p.reference, basis.at, number) for number, p in enumerate(request.points))
        site = basis.contest.site if basis.contest is not None else None
        together = (before.together if before is not None else None) or Together(c)
        together.c = c
        draft = DraftTask(str(basis.at), places, site, together=together)
        if len(places) < 2:
            return draft
        try:
            task = built_task(c, request, basis)
            return _with_all_that_is_shown(c, draft, task, together)
        except TaskdbError as error:
            return replace(draft, problem=error.message)


def _with_all_that_is_shown(c: Connection, draft: DraftTask, task: Task, together: Together) -> DraftTask:
    course, day = on_its_day(c, task, measure_course(task, touching=False))
    review = review_task(task, course, together, day=day)
    return replace(draft, task=task, course=course, day=day, review=review)


def require_free_name(c: Connection, name: str, contest_id: int | None) -> None:
    """Raise RefusedError where a contest, or the tasks without one, have a task of this name, retired or not."""
    taken = task_rows.find_task(c, name, contest_id)
    if taken is not None:
        state = "a retired task" if taken.retired else "a task"
        raise RefusedError(
            "task-exists",
            f"There is {state} {name!r} already{' in this contest' if contest_id is not None else ''}.",
            hint=f"Choose another name, or change it with `{command_line('task edit', name)}`."
            if not taken.retired
            else f"`{command_line('task restore', name)}` brings it back.",
        )


def class_of(contest: Contest | None, name: str | None) -> str | None:
    """Return a class's name. UsageError for one that a contest with classes does not have."""
    if name is None or contest is None or not contest.classes:
        return name
    names = [c.name for c in contest.classes]
    if name not in names:
        raise UsageError(
            "unknown-class", f"{contest.name!r} has no class {name!r}.", hint=f"Its classes: {', '.join(names)}."
        )
    return name
