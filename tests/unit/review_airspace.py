"""Cases for the rules on airspace: boxes of air round HOME (50 N 10 E), at heights that are in the way or not."""

from __future__ import annotations

from typing import Any

from taskdb.core.airspace.heights import FlownHeights, parse_limit
from taskdb.core.airspace.volume import E7, Kind, Volume
from taskdb.core.review.rule import Reviewed
from tests.unit.review_examples import AREAS, ROUND, Case, N, W, later, reviewed

FLOWN = FlownHeights(1500.0)


def box(
    name: str, west: float, south: float, east: float, north: float, floor: str = "GND", ceiling: str = "UNL"
) -> Volume:
    corners = [(west, south), (east, south), (east, north), (west, north), (west, south)]
    ring = [(round(x * E7), round(y * E7)) for x, y in corners]
    return Volume.of(name, Kind.RESTRICTED, parse_limit(floor), parse_limit(ceiling), [[ring]])


def held(words: str, *volumes: Volume, kind: str = "racing", flown: FlownHeights = FLOWN, **fields: Any) -> Reviewed:
    return reviewed(words, kind, given={"airspace": volumes, "flown": flown}, **fields)


over = later(held)


def across(floor: str = "GND", name: str = "Moor") -> Volume:
    """A box across the first leg of ROUND (HOME to E60), 18 to 25 km out."""
    return box(name, 10.25, 49.9, 10.35, 50.1, floor)


def on_leg() -> list[Case]:
    return [
        Case("airspace-on-leg", "no airspace", over(ROUND)),
        Case("airspace-on-leg", "a box across the first leg", over(ROUND, across()),
             [(W, ("HOME", "E60"))], "passes through Moor (restricted, GND to UNL): from 17.9 km to 25.1 km."),
        Case("airspace-on-leg", "two of them", over(ROUND, across(), across("1500m MSL", "Heath")),
             [(W, ("HOME", "E60")), (W, ("HOME", "E60"))]),
        Case("airspace-on-leg", "beside every leg", over(ROUND, box("South", 10.2, 49.0, 10.4, 49.9))),
        Case("airspace-on-leg", "its floor above the working altitude", over(ROUND, across("1501m MSL"))),
        Case("airspace-on-leg", "its floor at the working altitude", over(ROUND, across("1500m MSL")),
             [(W, ("HOME", "E60"))]),
        Case("airspace-on-leg", "a flight level without the pressure", over(ROUND, across("FL195")),
             [(W, ("HOME", "E60"))], "undecided without the pressure of the day (Moor)"),
        Case("airspace-on-leg", "a flight level at a known pressure",
             over(ROUND, across("FL195"), flown=FlownHeights(1500.0, qnh_hpa=(990, 1030)))),
        Case("airspace-on-leg", "a height above ground without the ground", over(ROUND, across("3000m AGL")),
             [(W, ("HOME", "E60"))], "undecided without the height of the ground (Moor)"),
        Case("airspace-on-leg", "no working altitude", over(ROUND, across("3000m MSL"), flown=FlownHeights()),
             [(W, ("HOME", "E60"))], "undecided without the working altitude (Moor)"),
    ]  # fmt: skip


def in_zone() -> list[Case]:
    # The areas lie about E60 (50 N 10.84 E) and N60 (50.54 N 10 E), 20 km each.
    return [
        Case("airspace-in-zone", "no airspace", over(AREAS, kind="assigned-area")),
        Case("airspace-in-zone", "beside the areas", over(AREAS, across(), kind="assigned-area")),
        Case("airspace-in-zone", "its far rim, where the longest path turns",
             over(AREAS, box("Rim", 11.0, 49, 12, 51), kind="assigned-area"), [(W, ("E60",))],
             "The maximum distance is attained inside."),
        Case("airspace-in-zone", "its south, where no path turns",
             over(AREAS, box("South", 10.8, 49.8, 10.86, 49.9), kind="assigned-area"), [(N, ("E60",))], "is left"),
        Case("airspace-in-zone", "most of it",
             over(AREAS, box("All", 10.65, 49.7, 11.08, 50.3), kind="assigned-area"), [(W, ("E60",))]),
        Case("airspace-in-zone", "all of it",
             over(AREAS, box("All", 10.4, 49.7, 11.4, 50.3), kind="assigned-area"), [(W, ("E60",))], "0 % is left"),
        Case("airspace-in-zone", "above the working altitude",
             over(AREAS, box("All", 10.4, 49.7, 11.4, 50.3, "FL195"), kind="assigned-area",
                  flown=FlownHeights(1500.0, qnh_hpa=(990, 1030)))),
        Case("airspace-in-zone", "undecided",
             over(AREAS, box("South", 10.8, 49.8, 10.86, 49.9, "FL195"), kind="assigned-area"), [(N, ("E60",))],
             "undecided without the pressure"),
        Case("airspace-in-zone", "a racing task has no areas", over(ROUND, box("All", 10.4, 49.7, 11.4, 50.3))),
    ]  # fmt: skip


def at_point() -> list[Case]:
    return [
        Case("airspace-at-point", "no airspace", over(ROUND)),
        Case("airspace-at-point", "a turn point inside", over(ROUND, box("East", 10.8, 49.9, 10.9, 50.1)),
             [(W, ("E60",))], "Point 1 (E60) lies inside East (restricted, GND to UNL)."),
        Case("airspace-at-point", "a cylinder that only reaches in", over(ROUND, box("East", 10.84, 49.9, 10.9, 50.1))),
        # Flown away to the east, the start line runs north and south 500 m; the finish line comes from the north.
        Case("airspace-at-point", "the end of the start line", over(ROUND, box("N", 9.99, 50.004, 10.01, 50.01)),
             [(W, ("HOME",))], "The line of point 0 (HOME) reaches into N"),
        Case("airspace-at-point", "an area's own point is another rule's",
             over(AREAS, box("East", 10.8, 49.9, 10.9, 50.1), kind="assigned-area")),
        Case("airspace-at-point", "above the working altitude",
             over(ROUND, box("East", 10.8, 49.9, 10.9, 50.1, "5000ft MSL"))),
        Case("airspace-at-point", "undecided", over(ROUND, box("East", 10.8, 49.9, 10.9, 50.1, "1000ft AGL")),
             [(W, ("E60",))], "undecided without the height of the ground (East)"),
    ]  # fmt: skip


AIRSPACE_CASES = (on_leg, in_zone, at_point)
