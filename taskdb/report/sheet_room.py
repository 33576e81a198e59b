"""How much of a page is left for the map: what else stands on a sheet is estimated, so that a task stays one page.

Estimates only, in millimetres on the shorter of both papers (Letter); a page that needs more goes on to the next.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

PAGE_MM = 279.4 - 2 * 8.0
HIGHEST_MAP_MM, LOWEST_MAP_MM = 91.0, 48.0
CARDS_A_ROW = 3
_HEAD_MM, _TILES_MM, _HEADING_MM, _FOOT_MM = 19.0, 11.5, 6.0, 21.0
_CARD_MM, _FIGURE_MM, _LEAST_FIGURES = 10.5, 5.1, 3
_POINT_MM, _SAID_MM, _SAID_LETTERS = 4.5, 3.5, 138
_NOTE_MM = 6.5


def free_cells(cards: int) -> int:
    """Return how many cells of the last row of the panel are empty."""
    return -cards % CARDS_A_ROW


def _cards_mm(figures: Sequence[float]) -> float:
    rows = [figures[i : i + CARDS_A_ROW] for i in range(0, len(figures), CARDS_A_ROW)]
    return sum(_CARD_MM + _FIGURE_MM * max(_LEAST_FIGURES, *row, 0) for row in rows)


def said_mm(texts: Iterable[str]) -> float:
    """Return how high sentences set as one paragraph are; 0 for none."""
    letters = sum(len(text) + 1 for text in texts)
    return math.ceil(letters / _SAID_LETTERS) * _SAID_MM


def map_height_mm(
    *,
    figures: Sequence[float],
    points: int,
    paragraphs: Sequence[Sequence[str]],
    boxes: Sequence[str],
    blocks_mm: float,
) -> float:
    """Return how high the map may be.

    `figures` is the number of figures on each card (a second line of words counts as a part of one), `paragraphs`
    what is said in small letters, `boxes` the notes in frames, `blocks_mm` the height of whatever else there is.
    """
    used = _HEAD_MM + _TILES_MM + 2 * _HEADING_MM + _FOOT_MM + _cards_mm(figures) + _POINT_MM * (points + 1) + blocks_mm
    used += sum(said_mm(texts) for texts in paragraphs)
    used += sum(_NOTE_MM + said_mm([text]) - _SAID_MM for text in boxes[:1]) + sum(said_mm([t]) for t in boxes[1:])
    return min(HIGHEST_MAP_MM, max(LOWEST_MAP_MM, PAGE_MM - used))
