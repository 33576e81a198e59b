"""Merging: a difference made elsewhere applied to our state, unit by unit, with every conflict listed.

A unit is (waypoint, field); latitude and longitude are one field, a runway is one. Where both sides changed one unit
to different values, or one changed what the other retired, a person decides; equal values are no conflict. Nothing is
applied here: the result is a difference from our state.
"""

from __future__ import annotations

from collections.abc import Callable, Container, Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import Any

from taskdb.core.history.changes import SetDiff, changed_fields, identity_of
from taskdb.core.history.locate import Located, is_same_place, locate
from taskdb.core.history.units import UnitChange, same, unit_changes, value_of, with_units
from taskdb.core.model import Waypoint

WHOLE = "waypoint"
"""The field of a conflict that concerns a waypoint as a whole."""


class Take(StrEnum):
    """Whose value stands where both changed: ours is the set that is written, theirs the patch."""

    OURS = "ours"
    THEIRS = "theirs"


class ConflictKind(StrEnum):
    """What collides."""

    FIELD = "field"
    GONE = "gone"
    CHANGED = "changed"
    ADDED = "added"
    CODE = "code"


@dataclass(frozen=True, slots=True)
class Conflict:
    """One thing to decide: what the patch expected here, what it found, what it wants.

    `expected`, `found` and `wanted` map units to the model's values; None where no waypoint stands. `codes` are the
    codes of the waypoint in the patch's base (of an addition: the new one) and here.
    """

    kind: ConflictKind
    code: str
    name: str
    field: str
    expected: Any
    found: Any
    wanted: Any
    other: str | None = None
    """The code (and name) of our waypoint that is in the way, where it is another than the one meant."""

    @property
    def can_take_theirs(self) -> bool:
        """Say whether the patch's side can be taken: two waypoints cannot have one code."""
        return self.kind is not ConflictKind.CODE


Decide = Callable[[Conflict], Take | None]


def undecided(_: Conflict) -> Take | None:
    """Decide nothing."""
    return None


@dataclass(frozen=True, slots=True)
class Merged:
    """What merging comes to. `changes` are only to be written where `conflicts` is empty.

    `applied` counts the changes of the patch that made a difference, `already` those that stood here already,
    `decided` the conflicts that were decided; `located` are the matches worth telling.
    """

    changes: SetDiff
    conflicts: tuple[Conflict, ...]
    decided: tuple[tuple[Conflict, Take], ...]
    located: tuple[Located, ...]
    applied: int
    already: int


def merge(
    ours: Sequence[Waypoint],
    theirs: SetDiff,
    *,
    new_identity: Callable[[], str],
    decide: Decide = undecided,
    once_here: Container[str] = (),
) -> Merged:
    """Merge the difference `theirs` into the state `ours`; every waypoint of ours has its identity.

    `decide` is asked for each conflict; `once_here` holds the identities that ever stood in our set. An addition
    keeps the identity that it carries, else `new_identity` is asked for one.
    """
    return _Merging(ours, theirs, new_identity, decide, once_here).run()


