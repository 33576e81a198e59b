"""What a sheet shows otherwise than the earlier ones that were handed out, and what of those holds no more.

An earlier sheet is made again from the revisions of task and contest that were kept with its hand-out, and every value
that either of both shows is held against the other. So nothing is called unchanged that a pilot reads differently.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from taskdb.core.course.fingerprint import fingerprint
from taskdb.core.course.measure import KnownExtremes, measure_course
from taskdb.core.findings import findings_that_matter
from taskdb.core.model import Contest, Finding, Severity, Status, Task
from taskdb.core.review.told_to_pilots import is_meeting
from taskdb.core.shown import Edition, SheetChange, ValueChange, Withdrawn, page_changes
from taskdb.reference.sun import find_timezone
from taskdb.report.sheet import parts_of
from taskdb.report.sheet_page import SheetPage
from taskdb.services.airspace.held import held_against
from taskdb.services.handing_out.pages import airspace_fields, units_of, waypoints_of
from taskdb.services.references import resolve_contest, resolve_set
from taskdb.services.tasks.day import on_its_day
from taskdb.store import contests as contest_rows, handouts as handout_rows, sets as set_rows, tasks as task_rows

if TYPE_CHECKING:
    from taskdb.core.kept import TaskHead, TaskSummaryRow
    from taskdb.core.model import Waypoint
    from taskdb.store.contests import ContestHead
    from taskdb.store.engine import Connection
    from taskdb.store.handouts import HandedOut

PROPOSED = "proposed, not issued"
"""The mark of a task that is handed out without having been issued."""


@dataclass(frozen=True)
class ChangedSheet:
    """A task's page as it is now, with how it differs from each earlier one: the newest first.

    `is_new`: it was never handed out. Empty changes: every earlier sheet shows what this one does.
    """

    page: SheetPage
    is_new: bool
    changes: tuple[SheetChange, ...]


class Editions:
    """The earlier hand-outs of a contest, and the contest as it stood at each; good for one look into the store."""

    def __init__(self, c: Connection, contest: ContestHead, before: Sequence[HandedOut]) -> None:
        self.c, self.contest, self.before = c, contest, before
        self._contests: dict[int, Contest] = {}

    def contest_at(self, revision: int) -> Contest:
        """Return the contest at a revision."""
        if revision not in self._contests:
            self._contests[revision] = contest_rows.contest_at(self.c, self.contest.id, revision)
        return self._contests[revision]

    @property
    def now(self) -> Contest:
        """Return the contest as it stands."""
        return self.contest_at(self.contest.newest)

    def of_task(self, task_id: int) -> list[HandedOut]:
        """Return the hand-outs that a task was in, newest first."""
        return [entry for entry in self.before if entry.task_id == task_id]

    def changed(self, head: TaskHead, page: SheetPage) -> ChangedSheet:
        """Return a task's page with how it differs from the sheets of earlier hand-outs."""
        earlier = self.of_task(head.id)
        said, seen = said_on(page), set()
        changes: list[SheetChange] = []
        made_at = self._made_at(head, page) if earlier else ""
        for entry in earlier:
            state = (entry.revision, entry.contest_revision, repr(entry.said))
            if state in seen or (entry.revision, entry.contest_revision, entry.said) == (
                page.revision,
                self.contest.newest,
                said,
            ):
                continue
            seen.add(state)
            values = self.values_since(entry, page)
            # Told once for each sheet that somebody may hold: an edit of another class makes no other sheet.
            holds = (entry.revision, values)
            if values and all(holds != (other.old.revision, other.values) for other in changes):
                old = Edition(entry.revision, entry.fingerprint, self.moment(entry.at))
                changes.append(SheetChange(old, Edition(page.revision, page.fingerprint, made_at), values))
        return ChangedSheet(replace(page, changes=tuple(changes)), not earlier, tuple(changes))

    def values_since(self, entry: HandedOut, page: SheetPage) -> tuple[ValueChange, ...]:
        """Return every value that a page shows otherwise than the sheet of a hand-out."""
        units = page.units or units_of(self.now)
        return page_changes(parts_of(self.earlier_page(entry, page), units), parts_of(page, units))

    def earlier_page(self, entry: HandedOut, page: SheetPage) -> SheetPage:
        """Return the page of a hand-out as it was then, in today's units."""
        c = self.c
        task = task_rows.task_at(c, entry.task_id, entry.revision)
        contest = self.contest_at(entry.contest_revision or self.contest.newest)
        course = measure_course(task, known=KnownExtremes(*task_rows.extremes_at(c, entry.task_id, entry.revision)))
        course, day = on_its_day(c, task, course, by=contest)
        catalogue = self._catalogue(task.set_name, task.set_revision, page)
        held = held_against(c, contest, (entry.said or {}).get("airspace", ()))
        found = replace(
            page,
            task=task,
            revision=entry.revision,
            course=course,
            fingerprint=fingerprint(task),
            catalogue=catalogue,
            waypoints=waypoints_of(task, catalogue),
            contest=contest,
            date=None,
            day=day,
            other_classes=(),
            changes=(),
            **airspace_fields(held),
        )
        return found if entry.said is None else _with_said(found, entry.said)

    def _catalogue(self, set_name: str, revision: int, page: SheetPage) -> Sequence[Waypoint]:
        if (set_name, revision) == (page.task.set_name, page.task.set_revision):
            return page.catalogue
        at = resolve_set(self.c, f"{set_name}@{revision}")
        return tuple(set_rows.waypoints_at(self.c, at.head.id, at.revision))

    def _made_at(self, head: TaskHead, page: SheetPage) -> str:
        """Return when what the page shows was decided: the later of its task's and its contest's last change."""
        task_at = task_rows.task_info(self.c, head.id, page.revision).at
        contest_at = contest_rows.contest_info(self.c, self.contest.id, self.contest.newest).at
        return self.moment(max(task_at, contest_at))

    def moment(self, at: str) -> str:
        """Return a kept UTC time for people: in the contest's time zone where it has one."""
        zone = find_timezone(self.now.timezone) if self.now.timezone else None
        moment = datetime.datetime.fromisoformat(at)
        local = moment if zone is None else moment.astimezone(zone)
        return f"{local:%Y-%m-%d %H:%M} {'UTC' if zone is None else self.now.timezone}"

    def withdrawn(self, going: Iterable[TaskHead], rows: Sequence[TaskSummaryRow]) -> tuple[Withdrawn, ...]:
        """Return the tasks that were handed out and do not go out now, with what became of each, in order of name.

        `rows` are all tasks of the contest that there are, retired ones too.
        """
        gone: dict[int, HandedOut] = {}
        staying = {head.id for head in going}
        for entry in self.before:
            if entry.task_id not in staying:
                gone.setdefault(entry.task_id, entry)
        now = {row.head.id: row for row in rows}
        found = []
        for task_id, entry in gone.items():
            then = task_rows.task_at(self.c, task_id, entry.revision)
            edition = Edition(entry.revision, entry.fingerprint, self.moment(entry.at))
            found.append(Withdrawn(then.name, edition, _what_became(then, now[task_id], rows)))
        return tuple(sorted(found, key=lambda one: one.task))


