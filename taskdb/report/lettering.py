"""Text as it is set on maps and sheets: cleaned for display, shortened, and measured before a browser sees it.

Names come from people and files and may hold anything; what stands here can be shown without disturbing its
neighbours. Escaping is not done here: that is the duty of whoever writes markup (`svg`, the template engine).
"""

from __future__ import annotations

import re
import unicodedata

from taskdb.core.names import clean_text
from taskdb.report.palette import PAPER

FONTS = "'Liberation Sans', Arial, Helvetica, sans-serif"

HALO = f'paint-order="stroke" stroke="{PAPER}" stroke-width="0.55" stroke-linejoin="round"'
"""Keeps a text legible where it lies on an outline or a line of the graticule."""

# Marks that turn the writing direction of what follows them, and what XML 1.0 has no place for.
_UNSHOWABLE = re.compile("[\u061c\u200b-\u200f\u202a-\u202e\u2060-\u2069\ufeff\ud800-\udfff\ufffe\uffff]")
_BLANKS = re.compile(r"\s+")

# Advance widths in thousandths of the size, characters 32 to 126, of the font that Arial and its metric twins share.
_REGULAR = (
    278, 278, 355, 556, 556, 889, 667, 191, 333, 333, 389, 584, 278, 333, 278, 278, 556, 556, 556, 556, 556, 556, 556,
    556, 556, 556, 278, 278, 584, 584, 584, 556, 1015, 667, 667, 722, 722, 667, 611, 778, 722, 278, 500, 667, 556, 833,
    722, 778, 667, 778, 722, 667, 611, 722, 667, 944, 667, 667, 611, 278, 278, 278, 469, 556, 333, 556, 556, 500, 556,
    556, 278, 556, 556, 222, 222, 500, 222, 833, 556, 556, 556, 556, 333, 500, 278, 556, 500, 722, 500, 500, 500, 334,
    260, 334, 584,
)  # fmt: skip
_OTHERS = {"ß": 611, "°": 400, "′": 188, "·": 278, "–": 556, "…": 1000, "→": 1000, "←": 1000}
_BOLD_FACTOR = 1.09


CODE_LIMIT, NAME_LIMIT = 20, 80
"""How many letters of a code and of a name a sheet shows."""
LEAST_LETTERS_MM = 2.48
"""The smallest letters on paper, 7 pt (1 pt is 1/72 inch): smaller ones cannot be read in a cockpit."""


def shown(text: str, limit: int | None = None) -> str:
    """Return `text` fit to be shown: one line, no control or direction marks, at most `limit` characters.

    What is cut off is replaced by an ellipsis. A text of which nothing remains is shown as a dash.
    """
    clean = _BLANKS.sub(" ", _UNSHOWABLE.sub("", clean_text(text))).strip() or "–"
    if limit is not None and len(clean) > limit:
        clean = clean[: limit - 1].rstrip() + "…"
    return clean


def _advance(character: str) -> int:
    number = ord(character)
    if 32 <= number <= 126:
        return _REGULAR[number - 32]
    if character in _OTHERS:
        return _OTHERS[character]
    if unicodedata.combining(character):
        return 0
    base = unicodedata.normalize("NFD", character)[0]
    if base != character:
        return _advance(base)
    return 1000 if unicodedata.east_asian_width(character) in "WF" else 700


def text_width_mm(text: str, size_mm: float, *, bold: bool = False) -> float:
    """Return how wide `text` is when set at `size_mm`; scripts other than Latin are estimated generously."""
    width = sum(map(_advance, text)) * size_mm / 1000
    return width * _BOLD_FACTOR if bold else width