@dataclass(slots=True)
class _Merging:
    """One merge. `result` maps our identities to their merged state, None for retired; `added` are new ones."""

    ours: Sequence[Waypoint]
    theirs: SetDiff
    new_identity: Callable[[], str]
    decide: Decide
    once_here: Container[str]
    result: dict[str, Waypoint | None] = field(default_factory=dict)
    added: list[Waypoint] = field(default_factory=list)
    conflicts: list[Conflict] = field(default_factory=list)
    decided: list[tuple[Conflict, Take]] = field(default_factory=list)
    unsure: set[str] = field(default_factory=set)
    """Identities whose code or standing is in conflict: their codes are not checked."""
    already: int = 0

    def run(self) -> Merged:
        goals = [*(None for _ in self.theirs.retired), *(new for _, new in self.theirs.changed)]
        located = locate(self.theirs.bases, goals, self.ours, self.once_here)
        for number, base in enumerate(self.theirs.retired):
            self._retire(base, located.get(number))
        first = len(self.theirs.retired)
        for number, (old, new) in enumerate(self.theirs.changed, first):
            self._change(old, new, located.get(number))
        meant = {found.ours.identity for found in located.values()}
        by_identity = {w.identity: w for w in self.ours}
        by_code = {w.code: w for w in self.ours}
        for waypoint in self.theirs.added:
            here = by_identity.get(waypoint.identity) if waypoint.identity is not None else None
            if here is None:
                holder = by_code.get(waypoint.code)
                here = holder if holder is not None and self._is_independent(holder, waypoint, meant) else None
            self._add(waypoint, here)
        self._check_codes()
        changes = self._changes()
        applied = len(changes.added) + len(changes.retired) + len(changes.changed)
        return Merged(
            changes=changes,
            conflicts=tuple(self.conflicts),
            decided=tuple(self.decided),
            located=tuple(found for found in located.values() if found.is_worth_telling),
            applied=applied,
            already=self.already,
        )

    @staticmethod
    def _is_independent(holder: Waypoint, waypoint: Waypoint, meant: Container[str | None]) -> bool:
        """Say whether our holder of an added code is the same place, added here on its own."""
        return holder.identity not in meant and is_same_place(holder, waypoint)

    def _asked(self, conflict: Conflict) -> Take | None:
        """Return the decision on a conflict, and keep both; None keeps it as a conflict."""
        take = self.decide(conflict)
        if take is None or (take is Take.THEIRS and not conflict.can_take_theirs):
            self.conflicts.append(conflict)
            return None
        self.decided.append((conflict, take))
        return take

    def _retire(self, base: Waypoint, here: Located | None) -> None:
        if here is None:
            self.already += 1
            return
        ours = here.ours
        differing = unit_changes(base, ours)
        if differing:
            take = self._asked(_whole(ConflictKind.CHANGED, base, _olds(differing), _news(differing), None))
            if take is None:
                self.unsure.add(identity_of(ours))
            if take is not Take.THEIRS:
                return
        self.result[identity_of(ours)] = None

    def _change(self, old: Waypoint, new: Waypoint, located: Located | None) -> None:
        changes = unit_changes(old, new)
        if located is None:
            self._change_of_gone(old, new, changes)
            return
        ours = located.ours
        wanted: list[UnitChange] = []
        for change in changes:
            here = value_of(ours, change.unit)
            if same(change.unit, here, change.new):
                continue
            if same(change.unit, here, change.old) or self._wins(old, change, here, ours):
                wanted.append(change)
        merged = with_units(ours, wanted, new)
        if "runways" in changed_fields(old, new) and "runways" not in changed_fields(old, ours):
            merged = replace(merged, runways=new.runways)  # their order too, where ours has not been touched
        if changed_fields(ours, merged):
            self.result[identity_of(ours)] = merged
        else:
            self.already += 1

    def _wins(self, old: Waypoint, change: UnitChange, here: Any, ours: Waypoint) -> bool:
        conflict = Conflict(
            ConflictKind.FIELD, old.code, old.name, change.unit, change.old, here, change.new, other=_other(old, ours)
        )
        take = self._asked(conflict)
        if take is None and change.unit == "code":
            self.unsure.add(identity_of(ours))
        return take is Take.THEIRS

    def _change_of_gone(self, old: Waypoint, new: Waypoint, changes: Sequence[UnitChange]) -> None:
        if self._asked(_whole(ConflictKind.GONE, old, _olds(changes), None, _news(changes))) is Take.THEIRS:
            self.added.append(self._named(new))

    def _add(self, waypoint: Waypoint, here: Waypoint | None) -> None:
        if here is None:
            self.added.append(self._named(waypoint))
            return
        standing = self.result.get(identity_of(here), here) or here
        differing = unit_changes(standing, waypoint)
        if not differing:
            self.already += 1
            return
        found, wanted = _olds(differing), _news(differing)
        take = self._asked(_whole(ConflictKind.ADDED, waypoint, None, found, wanted, _other(waypoint, here)))
        if take is Take.THEIRS:
            self.result[identity_of(here)] = with_units(standing, differing, waypoint)
        elif take is None:
            self.unsure.add(identity_of(here))

    def _named(self, waypoint: Waypoint) -> Waypoint:
        if waypoint.identity is not None:
            return waypoint
        return replace(waypoint, identity=self.new_identity())

    # -- codes, on the merged whole --------------------------------------------------------------------------

    def _check_codes(self) -> None:
        """Ask about every code that two waypoints of the merged whole would have; ours keeps the old code.

        A code that was given back may clash in its turn, so this goes on until nothing clashes any more.
        """
        before = {identity_of(w): w for w in self.ours}
        asked: set[tuple[str, str]] = set()
        while True:
            clash = self._clash(before, asked)
            if clash is None:
                return
            mover, holder = clash
            asked.add((identity_of(mover), mover.code))
            here = before.get(identity_of(mover))
            conflict = Conflict(
                kind=ConflictKind.CODE,
                code=mover.code if here is None else here.code,
                name=mover.name,
                field="code",
                expected=None if here is None else here.code,
                found=holder.code,
                wanted=mover.code,
                other=f"{holder.code} {holder.name}".strip(),
            )
            if self._asked(conflict) is Take.OURS:
                self._give_back(mover, here)

    def _clash(
        self, before: dict[str, Waypoint], asked: Container[tuple[str, str]]
    ) -> tuple[Waypoint, Waypoint] | None:
        """Return a waypoint that the patch gives a code, and the one that has it; None where all codes differ."""
        standing = [
            *(self.result.get(identity, waypoint) for identity, waypoint in before.items()),
            *self.added,
        ]
        holders: dict[str, Waypoint] = {}
        for waypoint in standing:
            if waypoint is None or waypoint.identity in self.unsure:
                continue
            other = holders.setdefault(waypoint.code, waypoint)
            if other is waypoint:
                continue
            for mover, holder in ((waypoint, other), (other, waypoint)):
                here = before.get(identity_of(mover))
                moved = here is None or here.code != mover.code
                if moved and (identity_of(mover), mover.code) not in asked:
                    return mover, holder
        return None

    def _give_back(self, mover: Waypoint, here: Waypoint | None) -> None:
        if here is None:
            self.added = [w for w in self.added if w.identity != mover.identity]
        else:
            self.result[identity_of(mover)] = replace(mover, code=here.code)

    def _changes(self) -> SetDiff:
        before = {identity_of(w): w for w in self.ours}
        changed = [
            (before[identity], merged)
            for identity, merged in self.result.items()
            if merged is not None and changed_fields(before[identity], merged)
        ]
        retired = [before[identity] for identity, merged in self.result.items() if merged is None]
        return SetDiff.of(self.added, retired, changed)


Values = Mapping[str, Any] | None


def _whole(
    kind: ConflictKind, waypoint: Waypoint, expected: Values, found: Values, wanted: Values, other: str | None = None
) -> Conflict:
    """Return a conflict about a waypoint as a whole."""
    return Conflict(kind, waypoint.code, waypoint.name, WHOLE, expected, found, wanted, other)


def _olds(changes: Sequence[UnitChange]) -> Values:
    return {change.unit: change.old for change in changes}


def _news(changes: Sequence[UnitChange]) -> Values:
    return {change.unit: change.new for change in changes}


def _other(meant: Waypoint, ours: Waypoint) -> str | None:
    return None if meant.code == ours.code else f"{ours.code} {ours.name}".strip()
