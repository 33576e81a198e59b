"""The borders of countries near a catalogue, cut to what its map shows: lines, as the shipped outlines have them.

They are good to a few kilometres, which the pages say: to see in which country one is, not where a border runs.
"""

from __future__ import annotations

from collections.abc import Sequence

from taskdb.core.checks.outlines import Outlines
from taskdb.core.model import E7, Position
from taskdb.report.pages.edition import Line

_MARGIN_DEG = 1.5
_E5 = 100_000


def borders_near(outlines: Outlines, positions: Sequence[Position]) -> tuple[Line, ...]:
    """Return the pieces of borders in and about the box of positions; none for no positions.

    A border between two countries is drawn once, from the first that has it. A box that spans half the earth or lies
    over the antimeridian takes the whole of its latitudes.
    """
    import numpy as np

    if not positions:
        return ()
    south, north, west, east = _box(positions)
    y, x = outlines.latitude_e5, outlines.longitude_e5
    seen = (y >= south) & (y <= north) & (x >= west) & (x <= east)
    lines, drawn = [], set()
    for start, end in outlines.rings():
        part = seen[start:end]
        if not part.any():
            continue
        # An edge is kept with both ends where either is seen.
        keep = part[:-1] | part[1:]
        points = list(zip(x[start:end].tolist(), y[start:end].tolist(), strict=True))
        line: list[tuple[int, int]] = []
        for n in np.flatnonzero(keep).tolist():
            a, b = points[n], points[n + 1]
            edge = (a, b) if a < b else (b, a)
            if edge in drawn:
                continue
            drawn.add(edge)
            if not line or line[-1] != a:
                lines += [line] if line else []
                line = [a]
            line.append(b)
        lines += [line] if line else []
    return tuple(tuple(line) for line in lines)


def _box(positions: Sequence[Position]) -> tuple[float, float, float, float]:
    """Return south, north, west and east in 1e-5 degree, with a margin."""
    latitudes = [p.latitude_e7 for p in positions]
    longitudes = [p.longitude_e7 for p in positions]
    south, north = min(latitudes) / E7 - _MARGIN_DEG, max(latitudes) / E7 + _MARGIN_DEG
    west, east = min(longitudes) / E7 - _MARGIN_DEG, max(longitudes) / E7 + _MARGIN_DEG
    if east - west > 180.0 or west < -180.0 or east > 180.0:
        west, east = -180.0, 180.0
    return south * _E5, north * _E5, west * _E5, east * _E5
