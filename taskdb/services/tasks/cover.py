"""The landable cover of a saved task: kilometre by kilometre, and as a picture."""

from __future__ import annotations

from dataclasses import dataclass

from taskdb.core.contests.scopes import what_holds
from taskdb.core.model import Task
from taskdb.core.quantities import Units
from taskdb.core.review.limits import limits_of
from taskdb.errors import UsageError
from taskdb.files.writing import require_new, write_new
from taskdb.services.desk import Desk
from taskdb.services.ground import open_terrain
from taskdb.services.references import resolve_task
from taskdb.services.tasks.covers import CoverAsked, CoverFound
from taskdb.services.tasks.review import Together
from taskdb.store import tasks as task_rows


@dataclass(frozen=True)
class CoverRequest:
    """What is asked: `to` names a picture to write, `terrain` a folder of heights of the user's own."""

    asked: CoverAsked
    terrain: str | None = None
    to: str | None = None
    units: Units = Units.KM
    overwrite: bool = False


@dataclass(frozen=True)
class CoverShown:
    """A task's cover; `written` is the picture's path, None where none was asked for."""

    task: Task
    revision: int
    found: CoverFound
    written: str | None


def cover_task(desk: Desk, reference: str, request: CoverRequest, contest: str | None = None) -> CoverShown:
    """Return the landable cover of a task, by what is asked and else by its contest's limits; write its picture.

    UsageError where glide or working altitude are not known or cannot be reckoned with, RefusedError where the
    picture's file exists and `overwrite` is not given.
    """
    if request.to is not None:
        if not request.to.lower().endswith(".svg"):
            raise UsageError("no-svg", f"--to: {request.to} does not end in .svg.", hint="Name an SVG file.")
        require_new(request.to, overwrite=request.overwrite, details={"path": request.to})
    terrain = open_terrain(request.terrain) if request.terrain is not None else None
    with desk.store.reading() as c:
        at = resolve_task(c, reference, contest)
        task = task_rows.task_at(c, at.head.id, at.revision)
        together = Together(c, ground=terrain, cover=request.asked)
        holding = what_holds(together.contest(task.contest), task.class_name, task.day)
        limits, _ = limits_of(holding.settings)
        wind = request.asked.wind or holding.wind
        found = together.covers.of(task, holding, limits, together.standing(task), wind)
    written = None
    if request.to is not None:
        write_new(request.to, _picture(task, found, request.units), overwrite=request.overwrite)
        written = request.to
    return CoverShown(task, at.revision, found, written)


def _picture(task: Task, found: CoverFound, units: Units) -> bytes:
    from taskdb.report.cover_picture import draw_cover

    return draw_cover(task, found.cover, found.ground, found.fields_words, units=units).encode("utf-8")
