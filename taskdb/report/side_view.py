"""A side view of a course: how metres become millimetres, heights, ground, the points and the distances to them.

What the profile on a sheet and the picture of landable cover are put together from.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

from taskdb.core.course.regions import counted_position
from taskdb.core.geodesy import densify
from taskdb.core.ground import GroundHeights
from taskdb.core.model import Task
from taskdb.core.quantities import Units, format_distance
from taskdb.report.lettering import text_width_mm
from taskdb.report.palette import GRATICULE_INK, INK, SOFT_INK
from taskdb.report.svg import Point, element, group, path_data, text_element
from taskdb.report.symbols import point_tag

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy as np
    from numpy.typing import NDArray

MATTERS_M = 150.0
"""Where the ground under the course differs by less, a profile would show a line."""
GROUND_GREY = "#bdbdbd"
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
    def is_known(self) -> bool:
        """Say whether the height of the ground is known anywhere."""
        import numpy as np

        return not bool(np.isnan(self.heights_m).all())

    @property
    def matters(self) -> bool:
        """Say whether the ground differs by enough to be drawn."""
        import numpy as np

        known = self.heights_m[~np.isnan(self.heights_m)]
        return known.size > 1 and float(np.ptp(known)) >= MATTERS_M


def ground_profile(task: Task, legs_m: Sequence[float], ground: GroundHeights) -> Profile:
    """Return the ground along the legs, through the points' middles, a height at least every spacing of the ground.

    `legs_m` are the lengths of the legs as they are told.
    """
    import numpy as np

    places = [counted_position(point) for point in task.points]
    whole_m = sum(legs_m)
    step_m = max(min(ground.spacing_m, 500.0), whole_m / _MOST_HEIGHTS, 1.0)
    at, heights, points_m, highest, begin = [], [], [0.0], [], 0.0
    for (a, b), leg_m in zip(pairwise(places), legs_m, strict=True):
        path = densify(a, b, step_m)
        own = ground.heights_m(
            np.array([place.latitude_deg for place in path]), np.array([place.longitude_deg for place in path])
        )
        at.append(begin + leg_m * np.linspace(0.0, 1.0, len(path)))
        heights.append(own)
        highest.append(None if np.isnan(own).any() else float(own.max()))
        begin += leg_m
        points_m.append(begin)
    empty = np.zeros(0)
    return Profile(
        np.concatenate(at) if at else empty, np.concatenate(heights) if heights else empty, tuple(points_m),
        tuple(highest),
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Plot:
    """How metres become millimetres: `low_m` lies on `foot_mm`, `high_m` at `top_mm`, a line every `step_m`.

    Between `left_mm` and `right_mm` lies the whole course.
    """

    left_mm: float
    right_mm: float
    top_mm: float
    foot_mm: float
    letters_mm: float
    whole_m: float
    low_m: float
    high_m: float
    step_m: int

    @staticmethod
    def over(low_m: float, high_m: float, whole_m: float, **place: float) -> Plot:
        """Return the plot of heights between two, rounded out to whole steps; `place` are its sides and letters."""
        step = next((step for step in _STEPS_M if (high_m - low_m) / step <= _LINES), _STEPS_M[-1])
        low, high = math.floor(low_m / step) * step, math.ceil(high_m / step) * step
        return Plot(**place, whole_m=max(whole_m, 1.0), low_m=low, high_m=high, step_m=step)

    def x(self, at_m: float) -> float:
        """Return how far to the right a place along the course lies."""
        return self.left_mm + (self.right_mm - self.left_mm) * at_m / self.whole_m

    def y(self, height_m: float) -> float:
        """Return how far down a height lies."""
        return self.foot_mm - (self.foot_mm - self.top_mm) * (height_m - self.low_m) / max(
            self.high_m - self.low_m, 1.0
        )


def height_lines(plot: Plot) -> str:
    """Return a line a step of height, with its metres."""
    lines, figures = [], []
    for height in range(int(plot.low_m), int(plot.high_m) + 1, plot.step_m):
        y = plot.y(height)
        lines.append(element("path", d=path_data(((plot.left_mm, y), (plot.right_mm, y)))))
        text = f"{height} m"
        figures.append(
            text_element(text, plot.left_mm - 1.0, y + plot.letters_mm / 3.1, plot.letters_mm, text_anchor="end")
        )
    return group(lines, fill="none", stroke=GRATICULE_INK, stroke_width=0.15) + group(figures, fill=SOFT_INK)


def ground_areas(plot: Plot, profile: Profile) -> str:
    """Return the ground as grey areas, broken where it is unknown; a column of paper shows its highest ground."""
    import numpy as np

    columns = max(2, round((plot.right_mm - plot.left_mm) / _COLUMN_MM))
    column = np.minimum((profile.at_m / plot.whole_m * columns).astype(np.int64), columns - 1)
    tops = np.full(columns, -np.inf)
    np.maximum.at(tops, column, np.where(np.isnan(profile.heights_m), np.inf, profile.heights_m))
    areas: list[str] = []
    run: list[Point] = []

    def close() -> None:
        if len(run) > 1:
            ends = ((run[-1][0], plot.foot_mm), (run[0][0], plot.foot_mm))
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


def point_uprights(plot: Plot, task: Task, points_m: Sequence[float]) -> str:
    """Return an upright at each point with its tag; those that would lie on each other share the first's place."""
    lines, tags = [], []
    free = -math.inf
    for n, (point, at) in enumerate(zip(task.points, points_m, strict=False)):
        x = plot.x(at)
        lines.append(element("path", d=path_data(((x, plot.top_mm - 1.0), (x, plot.foot_mm + 0.8)))))
        text = point_tag(point.role, n)
        half = text_width_mm(text, plot.letters_mm, bold=True) / 2
        middle = min(max(x, plot.left_mm + half), plot.right_mm - half)
        if middle - half > free:
            tags.append(
                text_element(text, middle, plot.top_mm - 3.6, plot.letters_mm, text_anchor="middle", font_weight="bold")
            )
            free = middle + half + 0.6
    return group(lines, fill="none", stroke=INK, stroke_width=0.2) + group(tags, fill=INK)


def distance_figures(plot: Plot, points_m: Sequence[float], y_mm: float, units: Units) -> str:
    """Return the distances flown to the points, the whole first, then those for which there is room."""
    texts: list[str] = []
    taken: list[tuple[float, float]] = []
    for at in (points_m[-1], *points_m[:-1]):
        text = format_distance(at, units, 0)
        half = text_width_mm(text, plot.letters_mm) / 2
        x = min(max(plot.x(at), plot.left_mm + half), plot.right_mm - half)
        if all(x + half + 1.5 < begin or end + 1.5 < x - half for begin, end in taken):
            texts.append(text_element(text, x, y_mm, plot.letters_mm, text_anchor="middle"))
            taken.append((x - half, x + half))
    return group(texts, fill=SOFT_INK)
