"""The page of a task: what it shows, gathered from the store for the sheet, the map and what is held against them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from taskdb.core.contests.scopes import what_holds
from taskdb.core.ground import GroundHeights
from taskdb.core.model import Contest, Task, Waypoint
from taskdb.core.quantities import Units
from taskdb.core.review.told_to_pilots import told_to_pilots
from taskdb.errors import UsageError
from taskdb.services.references import contest_of, set_under
from taskdb.services.tasks.keeping import TaskShown
from taskdb.store import sets as set_rows

if TYPE_CHECKING:
    from taskdb.core.judgement.cover import Cover
    from taskdb.core.shown import SheetChange
    from taskdb.report.sheet_page import SheetPage
    from taskdb.services.airspace.held import HeldAgainst
    from taskdb.store.engine import Connection


@dataclass(frozen=True)
class Material:
    """What a page needs besides its task: the catalogue round it, its own points' waypoints, its contest."""

    catalogue: tuple[Waypoint, ...]
    waypoints: dict[str, Waypoint]
    contest: Contest | None


def page_materials(c: Connection, tasks: Sequence[TaskShown]) -> list[Material]:
    """Return what the pages of tasks need from the store; tasks of one set revision share its catalogue."""
    catalogues: dict[tuple[str, int], tuple[Waypoint, ...]] = {}
    contests: dict[str | None, Contest | None] = {}
    materials = []
    for task in (shown.task for shown in tasks):
        key = task.set_name, task.set_revision
        if key not in catalogues:
            at = set_under(c, task)
            catalogues[key] = tuple(set_rows.waypoints_at(c, at.head.id, at.revision))
        if task.contest not in contests:
            contests[task.contest] = contest_of(c, task.contest)
        # Procedure, channels and the day are those of the morning, not those of the time at which it was saved.
        materials.append(Material(catalogues[key], waypoints_of(task, catalogues[key]), contests[task.contest]))
    return materials


def waypoints_of(value: Task, catalogue: Sequence[Waypoint]) -> dict[str, Waypoint]:
    """Return the waypoints of a catalogue that a task uses, by code."""
    used = {place.identity for place in value.places}
    return {waypoint.code: waypoint for waypoint in catalogue if waypoint.identity in used}


def sheet_page(
    task: TaskShown,
    material: Material,
    *,
    date: str | None = None,
    units: Units | None = None,
    mark: str | None = None,
    changes: tuple[SheetChange, ...] = (),
    ground: GroundHeights | None = None,
) -> SheetPage:
    """Return what the page of a task shows, distances in `units`, else in those of its contest."""
    from taskdb.report.sheet_page import SheetPage

    found = task.review
    return SheetPage(
        task=task.task,
        revision=task.revision,
        course=task.course,
        fingerprint=task.fingerprint,
        catalogue=material.catalogue,
        waypoints=material.waypoints,
        contest=material.contest,
        date=date,
        stale=task.stale,
        # What the set's own note says already is not told twice.
        findings=tuple(f for f in found.open if f.rule != "points-changed") if found else (),
        other_classes=told_to_pilots(found.findings, task.task) if found else (),
        day=task.day,
        flown=task.flown,
        units=units or units_of(material.contest),
        mark=mark,
        changes=changes,
        **(airspace_fields(found.held) if found is not None else {}),
        ground=ground,
        cover=_cover(task) if ground is not None else None,
    )


def _cover(task: TaskShown) -> Cover | None:
    """Return the landable cover of a task as its review looked at it; None where it did not."""
    return task.review.cover.cover if task.review is not None and task.review.cover is not None else None


def airspace_fields(held: HeldAgainst) -> dict[str, Any]:
    """Return the fields of a page that show what its task is held against."""
    return {
        "airspace": held.volumes,
        "airspace_from": held.source,
        "airspace_at": tuple(map(str, held.pins)),
    }


def groups_of_variants(pages: Sequence[SheetPage]) -> list[list[SheetPage]]:
    """Return the pages of each class that has more than one, in order of class; tasks of two classes are no variants.

    UsageError where no class has two.
    """
    from taskdb.report.sheet_variants import require_variants

    groups: dict[str, list[SheetPage]] = {}
    for page in pages:
        groups.setdefault(page.task.class_name or "", []).append(page)
    found = [groups[name] for name in sorted(groups) if len(groups[name]) > 1]
    if not found and len(groups) > 1:
        raise UsageError(
            "no-variants",
            "Variants are tasks of one class, and no class has two of these.",
            hint="Name two to four tasks of one class, or leave out --variants.",
        )
    if not found:
        require_variants(1)
    return found


def units_of(contest: Contest | None) -> Units:
    """Return the units in which a contest shows distances."""
    told = what_holds(contest, None, None).get("units_distance")
    return Units(told) if told in set(Units) else Units.KM


def map_text(page: SheetPage) -> str:
    """Return the map of a page's task as SVG, with its mark if it has one."""
    from taskdb.report.map import draw_map

    units = page.units or units_of(page.contest)
    return (
        draw_map(
            page.task,
            page.course,
            catalogue=page.catalogue,
            airspace=page.airspace,
            units=units,
            mark=page.mark,
            ground=page.ground,
        )
        + "\n"
    )
