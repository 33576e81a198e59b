"""The search for courses: every one of a shape, in a band of length, that a set of places holds round home.

Each result once, as exact geodesics decide at every limit. Blocks are handed on as they are found: whoever takes them
keeps what is wanted, since there may be millions.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from taskdb.core.kinds import HomeAt, ProposedShape
from taskdb.core.model import Position
from taskdb.core.proposing.courses import Courses, in_blocks
from taskdb.core.proposing.places import places_round
from taskdb.core.proposing.round_trips import out_and_returns, quadrilaterals
from taskdb.core.proposing.triangles import triangles_at_corner, triangles_by_side
from taskdb.core.proposing.wanted import Wanted


def courses(positions: Sequence[Position], home: Position, wanted: Wanted) -> Iterator[Courses]:
    """Yield all courses wanted from home through the positions, in blocks; in one order for the same positions.

    A circuit counts once, whichever way round it is flown: it is given in a way that the first and last course wanted
    allow. Positions at home's own place are no turn points. Two of the same position are two turn points, each with
    its own courses, but no course goes to both.
    """
    places = places_round(positions, home, wanted)
    if wanted.shape is ProposedShape.OUT_AND_RETURN:
        pieces = out_and_returns(places, wanted)
    elif wanted.shape is ProposedShape.QUADRILATERAL:
        pieces = quadrilaterals(places, wanted)
    elif wanted.home is HomeAt.CORNER:
        pieces = triangles_at_corner(places, wanted)
    else:
        pieces = triangles_by_side(places, home, wanted)
    return in_blocks(pieces)