def since_handed_out(c: Connection, head: TaskHead, page: SheetPage) -> SheetPage:
    """Return a page of a task's newest revision with what it shows otherwise than when it was handed out."""
    entries = handout_rows.handouts_of(c, head.id)
    if not entries or head.contest_name is None or page.revision != head.newest:
        return page
    return (
        Editions(c, resolve_contest(c, head.contest_name), entries).changed(head, marked_as_before(page, entries)).page
    )


def marked_as_before(page: SheetPage, entries: Sequence[HandedOut]) -> SheetPage:
    """Return a page that is marked as proposed where it went out so, newest first, and nobody has issued it since."""
    was = entries[0].said is not None and entries[0].said.get("mark") is not None
    return replace(page, mark=PROPOSED) if was and page.task.status is Status.PROPOSED else page


def said_on(page: SheetPage) -> dict[str, Any]:
    """Return what a page says that no revision of its own holds: out of date, findings, other classes, its mark."""
    found = [[one.severity.value, one.message] for one in findings_that_matter(page.findings) if not is_meeting(one)]
    pinned = page.contest.airspace if page.contest is not None else ()
    # What the contest pins is in its revision; what was named at the command is in none.
    named = page.airspace_at if page.airspace_at != tuple(map(str, pinned)) else ()
    said = {"stale": list(page.stale), "review": found, "mark": page.mark}
    if page.other_classes:
        said["others"] = list(page.other_classes)
    return {**said, "airspace": list(named)} if named else said


def _with_said(page: SheetPage, said: Mapping[str, Any]) -> SheetPage:
    findings = tuple(
        Finding("", "", Severity(severity), (), message, {}) for severity, message in said.get("review", ())
    )
    return replace(
        page,
        stale=tuple(said.get("stale", ())),
        findings=findings,
        other_classes=tuple(said.get("others", ())),
        mark=said.get("mark"),
    )


def _what_became(then: Task, row: TaskSummaryRow, rows: Sequence[TaskSummaryRow]) -> str:
    """Return what became of a task that was handed out and is not handed out now."""
    called = "" if row.task == then.name else f", now called {row.task}"
    issued = [
        other.task
        for other in rows
        if other.status is Status.ISSUED
        and not other.head.retired
        and (other.day, other.class_name) == (row.day, row.class_name)
    ]
    instead = f"; {', '.join(issued)} is flown instead" if issued and row.task not in issued else ""
    if row.head.retired:
        return f"retired{called}{instead}"
    if row.status is Status.CANCELLED:
        return f"cancelled{called}{instead}"
    if row.status is Status.REPLACED or instead:
        return f"replaced{called}{instead}"
    if row.day == then.day:
        return f"not issued{called}"
    return f"moved to day {row.day}{called}" if row.day is not None else f"taken out of its day{called}"
