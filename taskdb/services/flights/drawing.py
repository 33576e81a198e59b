"""The flights of a task drawn in grey over its map, written as SVG."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from taskdb.core.course.measure import measure_course
from taskdb.core.numbers import counted
from taskdb.core.pasted import quoted
from taskdb.core.quantities import Units
from taskdb.errors import RefusedError, UsageError
from taskdb.files.writing import require_new, write_new
from taskdb.report.map import draw_map
from taskdb.services.flights.reading import FlightsRead

WIDTH_MM, HEIGHT_MM = 277.0, 190.0
"""A4 across, within its margins (ISO 216)."""


@dataclass(frozen=True)
class DrawnFlights:
    """The map that was written, of which task, how many flights are on it, and in sentences what is not."""

    path: str
    task: str
    flights: int
    left_out: tuple[str, ...]


def require_map(path: str, *, overwrite: bool) -> None:
    """Refuse before any work what `draw_flights` could not write: no .svg, or a file that exists."""
    if not path.lower().endswith(".svg"):
        raise UsageError("no-svg", f"--map: {path} does not end in .svg.", hint="Name it e.g. day1.svg.")
    require_new(path, overwrite=overwrite)


def draw_flights(read: FlightsRead, path: str, *, units: Units, overwrite: bool) -> DrawnFlights:
    """Write the map of the task that most flights flew, with them; RefusedError where none flew any."""
    by_title = {shown.candidate.title: shown.candidate for shown in read.flights if shown.candidate is not None}
    counts = Counter(s.candidate.title for s in read.flights if s.candidate is not None and s.counts)
    if not counts:
        raise RefusedError(
            "nothing-flown", "No flight flew a task, so there is nothing to draw.", hint="Name the task with --task."
        )
    title = min(counts, key=lambda one: (-counts[one], one))
    task = by_title[title].task
    flights = [
        shown.track
        for shown in read.flights
        if shown.track is not None and shown.counts and shown.candidate is by_title[title]
    ]
    drawn = draw_map(
        task, measure_course(task), width_mm=WIDTH_MM, height_mm=HEIGHT_MM, units=units, flights=flights,
        mark="flights as logged, no scoring",
    )  # fmt: skip
    write_new(path, drawn.encode("utf-8"), overwrite=overwrite)
    others = tuple(
        f"The map shows {title} alone; for {counted(count, 'flight')} of {other}: --task {quoted(other)}"
        for other, count in sorted(counts.items())
        if other != title
    )
    return DrawnFlights(path, title, len(flights), others)
