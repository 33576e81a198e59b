"""The page on which a task setter chooses: two to four tasks side by side at one scale, each with its numbers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from taskdb.core.course.free import free_words
from taskdb.core.course.measure import Course
from taskdb.core.model import Role, Task
from taskdb.core.quantities import Units, format_distance
from taskdb.errors import UsageError
from taskdb.report.lettering import NAME_LIMIT, shown
from taskdb.report.map import draw_map, fitting_scale
from taskdb.report.sheet_page import SheetPage
from taskdb.report.sheet_words import shape_words, speed_words, time_words, type_words
from taskdb.report.symbols import point_tag

FEWEST, MOST = 2, 4
MAP_MM: Mapping[int, tuple[float, float]] = MappingProxyType({2: (92.0, 108.0), 3: (92.0, 84.0), 4: (92.0, 84.0)})


@dataclass(frozen=True, slots=True)
class Variant:
    """One task of the page: heading, map as SVG, numbers as (what, figure), and its points in one line."""

    name: str
    type: str
    fingerprint: str
    revision: int
    mark: str | None
    picture: str
    numbers: tuple[tuple[str, str], ...]
    sentences: tuple[str, ...]
    points: tuple[tuple[str, str], ...]


def require_variants(count: int) -> None:
    """Raise UsageError unless so many tasks can stand on one page."""
    if not FEWEST <= count <= MOST:
        raise UsageError(
            "two-to-four",
            f"A page of variants shows {FEWEST} to {MOST} tasks, not {count}.",
            hint="Name the tasks, or leave out --variants.",
        )


def variants(pages: Sequence[SheetPage], units: Units) -> tuple[Variant, ...]:
    """Return the tasks as they stand on the page, all at the scale of the largest; UsageError for other numbers."""
    require_variants(len(pages))
    width, height = MAP_MM[len(pages)]
    scale = min(fitting_scale(one.task, one.course, width_mm=width, height_mm=height) for one in pages)
    return tuple(_variant(one, units, width, height, scale) for one in pages)


def _variant(one: SheetPage, units: Units, width_mm: float, height_mm: float, mm_per_m: float) -> Variant:
    task, course = one.task, one.course
    picture = draw_map(
        task,
        course,
        catalogue=one.catalogue,
        width_mm=width_mm,
        height_mm=height_mm,
        units=units,
        mm_per_m=mm_per_m,
    )
    speeds, free = speed_words(course), shown(free_words(task.free, units), 1200) if task.free is not None else None
    return Variant(
        name=shown(task.name, NAME_LIMIT),
        type=type_words(task),
        fingerprint=one.fingerprint,
        revision=one.revision,
        mark=one.mark,
        picture=picture,
        numbers=_numbers(task, course, units),
        sentences=tuple(said for said in (shape_words(task, course), speeds, free) if said),
        points=tuple(
            (point_tag(p.role, n), f"{shown(p.place.code, 12)} {shown(p.place.name, 24)}")
            for n, p in enumerate(task.points)
        ),
    )


def _numbers(task: Task, course: Course, units: Units) -> tuple[tuple[str, str], ...]:
    distances = course.distances
    found = [("task", format_distance(distances.task_m, units))]
    if any(point.role is Role.AREA for point in task.points):
        found += [
            (what, format_distance(metres, units))
            for what, metres in (("minimum", distances.minimum_m), ("maximum", distances.maximum_m))
            if metres is not None
        ]
    longest = max(course.legs, key=lambda leg: leg.distance_m)
    found.append(("longest leg", format_distance(longest.distance_m, units)))
    what, figure = time_words(course)
    return (*found, (what.lower(), figure))
