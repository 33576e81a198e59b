"""What stands around a map: scale bar, legend and north arrow, in a strip below the frame or a column beside it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from html import escape

from taskdb.core.model import Landable, Role
from taskdb.core.quantities import NAUTICAL_MILE_M, STATUTE_MILE_M, Units
from taskdb.report.lettering import LEAST_LETTERS_MM, shown, text_width_mm
from taskdb.report.map_frame import Frame
from taskdb.report.palette import INK, PAPER, SOFT_INK, STYLES
from taskdb.report.svg import element, group, number, path_data, text_element
from taskdb.report.symbols import place_symbols, point_symbol

LEFT_MM, TOP_MM, RIGHT_MM, FIGURES_MM = 3.4, 0.3, 0.3, 3.4
STRIP_MM, BESIDE_MM = 13.0, 32.0
_FOOT_MM = 0.8
"""What letters need below their line, where no strip follows."""
LEAST_BESIDE_MM = 46.0
"""So high is the column beside a map with everything that it can have to explain."""
LETTERS_MM = LEAST_LETTERS_MM
_BAR_MM = 1.1
_LONGEST_BAR_MM = 42.0
_BAR_SHARE = 0.24
_METRES = {Units.KM: 1000.0, Units.MI: STATUTE_MILE_M, Units.NMI: NAUTICAL_MILE_M}
_ROLE_WORDS = {
    Role.START: "start",
    Role.TURN: "turn point",
    Role.AREA: "assigned area",
    Role.FINISH: "finish",
}
_PLACE_WORDS: tuple[tuple[Landable | None, str], ...] = (
    (Landable.AERODROME, "aerodrome"),
    (Landable.FIELD, "landable field"),
    (None, "other waypoint"),
)


def frame_size(width_mm: float, height_mm: float, *, is_beside: bool = False) -> tuple[float, float]:
    """Return the size of the frame on a paper that has room for figures, and for the margin below or beside it."""
    width, height = width_mm - LEFT_MM - RIGHT_MM, height_mm - TOP_MM - FIGURES_MM
    return (width - BESIDE_MM, height - _FOOT_MM) if is_beside else (width, height - STRIP_MM)


def longest_bar_mm(width_mm: float) -> float:
    """Return how long a scale bar may be below a map of that width."""
    return min(_LONGEST_BAR_MM, _BAR_SHARE * width_mm)


def margin(
    frame: Frame,
    units: Units,
    roles: Sequence[Role],
    landables: frozenset[Landable | None],
    width_mm: float,
    height_mm: float,
    *,
    is_beside: bool = False,
) -> str:
    """Return all that explains a map on its paper: in a column at the right, or in a strip along the foot."""
    if is_beside:
        left = width_mm - BESIDE_MM + 2.5
        return (
            legend(roles, landables, left, 2.6, BESIDE_MM - 2.5)
            + north_arrow(width_mm - 3, height_mm - 5.4)
            + scale_bar(frame, units, left + 1, height_mm - 9.6, longest_mm=BESIDE_MM - 13)
        )
    strip_y = height_mm - STRIP_MM
    longest = longest_bar_mm(frame.width_mm)
    legend_x = LEFT_MM + longest + 9
    return (
        scale_bar(frame, units, LEFT_MM + 2, strip_y + 4.2, longest_mm=longest)
        + legend(roles, landables, legend_x, strip_y + 2.8, width_mm - legend_x - 9)
        + north_arrow(width_mm - 5, strip_y + 9.8)
    )


def _bar_length(frame: Frame, units: Units, longest_mm: float) -> float:
    """Return the longest round length (1, 2 or 5 of a power of ten, in the unit) that fits the bar."""
    most = longest_mm / frame.mm_per_m / _METRES[units]
    power = 10.0 ** math.floor(math.log10(most))
    return next(factor * power for factor in (5.0, 2.0, 1.0) if factor * power <= most * (1 + 1e-9))


def _rounded_scale(frame: Frame) -> str:
    denominator = frame.scale_denominator
    unit = 10.0 ** (math.floor(math.log10(denominator)) - 1)
    return f"{round(denominator / unit) * unit:,.0f}".replace(",", "\u202f")


def scale_bar(frame: Frame, units: Units, x: float, y: float, *, longest_mm: float) -> str:
    """Return the bar with its figures and the scale in words; true at the map's centre."""
    length = _bar_length(frame, units, longest_mm)
    piece = length * _METRES[units] * frame.mm_per_m / 4
    parts = [
        element(
            "rect",
            x=x + n * piece,
            y=y,
            width=piece,
            height=_BAR_MM,
            fill=INK if n % 2 == 0 else PAPER,
            stroke=INK,
            stroke_width=0.2,
        )
        for n in range(4)
    ]
    figures = {share: f"{length * share / 4:g}" + (f" {units.value}" if share == 4 else "") for share in (0, 2, 4)}
    wide = {share: text_width_mm(figure, LETTERS_MM) for share, figure in figures.items()}
    if 2 * piece < (wide[2] + max(wide[0], wide[4])) / 2 + 0.8:
        figures.pop(2)  # a short bar has room at its ends only
    for share, figure in figures.items():
        parts.append(text_element(figure, x + share * piece, y - 0.7, LETTERS_MM, text_anchor="middle"))
    words = f"about 1 : {_rounded_scale(frame)}"
    parts.append(text_element(words, x, y + _BAR_MM + LETTERS_MM + 0.6, LETTERS_MM, fill=SOFT_INK))
    parts.append(text_element("true at the centre", x, y + _BAR_MM + 2 * LETTERS_MM + 1.2, LETTERS_MM, fill=SOFT_INK))
    return group(parts)


