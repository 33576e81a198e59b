"""Finding which waypoints of a set the points of task files are, all points at once. Pure; never guessed.

One place comes from many files under several spellings and roundings: those are gathered first, then matched one to
one, then what is left is looked at by itself, since its waypoint may have gone to another spelling of it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from taskdb.core.geodesy import distance_m
from taskdb.core.matching.limits import FAR_APART_M, SAME_ROUNDED_WITHIN_M, SAME_SPOT_WITHIN_M
from taskdb.core.matching.match import Match, MatchRound, match_waypoints
from taskdb.core.matching.nearness import Nearby, Xyz, xyz
from taskdb.core.model import Position, Waypoint
from taskdb.core.names import fold
from taskdb.core.quantities import format_short_distance

NAMED_WITHIN_M = 10_000.0
"""The nearest waypoint is told of a point that is none of them, where it lies no further off."""


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

    A match over FAR_APART_M counts only with `confirm_far`; one by code alone only where the file has no name that
    speaks against it.
    """
    groups = _gather(list(dict.fromkeys(points)), standing)
    matches = {match.old_index: match for match in match_waypoints([one.as_waypoint for one in groups], standing).pairs}
    unmatched = len(matches) < len(groups)
    grid = Nearby.of([waypoint.position for waypoint in standing] if unmatched else [], NAMED_WITHIN_M)
    result: dict[FilePoint, Placement] = {}
    for number, group in enumerate(groups):
        own, match = group.as_waypoint, matches.get(number)
        if match is not None:
            placement = _placement(own, standing[match.new_index], match, confirm_far)
        else:
            near = [standing[index] for index, _ in grid.within(own.position)]
            placement = _alone(own, near, confirm_far) or _unplaced(own, _nothing(own, near))
        for member in group.members:
            result[member] = _seen_from(member, placement)
    return result


def _seen_from(member: FilePoint, placement: Placement) -> Placement:
    if placement.waypoint is None:
        return placement
    return replace(placement, off_m=distance_m(member.position, placement.waypoint.position))


def _gather(points: Sequence[FilePoint], standing: Sequence[Waypoint]) -> list[_Group]:
    spelled = _Spellings(standing)
    ordered: list[_Group] = []
    at: list[Xyz] = []
    # By nearness under one spelling: the many nameless points of drawn lines are not all measured to each other.
    grid = Nearby(lambda item: ordered[item].as_waypoint.position, at.__getitem__, SAME_ROUNDED_WITHIN_M)
    for point in points:
        code, name = spelled.read(point)
        spelling, centred = (code, fold(name)), xyz(point.position)
        first = min((item for item, _ in grid.within(point.position, spelling, at=centred)), default=None)
        if first is not None:
            ordered[first].members.append(point)
            continue
        ordered.append(_Group(Waypoint(code, name, point.position), [point]))
        at.append(centred)
        grid.add(len(ordered) - 1, spelling)
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


def _alone(own: Waypoint, near: Sequence[Waypoint], confirm_far: bool) -> Placement | None:
    """Return what a point is that nothing was left for: never by its code alone, never over FAR_APART_M away."""
    for match in match_waypoints([own], near).pairs:
        is_named = match.round in (MatchRound.CODE_AND_NAME, MatchRound.NAME) and match.distance_m <= FAR_APART_M
        if is_named or match.distance_m <= SAME_SPOT_WITHIN_M:
            return _placement(own, near[match.new_index], match, confirm_far)
    return None


def _placement(own: Waypoint, waypoint: Waypoint, match: Match, confirm_far: bool) -> Placement:
    label, away = f"{waypoint.code} {waypoint.name}".strip(), format_short_distance(match.distance_m)
    if match.round is MatchRound.CODE and own.name:
        return _unplaced(own, f"only its code speaks for {label}, {away} away")
    if match.distance_m > FAR_APART_M and not confirm_far:
        return _unplaced(own, f"{label} lies {away} away; --yes takes it all the same")
    return Placement(waypoint, _witness(own, waypoint, match.round), match.distance_m, own.position)


def _unplaced(own: Waypoint, reason: str) -> Placement:
    return Placement(None, None, None, own.position, reason)


def _witness(own: Waypoint, waypoint: Waypoint, made_by: MatchRound) -> str:
    """Return what speaks for a match, the strongest first: another spelling may have kept an earlier round from it."""
    if made_by is MatchRound.POSITION and own.name and fold(own.name) == fold(waypoint.name):
        return "code" if own.code == waypoint.code else "name"
    return made_by.witness


def _nothing(own: Waypoint, near: Sequence[Waypoint]) -> str:
    ranked = sorted((distance_m(own.position, w.position), w.code, w.name) for w in near)
    if not ranked:
        return "no waypoint of the set is near it"
    off_m, code, name = ranked[0]
    return f"no waypoint of the set is it; the nearest is {code} {name}, {format_short_distance(off_m)} away"
