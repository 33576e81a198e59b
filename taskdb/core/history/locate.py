"""Which of our waypoints a change from elsewhere means: by identity where both come from one set, else by matching.

Stricter than an import: a person who applies a patch sees a few lines, not the whole list, so a match needs the code
or the name, and the place.
"""

from __future__ import annotations

from collections.abc import Container, Sequence
from dataclasses import dataclass

from taskdb.core.geodesy import distance_m
from taskdb.core.matching.limits import FAR_APART_M, ONE_PLACE_WITHIN_M, SAME_NAME_WITHIN_M
from taskdb.core.matching.match import Match, MatchRound, match_waypoints
from taskdb.core.model import Waypoint
from taskdb.core.names import fold


@dataclass(frozen=True, slots=True)
class Located:
    """A waypoint of the patch's base and what stands for it here; told where more than identity or code and name."""

    base: Waypoint
    ours: Waypoint
    round: MatchRound
    distance_m: float

    @property
    def is_worth_telling(self) -> bool:
        if self.round is MatchRound.IDENTITY:
            return False
        return self.round is not MatchRound.CODE_AND_NAME or self.distance_m > FAR_APART_M


def locate(
    bases: Sequence[Waypoint], goals: Sequence[Waypoint | None], ours: Sequence[Waypoint], once_here: Container[str]
) -> dict[int, Located]:
    """Return for each base waypoint (by its number) the one of ours that it is; those without one are left out.

    `goals` are what the bases become (None: retired): one that is not found as it was may stand as it shall be.
    `once_here` holds the identities that ever stood here: such a waypoint is found by its identity alone, so that
    one which was retired here is not taken for a neighbour of its name.
    """
    by_identity = {w.identity: w for w in ours if w.identity is not None}
    found: dict[int, Located] = {}
    strangers: list[int] = []
    for number, base in enumerate(bases):
        if base.identity is not None and base.identity in by_identity:
            found[number] = Located(base, by_identity[base.identity], MatchRound.IDENTITY, 0.0)
        elif base.identity is None or base.identity not in once_here:
            strangers.append(number)
    for waypoints in (bases, goals):
        wanted = [number for number in strangers if number not in found and waypoints[number] is not None]
        taken = {located.ours.identity for located in found.values()}
        found |= _matched(wanted, waypoints, bases, [w for w in ours if w.identity not in taken])
    return found


def _matched(
    numbers: Sequence[int], waypoints: Sequence[Waypoint | None], bases: Sequence[Waypoint], left: Sequence[Waypoint]
) -> dict[int, Located]:
    if not numbers:
        return {}
    found = {}
    looked_for = [waypoint for number in numbers if (waypoint := waypoints[number]) is not None]
    for match in match_waypoints(looked_for, left).pairs:
        number, candidate = numbers[match.old_index], left[match.new_index]
        is_near = waypoints is bases or match.distance_m <= ONE_PLACE_WITHIN_M
        if is_near and _is_sure(match, looked_for[match.old_index], candidate):
            found[number] = Located(bases[number], candidate, match.round, match.distance_m)
    return found


def _is_sure(match: Match, base: Waypoint, candidate: Waypoint) -> bool:
    if match.round in (MatchRound.IDENTITY, MatchRound.CODE_AND_NAME):
        return True
    # Of a patch a person sees a few lines, not the whole list: what code and name do not both say lies close by.
    agrees = base.code == candidate.code or fold(base.name) == fold(candidate.name)
    return agrees and match.distance_m <= ONE_PLACE_WITHIN_M


def is_same_place(a: Waypoint, b: Waypoint) -> bool:
    """Say whether two waypoints of one code are one place: within 250 m, or within 5 km under one folded name."""
    off = distance_m(a.position, b.position)
    named = bool(fold(a.name)) and fold(a.name) == fold(b.name)
    return off <= ONE_PLACE_WITHIN_M or (named and off <= SAME_NAME_WITHIN_M)
