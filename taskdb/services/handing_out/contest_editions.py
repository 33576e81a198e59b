"""A contest as it is published: the tasks that were issued, day by day, and what was replaced or withdrawn."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from taskdb.core.contests.days import day_of
from taskdb.core.model import Status, Waypoint
from taskdb.files.pack import PackedFile, written
from taskdb.formats.known import TASKS_HANDED_OUT
from taskdb.reference.outlines import load_outlines
from taskdb.report.pages.borders import borders_near
from taskdb.report.pages.contest_edition import (
    ContestEdition,
    GoneTask,
    HandedEdition,
    PublishedDay,
    PublishedTask,
)
from taskdb.report.pages.edition import Download
from taskdb.services.handing_out.changes import ChangedSheet, Editions
from taskdb.services.handing_out.exporting import as_exported, file_names, task_file
from taskdb.services.handing_out.handout import DECIDED
from taskdb.services.handing_out.pages import page_materials, sheet_page
from taskdb.services.handing_out.smaller import made_small
from taskdb.services.references import newest_contest
from taskdb.services.tasks.keeping import TaskShown, reviewed
from taskdb.services.tasks.review import Together
from taskdb.store import contests as contest_rows, handouts as handout_rows, task_lines

if TYPE_CHECKING:
    from taskdb.core.kept import TaskHead, TaskSummaryRow
    from taskdb.core.model import Contest, Position
    from taskdb.core.quantities import Units
    from taskdb.formats.exported import ExportedTask
    from taskdb.services.handing_out.pages import Material
    from taskdb.store.engine import Connection
    from taskdb.store.handouts import HandedOut

GONE = (Status.REPLACED, Status.CANCELLED)
_ROUND_DEG = 0.35
"""Waypoints so far about the courses are on their maps."""


@dataclass(frozen=True)
class GatheredContest:
    """A contest's edition, and the files of its tasks."""

    edition: ContestEdition
    files: tuple[PackedFile, ...]


def contest_edition(c: Connection, name: str, *, units: Units | None, with_findings: bool) -> GatheredContest:
    """Return a contest as an edition: issued and flown tasks, and those only. NotFoundError for no such contest."""
    head, contest = newest_contest(c, name)
    rows = task_lines.list_tasks(c, contest_id=head.id, with_retired=True)
    chosen = [row for row in rows if row.status in DECIDED and not row.head.retired]
    # What reviews found is nobody's business here unless it is asked for, and no change of a sheet then.
    before = handout_rows.handed_out_before(c, head.id, None)
    editions = Editions(c, head, before if with_findings else tuple(map(_without_findings, before)))
    together = Together(c, with_set=with_findings)
    tasks = [reviewed(c, row.head, row.head.newest, together) for row in chosen]
    materials = page_materials(c, tasks)
    sheets = [
        _sheet(editions, row.head, task, material, units, together, with_findings=with_findings)
        for row, task, material in zip(chosen, tasks, materials, strict=True)
    ]
    exported = [as_exported(task) for task in tasks]
    names = file_names(exported)
    files = _files(exported, names)
    published = {
        row.head.id: PublishedTask(
            sheet.page, name, [download_of(file) for file in some], _editions(editions, row.head, sheet)
        )
        for row, sheet, name, some in zip(chosen, sheets, names, files, strict=True)
    }
    # What maps show of them, and no more.
    waypoints = _about(materials, [point.place.position for task in tasks for point in task.task.points])
    moments = [contest_rows.contest_info(c, head.id, head.newest).at, *(task.info.at for task in tasks)]
    edition = ContestEdition(
        name=head.name,
        revision=head.newest,
        date=max(moments)[:10],
        days=_days(contest, rows, published),
        classes=tuple(one.name for one in contest.classes),
        site=_site(contest, materials),
        from_date=contest.from_date,
        to_date=contest.to_date,
        withdrawn=editions.withdrawn([row.head for row in chosen], rows),
        waypoints=waypoints,
        borders=borders_near(load_outlines(), [w.position for w in waypoints]),
    )
    return GatheredContest(edition, tuple(file for some in files for file in some))


