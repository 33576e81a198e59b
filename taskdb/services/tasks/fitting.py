"""Radii for a saved task's areas by which its minimum time suits slow and fast; kept as a variant where asked for."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import TYPE_CHECKING

from taskdb.core.contests.scopes import speeds_expected, what_holds
from taskdb.core.course import assembly
from taskdb.core.course.assembly import ZoneChoice
from taskdb.core.course.measure import is_open_ended
from taskdb.core.course.wind import CALM
from taskdb.core.course.zones import with_radius
from taskdb.core.judgement import sizes as sized
from taskdb.core.judgement.fit import Asked, Fit, fit
from taskdb.core.judgement.sizes import Sizes, cap_of
from taskdb.core.model import Contest, Status, Task, TaskPoint
from taskdb.core.names import require_name
from taskdb.core.pasted import command_line
from taskdb.core.quantities import Step, Wind
from taskdb.errors import RefusedError, UsageError
from taskdb.services.desk import Desk, Write
from taskdb.services.references import contest_of, resolve_task
from taskdb.services.tasks.basis import saved_defaults
from taskdb.services.tasks.building import require_free_name
from taskdb.services.tasks.keeping import TaskShown, keep_task
from taskdb.store import tasks as task_rows

if TYPE_CHECKING:
    from taskdb.core.kept import TaskHead
    from taskdb.store.engine import Connection, Writing

LEAST_CAP_M = 1.0


class How(StrEnum):
    """How areas grow together."""

    COMMON = "common"
    EACH = "each"
    SHARE = "share"


class WindFrom(StrEnum):
    """Where the wind comes from that a fit reckons with."""

    GIVEN = "given"
    DAY = "day"
    NONE = "none"


@dataclass(frozen=True)
class FitRequest:
    """What is asked for; what is None comes from the task, its contest's class and its day.

    `shares` are by number of an area (1 where an area is not named); `kept` are areas that keep their zone.
    """

    step: Step
    slowest_kmh: float | None = None
    fastest_kmh: float | None = None
    wind: Wind | None = None
    time_s: int | None = None
    each: bool = False
    shares: Mapping[int, float] | None = None
    kept: tuple[int, ...] = ()


@dataclass(frozen=True)
class Fitted:
    """A task and what was found for it; `saved` is the variant that was made of it."""

    task: Task
    revision: int
    how: How
    sizes: Sizes
    wind_from: WindFrom
    whose: str | None
    """Whose speeds they are, in words; None where both were given."""
    fit: Fit
    saved: TaskShown | None = None

    def point(self, number: int) -> TaskPoint:
        """Return a point of the task as it is saved."""
        return self.task.points[number]

    @property
    def wind(self) -> Wind | None:
        """Return the wind reckoned with, None for calm air because none is known."""
        return None if self.wind_from is WindFrom.NONE else self.fit.asked.wind

    @property
    def sizes_text(self) -> dict[int, str]:
        """Return the radius found for each area as it would be typed, in the unit asked for; empty where none was."""
        if self.fit.steps is None:
            return {}
        return {number: self.sizes.step.text(steps) for number, steps in self.sizes.steps(self.fit.steps).items()}


def fit_task(desk: Desk, reference: str, request: FitRequest, contest: str | None = None) -> Fitted:
    """Return the smallest radii that suit; nothing is kept.

    UsageError where a time or speeds are missing or an area is named that is none. RefusedError for a task without
    areas, one that ends by the pilot's choice, and areas that cannot be sized.
    """
    with desk.store.reading() as c:
        at = resolve_task(c, reference, contest)
        return fitted(c, task_rows.task_at(c, at.head.id, at.revision), at.revision, request)


def save_fit(
    desk: Desk, reference: str, request: FitRequest, variant: str, write: Write, contest: str | None = None
) -> Fitted:
    """Find the radii like `fit_task`, and make a proposed copy of the task with them, as another variant of it.

    RefusedError where no radius suits, and where the copy's name is taken; UsageError for a variant without letters.
    """
    variant = require_name(variant, what="variant")

    def work(writing: Writing) -> Fitted:
        c = writing.connection
        at = resolve_task(c, reference, contest)
        task = task_rows.task_at(c, at.head.id, at.revision)
        name = require_name(_variant_name(task, variant), what="task", colon=True)
        require_free_name(c, name, at.head.contest_id)
        found = fitted(c, task, at.revision, request)
        if found.fit.steps is None:
            raise _nothing_suits(found)
        resized = _resized(c, at.head, found, name, variant)
        return replace(found, saved=keep_task(writing, None, at.head.contest_id, resized))

    return desk.write(write, work)


def _variant_name(task: Task, variant: str) -> str:
    """Return the name of a task's other variant: `Day 1 B` for `Day 1 A`, `B1 B` where the name holds none."""
    own = f" {task.variant}" if task.variant else ""
    stem = task.name.removesuffix(own) if own else task.name
    return f"{stem or task.name} {variant}"


