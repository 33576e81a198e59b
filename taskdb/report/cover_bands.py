"""Landable cover within a side view: bands where no field is in reach, the altitude of the glide, a strip of fields.

Out of reach is hatched as well as coloured, since sheets are copied in black and white.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import groupby

from taskdb.core.judgement.cover import SAMPLE_M, Cover, Sample
from taskdb.report.lettering import CODE_LIMIT, HALO, shown, text_width_mm
from taskdb.report.palette import BLUE, BLUISH_GREEN, INK, SOFT_INK, VERMILLION
from taskdb.report.side_view import Plot
from taskdb.report.svg import Point, element, group, path_data, text_element

STRIP_MM = 3.0
_LEAST_BAND_MM = 0.8
_HATCH_MM = 1.5


@dataclass(frozen=True, slots=True)
class FieldRun:
    """A part of the course with one field in reach: its code, and the least height over it on arrival, metres."""

    from_m: float
    to_m: float
    code: str
    least_m: float

    @property
    def words(self) -> str:
        return f"{shown(self.code, CODE_LIMIT)} {self.least_m:.0f} m"


def field_runs(cover: Cover) -> tuple[FieldRun, ...]:
    """Return the parts of the course with one field in reach, in order; each reaches half way to the next sample."""
    runs = []
    for (is_reached, code), samples in _runs(cover, lambda one: (one.is_reached, one.code)):
        if is_reached and code is not None:
            least = min(sample.arrival_m or 0.0 for sample in samples)
            runs.append(FieldRun(*_between(cover, samples), code, least))
    return tuple(runs)


def _runs(
    cover: Cover, key: Callable[[Sample], tuple[bool | None, str | None]]
) -> Iterable[tuple[tuple[bool | None, str | None], list[Sample]]]:
    for held, samples in groupby(cover.samples, key=key):
        yield held, list(samples)


def _between(cover: Cover, samples: Sequence[Sample]) -> tuple[float, float]:
    whole = cover.samples[-1].at_m
    return max(0.0, samples[0].at_m - SAMPLE_M / 2), min(whole, samples[-1].at_m + SAMPLE_M / 2)


def out_of_reach_bands(plot: Plot, cover: Cover, foot_mm: float) -> str:
    """Return hatched bands where no field is in reach, and dotted ones where it is not known, down to `foot_mm`."""
    bands = []
    for (is_reached, _), samples in _runs(cover, lambda one: (one.is_reached, None)):
        if is_reached:
            continue
        begin, end = (plot.x(at) for at in _between(cover, samples))
        if end - begin < _LEAST_BAND_MM:
            middle = (begin + end) / 2
            begin, end = middle - _LEAST_BAND_MM / 2, middle + _LEAST_BAND_MM / 2
        bands.append(band(begin, plot.top_mm, end, foot_mm, is_known=is_reached is False))
    return group(bands)


def band(left: float, top: float, right: float, foot: float, *, is_known: bool) -> str:
    """Return a band: hatched in colour where no field is in reach, lightly dotted where it is not known."""
    colour = VERMILLION if is_known else SOFT_INK
    filled = element(
        "rect", x=left, y=top, width=right - left, height=foot - top, fill=colour,
        fill_opacity="0.14" if is_known else "0.06",
    )  # fmt: skip
    lines = "".join(path_data(line) for line in _hatch(left, top, right, foot, 1.0 if is_known else 2.0))
    dash = None if is_known else "0.3 0.9"
    return filled + element(
        "path", d=lines, fill="none", stroke=colour, stroke_width=0.22 if is_known else 0.3, stroke_dasharray=dash
    )


def _hatch(left: float, top: float, right: float, foot: float, wide: float) -> Iterable[tuple[Point, Point]]:
    """Yield the lines x + y = constant within a rectangle, which lie on each other where rectangles adjoin."""
    step = _HATCH_MM * wide
    number = int((left + top) / step) + 1
    while number * step < right + foot:
        total = number * step
        begin, end = max(left, total - foot), min(right, total - top)
        if end > begin:
            yield (begin, total - begin), (end, total - end)
        number += 1


def altitude_line(plot: Plot, cover: Cover, words: str) -> str:
    """Return the line from which glides begin, with its words above its beginning."""
    known = [(plot.x(one.at_m), plot.y(one.altitude_m)) for one in cover.samples if one.altitude_m is not None]
    if not known:
        return ""
    line = element("path", d=path_data(known), fill="none", stroke=BLUE, stroke_width=0.6)
    y = min(y for x, y in known if x <= plot.left_mm + text_width_mm(words, plot.letters_mm) + 3 or x == known[0][0])
    label = text_element(words, plot.left_mm + 1.2, y - 0.9, plot.letters_mm, fill=BLUE, font_weight="bold")
    return line + label.replace("<text", f"<text {HALO}", 1)


def lowest_line(plot: Plot, cover: Cover) -> str:
    """Return the altitude from which a field just comes in reach, broken where figures are withheld.

    Above the altitude of the glide no field is in reach. What would lie above the plot runs along its top.
    """
    pieces: list[list[Point]] = [[]]
    for sample in cover.samples:
        if sample.altitude_m is None or sample.arrival_m is None:
            pieces.append([])
            continue
        lowest = sample.altitude_m - sample.arrival_m + cover.terms.safety_m
        pieces[-1].append((plot.x(sample.at_m), plot.y(min(lowest, plot.high_m))))
    paths = "".join(path_data(piece) for piece in pieces if len(piece) > 1)
    return element("path", d=paths, fill="none", stroke=BLUISH_GREEN, stroke_width=0.5) if paths else ""


def field_strip(plot: Plot, runs: Sequence[FieldRun], y_mm: float) -> str:
    """Return a strip of the fields in reach, light and dark by turns."""
    boxes = [
        element(
            "rect", x=plot.x(run.from_m), y=y_mm, width=max(plot.x(run.to_m) - plot.x(run.from_m), 0.1),
            height=STRIP_MM, fill=BLUISH_GREEN, fill_opacity="0.9" if n % 2 == 0 else "0.45",
        )
        for n, run in enumerate(runs)
    ]  # fmt: skip
    frame = element(
        "rect", x=plot.left_mm, y=y_mm, width=plot.right_mm - plot.left_mm, height=STRIP_MM, fill="none", stroke=INK,
        stroke_width=0.2,
    )  # fmt: skip
    return group(boxes) + frame


def codes_inside(plot: Plot, runs: Sequence[FieldRun], y_mm: float) -> str:
    """Return the codes in their parts of a strip, of those that have the room."""
    texts = []
    for run in runs:
        code = shown(run.code, CODE_LIMIT)
        if text_width_mm(code, plot.letters_mm) + 0.8 < plot.x(run.to_m) - plot.x(run.from_m):
            middle = (plot.x(run.from_m) + plot.x(run.to_m)) / 2
            texts.append(text_element(code, middle, y_mm + 2.4, plot.letters_mm, text_anchor="middle"))
    return group(texts, fill=INK)


def strip_labels(plot: Plot, runs: Sequence[FieldRun], y_mm: float) -> tuple[str, float]:
    """Return codes and least heights under the strip, and how high they are; upright where all have room, else turned.

    Where not even turned ones have room the longest parts of the course have theirs.
    """
    size = plot.letters_mm
    if all(text_width_mm(run.words, size) + 1.5 < plot.x(run.to_m) - plot.x(run.from_m) for run in runs):
        texts = [
            text_element(run.words, (plot.x(run.from_m) + plot.x(run.to_m)) / 2, y_mm + size, size,
                         text_anchor="middle")
            for run in runs
        ]  # fmt: skip
        return group(texts, fill=INK), size + 0.6
    texts = []
    taken: list[float] = []
    deepest = 0.0
    for run in sorted(runs, key=lambda one: (one.from_m - one.to_m, one.from_m)):
        x = (plot.x(run.from_m) + plot.x(run.to_m)) / 2
        if any(abs(x - other) < size * 1.15 for other in taken):
            continue
        taken.append(x)
        deepest = max(deepest, text_width_mm(run.words, size))
        at = x + size * 0.35
        texts.append(
            text_element(
                run.words, at, y_mm + 1.0, size, text_anchor="end", transform=f"rotate(-90 {at:.2f} {y_mm + 1.0:.2f})"
            )
        )
    return group(texts, fill=INK), deepest + 1.6