def download_of(file: PackedFile) -> Download:
    """Return a file to take as pages list it."""
    listed = written(file)
    return Download(file.path, file.format, listed.bytes, listed.sha256, file.lost)


def _without_findings(entry: HandedOut) -> HandedOut:
    return entry if entry.said is None else replace(entry, said={**entry.said, "review": []})


def _sheet(
    editions: Editions,
    head: TaskHead,
    task: TaskShown,
    material: Material,
    units: Units | None,
    together: Together,
    *,
    with_findings: bool,
) -> ChangedSheet:
    page = sheet_page(task, material, units=units)
    return editions.changed(head, page if with_findings else replace(page, findings=()))


def _files(tasks: Sequence[ExportedTask], names: Sequence[str]) -> list[list[PackedFile]]:
    """Return the files of each task, in their order."""
    plain = [task_file(task, name, way) for task, name in zip(tasks, names, strict=True) for way in TASKS_HANDED_OUT]
    filed = made_small([replace(file, path=f"files/{file.path}") for file in plain])
    each = len(TASKS_HANDED_OUT)
    return [filed[n * each : (n + 1) * each] for n in range(len(tasks))]


def _editions(editions: Editions, head: TaskHead, sheet: ChangedSheet) -> tuple[HandedEdition, ...]:
    """Return the hand-outs of a task, newest first, an edition once; one holds while its sheet would be the same."""
    found: dict[tuple[int, str], HandedEdition] = {}
    for entry in editions.of_task(head.id):
        is_valid = not editions.values_since(entry, sheet.page)
        key = entry.revision, entry.fingerprint
        if key not in found:
            found[key] = HandedEdition(entry.revision, entry.fingerprint, editions.moment(entry.at), is_valid)
    return tuple(found.values())


def _days(
    contest: Contest, rows: Sequence[TaskSummaryRow], published: Mapping[int, PublishedTask]
) -> tuple[PublishedDay, ...]:
    """Return the days of a contest in order, tasks without one last; each with what is issued and what is gone."""
    standing = [row for row in rows if not row.head.retired]
    numbers = {day.number for day in contest.days} | {row.day for row in standing if row.status in (*DECIDED, *GONE)}
    days = []
    for number in sorted(numbers, key=lambda number: (number is None, number or 0)):
        own = sorted((row for row in standing if row.day == number), key=lambda row: (row.class_name or "", row.task))
        day = day_of(contest, number)
        days.append(
            PublishedDay(
                number,
                day.date if day is not None else None,
                [published[row.head.id] for row in own if row.head.id in published],
                [GoneTask(row.task, row.class_name, row.status, row.fingerprint) for row in own if row.status in GONE],
            )
        )
    return tuple(days)


def _site(contest: Contest, materials: Sequence[Material]) -> str | None:
    """Return the contest's site with its name where a catalogue of the tasks knows it."""
    names = {w.code: w.name for material in materials[:1] for w in material.catalogue}
    return f"{contest.site} {names.get(contest.site, '')}".strip() if contest.site else None


def _about(materials: Sequence[Material], positions: Sequence[Position]) -> tuple[Waypoint, ...]:
    """Return the waypoints of the tasks' catalogues in and about the box of their points, in order of code."""
    if not positions:
        return ()
    south, north = (edge(p.latitude_deg for p in positions) for edge in (min, max))
    west, east = (edge(p.longitude_deg for p in positions) for edge in (min, max))
    found: dict[str, Waypoint] = {}
    for catalogue in {id(m.catalogue): m.catalogue for m in materials}.values():
        for w in catalogue:
            at = w.position
            if south - _ROUND_DEG <= at.latitude_deg <= north + _ROUND_DEG and (
                west - 2 * _ROUND_DEG <= at.longitude_deg <= east + 2 * _ROUND_DEG or east - west > 180
            ):
                found.setdefault(w.code, w)
    return tuple(
        Waypoint(w.code, w.name, w.position, w.elevation_m, w.landable, w.feature)
        for w in (found[code] for code in sorted(found))
    )
