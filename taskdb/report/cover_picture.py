"""The landable cover of a course as one SVG picture: a side view for a phone or a sheet of paper.

Ground, the altitude that glides begin at, where no field is in reach, and the fields that are, with their codes.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from taskdb.core.ground import GroundHeights
from taskdb.core.judgement.cover import Cover, CoverGround
from taskdb.core.judgement.glide import SAID
from taskdb.core.model import Task
from taskdb.core.quantities import Units, format_distance
from taskdb.report.cover_bands import (
    STRIP_MM,
    FieldRun,
    altitude_line,
    band,
    field_runs,
    field_strip,
    lowest_line,
    out_of_reach_bands,
    strip_labels,
)
from taskdb.report.lettering import FONTS, NAME_LIMIT, shown, text_width_mm
from taskdb.report.palette import BLUISH_GREEN, INK, PAPER, SOFT_INK
from taskdb.report.side_view import (
    GROUND_GREY,
    Plot,
    Profile,
    distance_figures,
    ground_areas,
    ground_profile,
    height_lines,
    point_uprights,
)
from taskdb.report.svg import element, group, number, path_data, text_element

if TYPE_CHECKING:
    from collections.abc import Iterator

WIDTH_MM = 130.0
LETTERS_MM = 3.3
"""On a telephone, where the picture is as wide as the screen, some 9 pixels."""
_EDGE_MM, _TITLE_MM, _LEADING = 4.0, 5.0, 1.35
_PLOT_MM = 52.0
_HEADROOM = 0.12
_CAUTION = "Not for primary navigation: local rules, officials and the pilot in command decide."


def draw_cover(task: Task, cover: Cover, ground: GroundHeights | None, fields: str, *, units: Units) -> str:
    """Return the picture as an SVG document. `ground` is what the cover was judged by, None where none was asked.

    `fields` says in words which fields were looked at.
    """
    profile = _profile(task, cover, ground)
    runs = field_runs(cover)
    head, top = _lines([f"{cover.terms.words}. {shown(fields)}."], _EDGE_MM + _TITLE_MM + 5.0)
    plot = _plot(cover, profile, top + 6.0)
    strip = plot.foot_mm + LETTERS_MM + 2.4
    labels, deep = strip_labels(plot, runs, strip + STRIP_MM)
    legend, below = _legend(cover, runs, ground, strip + STRIP_MM + deep + 5.0)
    said, end = _lines([_result(cover, units), SAID, _CAUTION], below + 1.0)
    title = f"Landable cover of {shown(task.name, NAME_LIMIT)}"
    inside = (
        element("rect", width=WIDTH_MM, height=end, fill=PAPER)
        + text_element(title, _EDGE_MM, _EDGE_MM + _TITLE_MM, _TITLE_MM, font_weight="bold")
        + head
        + height_lines(plot)
        + (ground_areas(plot, profile) if profile is not None else "")
        + out_of_reach_bands(plot, cover, strip + STRIP_MM)
        + ("" if cover.ground is CoverGround.TERRAIN else lowest_line(plot, cover))
        + altitude_line(plot, cover, cover.terms.working_text)
        + point_uprights(plot, task, cover.points_m)
        + element("path", d=path_data(((plot.left_mm, plot.foot_mm), (plot.right_mm, plot.foot_mm))), stroke=INK,
                  stroke_width=0.25, fill="none")
        + distance_figures(plot, cover.points_m, plot.foot_mm + LETTERS_MM + 0.6, units)
        + field_strip(plot, runs, strip)
        + labels
        + legend
        + said
    )  # fmt: skip
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {number(WIDTH_MM)} {number(end)}" role="img" '
        f'font-family="{FONTS}"><title>{_escaped(title)}</title>{inside}</svg>\n'
    )


def _escaped(text: str) -> str:
    from html import escape

    return escape(text, quote=False)


def _profile(task: Task, cover: Cover, ground: GroundHeights | None) -> Profile | None:
    if ground is None or len(cover.points_m) < 2:
        return None
    profile = ground_profile(task, [b - a for a, b in pairwise(cover.points_m)], ground)
    return profile if profile.is_known else None


def _plot(cover: Cover, profile: Profile | None, top_mm: float) -> Plot:
    heights = [one.altitude_m for one in cover.samples if one.altitude_m is not None]
    if profile is not None:
        import numpy as np

        heights += [float(np.nanmin(profile.heights_m)), float(np.nanmax(profile.heights_m))]
    low, high = min([*heights, 0.0] if profile is None else heights), max(heights, default=1000.0)
    return Plot.over(
        low, high + (high - low) * _HEADROOM, cover.points_m[-1] if cover.points_m else 0.0,
        left_mm=_EDGE_MM + text_width_mm("8888 m", LETTERS_MM) + 1.0, right_mm=WIDTH_MM - _EDGE_MM,
        top_mm=top_mm, foot_mm=top_mm + _PLOT_MM, letters_mm=LETTERS_MM,
    )  # fmt: skip


def _result(cover: Cover, units: Units) -> str:
    of = f"{len(cover.samples)} places, one each kilometre"
    if cover.stretches:
        longest = format_distance(cover.longest_out_m or 0.0, units)
        return f"No field in reach at {cover.out_of_reach} of {of}; the longest stretch {longest}."
    if cover.withheld:
        return f"At {cover.withheld} of {of}, it is not known whether a field is in reach."
    return f"A field is in reach at all of {of}."


def _legend(cover: Cover, runs: tuple[FieldRun, ...], ground: GroundHeights | None, y_mm: float) -> tuple[str, float]:
    """Return what the signs mean, those that stand in the picture, and where it ends."""
    parts = []
    for sample, words in _signs(cover, runs, ground):
        text, end = _lines([words], y_mm, left_mm=_EDGE_MM + 9.0)
        parts.append(f'<g transform="translate({number(_EDGE_MM)} {number(y_mm - 2.4)})">{sample}</g>{text}')
        y_mm = end + 0.8
    return group(parts), y_mm


def _signs(cover: Cover, runs: tuple[FieldRun, ...], ground: GroundHeights | None) -> Iterator[tuple[str, str]]:
    if cover.stretches:
        yield band(0.0, 0.0, 6.5, 3.0, is_known=True), "No field in reach."
    if any(sample.is_reached is None for sample in cover.samples):
        yield (
            band(0.0, 0.0, 6.5, 3.0, is_known=False),
            (
                "Not known: hills on the way down, and no terrain to judge them by."
                if cover.ground is CoverGround.GRID
                else "Not known: the terrain does not reach all the way down."
            ),
        )
    if runs:
        box = element("rect", width=6.5, height=3.0, fill=BLUISH_GREEN, fill_opacity="0.9")
        yield box, "Field in reach: its code, and how high over it a glide arrives from the worst place."
    if cover.ground is not CoverGround.TERRAIN and any(sample.arrival_m is not None for sample in cover.samples):
        line = element("path", d="M0,1.5 6.5,1.5", stroke=BLUISH_GREEN, stroke_width=0.5, fill="none")
        yield line, "From this altitude on a field is in reach."
    if ground is not None:
        box = element("rect", width=6.5, height=3.0, fill=GROUND_GREY)
        coarse = "" if ground.is_users else ": no summit and no valley in it"
        yield box, f"Ground along the legs, not beside them: {ground.source}{coarse}."


def _lines(sentences: list[str], y_mm: float, *, left_mm: float = _EDGE_MM) -> tuple[str, float]:
    """Return sentences in lines between the edges, each beginning a new one, and where the next line would stand."""
    texts = []
    for sentence in sentences:
        line = ""
        for word in sentence.split():
            longer = f"{line} {word}".strip()
            if line and left_mm + text_width_mm(longer, LETTERS_MM) > WIDTH_MM - _EDGE_MM:
                texts.append(text_element(line, left_mm, y_mm, LETTERS_MM))
                y_mm += LETTERS_MM * _LEADING
                longer = word
            line = longer
        texts.append(text_element(line, left_mm, y_mm, LETTERS_MM))
        y_mm += LETTERS_MM * _LEADING
    return group(texts, fill=SOFT_INK), y_mm
