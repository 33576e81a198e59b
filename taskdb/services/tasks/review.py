"""Reviews of tasks: gathering what the rules may know, running them, telling which findings somebody has accepted."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from taskdb.core.contests.days import DayChange
from taskdb.core.contests.scopes import Holding, flown_heights, speeds_expected, what_holds
from taskdb.core.course.day import DaySheet
from taskdb.core.course.fingerprint import fingerprint
from taskdb.core.course.measure import Course
from taskdb.core.findings import is_at_least
from taskdb.core.ground import CAUTION, GroundHeights
from taskdb.core.model import Acceptance, Contest, Finding, Severity, Task
from taskdb.core.review.limits import Limits, limits_of
from taskdb.core.review.rule import Reviewed, SavedTask
from taskdb.core.review.rules import run_review
from taskdb.errors import UsageError
from taskdb.services.airspace.held import HeldAgainst, held_against
from taskdb.services.checks.kept import open_findings
from taskdb.services.references import SetAt, contest_of, resolve_set
from taskdb.services.tasks.covers import CoverAsked, CoverFound, Covers
from taskdb.services.tasks.day import sun_over
from taskdb.services.tasks.of_day import OfDay
from taskdb.store import findings as finding_rows, sets as set_rows, task_lines, task_search, tasks as task_rows

if TYPE_CHECKING:
    from taskdb.core.course.wind import SpeedRange
    from taskdb.core.kept import TaskHead, TaskSummaryRow
    from taskdb.store.engine import Connection

LARGEST_SET = 5_000
"""Up to so many waypoints the checks of a task's set run along with every look at the task, not with reviews alone."""

MOST_SEARCHED = 50
"""For so many tasks others with the same points are searched for one by one."""


@dataclass(frozen=True)
class Review:
    """What the rules say about one task. `findings` holds the accepted ones too, marked; `notes` what was left out.

    `held` is the airspace that it was held against, `cover` its landable cover where the contest has a glide for it.
    """

    findings: tuple[Finding, ...]
    limits: Limits
    notes: tuple[str, ...] = ()
    held: HeldAgainst = field(default_factory=HeldAgainst)
    cover: CoverFound | None = None

    @property
    def open(self) -> tuple[Finding, ...]:
        """Return the findings that nobody has accepted."""
        return tuple(finding for finding in self.findings if finding.accepted is None)

    def has_at_or_above(self, severity: Severity) -> bool:
        """Say whether an open finding is at least this severe."""
        return any(is_at_least(finding.severity, severity) for finding in self.open)


_ClassDay = tuple[str | None, str | None, int | None]


