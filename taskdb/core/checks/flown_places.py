"""A set's aerodromes held against where gliders stood: which are confirmed, misplaced or missing.

Only places where gliders took off on several days speak against an aerodrome: a field that somebody landed in is none.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from taskdb.core.checks.slips import Slip, explain_difference
from taskdb.core.flights.places import ONE_PLACE_M, StoodPlace
from taskdb.core.geodesy import distance_m
from taskdb.core.model import Landable, Position, Waypoint

SEVERAL_DAYS = 2
BESIDE_M = 5_000.0
"""So near to where gliders took off an aerodrome without gliders of its own is that one, put down wrongly: two
airfields seldom lie nearer to each other (common practice, no source)."""
LIKELY_WITHIN_M = 3_000.0
"""Without a slip that explains it, an aerodrome further off may as well be another one (common practice, no source)."""
FITS_M = 1_000.0
_FITS_SHARE = 0.3
"""A slip explains a difference where the mended position lies this near to the middle of the gliders that stood, and
the slip was most of the difference."""
ELEVATION_OFF_M = 100.0
"""Receivers give heights above the sea or above the ellipsoid, which lie up to some 100 m apart (EGM96 undulation of
-107 to 85 m, from memory), and seldom say which."""

_M_OF_E7 = 0.0111


@dataclass(frozen=True, slots=True)
class Misplaced:
    """An aerodrome that lies away from where gliders took off, by how much, and the slip that explains it, if any.

    `others` are the codes of aerodromes from which a slip leads there as well.
    """

    waypoint: Waypoint
    place: StoodPlace
    away_m: float
    slip: Slip | None
    others: tuple[str, ...] = ()

    @property
    def is_likely(self) -> bool:
        """Say whether it is rather this aerodrome than one that the set lacks: one slip alone, or hardly off."""
        return not self.others and (self.slip is not None or self.away_m <= LIKELY_WITHIN_M)


def aerodromes_of(waypoints: Sequence[Waypoint]) -> tuple[Waypoint, ...]:
    """Return a set's aerodromes."""
    return tuple(point for point in waypoints if point.landable is Landable.AERODROME)


def marked_by(place: StoodPlace, waypoints: Sequence[Waypoint]) -> tuple[tuple[float, Waypoint], ...]:
    """Return the waypoints at a place, nearest first, with how far each is from a glider that stood there."""
    near = (point for point in waypoints if _may_be_within(place, point.position, ONE_PLACE_M))
    found = ((place.nearest_m(point.position), point) for point in near)
    return tuple(sorted((one for one in found if one[0] <= ONE_PLACE_M), key=lambda one: (one[0], one[1].code)))


def _may_be_within(place: StoodPlace, position: Position, metres: float) -> bool:
    """Say quickly whether a position can be so near: latitudes alone tell it of nearly all."""
    south = min(stand.latitude_e7 for stand in place.stands)
    north = max(stand.latitude_e7 for stand in place.stands)
    room = math.ceil(metres / _M_OF_E7 * 1.01)
    return south - room <= position.latitude_e7 <= north + room


def misplaced_aerodromes(places: Sequence[StoodPlace], waypoints: Sequence[Waypoint]) -> tuple[Misplaced, ...]:
    """Return the aerodromes that lie away from where gliders took off on several days, in order of the places.

    Of a place without an aerodrome: the nearest one within `BESIDE_M` that has no gliders of its own; else every one
    without gliders of its own from which one slip leads there.
    """
    aerodromes = aerodromes_of(waypoints)
    at = [marked_by(place, aerodromes) for place in places]
    seen = {point.code for marks in at for _, point in marks}
    unseen = [point for point in aerodromes if point.code not in seen]
    found: list[Misplaced] = []
    for place, marks in zip(places, at, strict=True):
        if marks or len(place.take_off_days) < SEVERAL_DAYS:
            continue
        beside = [(place.nearest_m(p.position), p) for p in unseen if _may_be_within(place, p.position, BESIDE_M)]
        beside = sorted((one for one in beside if one[0] <= BESIDE_M), key=lambda one: (one[0], one[1].code))
        if beside:
            away_m, point = beside[0]
            found.append(Misplaced(point, place, away_m, _slip_to(point, place, away_m)))
        else:
            found += _explained(place, unseen)
    return tuple(found)


def _explained(place: StoodPlace, unseen: Sequence[Waypoint]) -> list[Misplaced]:
    """Return the aerodromes from which one slip leads to a place, each with the codes of the others."""
    slips = [(point, place.nearest_m(point.position)) for point in unseen]
    led = [(point, away_m, _slip_to(point, place, away_m)) for point, away_m in slips]
    explained = [(point, away_m, slip) for point, away_m, slip in led if slip is not None]
    codes = [point.code for point, _, _ in explained]
    return [
        Misplaced(point, place, away_m, slip, tuple(code for code in codes if code != point.code))
        for point, away_m, slip in explained
    ]


def _slip_to(point: Waypoint, place: StoodPlace, away_m: float) -> Slip | None:
    """Return the likeliest slip that leads from a place to an aerodrome; None without one, or where heights differ."""
    if is_elevation_off(point, place):
        return None
    narrow = max(math.cos(math.radians(place.position.latitude_deg)), 0.05)
    slip = explain_difference(point.position, place.position, point.typed, math.ceil(FITS_M / _M_OF_E7 / narrow))
    fits_m = min(FITS_M, _FITS_SHARE * away_m)
    return slip if slip is not None and distance_m(place.position, slip.mended) <= fits_m else None


def is_elevation_off(point: Waypoint, place: StoodPlace) -> bool:
    """Say whether a stated elevation is further from what receivers said than they may be wrong."""
    stated, said = point.elevation_m, place.gnss_altitude_m
    return stated is not None and said is not None and abs(stated - said) > ELEVATION_OFF_M


def nearest_waypoint(position: Position, waypoints: Sequence[Waypoint]) -> tuple[float, Waypoint] | None:
    """Return the waypoint nearest to a position with its distance; None for an empty set."""
    found = [(distance_m(position, point.position), point) for point in waypoints]
    return min(found, key=lambda one: (one[0], one[1].code), default=None)
