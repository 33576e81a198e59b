"""The ground under a course as one SVG element: heights along the legs, the points, the highest ground of each leg.

Draws heights that it asks the ground for; distances come with the course. For people, not for terrain clearance.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from taskdb.core.course.measure import Course
from taskdb.core.course.regions import counted_position
from taskdb.core.geodesy import densify
from taskdb.core.ground import GroundHeights
from taskdb.core.model import Task
from taskdb.core.quantities import Units, format_distance
from taskdb.report.lettering import FONTS, LEAST_LETTERS_MM, text_width_mm
from taskdb.report.palette import GRATICULE_INK, INK, SOFT_INK
from taskdb.report.svg import Point, element, group, number, path_data, text_element
from taskdb.report.symbols import point_tag

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

HEIGHT_MM = 28.0
MATTERS_M = 150.0
"""Where the ground under the course differs by less, a profile would show a line."""
GROUND_GREY = "#bdbdbd"
_LEFT_MM, _RIGHT_MM, _TOP_MM, _FOOT_MM = 11.0, 2.0, 6.2, 4.2
_COLUMN_MM = 0.35
_MOST_HEIGHTS = 60_000
_STEPS_M = (50, 100, 200, 500, 1000, 2000)
_LINES = 4


@dataclass(frozen=True, slots=True)
class Profile:
    """The highest ground under each stretch of a course: `at_m` along it, `heights_m` above sea, NaN where unknown.

    `points_m` are where the points lie along it, `highest_m` the highest ground of each leg, None where unknown.
    """

    at_m: NDArray[np.float64]
    heights_m: NDArray[np.float64]
    points_m: tuple[float, ...]
    highest_m: tuple[float | None, ...]

    @property
    def matters(self) -> bool:
        """Say whether the ground differs by enough to be drawn."""
        import numpy as np

        known = self.heights_m[~np.isnan(self.heights_m)]
        return known.size > 1 and float(np.ptp(known)) >= MATTERS_M


def ground_profile(task: Task, course: Course, ground: GroundHeights) -> Profile:
    """Return the ground along the legs, through the points' middles, a height at least every spacing of the ground."""
    import numpy as np

    places = [counted_position(point) for point in task.points]
    whole_m = sum(leg.distance_m for leg in course.legs)
    step_m = max(min(ground.spacing_m, 500.0), whole_m / _MOST_HEIGHTS, 1.0)
    at, heights, points_m, highest, begin = [], [], [0.0], [], 0.0
    for leg in course.legs:
        path = densify(places[leg.from_number], places[leg.to_number], step_m)
        own = ground.heights_m(
            np.array([place.latitude_deg for place in path]), np.array([place.longitude_deg for place in path])
        )
        at.append(begin + leg.distance_m * np.linspace(0.0, 1.0, len(path)))
        heights.append(own)
        highest.append(None if np.isnan(own).any() else float(own.max()))
        begin += leg.distance_m
        points_m.append(begin)
    empty = np.zeros(0)
    return Profile(
        np.concatenate(at) if at else empty, np.concatenate(heights) if heights else empty, tuple(points_m),
        tuple(highest),
    )  # fmt: skip


def profile_words(profile: Profile, ground: GroundHeights) -> str:
    """Return what stands above a profile: what it shows, and whose heights."""
    import numpy as np

    gaps = "; where nothing is drawn, nothing is known" if np.isnan(profile.heights_m).any() else ""
    return f"highest along the legs from middle to middle, not beside them{gaps}. From {ground.source}; may be old."


def draw_profile(task: Task, profile: Profile, *, width_mm: float, units: Units) -> str:
    """Return the profile as an `<svg>` element; the height is many times exaggerated, and its axis says the metres."""
    plot = _Plot.of(profile, width_mm)
    inside = (
        _grid(plot)
        + _ground(plot, profile)
        + _points(plot, task, profile)
        + _highest(plot, profile)
        + element("path", d=path_data(((plot.x(0.0), plot.foot), (plot.x(plot.whole_m), plot.foot))), stroke=INK,
                  stroke_width=0.25, fill="none")
        + _figures(plot, profile, units)
    )  # fmt: skip
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{number(width_mm)}mm" height="{number(HEIGHT_MM)}mm" '
        f'viewBox="0 0 {number(width_mm)} {number(HEIGHT_MM)}" role="img" font-family="{FONTS}">'
        f"<title>Ground under the course, metres above mean sea level</title>{inside}</svg>"
    )