def _resized(c: Connection, head: TaskHead, found: Fitted, name: str, variant: str) -> Task:
    task, sizes = found.task, found.sizes_text
    copied = replace(
        task,
        name=name,
        variant=variant,
        status=Status.PROPOSED,
        issued_at=None,
        time_s=round(found.fit.asked.time_s),
    )
    choices = [ZoneChoice(number, with_radius(task.points[number].zone, size)) for number, size in sizes.items()]
    chosen = assembly.with_zones(assembly.chosen_of(task.points), choices, task.type)
    return replace(copied, points=assembly.assemble(chosen, task.type, saved_defaults(c, head, copied)))


def fitted(c: Connection, task: Task, revision: int, request: FitRequest) -> Fitted:
    """Return the smallest radii that suit a task, which need not be saved; raises what `fit_task` raises."""
    _require_areas(task)
    contest = contest_of(c, task.contest)
    wind, wind_from = _wind(contest, task, request)
    slowest, fastest, whose = _speeds(contest, task, request)
    asked = Asked(slowest, fastest, wind, _time_s(task, request))
    how, sizes = _sizes(task, request)
    _require_room(task, sizes)
    return Fitted(task, revision, how, sizes, wind_from, whose, fit(task, sizes, asked))


def _wind(contest: Contest | None, task: Task, request: FitRequest) -> tuple[Wind, WindFrom]:
    if request.wind is not None:
        return request.wind, WindFrom.GIVEN
    wind = what_holds(contest, task.class_name, task.day).wind
    return (CALM, WindFrom.NONE) if wind is None else (wind, WindFrom.DAY)


def _speeds(contest: Contest | None, task: Task, request: FitRequest) -> tuple[float, float, str | None]:
    for end, given in (("slowest", request.slowest_kmh), ("fastest", request.fastest_kmh)):
        if given is not None and given <= 0:
            raise UsageError(
                "bad-value", f"--{end}: nobody flies at {given:g} km/h.", hint="Give an average, e.g. 60km/h."
            )
    expected = speeds_expected(contest, task.class_name, task.day)
    slowest = request.slowest_kmh or (expected.slowest_kmh if expected is not None else None)
    fastest = request.fastest_kmh or (expected.fastest_kmh if expected is not None else None)
    missing = [f"--{end}" for end, speed in (("slowest", slowest), ("fastest", fastest)) if not speed]
    if slowest is None or fastest is None or missing:
        raise UsageError(
            "no-speeds",
            f"It is not known how fast {task.name!r} is flown: {' and '.join(missing)} missing.",
            hint="Give --slowest 60km/h --fastest 110km/h, averages in still air, or set them for the contest's class.",
        )
    if slowest > fastest:
        raise UsageError("bad-range", "The slowest speed is above the fastest.", hint="Exchange them.")
    both_given = request.slowest_kmh is not None and request.fastest_kmh is not None
    return slowest, fastest, None if both_given or expected is None else expected.whose