class Together:
    """What the reviews of several tasks share, each looked up once: contests, checks of sets, what was accepted there.

    Good for one look into the store, in which no contest and no set changes. `any_set` checks a set however large it
    is; else only up to `LARGEST_SET`, and none where not `with_set`. `airspace` names what tasks are held against in
    place of their contest's, `cover` what landable cover reckons with in place of its limits.
    """

    def __init__(
        self,
        c: Connection,
        *,
        any_set: bool = False,
        with_set: bool = True,
        airspace: Sequence[str] = (),
        ground: GroundHeights | None = None,
        cover: CoverAsked | None = None,
    ) -> None:
        self.c, self.any_set, self.airspace, self.ground = c, any_set, airspace, ground
        self.with_set = with_set
        self.covers = Covers(c, cover or CoverAsked(), ground)
        self.of_day = OfDay()
        self._held: dict[str | None, HeldAgainst] = {}
        self._contests: dict[str | None, Contest | None] = {}
        self._sets: dict[str, SetAt] = {}
        self._accepted: dict[str, Mapping[str, Acceptance]] = {}
        self._found: dict[str, tuple[Finding, ...] | None] = {}
        self._holding: dict[_ClassDay, Holding] = {}
        self._speeds: dict[_ClassDay, SpeedRange | None] = {}
        self._limits: dict[_ClassDay, tuple[Limits, tuple[str, ...]]] = {}
        self._codes: dict[str, dict[str, str | None]] = {}
        self._asked = 0
        self._by_codes: Mapping[tuple[str, ...], Sequence[int]] = {}

    def contest(self, name: str | None) -> Contest | None:
        """Return a contest at its newest revision, None for no name."""
        if name not in self._contests:
            self._contests[name] = contest_of(self.c, name)
        return self._contests[name]

    def take_as_kept(self, contest: Contest) -> None:
        """Review the tasks of a contest that is about to be made."""
        self._contests[contest.name] = contest

    def holding(self, task: Task) -> Holding:
        """Return what holds for a task's class on its day."""
        key = task.contest, task.class_name, task.day
        if key not in self._holding:
            self._holding[key] = what_holds(self.contest(task.contest), task.class_name, task.day)
        return self._holding[key]

    def speeds(self, task: Task) -> SpeedRange | None:
        """Return the speeds expected of a task's class on its day."""
        key = task.contest, task.class_name, task.day
        if key not in self._speeds:
            self._speeds[key] = speeds_expected(self.contest(task.contest), task.class_name, task.day)
        return self._speeds[key]

    def limits(self, task: Task) -> tuple[Limits, tuple[str, ...]]:
        """Return the limits that hold for a task's class on its day, and what of its settings cannot be used."""
        key = task.contest, task.class_name, task.day
        if key not in self._limits:
            self._limits[key] = limits_of(self.holding(task).settings)
        return self._limits[key]

    def held(self, contest: str | None) -> HeldAgainst:
        """Return the airspace that the tasks of a contest are held against."""
        key = None if self.airspace else contest
        if key not in self._held:
            self._held[key] = held_against(self.c, self.contest(key), self.airspace)
        return self._held[key]

    def standing(self, task: Task) -> SetAt:
        """Return the set revision that counts: the one that the contest pins, else the newest of the task's set."""
        contest = self.contest(task.contest)
        reference = task.set_name if contest is None else f"{contest.set_name}@{contest.set_revision}"
        if reference not in self._sets:
            self._sets[reference] = resolve_set(self.c, reference)
        return self._sets[reference]

    def codes(self, at: SetAt, identities: Collection[str]) -> Mapping[str, str | None]:
        """Return the codes that waypoints have in a set, None where they do not stand in it, by identity."""
        known = self._codes.setdefault(str(at), {})
        if new := [identity for identity in identities if identity not in known]:
            found = set_rows.waypoints_with_identities(self.c, at.head.id, at.revision, new)
            known.update((one, found[one].code if one in found else None) for one in new)
        return {identity: known[identity] for identity in identities}

    def accepted(self, task: Task) -> Mapping[str, Acceptance]:
        """Return what was accepted in the task's set: an id tells one finding from all others, of sets and of tasks."""
        if task.set_name not in self._accepted:
            set_id = resolve_set(self.c, task.set_name).head.id
            self._accepted[task.set_name] = finding_rows.accepted_findings(self.c, set_id)
        return self._accepted[task.set_name]

    def with_codes(self, codes: Sequence[str], but: Collection[int]) -> Sequence[TaskSummaryRow]:
        """Return the tasks that stand and whose points have just these codes (sorted, each once), but those with ids.

        A few are searched for one by one. In a season, one look at the codes of all tasks takes less than its searches.
        """
        self._asked += 1
        if self._asked <= MOST_SEARCHED:
            found = task_search.tasks_through(self.c, codes, but)
            return [row for row in found if sorted(set(row.codes)) == codes]
        if self._asked == MOST_SEARCHED + 1:
            self._by_codes = task_search.ids_by_codes(self.c)
        return task_lines.tasks_in_order(self.c, set(self._by_codes.get(tuple(codes), ())).difference(but))

    def about(self, at: SetAt, codes: frozenset[str]) -> tuple[Finding, ...] | None:
        """Return what the checks say of the codes of a set; None where the set is too large to be checked."""
        key = str(at)
        if key not in self._found:
            is_checked = self.with_set and (self.any_set or count_of(self.c, at) <= LARGEST_SET)
            self._found[key] = open_findings(self.c, at) if is_checked else None
        found = self._found[key]
        return None if found is None else tuple(f for f in found if not codes.isdisjoint(f.codes))


