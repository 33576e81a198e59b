"""Where gliders stood before take-off and after landing, gathered from many flights into places.

A glider on the ground is where an airfield or a landable field is: evidence for those, and for nothing that is only
flown over. Nothing here says whose a flight was.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import median

from taskdb.core.geodesy import distance_m
from taskdb.core.matching.nearness import Nearby
from taskdb.core.model import Position

ONE_PLACE_M = 1_500.0
"""Gliders that stood nearer to each other stood on one field: from its point to the end of a runway of 3 km."""


@dataclass(frozen=True, slots=True)
class Stood:
    """Where a glider stood on a day (ISO), before take-off or after landing, and its GNSS altitude there, metres."""

    position: Position
    day: str
    is_take_off: bool
    gnss_altitude_m: float | None = None


@dataclass(frozen=True, slots=True)
class StoodPlace:
    """A place where gliders stood: all positions, their middle (median), how often and on which days.

    `gnss_altitude_m` is the median of what receivers said: above the sea or above the ellipsoid.
    """

    position: Position
    stands: tuple[Position, ...]
    days: tuple[str, ...]
    take_off_days: tuple[str, ...]
    take_offs: int
    landings: int
    gnss_altitude_m: float | None

    def nearest_m(self, position: Position) -> float:
        """Return how far a position is from the nearest glider that stood here, metres."""
        return min(distance_m(position, stand) for stand in self.stands)


def gather_places(stood: Sequence[Stood]) -> tuple[StoodPlace, ...]:
    """Return the places at which gliders stood, those of most days first, then of most flights, then from the south.

    Stands belong to one place where a chain of others, each within `ONE_PLACE_M` of the next, joins them.
    """
    places = [_place([stood[number] for number in group]) for group in _groups(stood)]
    return tuple(
        sorted(
            places,
            key=lambda one: (
                -len(one.days), -len(one.stands), one.position.latitude_e7, one.position.longitude_e7,
            ),
        )
    )  # fmt: skip


def _groups(stood: Sequence[Stood]) -> Iterable[list[int]]:
    near = Nearby.of([one.position for one in stood], ONE_PLACE_M)
    left = set(range(len(stood)))
    while left:
        group, ahead = [], [min(left)]
        left.discard(ahead[0])
        while ahead:
            number = ahead.pop()
            group.append(number)
            found = [item for item, _ in near.within(stood[number].position) if item in left]
            left.difference_update(found)
            ahead += found
        yield sorted(group)


def _place(group: Sequence[Stood]) -> StoodPlace:
    base = group[0].position.longitude_deg
    # Counted from the first one's longitude: no jump at 180°.
    east = [(one.position.longitude_deg - base + 180.0) % 360.0 - 180.0 for one in group]
    middle = Position.at(median(one.position.latitude_deg for one in group), base + median(east))
    altitudes = [one.gnss_altitude_m for one in group if one.gnss_altitude_m is not None]
    take_offs = [one for one in group if one.is_take_off]
    return StoodPlace(
        position=middle,
        stands=tuple(dict.fromkeys(one.position for one in group)),
        days=tuple(sorted({one.day for one in group})),
        take_off_days=tuple(sorted({one.day for one in take_offs})),
        take_offs=len(take_offs),
        landings=len(group) - len(take_offs),
        gnss_altitude_m=median(altitudes) if altitudes else None,
    )
