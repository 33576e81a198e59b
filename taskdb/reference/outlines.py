"""Country outlines and the elevation grid that travel in the package, handed on as plain values.

Reads its own two data files and nothing else; what they mean for a waypoint is for the checks.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

from taskdb.core.checks.elevations import ElevationGrid
from taskdb.core.checks.outlines import Outlines

_DATA = Path(__file__).parent / "data"


@cache
def load_outlines() -> Outlines:
    """Return the country outlines (country-coder 5.6.1, ISC licence: data/outlines-LICENSE.md)."""
    import numpy as np

    with np.load(_DATA / "outlines.npz", allow_pickle=False) as held:
        return Outlines(
            longitude_e5=held["longitude_e5"],
            latitude_e5=held["latitude_e5"],
            ring_end=held["ring_end"],
            country=tuple(held["country"].tolist()),
            territory=tuple(held["territory"].tolist()),
        )


@cache
def load_elevation_grid() -> ElevationGrid:
    """Return the 5 arc-minute elevation grid (data/README.md says where it comes from)."""
    import numpy as np

    with np.load(_DATA / "elevation-5arcmin.npz", allow_pickle=False) as held:
        return ElevationGrid(values=held[held.files[0]], step_m=28.0, lowest_m=-450.0, missing=255)
