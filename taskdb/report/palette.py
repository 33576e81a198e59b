"""Colours and line styles of maps and sheets, by what a zone or point is in its task.

Every difference is carried by a line style or a symbol as well, since sheets are copied in black and white.
Colours: the set of Masataka Okabe and Kei Ito, "Color Universal Design" (2008), made to be told apart by
colour-blind readers.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from taskdb.core.model import Role

INK = "#000000"
SOFT_INK = "#4d4d4d"
CATALOGUE_INK = "#8a8a8a"
GRATICULE_INK = "#c4c4c4"
TRACK_INK = "#7a7a7a"
PAPER = "#ffffff"

BLUISH_GREEN = "#009E73"
BLUE = "#0072B2"
ORANGE = "#E69F00"
VERMILLION = "#D55E00"
REDDISH_PURPLE = "#CC79A7"
AIRSPACE_INK = "#6b2f52"
"""Reddish purple, darkened so that its letters are legible (9 : 1 on white)."""


@dataclass(frozen=True, slots=True)
class Style:
    """How the zones of a role are drawn: `dash` in millimetres on paper, empty for a solid line."""

    colour: str
    dash: str
    width_mm: float


STYLES: Mapping[Role, Style] = {
    Role.START: Style(BLUISH_GREEN, "", 0.6),
    Role.TURN: Style(BLUE, "", 0.4),
    Role.AREA: Style(ORANGE, "3 1", 0.55),
    Role.FINISH: Style(VERMILLION, "1.2 0.7", 0.6),
}
