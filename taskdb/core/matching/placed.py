"""Finding which waypoints of a set the points of task files are, all points at once. Pure; never guessed.

One place comes from many files under several spellings and roundings: those are gathered first, then matched one to
one, then what is left is looked at by itself, since its waypoint may have gone to another spelling of it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import chain
from math import cos, floor, radians
from operator import itemgetter

from taskdb.core.geodesy import distance_m
from taskdb.core.matching.match import SAME_PLACE_WITHIN_M, MatchRound, Pair, match_waypoints
from taskdb.core.model import Position, Waypoint
from taskdb.core.names import fold
from taskdb.core.quantities import format_short_distance

FAR_M = 1000.0
"""A waypoint further from the file's point than this is not taken unless a person confirms it."""
SAME_ROUNDED_M = 3.0
"""Two positions of one point, each cut to 0.001 minute, lie no further apart (1.855 m in latitude and longitude)."""
_BAND_DEG = 1e-4
"""Eleven metres of latitude: what is no further apart than that lies in one band or in two beside each other."""
_NEAR_DEG = 0.06

_SAID = {
    MatchRound.IDENTITY: "identity",
    MatchRound.CODE_AND_NAME: "code",
    MatchRound.NAME: "name",
    MatchRound.POSITION: "position",
    MatchRound.CODE: "code",
}


@dataclass(frozen=True, slots=True)
class FilePoint:
    """A point as files have it. `code` is empty where a format has one name only, which then is `name`."""

    code: str
    name: str
    position: Position


@dataclass(frozen=True, slots=True)
class Placement:
    """What a file's point is: a waypoint, by what it was matched and how far off the file's was; or none, and why.

    `position` is where an unmatched point lies: the first of those that are the same but for rounding.
    """

    waypoint: Waypoint | None
    matched_by: str | None
    off_m: float | None
    position: Position
    reason: str | None = None


@dataclass
class _Group:
    """One place under one spelling, with the points that are the same but for rounding."""

    as_waypoint: Waypoint
    members: list[FilePoint] = field(default_factory=list)


def place_points(
    points: Sequence[FilePoint], standing: Sequence[Waypoint], *, confirm_far: bool = False
) -> Mapping[FilePoint, Placement]:
    """Return what each distinct point is in the set that stands; empty for no points.

    A match over FAR_M counts only with `confirm_far`; one by code alone only where the file has no name that speaks
    against it.
    """
    groups = _gather(list(dict.fromkeys(points)), standing)
    found: dict[int, Pair] = {}
    for pair in match_waypoints([group.as_waypoint for group in groups], standing).pairs:
        found[pair.old_index] = pair
    result: dict[FilePoint, Placement] = {}
    for number, group in enumerate(groups):
        near = _near(group.as_waypoint.position, standing)
        pair_of = found.get(number)
        if pair_of is None:
            decided = _alone(group, near)
        else:
            decided = (standing[pair_of.new_index], pair_of.round, pair_of.distance_m)
        placement = _placement(group, decided, near, confirm_far)
        for member in group.members:
            result[member] = _seen_from(member, placement)
    return result


def _seen_from(member: FilePoint, placement: Placement) -> Placement:
    if placement.waypoint is None:
        return placement
    return replace(placement, off_m=distance_m(member.position, placement.waypoint.position))


def _gather(points: Sequence[FilePoint], standing: Sequence[Waypoint]) -> list[_Group]:
    spelled = _Spellings(standing)
    # By bands of latitude as well: the many nameless points of drawn lines are not all measured to each other.
    bands: dict[tuple[str, str, int], list[tuple[int, _Group]]] = {}
    ordered: list[_Group] = []
    for point in points:
        code, name = spelled.read(point)
        band = floor(point.position.latitude_deg / _BAND_DEG)
        near = (bands.get((code, fold(name), band + step), ()) for step in (-1, 0, 1))
        for _, group in sorted(chain.from_iterable(near), key=itemgetter(0)):
            if distance_m(group.as_waypoint.position, point.position) <= SAME_ROUNDED_M:
                group.members.append(point)
                break
        else:
            made = _Group(Waypoint(code, name, point.position), [point])
            bands.setdefault((code, fold(name), band), []).append((len(ordered), made))
            ordered.append(made)
    return ordered