def north_arrow(x: float, y: float) -> str:
    """Return an arrow to true north at the map's centre, 10 mm high with its letters, its foot at (x, y)."""
    left = path_data([(x, y - 7.2), (x - 1.7, y), (x, y - 1.6)], closed=True)
    right = path_data([(x, y - 7.2), (x + 1.7, y), (x, y - 1.6)], closed=True)
    return group(
        (
            element("path", d=left, fill=INK, stroke=INK, stroke_width=0.2),
            element("path", d=right, fill=PAPER, stroke=INK, stroke_width=0.2),
            text_element("N", x, y - 7.8, 2.6, text_anchor="middle", font_weight="bold"),
            text_element("true", x, y + 2.3, LETTERS_MM, text_anchor="middle", fill=SOFT_INK),
        )
    )


def _zone_sample(role: Role, x: float, y: float) -> str:
    style = STYLES[role]
    patch = element(
        "rect",
        x=x,
        y=y - 1.5,
        width=6.5,
        height=3.0,
        rx=0.6,
        fill=style.colour,
        fill_opacity="0.12",
        stroke=style.colour,
        stroke_width=style.width_mm,
        stroke_dasharray=style.dash or None,
    )
    return patch + point_symbol(role, (x + 3.25, y))


def legend(roles: Sequence[Role], landables: frozenset[Landable | None], x: float, y: float, width: float) -> str:
    """Return samples with their words, in rows; only what the map shows is explained."""
    entries = [(_zone_sample(role, 0.0, 0.0), 8.0, _ROLE_WORDS[role]) for role in Role if role in roles]
    line = element("path", d=path_data([(0, 0), (6.5, 0)]), stroke=INK, stroke_width=0.45)
    if roles:
        entries.append((line, 8.0, "leg, geodesic"))
    for landable, words in _PLACE_WORDS:
        if landable in landables:
            entries.append((place_symbols(landable, [(1.0, 0.0)]), 2.8, words))
    parts, at_x, at_y = [], x, y
    for sample, indent, words in entries:
        wide = indent + text_width_mm(words, LETTERS_MM) + 4.0
        if at_x > x and at_x + wide > x + width:
            at_x, at_y = x, at_y + 4.4
        label = text_element(words, indent, LETTERS_MM * 0.36, LETTERS_MM)
        parts.append(f'<g transform="translate({number(at_x)},{number(at_y)})">{sample}{label}</g>')
        at_x += wide
    return group(parts)


def description(words: str) -> str:
    """Return the title of a map for those who hear it instead of seeing it."""
    return f"<title>{escape(words, quote=False)}</title>"


def marking(words: str, width_mm: float) -> str:
    """Return a bar across the top of a map that says what the task is not, readable without colour."""
    letters_mm = 3.4
    text = shown(words, 60).upper()
    wide = text_width_mm(text, letters_mm, bold=True) + 6
    x = (width_mm - wide) / 2
    return element("rect", x=x, y=2.0, width=wide, height=5.4, fill=INK) + text_element(
        text, x + 3, 2.0 + 4.0, letters_mm, fill=PAPER, font_weight="bold"
    )