@dataclass(frozen=True, slots=True)
class _Plot:
    """How metres become millimetres: `low_m` lies on the foot, a line every `step_m`."""

    width_mm: float
    whole_m: float
    low_m: float
    high_m: float
    step_m: int

    @staticmethod
    def of(profile: Profile, width_mm: float) -> _Plot:
        import numpy as np

        low, high = float(np.nanmin(profile.heights_m)), float(np.nanmax(profile.heights_m))
        step = next((step for step in _STEPS_M if (high - low) / step <= _LINES), _STEPS_M[-1])
        return _Plot(
            width_mm, max(profile.points_m[-1], 1.0), math.floor(low / step) * step, math.ceil(high / step) * step, step
        )

    @property
    def foot(self) -> float:
        return HEIGHT_MM - _FOOT_MM

    def x(self, at_m: float) -> float:
        return _LEFT_MM + (self.width_mm - _LEFT_MM - _RIGHT_MM) * at_m / self.whole_m

    def y(self, height_m: float) -> float:
        return self.foot - (self.foot - _TOP_MM) * (height_m - self.low_m) / max(self.high_m - self.low_m, 1.0)


def _grid(plot: _Plot) -> str:
    lines, figures = [], []
    for height in range(int(plot.low_m), int(plot.high_m) + 1, plot.step_m):
        y = plot.y(height)
        lines.append(element("path", d=path_data(((_LEFT_MM, y), (plot.width_mm - _RIGHT_MM, y)))))
        text = f"{height} m"
        figures.append(text_element(text, _LEFT_MM - 1.0, y + 0.8, LEAST_LETTERS_MM, text_anchor="end"))
    return group(lines, fill="none", stroke=GRATICULE_INK, stroke_width=0.15) + group(figures, fill=SOFT_INK)


def _ground(plot: _Plot, profile: Profile) -> str:
    """Return the ground as grey areas, broken where it is unknown; a column of paper shows its highest ground."""
    import numpy as np

    columns = max(2, round((plot.width_mm - _LEFT_MM - _RIGHT_MM) / _COLUMN_MM))
    column = np.minimum((profile.at_m / plot.whole_m * columns).astype(np.int64), columns - 1)
    tops = np.full(columns, -np.inf)
    np.maximum.at(tops, column, np.where(np.isnan(profile.heights_m), np.inf, profile.heights_m))
    areas: list[str] = []
    run: list[Point] = []

    def close() -> None:
        if len(run) > 1:
            ends = ((run[-1][0], plot.foot), (run[0][0], plot.foot))
            areas.append(element("path", d=path_data((*run, *ends), closed=True), fill=GROUND_GREY))
            areas.append(element("path", d=path_data(run), fill="none", stroke=INK, stroke_width=0.25))
        run.clear()

    for k, top in enumerate(tops.tolist()):
        if top == math.inf:
            close()
        elif top != -math.inf:
            run.append((plot.x(plot.whole_m * (k + 0.5) / columns), plot.y(top)))
    close()
    return group(areas)


def _points(plot: _Plot, task: Task, profile: Profile) -> str:
    """Return an upright at each point with its tag; those that would lie on each other share the first's place."""
    lines, tags = [], []
    free = -math.inf
    for n, (point, at) in enumerate(zip(task.points, profile.points_m, strict=False)):
        x = plot.x(at)
        lines.append(element("path", d=path_data(((x, _TOP_MM - 1.0), (x, plot.foot + 0.8)))))
        text = point_tag(point.role, n)
        half = text_width_mm(text, LEAST_LETTERS_MM, bold=True) / 2
        middle = min(max(x, _LEFT_MM + half), plot.width_mm - _RIGHT_MM - half)
        if middle - half > free:
            tags.append(text_element(text, middle, 2.6, LEAST_LETTERS_MM, text_anchor="middle", font_weight="bold"))
            free = middle + half + 0.6
    return group(lines, fill="none", stroke=INK, stroke_width=0.2) + group(tags, fill=INK)


def _highest(plot: _Plot, profile: Profile) -> str:
    """Return the highest ground of each leg as a figure in its middle, where it has the room."""
    texts = []
    for high, begin, end in zip(profile.highest_m, profile.points_m, profile.points_m[1:], strict=False):
        if high is None:
            continue
        text = f"{math.ceil(high)} m"
        if text_width_mm(text, LEAST_LETTERS_MM) + 3.0 < plot.x(end) - plot.x(begin):
            x, y = (plot.x(begin) + plot.x(end)) / 2, 4.6
            texts.append(text_element(text, x, y, LEAST_LETTERS_MM, text_anchor="middle"))
    return group(texts, fill=INK)


def _figures(plot: _Plot, profile: Profile, units: Units) -> str:
    """Return the distances flown to the points below the foot, the whole first, then those for which there is room."""
    texts: list[str] = []
    taken: list[tuple[float, float]] = []
    for at in (profile.points_m[-1], *profile.points_m[:-1]):
        text = format_distance(at, units, 0)
        half = text_width_mm(text, LEAST_LETTERS_MM) / 2
        x = min(max(plot.x(at), _LEFT_MM + half), plot.width_mm - _RIGHT_MM - half)
        if all(x + half + 1.5 < begin or end + 1.5 < x - half for begin, end in taken):
            texts.append(text_element(text, x, HEIGHT_MM - 0.8, LEAST_LETTERS_MM, text_anchor="middle"))
            taken.append((x - half, x + half))
    return group(texts, fill=SOFT_INK)