class _Spellings:
    """Reads a format's only name: as a code of the set, or as code and name with a blank between, or as a name."""

    def __init__(self, standing: Sequence[Waypoint]) -> None:
        self.codes = {w.code for w in standing}
        self.names = {fold(w.name) for w in standing}
        self.both: dict[str, Waypoint | None] = {}
        for waypoint in standing:
            key = fold(f"{waypoint.code} {waypoint.name}")
            self.both[key] = waypoint if key not in self.both else None

    def read(self, point: FilePoint) -> tuple[str, str]:
        """Return code and name, either empty where it is not known."""
        if point.code:
            return point.code, "" if point.name == point.code else point.name
        label = point.name
        if label in self.codes:
            return label, label if fold(label) in self.names else ""
        waypoint = self.both.get(fold(label))
        if waypoint is not None and label.split(" ", 1)[0] == waypoint.code:
            return waypoint.code, waypoint.name
        return "", label


def _near(position: Position, standing: Sequence[Waypoint]) -> list[Waypoint]:
    """Return the waypoints within some 6 km, and a few beyond, without measuring."""
    narrow = cos(radians(min(85.0, abs(position.latitude_deg))))
    found = []
    for waypoint in standing:
        if abs(waypoint.position.latitude_deg - position.latitude_deg) > _NEAR_DEG:
            continue
        across = (waypoint.position.longitude_deg - position.longitude_deg + 180.0) % 360.0 - 180.0
        if abs(position.latitude_deg) > 85.0 or abs(across) * narrow <= _NEAR_DEG:
            found.append(waypoint)
    return found


def _alone(group: _Group, near: Sequence[Waypoint]) -> tuple[Waypoint, MatchRound, float] | None:
    """Return what a group is that nothing was left for: never by its code alone, never further than FAR_M."""
    for pair in match_waypoints([group.as_waypoint], near).pairs:
        is_named = pair.round in (MatchRound.CODE_AND_NAME, MatchRound.NAME) and pair.distance_m <= FAR_M
        if is_named or pair.distance_m <= SAME_PLACE_WITHIN_M:
            return near[pair.new_index], pair.round, pair.distance_m
    return None


def _placement(
    group: _Group, decided: tuple[Waypoint, MatchRound, float] | None, near: Sequence[Waypoint], confirm_far: bool
) -> Placement:
    own, reason = group.as_waypoint, None
    if decided is None:
        reason = _nothing(own, near)
    else:
        waypoint, made_by, off_m = decided
        label = f"{waypoint.code} {waypoint.name}".strip()
        if made_by is MatchRound.CODE and own.name:
            reason = f"only its code speaks for {label}, {format_short_distance(off_m)} away"
        elif off_m > FAR_M and not confirm_far:
            reason = f"{label} lies {format_short_distance(off_m)} away; --yes takes it all the same"
        else:
            return Placement(waypoint, _said(own, waypoint, made_by), off_m, own.position)
    return Placement(None, None, None, own.position, reason)


def _said(own: Waypoint, waypoint: Waypoint, made_by: MatchRound) -> str:
    """Return what speaks for a match, the strongest first: another spelling may have kept an earlier round from it."""
    if made_by is MatchRound.POSITION and own.name and fold(own.name) == fold(waypoint.name):
        return "code" if own.code == waypoint.code else "name"
    return _SAID[made_by]


def _nothing(own: Waypoint, near: Sequence[Waypoint]) -> str:
    ranked = sorted((distance_m(own.position, w.position), w.code, w.name) for w in near)
    if not ranked:
        return "no waypoint of the set is near it"
    off_m, code, name = ranked[0]
    return f"no waypoint of the set is it; the nearest is {code} {name}, {format_short_distance(off_m)} away"
