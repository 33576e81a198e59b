"""The ground under a course as one SVG element: heights along the legs, the points, the highest ground of each leg.

Draws heights that it asks the ground for; distances come with the course. For people, not for terrain clearance.
"""

from __future__ import annotations

import math

from taskdb.core.ground import GroundHeights
from taskdb.core.judgement.cover import Cover
from taskdb.core.judgement.glide import SAID
from taskdb.core.model import Task
from taskdb.core.quantities import Units
from taskdb.report.cover_bands import (
    STRIP_MM,
    altitude_line,
    codes_inside,
    field_runs,
    field_strip,
    out_of_reach_bands,
)
from taskdb.report.lettering import FONTS, LEAST_LETTERS_MM, text_width_mm
from taskdb.report.palette import INK
from taskdb.report.side_view import (
    Plot,
    Profile,
    distance_figures,
    ground_areas,
    height_lines,
    point_uprights,
)
from taskdb.report.svg import element, group, number, path_data, text_element

HEIGHT_MM = 28.0
_COVER_MM = 4.6
_LEFT_MM, _RIGHT_MM, _TOP_MM, _FOOT_MM = 11.0, 2.0, 6.2, 4.2


def profile_words(profile: Profile, ground: GroundHeights, cover: Cover | None = None) -> str:
    """Return what stands above a profile: what it shows, and whose heights."""
    import numpy as np

    gaps = "; where nothing is drawn, nothing is known" if np.isnan(profile.heights_m).any() else ""
    words = f"highest along the legs from middle to middle, not beside them{gaps}. From {ground.source}; may be old."
    if cover is None:
        return words
    return (
        f"{words} Fields in reach by code below it, hatched where none is: {cover.terms.words}, the ground cleared by "
        f"{cover.terms.clearance_m:.0f} m but for the last {cover.terms.free_m / 1000:g} km. {SAID}"
    )


def profile_mm(cover: Cover | None) -> float:
    """Return how high the picture is: higher with landable cover under the ground."""
    return HEIGHT_MM + (_COVER_MM if cover is not None else 0.0)


def draw_profile(task: Task, profile: Profile, *, width_mm: float, units: Units, cover: Cover | None = None) -> str:
    """Return the profile as an `<svg>` element; the height is many times exaggerated, and its axis says the metres.

    With `cover` the altitude of the glide, where no field is in reach, and a strip of the fields that are.
    """
    import numpy as np

    altitudes = [] if cover is None else [one.altitude_m for one in cover.samples if one.altitude_m is not None]
    height_mm = profile_mm(cover)
    highest_m = max([float(np.nanmax(profile.heights_m)), *altitudes])
    plot = Plot.over(
        float(np.nanmin(profile.heights_m)), highest_m, profile.points_m[-1],
        left_mm=_LEFT_MM, right_mm=width_mm - _RIGHT_MM, top_mm=_TOP_MM, foot_mm=HEIGHT_MM - _FOOT_MM,
        letters_mm=LEAST_LETTERS_MM,
    )  # fmt: skip
    inside = (
        height_lines(plot)
        + ground_areas(plot, profile)
        + (_cover(plot, cover) if cover is not None else "")
        + point_uprights(plot, task, profile.points_m)
        + _highest(plot, profile)
        + element("path", d=path_data(((plot.x(0.0), plot.foot_mm), (plot.x(plot.whole_m), plot.foot_mm))), stroke=INK,
                  stroke_width=0.25, fill="none")
        + distance_figures(plot, profile.points_m, HEIGHT_MM - 0.8, units)
    )  # fmt: skip
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{number(width_mm)}mm" height="{number(height_mm)}mm" '
        f'viewBox="0 0 {number(width_mm)} {number(height_mm)}" role="img" font-family="{FONTS}">'
        f"<title>Ground under the course, metres above mean sea level</title>{inside}</svg>"
    )


def _cover(plot: Plot, cover: Cover) -> str:
    runs, strip_mm = field_runs(cover), HEIGHT_MM + 0.4
    return (
        out_of_reach_bands(plot, cover, strip_mm + STRIP_MM)
        + altitude_line(plot, cover, cover.terms.working_text)
        + field_strip(plot, runs, strip_mm)
        + codes_inside(plot, runs, strip_mm)
    )


def _highest(plot: Plot, profile: Profile) -> str:
    """Return the highest ground of each leg as a figure in its middle, where it has the room."""
    texts = []
    for high, begin, end in zip(profile.highest_m, profile.points_m, profile.points_m[1:], strict=False):
        if high is None:
            continue
        text = f"{math.ceil(high)} m"
        if text_width_mm(text, plot.letters_mm) + 3.0 < plot.x(end) - plot.x(begin):
            x, y = (plot.x(begin) + plot.x(end)) / 2, 4.6
            texts.append(text_element(text, x, y, plot.letters_mm, text_anchor="middle"))
    return group(texts, fill=INK)
