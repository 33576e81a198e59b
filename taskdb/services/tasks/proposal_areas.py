"""Proposals as tasks: with the zones that hold, or with areas in place of turn points, fitted to a minimum time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import zip_longest
from typing import TYPE_CHECKING

from taskdb.core.course.zones import parse_zone
from taskdb.core.kinds import Earth, TaskType
from taskdb.core.model import Task
from taskdb.services.tasks.building import NewTask, PointRequest, built_task
from taskdb.services.tasks.fitting import FitRequest, Fitted, fitted
from taskdb.services.tasks.proposal_values import AreasRequest, AreasTried, ProposalRequest

if TYPE_CHECKING:
    from taskdb.services.tasks.basis import Basis
    from taskdb.store.engine import Connection

TRIED_FOR_ONE = 5
"""So many courses are tried for each that is to be shown: a fit takes a tenth of a second and more."""

Codes = tuple[str, ...]


@dataclass(frozen=True)
class TaskMaker:
    """Makes courses, by the codes of their turn points, tasks from home and back on what holds there."""

    connection: Connection
    request: ProposalRequest
    basis: Basis
    earth: Earth

    def task(self, name: str, turns: Codes, areas: Fitted | None = None) -> Task:
        """Return a task of this name: its turn points areas as they were fitted, else with the zones that hold."""
        if areas is None:
            return self._made(NewTask(name, self._points(turns, ())))
        return self.with_areas(name, turns, list(areas.sizes_text.values()), round(areas.fit.asked.time_s))

    def with_areas(self, name: str, turns: Codes, sizes: Sequence[str], time_s: int) -> Task:
        """Return a task whose turn points are areas of these radii (`12km`)."""
        points = self._points(turns, sizes)
        return self._made(NewTask(name, points, type=TaskType.ASSIGNED_AREA, time_s=time_s))

    def _points(self, turns: Codes, sizes: Sequence[str]) -> tuple[PointRequest, ...]:
        zones = [parse_zone(f"area {size}") for size in sizes]
        between = zip_longest(turns, zones)
        home = PointRequest(self.request.home)
        return (home, *(PointRequest(code, zone) for code, zone in between), home)

    def _made(self, new: NewTask) -> Task:
        new = replace(new, day=self.request.day, class_name=self.request.class_name)
        task = built_task(self.connection, new, self.basis)
        if self.basis.contest is None:
            task = replace(task, rules=replace(task.rules, earth=self.earth))
        return task


@dataclass
class AreaFitter:
    """Fits areas to one course after another, and keeps what it found: `fits` by the codes of the turn points."""

    maker: TaskMaker
    areas: AreasRequest
    fits: dict[Codes, Fitted] = field(default_factory=dict)

    def suits(self, turns: Codes) -> bool:
        """Say whether some radius of areas round these turn points suits the minimum time."""
        areas, given = self.areas, self.maker.request.given_day
        task = self.maker.with_areas("proposal", turns, [areas.step.text(1)] * len(turns), areas.time_s)
        wind = None if given is None else given.wind
        asked = FitRequest(areas.step, areas.slowest_kmh, areas.fastest_kmh, wind, areas.time_s)
        self.fits[turns] = fitted(self.maker.connection, task, 0, asked)
        return self.fits[turns].fit.steps is not None

    def tried(self) -> AreasTried:
        """Return how that went."""
        unsuited = [found.fit for found in self.fits.values() if found.fit.steps is None]
        times = (fit.time_that_fits_s for fit in unsuited if fit.time_that_fits_s is not None)
        return AreasTried(
            asked=next((found.fit.asked for found in self.fits.values()), None),
            tried=len(self.fits),
            unsuited=len(unsuited),
            too_long=sum(not fit.figures.slowest.fits for fit in unsuited),
            too_short=sum(not fit.figures.fastest.fits for fit in unsuited),
            time_that_fits_s=next(times, None),
        )