def _time_s(task: Task, request: FitRequest) -> float:
    if request.time_s == 0:
        raise UsageError("bad-value", "--time: 0:00 is no minimum time.", hint="E.g. --time 3:00.")
    time_s = request.time_s or task.time_s
    if not time_s:
        raise UsageError(
            "no-time", f"The task {task.name!r} has no minimum time of its own.", hint="Add --time, e.g. --time 3:00."
        )
    return float(time_s)


def _sizes(task: Task, request: FitRequest) -> tuple[How, Sizes]:
    kept = request.kept
    _require_areas_named(task, [*kept, *(request.shares or {})])
    twice = sorted(set(kept) & set(request.shares or {}))
    if request.each and request.shares:
        raise UsageError("each-or-share", "--each and --share exclude each other.", hint="Give one of them.")
    if twice:
        raise UsageError("keep-or-share", f"Area {twice[0]} is both kept and given a share.", hint="Give one of them.")
    free = sized.free_areas(task, kept)
    if not free:
        raise UsageError("all-kept", "All areas are kept: none is left to be sized.", hint="Leave out one --keep.")
    odd = sized.unsized(task, kept)
    if odd:
        point = task.points[odd[0]]
        raise RefusedError(
            "no-one-radius",
            f"Point {odd[0]} ({point.place.code}) has the zone {point.zone.text!r}: it has no one radius to be sized.",
            hint=f"--keep {odd[0]} leaves it as it is; or give it a circle: "
            f"{command_line('task edit', task.name, options=['--zone', f'{odd[0]}=area 20km'])}",
        )
    if request.shares:
        return How.SHARE, sized.in_shares({number: request.shares.get(number, 1.0) for number in free}, request.step)
    if request.each:
        return How.EACH, sized.in_proportion(task, request.step, kept)
    return How.COMMON, sized.common(task, request.step, kept)


def _require_areas_named(task: Task, numbers: list[int]) -> None:
    areas = sized.area_numbers(task)
    for number in numbers:
        if number not in areas:
            raise UsageError(
                "no-such-area",
                f"Point {number} of {task.name!r} is no area.",
                hint=f"Its areas: {', '.join(map(str, areas))}.",
            )


def _require_areas(task: Task) -> None:
    if is_open_ended(task):
        raise RefusedError(
            "open-ended",
            f"{task.name!r} goes on by the pilot's own choice, so it has no maximum distance that radii could suit.",
            hint="An assigned-area task has: taskdb task new NAME START POINT 'area 20km' … FINISH --time 3:00",
        )
    if not sized.area_numbers(task):
        raise RefusedError(
            "no-areas",
            f"{task.name!r}, a {task.type} task, has no areas whose radii could be chosen.",
            hint=f"{command_line('task copy', task.name, 'NEW')}, then "
            "taskdb task edit NEW --type assigned-area --time 3:00",
        )


def _require_room(task: Task, sizes: Sizes) -> None:
    cap = cap_of(task, sizes)
    if cap.metres >= LEAST_CAP_M:
        return
    area, other = (f"{number} ({task.points[number].place.code})" for number in cap.numbers)
    raise RefusedError(
        "no-room",
        f"Area {area} has no room beside point {other}, whatever its radius.",
        hint="Choose points further apart: taskdb task edit NAME --point N=POINT",
    )


def _nothing_suits(found: Fitted) -> RefusedError:
    time_s = found.fit.time_that_fits_s
    hint = "Other points, other speeds or a finer --step."
    if time_s is not None:
        hours, minutes = divmod(round(time_s / 60), 60)
        hint = f"Another time would do: --time {hours}:{minutes:02d}"
    return RefusedError("nothing-suits", "No radius suits both speeds, so no variant is made.", hint=hint)
