"""The relief under a map: slopes that turn away from the north-west a little grey, flat ground and lit slopes white.

One small picture within the map's SVG. It only darkens, so plains cost no ink, and never below a grey on which black
and the map's colours read as on white.
"""

from __future__ import annotations

import base64
from html import escape
from typing import TYPE_CHECKING

from taskdb.core.ground import GroundHeights
from taskdb.report.lettering import HALO, LEAST_LETTERS_MM, shown, text_width_mm
from taskdb.report.map_frame import Frame
from taskdb.report.palette import SOFT_INK
from taskdb.report.png import LEVELS, grey_png
from taskdb.report.svg import element, number

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

DARKEST = 0xDE
"""Black text has 15:1 upon it (WCAG 2.2 asks for 4.5:1)."""
_PIXEL_MM = 0.5
_EACH_WAY = 3
"""So many heights each way are averaged for a pixel: one of 90 m in a kilometre would be noise."""
_STEEP = 0.8
_MOST_EXAGGERATED = 10.0
_STEEP_SHARE = 95.0


def draw_relief(frame: Frame, ground: GroundHeights | None) -> str:
    """Return the relief as an element that covers the frame, with whose heights it is; nothing without terrain.

    Only from terrain of the user's own: of the shipped grid a map of 100 km would show a dozen steps.
    """
    if ground is None or not ground.is_users:
        return ""
    levels = relief_levels(frame, ground)
    if levels is None:
        return ""
    picture = base64.b64encode(grey_png(levels, DARKEST)).decode("ascii")
    image = element(
        "image", x=0, y=0, width=frame.width_mm, height=frame.height_mm, preserveAspectRatio="none",
        href=f"data:image/png;base64,{picture}",
    )  # fmt: skip
    text = f"relief: {shown(ground.name, 40)}"
    size = LEAST_LETTERS_MM
    x, y = frame.width_mm - text_width_mm(text, size) - 1.0, frame.height_mm - 1.0
    # Written by hand: the halo is taken away as one where it cannot be drawn.
    place = f'x="{number(x)}" y="{number(y)}" font-size="{number(size)}"'
    said = f'<text {place} fill="{SOFT_INK}" {HALO}>{escape(text, quote=False)}</text>'
    return image + said


def relief_levels(frame: Frame, ground: GroundHeights) -> NDArray[np.uint8] | None:
    """Return the greys of the frame's pixels, 15 white; None where the terrain has no height in the frame."""
    import numpy as np

    columns, rows = (max(2, round(size / _PIXEL_MM)) for size in (frame.width_mm, frame.height_mm))
    heights = _pixel_heights(frame, ground, rows, columns)
    if np.isnan(heights).all():
        return None
    step_m = frame.height_mm / rows / frame.mm_per_m, frame.width_mm / columns / frame.mm_per_m
    down, right = np.gradient(heights, *step_m)
    slopes = np.hypot(down, right)
    steep = float(np.nanpercentile(slopes, _STEEP_SHARE)) if not np.isnan(slopes).all() else 0.0
    # The wider the piece of ground that a pixel stands for, the gentler it seems: made as steep as hills are.
    more = min(_MOST_EXAGGERATED, _STEEP / steep) if steep > 0.0 else 1.0
    # How a slope is lit from the north-west, 45° high: 1 / √2 where it is flat.
    lit = (1.0 + more * (down + right) / np.sqrt(2.0)) / np.sqrt(2.0 * (1.0 + (more * slopes) ** 2))
    shade = np.clip(1.0 - lit * np.sqrt(2.0), 0.0, 1.0)
    levels = np.round((LEVELS - 1) * (1.0 - np.nan_to_num(shade, nan=0.0)))
    found: NDArray[np.uint8] = levels.astype(np.uint8)
    return found


def _pixel_heights(frame: Frame, ground: GroundHeights, rows: int, columns: int) -> NDArray[np.float64]:
    """Return the mean height under each pixel; NaN where any of the ground there is unknown."""
    import numpy as np

    x_mm = (np.arange(columns * _EACH_WAY) + 0.5) * frame.width_mm / (columns * _EACH_WAY)
    y_mm = (np.arange(rows * _EACH_WAY) + 0.5) * frame.height_mm / (rows * _EACH_WAY)
    x_m = frame.middle_x_m + (x_mm - frame.width_mm / 2) / frame.mm_per_m
    y_m = frame.middle_y_m - (y_mm - frame.height_mm / 2) / frame.mm_per_m
    latitude, longitude = frame.projection.places_deg(*(axis.ravel() for axis in np.meshgrid(x_m, y_m)))
    heights = ground.heights_m(latitude, (longitude + 180.0) % 360.0 - 180.0)
    found: NDArray[np.float64] = heights.reshape(rows, _EACH_WAY, columns, _EACH_WAY).mean(axis=(1, 3))
    return found
