"""The last round of matching: a point that got another code and another name, and lies near where it stood.

Nearness alone speaks for such a pair, so it is weighed against chance: nothing else may lie about, no known value may
speak against it, and it may not be one of many such pairs as two lists of different things have.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from taskdb.core.geodesy import distance_m
from taskdb.core.matching.nearness import Nearby, xyz
from taskdb.core.model import Position, Waypoint

NEAR_WITHIN_M = 250.0
"""Nearer than this two points count as one place elsewhere too."""
ALONE_WITHIN_M = 1000.0
"""No other point without a counterpart may lie as near as this to either of the two."""
APART_TIMES = 3.0
"""Any other point, matched or not, lies so many times further off: by chance it would be there in one case of nine."""
MOST_BY_CHANCE = 0.1
"""Of all pairs found, at most this share may be expected to lie as near by chance."""
MOST_HEIGHT_M = 30.0

# The ring from 250 m to 1 km is 15 times as large as the disc within: what lies in it by chance tells of the disc.
_RING_TIMES = (ALONE_WITHIN_M / NEAR_WITHIN_M) ** 2 - 1.0
_BAND_E7 = 100_000
"""Bands of latitude of 1.1 km, in which to look for what lies within 1 km."""


@dataclass(frozen=True, slots=True)
class NearPair:
    old_index: int
    new_index: int
    distance_m: float


def near_pairs(
    old: Sequence[Waypoint], new: Sequence[Waypoint], everything: Iterable[Position]
) -> tuple[NearPair, ...]:
    """Return the pairs of unmatched waypoints that are surely one place, in order of `old`.

    `everything` are the positions of both whole lists, these waypoints among them: what lies close by makes a pair
    doubtful. Nothing is returned where such pairs would lie about by chance.
    """
    if not old or not new:
        return ()
    olds, news = _Places(old), _Places(new)
    found: list[NearPair] = []
    ring = 0
    for i in range(len(old)):
        candidates = olds.near(i, news)
        ring += sum(off > NEAR_WITHIN_M for _, off in candidates)
        if len(candidates) != 1 or candidates[0][1] > NEAR_WITHIN_M or olds.near(i, olds, but=i):
            continue
        ((j, off),) = candidates
        if len(news.near(j, olds)) == 1 and not news.near(j, news, but=j) and not _contradict(old[i], new[j]):
            found.append(NearPair(i, j, off))
    if not found or ring / _RING_TIMES > MOST_BY_CHANCE * len(found):
        return ()
    crowded = _crowded([(old[p.old_index].position, new[p.new_index].position) for p in found], everything)
    return tuple(pair for number, pair in enumerate(found) if number not in crowded)


class _Places:
    """Unmatched waypoints of one side, to be asked what lies within a kilometre."""

    def __init__(self, waypoints: Sequence[Waypoint]) -> None:
        self.waypoints = waypoints
        self.points = [xyz(waypoint.position) for waypoint in waypoints]
        self.grid = Nearby(lambda i: waypoints[i].position, lambda i: self.points[i], ALONE_WITHIN_M)
        for index in range(len(waypoints)):
            self.grid.add(index, None)

    def near(self, index: int, others: _Places, but: int | None = None) -> list[tuple[int, float]]:
        """Return up to three of the others near one of these: more tell nothing more."""
        found = []
        for item, off in others.grid.within(self.waypoints[index].position, self.points[index], None):
            if item != but:
                found.append((item, off))
                if len(found) == 3:
                    break
        return found


def _crowded(ends: Sequence[tuple[Position, Position]], everything: Iterable[Position]) -> set[int]:
    """Return the pairs, by number, with another point too near to either end for the nearness of the pair."""
    reach = NEAR_WITHIN_M * APART_TIMES
    points = [xyz(end) for both in ends for end in both]
    grid = Nearby(lambda item: ends[item // 2][item % 2], points.__getitem__, reach)
    for item in range(len(points)):
        grid.add(item, None)
    off_m = [distance_m(*both) for both in ends]
    about: list[set[int]] = [set() for _ in ends]
    bands = {end.latitude_e7 // _BAND_E7 + over for both in ends for end in both for over in (-1, 0, 1)}
    for number, position in enumerate(everything):
        if position.latitude_e7 // _BAND_E7 not in bands:
            continue
        for item, off in grid.within(position, xyz(position), None):
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