def count_of(c: Connection, at: SetAt) -> int:
    """Return how many waypoints stand in a set at its revision."""
    info = set_rows.revision_info(c, at.head.id, at.revision)
    return info.count if info is not None else 0


def review_task(
    task: Task,
    course: Course,
    together: Together,
    *,
    but: Collection[TaskHead | None] = (),
    stale: tuple[str, ...] = (),
    day: DaySheet | None = None,
    given: DayChange | None = None,
    with_others: bool = True,
) -> Review:
    """Review a task with what was measured of it already; `together` is shared by the reviews of several.

    `but` are saved tasks of which it is no news that they are the same: itself, and one that it was made from.
    `given` goes before what the contest's day has; `with_others`: held against the other classes' tasks of its day.
    """
    c = together.c
    contest = together.contest(task.contest)
    holding = together.holding(task)
    limits, problems = together.limits(task)
    held = together.held(task.contest)
    about, notes = _set_findings(c, task, together)
    cover, cover_notes = _cover(task, together, holding, limits, day)
    ids = {head.id for head in but if head is not None}
    meetings = together.of_day.meetings(c, task, course, contest, day, but=ids, given=given) if with_others else ()
    reviewed = Reviewed(
        task=task,
        course=course,
        fingerprint=fingerprint(task),
        limits=limits,
        speeds=together.speeds(task),
        day=day,
        stale=stale,
        set_findings=about,
        others=_others(together, ids, task),
        airspace=held.volumes,
        flown=flown_heights(holding),
        ground=together.ground,
        sun_at=sun_over(task.points[-1].place.position, day),
        cover=None if cover is None else cover.cover,
        meetings=meetings,
    )
    findings = run_review(reviewed, accepted=together.accepted(task))
    all_notes = (*problems, *notes, *held.notes, *_ground_notes(together.ground), *cover_notes)
    return Review(findings, limits, all_notes, held, cover)


def _cover(
    task: Task, together: Together, holding: Holding, limits: Limits, day: DaySheet | None
) -> tuple[CoverFound | None, tuple[str, ...]]:
    """Return the landable cover of a task, and what to say of it; None where no glide is set, or it cannot be told."""
    if not together.covers.is_wanted(limits):
        return None, ()
    wind = together.covers.asked.wind or (day.wind if day is not None else holding.wind)
    try:
        found = together.covers.of(task, holding, limits, together.standing(task), wind)
    except UsageError as error:
        return None, (f"landable cover was not looked at: {error.message} {error.hint or ''}".rstrip(),)
    return found, tuple(f"landable cover: {note}" for note in found.notes)


def _ground_notes(ground: GroundHeights | None) -> tuple[str, ...]:
    """Return what a review says of the terrain that limits above ground were compared with."""
    return () if ground is None else (f"ground: {ground.source}. {CAUTION}",)


def _set_findings(c: Connection, task: Task, together: Together) -> tuple[tuple[Finding, ...], tuple[str, ...]]:
    """Return what the set's checks say about the task's points, under the codes that the task has for them."""
    at = together.standing(task)
    own = {point.place.identity: point.place.code for point in task.points if point.place.identity is not None}
    code_of = {code: own[identity] for identity, code in together.codes(at, own).items() if code is not None}
    found = together.about(at, frozenset(code_of))
    if found is None:
        count = count_of(c, at)
        return (), (f"{at} has {count} waypoints: its checks were not run (`taskdb task review` runs them)",)
    return tuple(
        replace(finding, codes=tuple(code_of[code] for code in finding.codes if code in code_of)) for finding in found
    ), ()


def _others(together: Together, but: Collection[int], task: Task) -> tuple[SavedTask, ...]:
    """Return the other tasks that stand with the same codes: those that can be the same course."""
    found = []
    for row in together.with_codes(sorted({point.place.code for point in task.points}), but):
        label = row.task if row.contest == task.contest else f"{row.contest or 'without a contest'}:{row.task}"
        found.append(SavedTask(label, task_rows.task_at(together.c, row.head.id, row.revision), row.fingerprint))
    return tuple(found)
