"""The airfields of the optional `airportsdata` package, handed on as waypoints to check against.

A reference with faults of its own: positions to about a second of arc, elevations in feet, 0 where unknown.
"""

from __future__ import annotations

from functools import cache

from taskdb.core.model import Landable, Position, Waypoint
from taskdb.core.names import clean_text
from taskdb.core.quantities import FOOT_M
from taskdb.errors import UsageError

SOURCE = "airportsdata"


@cache
def load_airports() -> tuple[Waypoint, ...]:
    """Return all airfields that have a position, in order of code; elevation 0 is taken for unknown.

    UsageError where the optional package is not installed, with the line that installs it.
    """
    try:
        import airportsdata
    except ImportError:
        raise UsageError(
            "no-airports",
            "The airfields to check against are in the optional package airportsdata, which is not installed.",
            hint="Install it with: pip install 'taskdb[airports]'",
        ) from None
    found = []
    for code, row in sorted(airportsdata.load("ICAO").items()):
        latitude, longitude = float(row["lat"]), float(row["lon"])
        if not (-90 <= latitude <= 90 and -180 <= longitude <= 180):
            continue
        found.append(
            Waypoint(
                code=code,
                name=clean_text(row["name"]),
                position=Position.at(latitude, longitude),
                elevation_m=round(row["elevation"] * FOOT_M, 1) if row["elevation"] else None,
                landable=Landable.AERODROME,
                country=row["country"] or None,
                source=SOURCE,
            )
        )
    return tuple(found)
