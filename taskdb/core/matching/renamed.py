"""The last round of matching: a point that got another code and another name, and lies near where it stood.

Nearness alone speaks for such a pair, so it is weighed against chance: nothing else may lie about, no known value may
speak against it, and it may not be one of many such pairs as two lists of different things have.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import islice

from taskdb.core.geodesy import distance_m
from taskdb.core.matching.limits import ONE_PLACE_WITHIN_M
from taskdb.core.matching.nearness import Nearby
from taskdb.core.model import Position, Waypoint

ALONE_WITHIN_M = 1000.0
"""No other point without a counterpart may lie as near as this to either of the two."""
APART_TIMES = 3.0
"""Any other point, matched or not, lies so many times further off: by chance it would be there in one case of nine."""
MOST_BY_CHANCE = 0.1
"""Of all pairs found, at most this share may be expected to lie as near by chance."""
MOST_HEIGHT_M = 30.0

# The ring from 250 m to 1 km is 15 times as large as the disc within: what lies in it by chance tells of the disc.
_RING_TIMES = (ALONE_WITHIN_M / ONE_PLACE_WITHIN_M) ** 2 - 1.0
_BAND_E7 = 100_000
"""Bands of latitude of 1.1 km, in which to look for what lies within 1 km."""

Renamed = tuple[int, int, float]
"""Numbers into the old and the new sequence, and how far apart the two lie in metres."""


def find_renamed(
    old: Sequence[Waypoint], new: Sequence[Waypoint], everything: Iterable[Position]
) -> tuple[Renamed, ...]:
    """Return the pairs of unmatched waypoints that are surely one place, in order of `old`.

    `everything` are the positions of both whole lists, these waypoints among them: what lies close by makes a pair
    doubtful. Nothing is returned where such pairs would lie about by chance.
    """
    if not old or not new:
        return ()
    sides = [[waypoint.position for waypoint in waypoints] for waypoints in (old, new)]
    olds, news = (Nearby.of(positions, ALONE_WITHIN_M) for positions in sides)
    found: list[Renamed] = []
    ring = 0
    for i, here in enumerate(sides[0]):
        candidates = _some_within(news, here)
        ring += sum(off > ONE_PLACE_WITHIN_M for _, off in candidates)
        if len(candidates) != 1 or candidates[0][1] > ONE_PLACE_WITHIN_M or len(_some_within(olds, here)) > 1:
            continue
        ((j, off),) = candidates
        there = sides[1][j]
        is_alone = len(_some_within(olds, there)) == len(_some_within(news, there)) == 1
        if is_alone and not _contradict(old[i], new[j]):
            found.append((i, j, off))
    if not found or ring / _RING_TIMES > MOST_BY_CHANCE * len(found):
        return ()
    crowded = _crowded([(old[i].position, new[j].position) for i, j, _ in found], everything)
    return tuple(pair for number, pair in enumerate(found) if number not in crowded)


def _some_within(grid: Nearby, place: Position) -> list[tuple[int, float]]:
    """Return up to three of the points near a place: more tell nothing more. One of them may be the place's own."""
    return list(islice(grid.within(place), 3))


def _crowded(ends: Sequence[tuple[Position, Position]], everything: Iterable[Position]) -> set[int]:
    """Return the pairs, by number, with another point too near to either end for the nearness of the pair."""
    grid = Nearby.of([end for both in ends for end in both], ONE_PLACE_WITHIN_M * APART_TIMES)
    off_m = [distance_m(*both) for both in ends]
    about: list[set[int]] = [set() for _ in ends]
    bands = {end.latitude_e7 // _BAND_E7 + over for both in ends for end in both for over in (-1, 0, 1)}
    for number, position in enumerate(everything):
        if position.latitude_e7 // _BAND_E7 not in bands:
            continue
        for item, off in grid.within(position):
            if off <= APART_TIMES * off_m[item // 2]:
                about[item // 2].add(number)
    return {pair for pair, numbers in enumerate(about) if len(numbers) > 2}  # the two ends are among them


def _contradict(old: Waypoint, new: Waypoint) -> bool:
    """Say whether a value that both have tells them apart: what they are, where, how high, by what they are called."""
    if any(
        None not in (mine, theirs) and mine != theirs
        for mine, theirs in ((old.landable, new.landable), (old.feature, new.feature), (old.country, new.country))
    ):
        return True
    heights = (old.elevation_m, new.elevation_m)
    if heights[0] is not None and heights[1] is not None and abs(heights[0] - heights[1]) > MOST_HEIGHT_M:
        return True
    channels = [{radio.channel for radio in one.radio} for one in (old, new)]
    runways = [{runway.designator for runway in one.runways if runway.designator} for one in (old, new)]
    return any(bool(mine and theirs) and not mine & theirs for mine, theirs in (channels, runways))
