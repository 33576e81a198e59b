"""Carrying a task's points over to another state of a catalogue: each point right, or left to a person. Never guessed.

The whole old state is matched to the whole new one before any point is looked at, so that a point that only this task
uses cannot be taken for a neighbour that nobody matched yet.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from taskdb.core.geodesy import distance_m
from taskdb.core.matching.limits import FAR_APART_M, SAME_NAME_WITHIN_M
from taskdb.core.matching.match import Matching, MatchRound, match_waypoints
from taskdb.core.matching.nearness import Nearby
from taskdb.core.model import Place, Position, Waypoint
from taskdb.core.names import fold, fold_all
from taskdb.core.numbers import counted
from taskdb.core.quantities import format_short_distance

MOST_OFFERED = 5
"""So many waypoints at most are offered for a place that a person has to decide about."""


@dataclass(frozen=True, slots=True)
class Carried:
    """A place in its new state. `matched_by` is identity, code, name, position or map; None: the task's own point."""

    place: Place
    matched_by: str | None
    moved_m: float | None


@dataclass(frozen=True, slots=True)
class Doubtful:
    """A place that a person has to decide about, why, and what it may be (nearest first)."""

    place: Place
    reason: str
    candidates: tuple[Waypoint, ...]


@dataclass
class CarryOver:
    """Two states of catalogues with the matching between them, made once for all tasks that are carried.

    `successors` names for an identity dropped by merging duplicates the one that was kept; `mapping` (old code to new
    code) and `confirm_far` are what a person decided.
    """

    old: Sequence[Waypoint]
    new: Sequence[Waypoint]
    successors: Mapping[str, str] = field(default_factory=dict)
    mapping: Mapping[str, str] = field(default_factory=dict)
    confirm_far: bool = False

    @cached_property
    def matching(self) -> Matching:
        return match_waypoints(self.old, self.new, nearby=True)

    @cached_property
    def _pairs(self) -> Mapping[int, tuple[int, MatchRound]]:
        return {pair.old_index: (pair.new_index, pair.round) for pair in self.matching.pairs}

    @cached_property
    def _undecided(self) -> Mapping[int, tuple[int, ...]]:
        return {item.old_index: item.new_indexes for item in self.matching.undecided}

    @cached_property
    def _old_index(self) -> Mapping[str | None, int]:
        return {waypoint.identity: index for index, waypoint in enumerate(self.old)}

    @cached_property
    def _old_code(self) -> Mapping[str, Waypoint]:
        return {waypoint.code: waypoint for waypoint in self.old}

    @cached_property
    def _new_identity(self) -> Mapping[str | None, Waypoint]:
        return {waypoint.identity: waypoint for waypoint in self.new}

    @cached_property
    def _new_code(self) -> Mapping[str, Waypoint]:
        return {waypoint.code: waypoint for waypoint in self.new}

    @cached_property
    def _new_named(self) -> Mapping[str, Sequence[int]]:
        named: dict[str, list[int]] = {}
        for number, name in enumerate(fold_all([waypoint.name for waypoint in self.new])):
            named.setdefault(name, []).append(number)
        return named

    @cached_property
    def _new_nearby(self) -> Nearby:
        return Nearby.of([waypoint.position for waypoint in self.new], SAME_NAME_WITHIN_M)

    def carry(self, place: Place) -> Carried | Doubtful:
        """Return the place in the new state, or why a person has to decide."""
        if place.code in self.mapping:
            target = self._new_code.get(self.mapping[place.code])
            if target is None:
                return self._doubtful(place, f"it is mapped to {self.mapping[place.code]}, which is not there")
            return self._carried(place, target, "map")
        if place.identity is None:
            return Carried(place, None, None)
        kept = self.successors.get(place.identity, place.identity)
        if kept in self._new_identity:
            return self._if_near(place, self._new_identity[kept], "identity")
        index = self._old_index.get(place.identity)
        if index is None:
            return self._doubtful(place, "the revision that it was saved on does not have it")
        found = self._pairs.get(index)
        if found is not None and found[1] is MatchRound.CODE:
            # Good enough for an import, where the match is told; a task would be flown to it.
            target = self.new[found[0]]
            return self._doubtful(place, f"only its code speaks for {target.name}", (target,))
        if found is not None:
            return self._if_near(place, self.new[found[0]], found[1].witness)
        if index in self._undecided:
            may_be = tuple(self.new[number] for number in self._undecided[index])
            return self._doubtful(place, f"{counted(len(may_be), 'waypoint')} may be it, none surely", may_be)
        holder = self._new_code.get(place.code)
        if holder is not None:
            return self._doubtful(place, f"its code {place.code} now names {holder.name}", (holder,))
        return self._doubtful(place, "nothing matches it")

    def old_place(self, code: str) -> Place | None:
        """Return the place that has this code in the old state, None where none has."""
        waypoint = self._old_code.get(code)
        return None if waypoint is None else Place.of(waypoint)

    def carry_code(self, code: str) -> Carried | Doubtful:
        """Return what a code of the old state is in the new state, or why a person has to decide."""
        place = self.old_place(code)
        if place is not None:
            return self.carry(place)
        target = self._new_code.get(self.mapping.get(code, ""))
        if target is not None:
            return Carried(Place.of(target), "map", None)
        nowhere = Place(code, code, Position(0.0, 0.0))
        return Doubtful(nowhere, "the revision that it was saved on does not have it", ())

    def _if_near(self, place: Place, target: Waypoint, matched_by: str) -> Carried | Doubtful:
        moved = distance_m(place.position, target.position)
        if moved > FAR_APART_M and not self.confirm_far:
            reason = f"it would move {format_short_distance(moved)} (matched by {matched_by}): to be confirmed"
            return Doubtful(place, reason, (target,))
        return self._carried(place, target, matched_by)

    @staticmethod
    def _carried(place: Place, target: Waypoint, matched_by: str) -> Carried:
        moved = distance_m(place.position, target.position)
        return Carried(Place.of(target), matched_by, moved)

    def _doubtful(self, place: Place, reason: str, first: Sequence[Waypoint] = ()) -> Doubtful:
        """Return a doubtful place with its candidates: those named, then of like name, then the nearest."""
        named = self._new_named.get(fold(place.name), ())
        numbers = {*named, *(number for number, _ in self._new_nearby.within(place.position))}
        scored = [
            (distance_m(place.position, self.new[number].position), self.new[number].code, number) for number in numbers
        ]
        near = [self.new[number] for _, _, number in sorted(scored)]
        ordered = [*first, *(waypoint for waypoint in near if waypoint not in first)]
        return Doubtful(place, reason, tuple(ordered[:MOST_OFFERED]))
