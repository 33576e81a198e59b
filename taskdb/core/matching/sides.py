"""What is matched to what: two lists by column, what of each is still open, and the keys that rows may share.

A million rows are worked through in parts, all rows of one key in one part, so that no table of all of them is needed.
"""

from __future__ import annotations

from array import array
from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from taskdb.core.matching.nearness import Nearby, Xyz, xyz
from taskdb.core.model import Position, Waypoint
from taskdb.core.names import fold, fold_all

AT_ONCE = 1 << 16
"""Keys are compared in parts of about so many rows."""


@dataclass(frozen=True, slots=True)
class Listed:
    """A list to be matched. All but `rows` are asked by the number of a row; `rows` are those that take part, rising.

    `identities` is None where no row has one.
    """

    rows: Sequence[int]
    codes: Sequence[str]
    names: Sequence[str]
    identities: Sequence[str | None] | None
    position: Callable[[int], Position]
    waypoint: Callable[[int], Waypoint]

    @staticmethod
    def of(waypoints: Sequence[Waypoint]) -> Listed:
        """Return waypoints as a list of which all take part."""
        identities = [waypoint.identity for waypoint in waypoints]
        return Listed(
            rows=range(len(waypoints)),
            codes=[waypoint.code for waypoint in waypoints],
            names=[waypoint.name for waypoint in waypoints],
            identities=identities if any(identities) else None,
            position=lambda row: waypoints[row].position,
            waypoint=waypoints.__getitem__,
        )


def no_key(_: int) -> Hashable:
    return None


class Side:
    """One list with what has been computed about it; `open` are the numbers still unmatched, in order."""

    __slots__ = ("codes", "folded", "identities", "names", "open", "points", "position", "waypoint")

    def __init__(self, listed: Listed) -> None:
        self.codes, self.names, self.identities = listed.codes, listed.names, listed.identities
        self.position, self.waypoint = listed.position, listed.waypoint
        self.open = listed.rows
        self.points: dict[int, Xyz] = {}
        self.folded: dict[int, str] = {}

    def name(self, row: int) -> str:
        """Return the folded name."""
        found = self.folded.get(row)
        if found is None:
            found = self.folded[row] = fold(self.names[row])
        return found

    def point(self, row: int) -> Xyz:
        found = self.points.get(row)
        if found is None:
            found = self.points[row] = xyz(self.position(row))
        return found

    def close(self, rows: Iterable[int]) -> None:
        """Take these away from the open ones."""
        gone = bytearray(self.open[-1] + 1)
        for row in rows:
            gone[row] = 1
        self.open = array("i", (row for row in self.open if not gone[row]))

    def forget(self) -> None:
        """Let go of what has been computed about single rows."""
        self.points.clear()
        self.folded.clear()

    def nearby(self, limit_m: float, items: Iterable[int], key: Callable[[int], Hashable] = no_key) -> Nearby:
        grid = Nearby(self.position, self.point, limit_m)
        for row in items:
            grid.add(row, key(row))
        return grid


Key = Callable[[Side, Sequence[int]], Sequence["str | None"]]
"""What gives some rows' keys; a row whose key is None shares it with none."""


def by_identity(side: Side, rows: Sequence[int]) -> Sequence[str | None]:
    return [None] * len(rows) if side.identities is None else [side.identities[row] for row in rows]


def by_code(side: Side, rows: Sequence[int]) -> Sequence[str | None]:
    return [side.codes[row] for row in rows]


def by_name(side: Side, rows: Sequence[int]) -> Sequence[str | None]:
    """By the folded name; one that folds to nothing is no key."""
    return [name or None for name in fold_all([side.names[row] for row in rows])]


def in_parts(old: Side, new: Side, key: Key) -> Iterator[tuple[Mapping[int, str], Mapping[int, str]]]:
    """Yield the open rows of both sides that have a key, each with it, in parts: rows of one key lie in one part."""
    parts = max(len(old.open), len(new.open)) // AT_ONCE + 1
    if parts == 1:
        yield keyed(old, old.open, key), keyed(new, new.open, key)
        return
    for mine, theirs in zip(_shared_out(old, key, parts), _shared_out(new, key, parts), strict=True):
        yield keyed(old, mine, key), keyed(new, theirs, key)
        for side in (old, new):
            side.forget()


def keyed(side: Side, rows: Sequence[int], key: Key) -> dict[int, str]:
    """Return rows with their keys; those that have none are left out."""
    return {row: found for row, found in zip(rows, key(side, rows), strict=True) if found is not None}


def _shared_out(side: Side, key: Key, parts: int) -> list[array[int]]:
    shares = [array("i") for _ in range(parts)]
    for begin in range(0, len(side.open), AT_ONCE):
        rows = side.open[begin : begin + AT_ONCE]
        for row, found in zip(rows, key(side, rows), strict=True):
            if found is not None:
                shares[hash(found) % parts].append(row)
    return shares


def unique(rows: Mapping[int, str]) -> dict[str, int]:
    """Return the rows by their key, of those that alone have it."""
    found: dict[str, int] = {}
    repeated: set[str] = set()
    for row, value in rows.items():
        if value in found:
            repeated.add(value)
        found[value] = row
    for value in repeated:
        del found[value]
    return found


def grouped(rows: Mapping[int, str]) -> dict[str, list[int]]:
    """Return for each key the rows that have it."""
    groups: dict[str, list[int]] = {}
    for row, value in rows.items():
        groups.setdefault(value, []).append(row)
    return groups
